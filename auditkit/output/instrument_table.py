"""The instruments of a bench test as a table: what each can show, and its calibration.

What is missing is said. The state is that on the day of the test.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from auditkit.output.html_table import wide_table

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from auditkit.order.events import Event
    from auditkit.text.values import Json

_COLUMNS = (
    "Instrument",
    "Used for",
    "Range and step",
    "Limits of error (specification)",
    "Calibration, and on the day of the test",
    "Certificate",
)
_NOT_RECORDED = "not recorded"
_LIMITS = (
    ("percent_of_reading", "% of the reading"),
    ("percent_of_span", "% of the range"),
    ("digits", "steps of the display"),
)


def instrument_table(
    test: Event, used_for: Mapping[str, Sequence[str]], *, counted: bool = False
) -> str:
    """Return the instruments of a test; a sentence where it names none.

    What was ``counted`` needs none.

    ``used_for``: by id, what each measured, as far as it was computed with.
    """
    rows = [_row(item, test, used_for) for item in test.items("instruments")]
    if not rows and counted:
        return "<p>No instrument is recorded; what was counted needs none.</p>"
    if not rows:
        return "<p>No instrument is recorded: what was read cannot be traced.</p>"
    return wide_table("Instruments", _COLUMNS, rows, "instruments")


def _row(
    item: Mapping[str, Json], test: Event, used_for: Mapping[str, Sequence[str]]
) -> tuple[str, ...]:
    given = item.get("specification")
    spec: Mapping[str, Json] = given if isinstance(given, dict) else {}
    name = str(item.get("id", _NOT_RECORDED))
    heads = [name, str(item.get("description", ""))]
    if "serial" in spec:
        heads.append(f"serial number {spec['serial']}")
    return (
        ", ".join(filter(None, heads)),
        ", ".join(used_for.get(name) or _named(item)) or "not said",
        _range(spec),
        _limits(spec),
        _calibration(spec, test.text("at")[:10]),
        _certificate(spec),
    )


def _named(item: Mapping[str, Json]) -> list[str]:
    """Return the readings that an instrument is said to have taken."""
    named = item.get("measures")
    return [str(one) for one in named] if isinstance(named, list) else []


def _range(spec: Mapping[str, Json]) -> str:
    if not spec:
        return f"specification {_NOT_RECORDED}"
    unit = spec.get("unit", "")
    said = f"{spec.get('low', '?')} to {spec.get('high', '?')} {unit}"
    return f"{said}, in steps of {spec.get('resolution', '?')}"


def _limits(spec: Mapping[str, Json]) -> str:
    parts = [f"{spec[name]} {said}" for name, said in _LIMITS if name in spec]
    if "absolute" in spec:
        parts.append(f"{spec['absolute']} {spec.get('unit', '')}")
    return f"+/- ({' + '.join(parts)})" if parts else _NOT_RECORDED


def _calibration(spec: Mapping[str, Json], day: str) -> str:
    made, due = spec.get("calibrated_on"), spec.get("due")
    if made is None:
        return f"no calibration recorded{'' if due is None else f', due {due}'}"
    if str(made) > day:
        state = "NOT YET CALIBRATED on the day of the test"
    elif due is None:
        state = "until when it holds is not recorded"
    elif str(due) < day:
        state = "OUT OF CALIBRATION on the day of the test"
    else:
        state = "in calibration"
    return f"calibrated {made}, due {due or _NOT_RECORDED}: {state}"


def _certificate(spec: Mapping[str, Json]) -> str:
    number = spec.get("certificate")
    said = "no certificate recorded" if number is None else str(number)
    u = spec.get("certificate_u")
    if u is None:
        return f"{said}; no uncertainty of the calibration recorded"
    k = spec.get("certificate_k", "2")
    return f"{said}; U = {u} {spec.get('unit', '')}, k = {k}"
