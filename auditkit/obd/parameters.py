"""Service 01 and 02 data -> named values with units (ISO 15031-5:2006 Annex B).

Values are exact where the formula is a decimal one, else rounded half to even at the
third decimal. Rows marked "from memory" were written without a source at hand.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal
from fractions import Fraction

from auditkit.obd.dtc import code_text

ANNEX_B = "ISO 15031-5:2006 Annex B"
LATER = "a later edition of SAE J1979-DA, through a public table"
MEMORY = "from memory"

WARM_UPS, DISTANCE, MINUTES = "30", "31", "4E"
"""Ids of what counts since codes were cleared: warm-ups, km, minutes of engine run."""
LAMP_DISTANCE, LAMP_MINUTES = "21", "4D"
"""Ids of what counts since the lamp came on: km, minutes of engine run."""
ODOMETER, ENGINE_SPEED = "A6", "0C"
STANDARD, FUEL_TYPE, VOLTAGE = "1C", "51", "42"

_ROWS = """
04|calculated load|%|0:1|100/255|0|B
05|coolant temperature|degC|0:1|1|-40|B
06|short-term fuel trim, bank 1|%|0:1|100/128|-100|M
07|long-term fuel trim, bank 1|%|0:1|100/128|-100|M
08|short-term fuel trim, bank 2|%|0:1|100/128|-100|M
09|long-term fuel trim, bank 2|%|0:1|100/128|-100|M
0A|fuel pressure, gauge|kPa|0:1|3|0|M
0B|intake manifold pressure, absolute|kPa|0:1|1|0|M
0C|engine speed|rpm|0:2|1/4|0|B
0D|vehicle speed|km/h|0:1|1|0|B
0E|ignition timing advance|deg|0:1|1/2|-64|M
0F|intake air temperature|degC|0:1|1|-40|B
10|air mass flow|g/s|0:2|1/100|0|M
11|throttle position|%|0:1|100/255|0|M
1F|run time since engine start|s|0:2|1|0|B
21|distance with the lamp on|km|0:2|1|0|B
22|fuel rail pressure, to manifold vacuum|kPa|0:2|79/1000|0|M
23|fuel rail pressure, gauge|kPa|0:2|10|0|M
2C|commanded EGR|%|0:1|100/255|0|M
2D|EGR error|%|0:1|100/128|-100|M
2E|commanded evaporative purge|%|0:1|100/255|0|M
2F|fuel level|%|0:1|100/255|0|B
30|warm-ups since codes were cleared|count|0:1|1|0|B
31|distance since codes were cleared|km|0:2|1|0|B
32|evaporative system vapour pressure|Pa|0:2s|1/4|0|B
33|barometric pressure|kPa|0:1|1|0|B
42|control module voltage|V|0:2|1/1000|0|B
43|absolute load|%|0:2|100/255|0|M
44|commanded equivalence ratio|lambda|0:2|305/10000000|0|M
45|relative throttle position|%|0:1|100/255|0|M
46|ambient air temperature|degC|0:1|1|-40|B
4C|commanded throttle|%|0:1|100/255|0|M
4D|engine run time with the lamp on|min|0:2|1|0|B
4E|engine run time since codes were cleared|min|0:2|1|0|B
52|alcohol in the fuel|%|0:1|100/255|0|M
53|evaporative system pressure, absolute|kPa|0:2|1/200|0|B
54|evaporative system pressure|Pa|0:2s|1|0|B
5B|charge left of the hybrid battery|%|0:1|100/255|0|M
5C|engine oil temperature|degC|0:1|1|-40|M
5E|engine fuel rate|L/h|0:2|1/20|0|M
A6|odometer|km|0:4|1/10|0|L
"""
_SOURCES = {"B": ANNEX_B, "L": LATER, "M": MEMORY}

FUEL_SYSTEM = {
    0x00: "engine off",
    0x01: "open loop, not yet warm",
    0x02: "closed loop",
    0x04: "open loop for driving conditions",
    0x08: "open loop because of a fault",
    0x10: "closed loop, with a fault in a sensor",
}
STANDARDS = {
    0x01: "OBD II (CARB)",
    0x02: "OBD (EPA)",
    0x03: "OBD and OBD II",
    0x04: "OBD I",
    0x05: "not meant to comply with any OBD requirement",
    0x06: "EOBD",
    0x07: "EOBD and OBD II",
    0x08: "EOBD and OBD",
    0x09: "EOBD, OBD and OBD II",
    0x0A: "JOBD",
    0x0B: "JOBD and OBD II",
    0x0C: "JOBD and EOBD",
    0x0D: "JOBD, EOBD and OBD II",
    0x11: "EMD",
    0x12: "EMD+",
    0x13: "HD OBD-C",
    0x14: "HD OBD",
    0x15: "WWH OBD",
    0x17: "HD EOBD I",
    0x18: "HD EOBD I-N",
    0x19: "HD EOBD II",
    0x1A: "HD EOBD II-N",
    0x1C: "OBDBr-1",
    0x1D: "OBDBr-2",
    0x1E: "KOBD",
    0x1F: "IOBD I",
    0x20: "IOBD II",
    0x21: "HD EOBD VI",
    0x22: "OBD, OBD II and HD OBD",
    0x23: "OBDBr-3",
}
"""PID 1C: 01-0B Table B.23, the rest J1979-DA; 0E-10 differ between editions."""
FUELS = dict(
    enumerate(
        (
            "not available",
            "gasoline",
            "methanol",
            "ethanol",
            "diesel",
            "LPG",
            "CNG",
            "propane",
            "electric",
            "bi-fuel, on gasoline",
            "bi-fuel, on methanol",
            "bi-fuel, on ethanol",
            "bi-fuel, on LPG",
            "bi-fuel, on CNG",
            "bi-fuel, on propane",
            "bi-fuel, on battery",
            "bi-fuel, electric and combustion",
            "hybrid gasoline",
            "hybrid ethanol",
            "hybrid diesel",
            "hybrid electric",
            "hybrid, electric and combustion",
            "hybrid regenerative",
            "bi-fuel, on diesel",
        )
    )
)
"""PID 51: 01-0F Table B.62, the rest J1979-DA."""


@dataclass(frozen=True, slots=True)
class Value:
    """One value of a responder: a number in ``unit``, or a ``meaning`` in words.

    ``service`` is ``01``, or ``02`` for the freeze frame ``frame`` (two hex digits).
    ``source`` says where the row of the table came from.
    """

    responder: str
    service: str
    id: str
    name: str
    value: Decimal | None
    unit: str | None
    meaning: str | None
    source: str
    frame: str | None = None

    def __str__(self) -> str:
        if self.value is None:
            return f"{self.name}: {self.meaning}"
        return f"{self.name}: {self.value:f} {self.unit}"


@dataclass(frozen=True, slots=True)
class _Row:
    name: str
    unit: str
    first: int
    last: int
    signed: bool
    factor: Fraction
    offset: Fraction
    source: str

    def value(self, data: bytes) -> Decimal:
        word = int.from_bytes(data[self.first : self.last], signed=self.signed)
        return _decimal(word * self.factor + self.offset)


def _decimal(exact: Fraction) -> Decimal:
    shown = Decimal(exact.numerator) / Decimal(exact.denominator)
    if Fraction(shown) == exact:
        return shown.normalize() if shown.as_tuple().exponent else shown
    return shown.quantize(Decimal("0.001"), ROUND_HALF_EVEN)


def _row(line: str) -> tuple[int, _Row]:
    pid, name, unit, place, factor, offset, source = line.split("|")
    first, _, last = place.rstrip("s").partition(":")
    row = _Row(
        name,
        unit,
        int(first),
        int(last),
        place.endswith("s"),
        Fraction(factor),
        Fraction(offset),
        _SOURCES[source],
    )
    return int(pid, 16), row


def _rows() -> dict[int, _Row]:
    sensors = (
        f"{pid:02X}|oxygen sensor {pid - 0x13} of PID 13 or 1D|V|0:1|1/200|0|B"
        for pid in range(0x14, 0x1C)
    )
    return dict(map(_row, [*_ROWS.strip().split("\n"), *sensors]))


ROWS = _rows()


def _meaning(pid: int, data: bytes) -> tuple[str, str] | None:
    """Return name and meaning of an id that holds a code, not a number."""
    if pid == 0x1C:
        return "OBD standard", STANDARDS.get(data[0], f"code {data[0]:02X}")
    if pid == 0x51:
        return "fuel type", FUELS.get(data[0], f"code {data[0]:02X}")
    if pid == 0x03:
        known = [FUEL_SYSTEM.get(byte, f"code {byte:02X}") for byte in data[:2]]
        return "fuel system 1 and 2", "; ".join(known)
    if pid == 0x02:
        return "code that stored the frame", code_text(*data[:2]) or "none"
    if pid in {0x13, 0x1D}:
        bits = f"{data[0]:08b}"[::-1]
        places = [str(n + 1) for n, bit in enumerate(bits) if bit == "1"]
        return "oxygen sensors present, by place", " ".join(places) or "none"
    return None


def value_of(
    responder: str,
    pid: int,
    data: bytes,
    overrides: Mapping[int, bytes],
    *,
    frame: int | None = None,
) -> Value | None:
    """Return what the data bytes of one id say; None for an id without a row.

    ``overrides`` holds this responder's ids 4F and 50 where it gave them: with a first
    byte that is not zero they set the scaling of 44 and 10 (Tables B.60 and B.61), and
    4F with a fourth byte that is not zero that of 0B (later editions, from memory).
    """
    service = "01" if frame is None else "02"
    shown = None if frame is None else f"{frame:02X}"
    told = _meaning(pid, data)
    if told is not None:
        name, text = told
        source = f"{ANNEX_B}; codes of later editions through a public table"
        pid_text = f"{pid:02X}"
        return Value(
            responder, service, pid_text, name, None, None, text, source, shown
        )
    row = ROWS.get(pid)
    if row is None or len(data) < row.last:
        return None
    scaled = _overridden(pid, data, overrides)
    return Value(
        responder,
        service,
        f"{pid:02X}",
        row.name,
        row.value(data) if scaled is None else scaled,
        row.unit,
        None,
        row.source,
        shown,
    )


def _overridden(
    pid: int, data: bytes, overrides: Mapping[int, bytes]
) -> Decimal | None:
    word = int.from_bytes(data[:2])
    if pid == 0x44 and (most := overrides.get(0x4F, b"\0")[0]):
        return _decimal(Fraction(word * most, 65535))
    if pid == 0x0B and (most := (overrides.get(0x4F, b"") + bytes(4))[3]):
        return _decimal(Fraction(data[0] * most * 10, 255))
    if pid == 0x10 and (most := overrides.get(0x50, b"\0")[0]):
        return _decimal(Fraction(word * most * 10, 65535))
    return None
