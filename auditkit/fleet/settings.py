"""Every threshold and horizon of an audit, its default, and what it is for. Pure.

A reader's own stand in a TOML file; what it does not name keeps its default:

    format = "auditkit/audit-rules@1"
    horizon_days = 365
    least_coverage = 0.95
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from typing import Any, TypeVar

from auditkit.errors import InputError
from auditkit.text.strict_json import canonical
from auditkit.text.toml_text import toml_table
from auditkit.text.values import Json

FORMAT = "auditkit/audit-rules@1"
_Number = TypeVar("_Number", int, float)


def _from(low: _Number, high: _Number, default: _Number, says: str) -> _Number:
    """Return a setting with its bounds and the sentence that explains it."""
    kept = {"low": low, "high": high, "says": says}
    return field(default=default, metadata=kept)


@dataclass(frozen=True, slots=True)
class Settings:
    """The settings of one audit; each field's metadata has low, high and says."""

    # how well repairs hold
    horizon_days: int = _from(
        1, 3650, 180, "a fault that returns within this many days is a comeback"
    )
    horizon_km: int = _from(
        1, 1_000_000, 10_000, "the same, in kilometres where both visits have them"
    )
    least_for_interval: int = _from(
        1, 10_000, 10, "repairs below which not even an interval is told"
    )
    least_for_rate: int = _from(
        1, 10_000, 30, "repairs below which no rate is told, its interval alone"
    )
    least_events: int = _from(1, 10_000, 10, "comebacks for a curve by itself")
    least_at_risk: int = _from(
        1, 10_000, 10, "repairs still followed, below which a curve stops"
    )
    least_events_in_stratum: int = _from(
        1, 10_000, 20, "comebacks of a kind of work, below which it is joined"
    )
    age_band_years: int = _from(
        1, 100, 5, "years of a vehicle's age that count as one kind"
    )
    least_expected: float = _from(
        0.1, 10_000.0, 5.0, "expected comebacks for a place in the funnel"
    )
    least_shops: int = _from(
        2, 10_000, 10, "shops in the funnel for their own spread to be estimated"
    )
    least_coverage: float = _from(
        0.0, 1.0, 0.9, "share of a log that must be here before its shop is compared"
    )
    watch: float = _from(0.5, 0.999999, 0.95, "limits outside which a shop is watched")
    look: float = _from(
        0.5, 0.999999, 0.998, "limits outside which a shop asks for a look"
    )
    winsorised: float = _from(
        0.0, 0.49, 0.1, "share of shops at each end whose distance is held in"
    )
    false_discovery: float = _from(
        0.000001, 0.5, 0.05, "share of questions about outcomes that may be chance"
    )

    # evidence: how late, how strong
    late_minutes: int = _from(
        1, 100_000, 15, "minutes after which an event was not recorded as it happened"
    )
    late_hours: int = _from(1, 10_000, 24, "hours after which it is late")
    least_late_events: int = _from(1, 10_000, 30, "events for a word on lateness")
    batch_entries: int = _from(
        2, 10_000, 5, "entries within one second that were handed over together"
    )

    # screens
    false_discovery_screens: float = _from(
        0.000001, 0.5, 0.01, "share of questions about evidence that may be chance"
    )
    window_steps: int = _from(
        1, 100, 2, "steps of the coarsest gauge that lie just beyond a limit"
    )
    window_share: float = _from(
        0.001, 1.0, 0.05, "share of a limit that lies just beyond it, where larger"
    )
    least_window_readings: int = _from(
        1, 10_000, 50, "readings of a shop held against one limit"
    )
    least_peers: int = _from(1, 10_000, 10, "other shops to hold a shop against")
    least_rho: float = _from(
        0.0, 0.9, 0.002, "smallest likeness of one shop's readings to each other"
    )
    least_digits: int = _from(1, 10_000, 50, "readings whose last digits are counted")
    digit_steps_left_out: int = _from(
        0, 100, 1, "steps next to a limit whose last digits are not counted"
    )
    least_bits: float = _from(
        1.0, 1000.0, 60.0, "bits that two equal readouts of two vehicles must hold"
    )
    least_fields_copied: int = _from(
        2, 100, 4, "numbers of one bench test that two must have in common"
    )
    most_km_a_day: int = _from(1, 100_000, 2000, "more than a vehicle drives in a day")
    least_overlap_minutes: int = _from(
        0, 1440, 5, "minutes one person may be at two vehicles at once"
    )
    least_drift_readings: int = _from(
        2, 10_000, 20, "readings of what should not change"
    )

    # what is left in
    with_forked: bool = field(
        default=False,
        metadata={"says": "whether logs with two histories count in the rates"},
    )

    @property
    def sha256(self) -> str:
        """The digest of all values, over canonical JSON (RFC 8785)."""
        named: Json = {name: str(value) for name, value in self.listed().items()}
        return hashlib.sha256(canonical(named).encode()).hexdigest()

    def listed(self) -> dict[str, int | float | bool]:
        """Return each setting's value by its name, in their order here."""
        return {one.name: getattr(self, one.name) for one in fields(self)}


def parse_settings(text: str, *, where: str = "") -> Settings:
    """Return the settings of a TOML text; InputError where they are none."""
    data = toml_table(text, where=where)
    if data.pop("format", None) != FORMAT:
        raise InputError(
            f'it does not say format = "{FORMAT}"',
            where=where,
            what_to_do="add that line at the top",
        )
    kinds = {one.name: type(one.default) for one in fields(Settings)}
    if unknown := sorted(set(data) - set(kinds)):
        raise InputError(
            f"there is no such setting; there are {', '.join(kinds)}",
            where=f"{where}#{unknown[0]}",
            what_to_do="correct its name, or leave it out",
        )
    return replace(Settings(), **_checked(data, where))


def _checked(data: Mapping[str, object], where: str) -> dict[str, Any]:
    """Return the values in their types; InputError for one that cannot be meant."""
    checked: dict[str, Any] = {}
    for one in fields(Settings):
        if one.name not in data:
            continue
        value, place = data[one.name], f"{where}#{one.name}"
        if isinstance(one.default, bool):
            if not isinstance(value, bool):
                raise InputError(
                    "this is not true or false",
                    where=place,
                    what_to_do="write true or false",
                )
            checked[one.name] = value
            continue
        low, high = one.metadata["low"], one.metadata["high"]
        said = f"write a number from {low} to {high}"
        may_be = int if isinstance(one.default, int) else (int, float)
        if isinstance(value, bool) or not isinstance(value, may_be):
            told = "a whole number" if may_be is int else "a number"
            raise InputError(f"this is not {told}", where=place, what_to_do=said)
        if not low <= value <= high:
            raise InputError("this is out of bounds", where=place, what_to_do=said)
        checked[one.name] = float(value) if isinstance(one.default, float) else value
    return checked
