"""What one readout, or the record of one, is held against others by. Pure.

A record is what ``readiness --format json`` wrote: the readout itself is not in it, and
it says nothing that a readout of its own would not say better.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING

from auditkit.errors import InputError
from auditkit.inspection.module_record import module_record
from auditkit.inspection.reasons import Case, Seen
from auditkit.inspection.vehicle import Vehicle
from auditkit.obd.comparison import identity
from auditkit.obd.fingerprint import answers_but_vin, fingerprint
from auditkit.text.strict_json import parse

if TYPE_CHECKING:
    from auditkit.obd import Readout
    from auditkit.text.values import Json

PRE_TEST_FORMAT = "auditkit/pre-test@1"
_NUMBER = re.compile(r"[0-9]+(?:\.[0-9]+)?(?: \S+)?")
_SAY_LITTLE = re.compile(r"(?:0+(?:\.0+)?|255|65535)(?: \S+)?")
"""What many vehicles count alike: nothing yet, or the end at which a count stays."""
_FEWEST = 3  # values that two moments will not share by chance: our choice
Calibrations = tuple[tuple[str, ...], tuple[str, ...]]
"""A module's calibration ids and their verification numbers."""


@dataclass(frozen=True, slots=True)
class PreTestMarks:
    """A readout among others, or the record of one: where it is, and its marks.

    ``moments`` are digests (hex) of what two moments do not share, by what they are of;
    ``kept`` is what a vehicle keeps, by name. ``vin_written`` is what a person wrote.
    Those of one ``group`` (a file) are not held against each other.
    """

    place: str
    group: str
    vin_read: str = ""
    vin_written: str = ""
    moments: Mapping[str, str] = field(default_factory=dict)
    calibrations: tuple[Calibrations, ...] = ()
    kept: Mapping[str, str] = field(default_factory=dict)

    @property
    def vehicle(self) -> str:
        """The VIN of the vehicle as it is written, else as it was read."""
        return self.vin_written or self.vin_read


ANSWERS, LIVE, VALUES = (
    "answer but the VIN",
    "live and counting value",
    "count and value of the record",
)


def marks_of_readout(
    readout: Readout, raw: str, place: str, group: str, vin: str = ""
) -> PreTestMarks:
    """Return the marks of a readout; ``raw`` is empty where it was typed."""
    case = Case(readout, Vehicle(None, None), Seen(), date.min)
    modules = [module_record(case, who) for who in case.modules]
    moments = {VALUES: _of_values((m.responder, dict(m.values)) for m in modules)}
    if raw:
        moments[LIVE] = fingerprint(raw).live
        moments[ANSWERS] = answers_but_vin(raw)
    return PreTestMarks(
        place,
        group,
        readout.vin or "",
        vin,
        moments,
        tuple((m.calibration_ids, m.calibration_numbers) for m in modules),
        {name: text for name, text in identity(readout).items() if name != "VIN"},
    )


def is_pre_test_record(text: bytes) -> bool:
    """Return whether a text says that it is the record of a readout."""
    return f'"format": "{PRE_TEST_FORMAT}"'.encode() in text[:200]


def marks_of_record(text: bytes, place: str) -> PreTestMarks:
    """Return the marks of a record; InputError where it is none that was written so."""
    value = parse(text, where=place)
    try:
        return _marks_of_record(value, place)
    except (AttributeError, KeyError, TypeError) as error:
        raise InputError(
            f"this is no whole {PRE_TEST_FORMAT}",
            where=place,
            what_to_do="give the record as 'auditkit readiness --format json' wrote it",
        ) from error


def _marks_of_record(value: Json, place: str) -> PreTestMarks:
    whole = _object(value)
    vehicle, modules = _object(whole["vehicle"]), whole["modules"]
    if whole["format"] != PRE_TEST_FORMAT or not isinstance(modules, list):
        raise TypeError
    every = [_object(module) for module in modules]
    responders = [_text(module["responder"]) for module in every]
    kept = {"responders": " ".join(responders)}
    calibrations: list[Calibrations] = []
    for who, module in zip(responders, every, strict=True):
        ids = _texts(module["calibration_ids"])
        numbers = _texts(module["calibration_verification_numbers"])
        calibrations.append((ids, numbers))
        kept |= {
            f"calibration ids of {who}": " ".join(ids),
            f"calibration verification numbers of {who}": " ".join(numbers),
            f"support map 01/00 of {who}": _text(module["support_map"]),
            f"monitors of {who}": " ".join(_object(module["monitors"])),
        }
    values = (
        (who, {name: _text(text) for name, text in _object(m["values"]).items()})
        for who, m in zip(responders, every, strict=True)
    )
    return PreTestMarks(
        place,
        place,
        _text(vehicle["vin_read"] or ""),
        _text(vehicle["vin_written"] or ""),
        {VALUES: _of_values(values)},
        tuple(calibrations),
        {name: text for name, text in kept.items() if text},
    )


def _of_values(modules: Iterator[tuple[str, dict[str, str]]]) -> str:
    """Return the digest of counts and values; empty where too few say anything."""
    found = [
        (who, name, text)
        for who, values in modules
        for name, text in values.items()
        if _NUMBER.fullmatch(text)
    ]
    telling = [text for *_, text in found if not _SAY_LITTLE.fullmatch(text)]
    if len(telling) < _FEWEST:
        return ""
    return hashlib.sha256(repr(sorted(found)).encode()).hexdigest()


def _object(value: Json) -> Mapping[str, Json]:
    if not isinstance(value, dict):
        raise TypeError
    return value


def _text(value: Json) -> str:
    if not isinstance(value, str):
        raise TypeError
    return value


def _texts(value: Json) -> tuple[str, ...]:
    if not isinstance(value, list):
        raise TypeError
    return tuple(map(_text, value))
