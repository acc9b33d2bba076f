"""Sixty-two readouts worked out by hand from the published rules, and their answers.

The rule that each rests on stands beside it; what the rules are known by stands in
inspection.toml. Unless told: gasoline, one module 7E8, services 03, 07 and 0A answered
with no code, 30 warm-ups and 1000 km since the clear, the lamp lit with key on and
engine off, and as it is commanded with the engine running, the VIN read. All vehicles
are invented.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

import pytest
from vehicles import frames

from auditkit.inspection.pre_test import Taken, pre_test
from auditkit.inspection.reasons import Case, Connector, Lamp, Seen
from auditkit.inspection.vehicle import Given, vehicle_of
from auditkit.obd import decode
from auditkit.plugin.loading import load_catalogue

RULES = {j.name: j for j in load_catalogue().jurisdictions}
LETTERS = {
    "accept": "A",
    "fail": "F",
    "not-ready": "N",
    "undecided": "U",
    "not-subject": "X",
    "other-test": "O",
}
DAY = date(2026, 3, 2)
VIN, OTHER_VIN = "0ZZTB1A18CA000123", "1ABCD23EFGH456789"
LOST = "lost"
DEFAULT = {"03": (), "07": (), "0A": (), "30": 30, "31": 1000, "vin": VIN}


def module(who: str = "7E8", status: str | None = "0007E500", **said) -> list:
    """Return what a module answers: (request, frames); LOST is no answer at all."""
    answers = {**DEFAULT, **{k.removeprefix("s"): v for k, v in said.items()}}
    found = []
    if status is not None:
        found.append(("0101", frames(who, bytes.fromhex("4101" + status))))
    for pid, size in (("30", 1), ("31", 2), ("51", 1)):
        if isinstance(value := answers.get(pid), int):
            data = bytes.fromhex("41" + pid) + value.to_bytes(size, "big")
            found.append((f"01{pid}", frames(who, data)))
    for service in ("03", "07", "0A"):
        codes = answers[service]
        if codes != LOST:
            body = b"".join(bytes.fromhex(code) for code in codes)
            data = bytes([int(service, 16) + 0x40, len(codes)]) + body
            found.append((service, frames(who, data)))
    if vin := answers.get("vin"):
        found.append(("0902", frames(who, b"\x49\x02\x01" + vin.encode())))
    return found


def readout(modules) -> str:
    """Return a readout in which every question was asked."""
    asked = ["0101", "0130", "0131", "0151", "03", "07", "0A", "0902"]
    lines = []
    for request in asked:
        lines.append(f"> {request}")
        for said in modules:
            for answered, text in said:
                if answered == request:
                    lines += text
    return "\n".join(lines)


@dataclass(frozen=True)
class Worked:
    number: int
    year: int
    modules: list
    federal: str  # flexibility used / not used
    california: str  # regulation / table in use
    others: dict = field(default_factory=dict)
    ignition: str | None = None
    gvwr_lb: int | None = None
    vin: str | None = None
    bulb: str = "lit"
    running: str = "as commanded"
    connector: str = "not-looked"
    earlier: tuple = ()

    def _running(self, read) -> str:
        if self.running != "as commanded":
            return self.running
        return "lit" if any(on for _, on in read.mil) else "dark"

    def letters(self, name: str) -> str:
        read = decode(readout(self.modules))
        given = Given(self.year, self.ignition, self.vin, self.gvwr_lb)
        seen = Seen(
            Lamp(self.bulb),
            Lamp(self._running(read)),
            Connector(self.connector),
            frozenset(self.earlier),
        )
        day = date(2015, 6, 1) if name in {"washington", "colorado"} else DAY
        case = Case(read, vehicle_of(read, given), seen, day)
        found = pre_test(Taken("a test", ""), case, [RULES[name]])
        return "/".join(LETTERS[result.answer] for result in found.results)


def car(number, year, status, *answers, others=None, **more) -> Worked:
    """Return a case of one module; members that begin with s are its answers."""
    said = {k: v for k, v in more.items() if k in ANSWERS}
    rest = {k: v for k, v in more.items() if k not in said}
    made = [module("7E8", status, **said)]
    return Worked(number, year, made, *answers, others or {}, **rest)


def two(number, year, *modules_and_answers, **more) -> Worked:
    """Return a case of two modules, with the answers after them."""
    *modules, federal, california = modules_and_answers
    return Worked(number, year, modules, federal, california, **more)


ANSWERS = {"s03", "s07", "s0A", "s30", "s31", "s51", "svin"}
P0442, P0171, P0700 = "0442", "0171", "0700"
ALL_A = {"oregon": "A", "illinois": "A", "washington": "A"}
WORKED = [
    car(1, 2012, "0007E500", "A/A", "A/A", others=ALL_A),  # 85.2207; all complete
    # EPA420-R-01-015: two to 2000; the table of California: any one to 1999
    car(2, 1996, "0007E505", "A/N", "F/F", others=ALL_A),
    car(3, 2000, "0007E505", "A/N", "F/F"),  # last year of two
    car(4, 2001, "0007E505", "N/N", "F/F", others={"oregon": "N", "washington": "F"}),
    car(5, 2001, "0007E504", "A/N", "F/A"),  # one; table: evaporative
    car(6, 1999, "0007E501", "A/N", "F/A", others={"colorado": "O"}),  # table: any one
    car(7, 2000, "0007E501", "A/N", "F/F"),  # border 1999 / 2000
    car(8, 1999, "0007E505", "A/N", "F/F"),  # any one
    car(9, 2000, "0007E525", "N/N", "F/F"),  # more than two
    car(10, 1995, None, "X/X", "X/X"),  # first year 1996: 85.2207(a), 3340.42.2(a)
    car(11, 1995, "0007E500", "X/X", "X/X"),  # an early system is still not subject
    # Federal diesels from 1997 (from memory); New York and Oregon from 1997
    car(12, 1996, "000FEB00", "U/U", "X/X", others={"new-york": "X", "oregon": "X"}),
    car(13, 1997, "000FEB01", "A/N", "X/X", others={"oregon": "N"}),
    car(14, 1998, "000FEB01", "A/N", "F/F"),  # table: 1998-2006 none
    car(15, 2006, "000FEB40", "A/N", "F/F"),  # border 2006 / 2007
    car(16, 2007, "000FEB41", "N/N", "F/A", others={"oregon": "N"}),  # the named pair
    car(17, 2007, "000FEB82", "N/N", "F/F"),
    car(18, 2008, "000FEB80", "A/N", "F/F", others={"oregon": "N"}),
    car(19, 2009, "000FEB80", "A/N", "F/F", others={"oregon": "A"}),
    # Illinois and Massachusetts count non-continuous monitors only
    car(20, 2010, "001FEB00", "A/N", "F/F", others={"illinois": "A"}),
    car(21, 2012, "0017E500", "A/N", "F/A", others={"illinois": "A"}),
    car(22, 2012, "00076118", "A/A", "A/A"),  # unsupported do not count, 85.2222(c)
    # Nothing supported, nothing evaluated; Pennsylvania counts it as not ready
    car(23, 2012, "00000000", "U/U", "U/U", others={"pennsylvania": "F"}),
    car(24, 2012, "00070000", "U/U", "U/U"),
    two(25, 2012, module(), module("7E9", "00000000"), "A/A", "A/A"),
    two(
        *(26, 2012, module("7E8", "0007E501"), module("7E9", "00076500")),
        *("A/N", "F/F"),  # 51.366: any module
    ),
    two(27, 2012, module("7E8", None), module("7E9", "00040000"), "U/U", "U/U"),
    # The lamp decides federally; (c)(4) is not answered
    two(28, 2012, module(s03=LOST), module("7E9", "00000000"), "A/A", "U/U"),
    two(
        *(29, 2012, module("7E8", "8107E500", s03=LOST), module("7E9", "00000000")),
        *("F/F", "F/F"),
    ),
    two(
        *(30, 2012, module(), module("7E9", "81040000", s03=(P0700,))),
        *("F/F", "F/F"),
    ),
    # (c) asks for a code; California and Washington for the command alone
    car(31, 2012, "8007E500", "U/U", "F/F", others={"washington": "F"}),
    car(32, 2012, "8107E500", "F/F", "F/F"),  # by the count
    car(33, 2012, "8207E500", "F/F", "F/F", s03=(P0442,)),
    car(34, 2012, "8107E500", "F/F", "F/F", s03=(P0442, P0171)),
    car(35, 2012, "0107E500", "A/A", "U/U"),  # (c)(4): the count says one
    car(36, 2012, "0107E500", "A/A", "F/F", s03=(P0442,)),  # (c)(4)
    car(37, 2012, "0007E500", "A/A", "A/A", s07=(P0442,)),  # pending is in no clause
    car(38, 2010, "0007E500", "A/A", "A/A", s0A=(P0442,), s30=15, s31=322),
    car(39, 2010, "0007E500", "A/A", "F/F", s0A=(P0442,), s30=14, s31=322),
    # 200 miles are 321.87 km
    car(40, 2010, "0007E500", "A/A", "F/F", s0A=(P0442,), s30=15, s31=321),
    car(41, 2009, "0007E500", "A/A", "A/A", s0A=(P0442,), s30=1),
    car(42, 2012, "0007E500", "A/A", "U/U", s0A=(P0442,), s30=None, s31=None),
    two(
        *(43, 2012, module(s0A=(P0442,), s30=2, s31=10), module("7E9", "00000000")),
        *("A/A", "F/F"),  # by the counts of the module that keeps the code
    ),
    car(44, 2012, "8107E500", "F/F", "F/F", s03=(P0442,), s0A=(P0442,)),
    car(45, 2012, "0007E500", "A/A", "U/U", s0A=LOST),
    car(46, 2005, "0007E500", "A/A", "A/A", s0A=LOST),
    # 85.2222(d)(4), (c)(1); Washington does not look from 2012
    car(
        *(47, 2012, "0007E500", "U/U", "F/F"),
        bulb="dark",
        others={"illinois": "F", "pennsylvania": "F", "washington": "A"},
    ),
    car(48, 2012, "8107E500", "F/F", "F/F", s03=(P0442,), running="dark"),  # (b), (c)
    car(
        *(49, 2012, "0007E500", "A/A", "F/F"),
        running="flashing",
        others={"pennsylvania": "F", "united-kingdom": "F"},
    ),
    car(
        *(50, 2012, "0007E500", "U/U", "U/U"),
        bulb="not-looked",
        running="not-looked",
        others={"united-kingdom": "U", "washington": "A"},
    ),
    Worked(51, 2012, [], "U/U", "F/F", connector="sound"),  # (c)(6)
    Worked(51, 2012, [], "F/F", "F/F", connector="inoperable"),  # 85.2207(a)
    Worked(52, 2012, [], "X/X", "X/X", {"north-carolina": "X/X"}, ignition="electric"),
    car(52, 2020, "00000000", "X/X", "X/X", s51=8),
    car(53, 2015, "0007E504", "A/N", "F/A"),  # a plug-in hybrid is judged as spark
    car(
        *(54, 2012, "0007E5E5", "N/N", "F/F"),
        s30=0,
        s31=0,
        others={"colorado": "O", "germany": "O"},
    ),
    car(55, 2012, "0007E505", "F/F", "F/F", earlier=("not-ready",)),  # 85.2222(c)
    car(
        *(56, 2012, "0007E501", "N/N", "F/F"),
        earlier=("P0420",),
        others={
            "illinois": "N",
            "massachusetts": "N",
            "oregon": "N",
            "washington": "F",
        },
    ),
    car(
        *(57, 2012, "0007E504", "A/N", "F/A"),
        earlier=("P0442",),
        others={"oregon": "N", "illinois": "A"},
    ),
    car(58, 2012, "8107E5E5", "F/F", "F/F", s03=(P0442,)),  # fail outranks not ready
    car(59, 2012, "000FEB01", "U/U", "U/U", ignition="spark"),  # PID 01 B bit 3
    car(60, 2020, "0007F510", "A/N", "F/F"),  # refrigerant or particulate filter
    car(
        *(61, 2012, "0007E500", "A/A", "U/U"),
        svin=OTHER_VIN,
        vin=VIN,
        others={"oregon": "F"},
    ),
    car(
        *(62, 2012, "0007E500", "A/A", "A/A"),
        gvwr_lb=8501,
        others={"new-york": "X", "pennsylvania": "X"},
    ),
]


def ids(one) -> str:
    return f"{one.number}"


def test_all_of_them_are_here():
    assert {one.number for one in WORKED} == set(range(1, 63))


def test_federal():
    for one in WORKED:
        assert one.letters("federal") == one.federal, one.number


def test_california():
    for one in WORKED:
        assert one.letters("california") == one.california, one.number


@pytest.mark.parametrize("one", [w for w in WORKED if w.others], ids=ids)
def test_other_places(one):
    assert {name: one.letters(name) for name in one.others} == one.others
