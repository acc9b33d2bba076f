"""Invented vehicles of known truth, and the readouts that they would give."""

from dataclasses import dataclass, field, replace


def frames(responder: str, payload: bytes, fill: int = 0xAA) -> list[str]:
    """Return a message as frames of ISO 15765-2, one line each."""
    if len(payload) < 8:
        data = [bytes([len(payload)]) + payload]
    else:
        data = [bytes([0x10 | len(payload) >> 8, len(payload) & 0xFF]) + payload[:6]]
        pieces = range(6, len(payload), 7)
        data += [
            bytes([0x20 | (n & 0xF)]) + payload[at : at + 7]
            for n, at in enumerate(pieces, start=1)
        ]
    return [f"{responder} {d.ljust(8, bytes([fill])).hex(' ').upper()}" for d in data]


@dataclass(frozen=True)
class Vehicle:
    """One engine module's memory; ``tests`` is (mid, tid, uasid) -> three words."""

    vin: str = "0ZZTB1A18CA000123"
    responders: tuple[str, ...] = ("7E8",)
    status: str = "0007E500"
    cycle: str | None = None
    confirmed: tuple[int, ...] = ()
    pending: tuple[int, ...] = ()
    permanent: tuple[int, ...] = ()
    tests: dict = field(default_factory=lambda: {(0x3C, 0x81, 0xFD): (880, 0, 400)})
    calibration: str = "DEMO-ENG-0001"
    cvn: str = "1791BC82"
    counters: tuple[int, ...] = (
        100,
        300,
        60,
        80,
        60,
        80,
        60,
        80,
        60,
        80,
        40,
        60,
        0,
        0,
        20,
        50,
    )
    warm_ups: int | None = 40
    distance: int | None = 2000
    minutes: int | None = 3000
    odometer: int | None = 1203450  # tenths of a km
    standard: int | None = 0x01
    fuel: int | None = 0x01
    map_00: str = "BE1FA813"

    def but(self, **changes) -> "Vehicle":
        return replace(self, **changes)

    def cleared(self) -> "Vehicle":
        """Return it after a clear of codes (ISO 15031-5:2006 7.4.1)."""
        return self.but(
            status="0007E5E5",
            confirmed=(),
            pending=(),
            tests=dict.fromkeys(self.tests, (0, 0, 0)),
            warm_ups=0,
            distance=0,
            minutes=0,
        )

    def readout(self) -> str:
        main = self.responders[0]
        lines: list[str] = []

        def ask(request: str, *answers: tuple[str, bytes]) -> None:
            lines.append(f"> {request}")
            for responder, payload in answers:
                lines.extend(frames(responder, payload))

        def word(head: str, number: int, size: int) -> bytes:
            return bytes.fromhex(head) + number.to_bytes(size, "big")

        ask(
            "0100",
            *((r, bytes.fromhex("4100" + self.map_00)) for r in self.responders),
        )
        ask("0101", (main, bytes.fromhex("4101" + self.status)))
        if self.cycle:
            ask("0141", (main, bytes.fromhex("4141" + self.cycle)))
        for head, number, size in (
            ("411C", self.standard, 1),
            ("4130", self.warm_ups, 1),
            ("4131", self.distance, 2),
            ("414E", self.minutes, 2),
            ("4151", self.fuel, 1),
            ("41A6", self.odometer, 4),
        ):
            if number is not None:
                ask("01" + head[2:], (main, word(head, number, size)))
        for head, codes in (
            ("43", self.confirmed),
            ("47", self.pending),
            ("4A", self.permanent),
        ):
            body = b"".join(c.to_bytes(2, "big") for c in codes)
            answers = [(main, bytes.fromhex(head) + bytes([len(codes)]) + body)]
            answers += [(r, bytes.fromhex(head + "00")) for r in self.responders[1:]]
            ask("0" + f"{int(head, 16) - 0x40:X}", *answers)
        by_mid: dict[int, bytes] = {}
        for (mid, tid, uasid), words in self.tests.items():
            record = bytes([mid, tid, uasid])
            record += b"".join(w.to_bytes(2, "big") for w in words)
            by_mid[mid] = by_mid.get(mid, b"") + record
        for mid, records in by_mid.items():
            ask(f"06{mid:02X}", (main, b"\x46" + records))
        if self.vin:
            ask("0902", (main, b"\x49\x02\x01" + self.vin.encode()))
        ask(
            "0904", (main, b"\x49\x04\x01" + self.calibration.encode().ljust(16, b"\0"))
        )
        ask("0906", (main, bytes.fromhex("490601" + self.cvn)))
        counts = b"".join(c.to_bytes(2, "big") for c in self.counters)
        ask("0908", (main, bytes([0x49, 0x08, len(self.counters)]) + counts))
        return "\n".join(lines)


def counted(counters: tuple[int, ...], place: int, by: int) -> tuple[int, ...]:
    """Return counters with the one at ``place`` risen, past 65,535 from 0 again."""
    return tuple((c + by) % 65536 if n == place else c for n, c in enumerate(counters))
