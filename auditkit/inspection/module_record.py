"""What one module said of what an inspection looks at. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from auditkit.inspection.heard import (
    CODE_SERVICES,
    STATUS_PID,
    Heard,
    counted,
    heard,
    heard_readiness,
    heard_value,
    listed,
    since_clear,
)
from auditkit.inspection.reasons import Case
from auditkit.obd.parameters import (
    DISTANCE,
    ENGINE_SPEED,
    LAMP_DISTANCE,
    LAMP_MINUTES,
    MINUTES,
    ODOMETER,
    STANDARD,
    VOLTAGE,
    WARM_UPS,
    Value,
)
from auditkit.obd.responders import module_name

_CODES = {"stored": "confirmed", "pending": "pending", "permanent": "permanent"}
_VALUES = {
    WARM_UPS: "warm-ups since the clear",
    DISTANCE: "distance since the clear",
    MINUTES: "engine run since the clear",
    LAMP_DISTANCE: "distance with the lamp on",
    LAMP_MINUTES: "engine run with the lamp on",
    ODOMETER: "odometer",
    ENGINE_SPEED: "engine speed",
    VOLTAGE: "voltage of the module",
    STANDARD: "OBD requirements that it was designed to",
}


@dataclass(frozen=True, slots=True)
class ModuleRecord:
    """What one module said of what an inspection looks at.

    ``heard`` says of each question what became of it; what was not read is absent, or
    None. ``monitors`` are the supported ones with whether each is complete, ``values``
    are (name, text).
    """

    responder: str
    name: str
    heard: tuple[tuple[str, Heard], ...]
    lamp: bool | None
    counted: int | None
    codes: tuple[tuple[str, tuple[str, ...]], ...]
    monitors: tuple[tuple[str, bool], ...]
    calibration_ids: tuple[str, ...]
    calibration_numbers: tuple[str, ...]
    map: str
    values: tuple[tuple[str, str], ...]

    def to_json(self) -> dict[str, object]:
        """Return it as ``readiness --format json`` prints it."""
        return {
            "responder": self.responder,
            "name": self.name,
            "heard": {name: state.value for name, state in self.heard},
            "lamp_commanded": self.lamp,
            "stored_codes_counted": self.counted,
            "codes": {kind: list(codes) for kind, codes in self.codes},
            "monitors": {
                name: "complete" if done else "not complete"
                for name, done in self.monitors
            },
            "calibration_ids": list(self.calibration_ids),
            "calibration_verification_numbers": list(self.calibration_numbers),
            "support_map": self.map,
            "values": dict(self.values),
        }


def module_record(case: Case, who: str) -> ModuleRecord:
    """Return what a module said, and what became of each question to it."""
    readout = case.readout
    kinds = {
        kind: heard(readout, who, service, is_typed=case.is_typed)
        for kind, service in CODE_SERVICES.items()
    }
    status = heard(readout, who, STATUS_PID, is_typed=case.is_typed)
    texts = {
        v.id: _text(v)
        for v in readout.values
        if (v.responder, v.service) == (who, "01")
    }
    values = [
        (name, texts.get(pid) or heard_value(readout, who, pid, is_typed=case.is_typed))
        for pid, name in _VALUES.items()
    ]
    return ModuleRecord(
        responder=who,
        name=module_name(readout, who),
        heard=(
            ("lamp", status),
            ("readiness", heard_readiness(readout, who, is_typed=case.is_typed)),
            *((f"{kind} codes", state) for kind, state in kinds.items()),
        ),
        lamp=dict(readout.mil).get(who),
        counted=counted(readout, who),
        codes=tuple(
            (kind, listed(readout, _CODES[kind], who))
            for kind, state in kinds.items()
            if state is Heard.READ
        ),
        monitors=tuple(
            (m.monitor, m.complete is True)
            for m in since_clear(readout)
            if m.responder == who
        ),
        calibration_ids=_of(readout.calibration_ids, who),
        calibration_numbers=_of(readout.cvns, who),
        map=next(
            (
                p.data
                for p in readout.parameters
                if (p.responder, p.service, p.id) == (who, "01", "00")
            ),
            "",
        ),
        values=tuple((name, str(text)) for name, text in values),
    )


def _of(pairs: Iterable[tuple[str, str]], who: str) -> tuple[str, ...]:
    return tuple(text for name, text in pairs if name == who)


def _text(value: Value) -> str:
    if value.value is None:
        return str(value.meaning)
    return f"{value.value:f} {value.unit}".removesuffix(" count")
