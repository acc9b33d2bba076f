"""The families of bogus records, in the order of their classes."""
# ruff: noqa: RET503  a change returns False where it makes no sense, else nothing

import copy
from decimal import Decimal

from auditkit.obd.code_table import row_of, watch_of
from auditkit.obd.fingerprint import said_sha256
from auditkit.order.value_marks import value_marks
from truth.acknowledged import acknowledged
from truth.bogus import (
    AT_FAULT,
    ELSE,
    EXPLAINS,
    GONE,
    HAZARDS,
    KNOWN,
    PASSED,
    RERAN,
    SAME,
    TIME,
    answers,
    edit,
    family,
    move,
    shifted,
    tests_of,
    vin_request,
    with_bytes,
    with_codes,
    with_test,
    without,
)
from truth.changes import acknowledge_again, programming
from truth.jobs import CATALOGUE, JOBS, at, bench, event
from truth.jobs import record as record_of_job
from truth.said import ENGINE, code_bytes, parsed, text_of, word

PART = "another part, system, code"


def _foreign_systems(d):
    rows = [row_of(code) for code in d.job["codes"]]
    every = ("restraint", "body", "steering", "air-conditioning", "cruise", "other")
    return [s for s in every if not any(row.explains(s) for row in rows)]


@family(
    PART, EXPLAINS, AT_FAULT, ELSE, GONE, variants=("cabin-filter", "wiper", "tyre")
)
def another_part(d, part):
    d.of("repair")[-1]["part"] = part


@family(PART, EXPLAINS, variants=range(5))
def another_system(d, number):
    systems = _foreign_systems(d)
    if number >= len(systems) or "first_attempt" in d.job:
        return False
    d.of("diagnosis")[0]["suspect_parts"][0]["system"] = systems[number]


@family(PART, KNOWN, EXPLAINS, PASSED, ELSE, variants=("P0562", "P0606", "B1000"))
def another_code(d, code):
    if code in d.job["codes"]:
        return False
    for one in d.of("diagnosis"):
        one["codes"] = [code]
        for part in one["suspect_parts"]:
            part["codes"] = [code]


@family("second part sold along", AT_FAULT, variants=("wiring", "control-module"))
def second_part(d, system):
    one = d.of("diagnosis")[-1]
    first = one["suspect_parts"][0]
    other = {**first, "id": "part-2", "name": "second part", "system": system}
    one["suspect_parts"].append(other)
    repair = d.of("repair")[-1]
    d.put({**repair, "part": "part-2", "action": "replaced"}, after=repair)


@family("known-good fails too", AT_FAULT, variants=("same", "worse"))
def known_good(d, how):
    test = d.old_test
    if test is None:
        return False
    readings = test["readings"]
    if how == "worse" and test["method"] in {"balance", "linear-transfer"}:
        return False
    test["known_good"] = {"part": "shelf part (invented)", "readings": readings}
    if "conditions" in test:
        test["known_good"]["conditions"] = test["conditions"]
    if how == "worse":
        worse = [dict(r) for r in readings]
        if "value" not in worse[-1]:
            return False
        worse[-1]["value"] = str(Decimal(worse[-1]["value"]) * Decimal("0.99"))
        if test["method"] in {"direct-reading", "voltage-drop", "stored-energy"}:
            return False
        test["known_good"]["readings"] = worse


@family("good, good, then faulty", AT_FAULT, variants=(1, 2))
def good_then_faulty(d, times):
    test = d.old_test
    if test is None:
        return False
    good = {**test, **bench(d.job["bench"], good=True)}
    for _ in range(times):
        d.events.insert(d.events.index(test), dict(good))


@family("good, good, then faulty", AT_FAULT)
def faulty_then_good(d, _):
    if d.old_test is None:
        return False
    d.put({**d.old_test, **bench(d.job["bench"], good=True)}, after=d.old_test)


@family("part shown good", AT_FAULT, contradicted=True)
def only_good(d, _):
    if d.old_test is None:
        return False
    d.old_test.update(bench(d.job["bench"], good=True))


def _hold(d):
    test = d.old_test
    return test if test and test.get("method") == "seal-hold" else None


@family("hold test that began outside, or grew", AT_FAULT, variants=("14.0", "10.0"))
def hold_began_outside(d, start):
    test = _hold(d)
    if test is None or Decimal(start) >= Decimal(test["limit"]["minimum"]):
        return False
    test["readings"][0]["value"] = start


@family("hold test that began outside, or grew", AT_FAULT, variants=("20.0", "25.5"))
def hold_grew(d, end):
    test = _hold(d)
    if test is None:
        return False
    test["readings"][1]["value"] = end


@family(
    "limit crossed, reversed, out of reach", AT_FAULT, variants=("crossed", "turned")
)
def limit_crossed(d, how):
    test = d.old_test
    if test is None:
        return False
    limit = test["limit"]
    low, high = limit.get("minimum"), limit.get("maximum")
    if how == "turned":
        new = {"minimum": high, "maximum": low}
        limit |= new
        for name in ("minimum", "maximum"):
            if limit[name] is None:
                del limit[name]
        if low is not None and high is not None and Decimal(high) <= Decimal(low):
            return False
    elif low is None or high is None:
        one = low or high
        limit["minimum"] = str(Decimal(one) + 2)
        limit["maximum"] = str(Decimal(one) - 2)
    else:
        limit["minimum"], limit["maximum"] = high, low


@family("limit crossed, reversed, out of reach", AT_FAULT, variants=("19.0", "29.0"))
def limit_out_of_reach(d, limit):
    test = _hold(d)
    if test is None:
        return False
    test["limit"]["minimum"] = limit


@family("limit crossed, reversed, out of reach", AT_FAULT)
def limit_without_source(d, _):
    if d.old_test is None:
        return False
    del d.old_test["limit"]["source"]


@family(
    "unit of another instrument", AT_FAULT, variants=("V", "kPa", "ohm", "psi", "A")
)
def unit_of_another(d, unit):
    test = d.old_test
    if (
        test is None
        or test["readings"][-1]["unit"] == unit
        or test["limit"]["unit"] == "%"
    ):
        return False
    if unit == "ohm" and test["limit"]["unit"] == "kohm":
        return False  # the meter reads both, and the part is open in both
    if unit == "psi" and test["method"] != "seal-hold":
        return False
    for reading in test["readings"]:
        reading["unit"] = unit


@family(
    "unit of another instrument",
    AT_FAULT,
    typed=True,
    variants=("V", "kPa", "ohm", "psi", "A"),
)
def unit_of_another_in_a_set(d, unit):
    """A set is held against itself, in any unit: its instrument reads another."""
    test = d.old_test
    if test is None or test["limit"]["unit"] != "%":
        return False
    for reading in test["readings"]:
        reading["unit"] = unit


@family("unit of another instrument", AT_FAULT, variants=("low", "high"))
def instrument_out_of_range(d, end):
    test = d.old_test
    if test is None or "value" not in test["readings"][-1]:
        return False
    spec = test["instruments"][0]["specification"]
    if test["method"] == "linear-transfer" and end == "low":
        return False
    unit = spec["unit"].partition(" ")[0]
    value = max(Decimal(r["value"]) for r in test["readings"] if r["unit"] == unit)
    if end == "low":
        spec["low"] = str(value + 1)
        spec["high"] = str(value + 1000000)
    else:
        spec["low"], spec["high"] = "0", str(value / 2)


CHECK = "instrument too good to be true, or without check called measured"


@family(CHECK, AT_FAULT, typed=True, variants=("no dates", "lapsed", "not yet", "none"))
def unchecked_instrument(d, how):
    test = d.old_test
    if test is None:
        return False
    spec = test["instruments"][0]["specification"]
    if how == "no dates":
        del spec["calibrated_on"], spec["due"]
    elif how == "lapsed":
        spec |= {"calibrated_on": "2024-01-12", "due": "2025-01-12"}
    elif how == "not yet":
        spec |= {"calibrated_on": "2026-03-09", "due": "2027-03-09"}
    else:
        del test["instruments"][0]["specification"]


@family(CHECK, AT_FAULT, typed=True, variants=("no error", "zero"))
def instrument_too_good(d, how):
    test = d.old_test
    if test is None:
        return False
    spec = test["instruments"][0]["specification"]
    if how == "no error":
        del spec["percent_of_reading"]
    else:
        spec["percent_of_reading"] = "0"


@family(CHECK, AT_FAULT, typed=True)
def interval_without_end(d, _):
    if d.old_test is None:
        return False
    spec = d.old_test["instruments"][0]["specification"]
    spec |= {"calibrated_on": "1999-01-12", "due": "2099-01-12"}


@family("test of something else", AT_FAULT, variants=("new", "known-good"))
def test_of_another(d, of):
    if d.old_test is None:
        return False
    part = d.old_test["part"]
    replaced = [
        r for r in d.of("repair") if (r["part"], r["action"]) == (part, "replaced")
    ]
    if of == "new" and not replaced:
        return False  # of what stays there is no new one: a slip of the pen
    d.old_test["of"] = of


@family("test of something else", AT_FAULT)
def test_of_another_part(d, _):
    if d.old_test is None:
        return False
    d.old_test["part"] = "another-part"


@family("test of something else", AT_FAULT)
def no_test(d, _):
    if d.old_test is None:
        return False
    d.events.remove(d.old_test)


@family("test of something else", AT_FAULT)
def suspects_not_ruled_out(d, _):
    if "ruled_out" not in d.job:
        return False
    d.events.remove(d.of("bench_test")[0])


# Cautions.
DODGED = "caution dodged"


@family(DODGED, HAZARDS, variants=range(8))
def caution_left_out(d, number):
    found = d.of("caution")
    if number >= len(found):
        return False
    same = [c for c in found if c["caution"] == found[number]["caution"]]
    for one in same:
        d.events.remove(one)


@family(DODGED, HAZARDS, variants=range(4))
def caution_by_another(d, number):
    found = d.of("caution")
    if number >= len(found):
        return False
    for one in found:
        if one["caution"] == found[number]["caution"]:
            one["by"] = "mechanic-9"


@family(DODGED, HAZARDS, variants=range(4))
def caution_of_another_text(d, number):
    found = d.of("caution")
    if number >= len(found):
        return False
    found[number]["text_sha256"] = "0" * 64


@family(DODGED, HAZARDS, variants=("nothing", "tick"))
def caution_ticked(d, how):
    for one in d.of("caution"):
        for name, value in one["preconditions"].items():
            if isinstance(value, str):
                one["preconditions"][name] = "ok"
        if how == "nothing":
            one["preconditions"] = {}


@family(DODGED, HAZARDS, variants=("-300", "900000"))
def impossible_precondition(d, number):
    changed = False
    for one in d.of("caution"):
        for value in one["preconditions"].values():
            if isinstance(value, dict) and value["unit"] in {"degC", "V", "kg"}:
                value["value"], changed = number, True
    return changed


@family(DODGED, HAZARDS)
def cautions_after_the_step(d, _):
    steps = [e for e in d.events if e["kind"] == "repair"]
    late = d.of("caution")
    for one in late:
        d.events.remove(one)
    for one in late:
        one["at"] = shifted(steps[-1]["at"], minutes=1)
        if "second_confirmation" in one:
            one["second_confirmation"]["at"] = shifted(steps[-1]["at"], minutes=2)
        d.put(one, after=steps[-1])


@family(DODGED, HAZARDS)
def cautions_recorded_after_the_step(d, _):
    """They stand before their steps; the log got them when all was done."""
    late = shifted(d.events[-1]["at"], hours=1)
    d.recorded = [late if e["kind"] == "caution" else e["at"] for e in d.events]
    return bool(d.of("caution"))


BEHALF = "recorded by another than who did it"


@family(BEHALF, HAZARDS, typed=True, variants=("cautions", "steps"))
def signed_for_whoever_worked(d, what):
    """The manager ticks for a technician, or names one for the work."""
    own = ("caution",) if what == "cautions" else ("bench_test", "repair", "road_test")
    d.signers = ["manager-1" if e["kind"] in own else e["by"] for e in d.events]
    return bool(d.of("caution"))


@family(BEHALF, AT_FAULT, typed=True)
def signed_for_whoever_measured(d, _):
    """Readings that nobody took, under the name of one who signs nothing."""
    tests = d.of("bench_test")
    d.signers = ["manager-1" if e in tests else e["by"] for e in d.events]
    return d.old_test is not None


# The fault before.
NEVER = "fault never reported"


@family(NEVER, KNOWN)
def never_reported(d, _):
    def change(said):
        for service in ("03", "07", "0A"):
            with_codes(said, service, d.module, [])
        for one in said:
            if one[0].startswith("19"):
                one[1] = [(w, p[:3]) for w, p in one[1]]

    for one in d.of("readout")[:-1]:
        edit(one, change)


@family(NEVER, KNOWN)
def only_pending(d, _):
    if "status" in d.job or "uds" in d.job:
        return False

    def change(said):
        with_codes(said, "03", d.module, d.job.get("set_aside", []))
        for found, payload in tests_of(said):
            found[0] = (found[0][0], payload[:4] + b"\0" * (len(payload) - 4))

    for one in d.of("readout")[:-1]:
        edit(one, change)


@family(NEVER, KNOWN)
def no_readout_before(d, _):
    for one in d.of("readout")[:-1]:
        d.events.remove(one)


@family(NEVER, KNOWN, ELSE, variants=("P0441", "P0402", "P0118"))
def reported_another(d, code):
    if code in d.job["codes"] or "status" in d.job or "uds" in d.job:
        return False
    for one in d.of("readout")[:-1]:
        edit(one, lambda said: with_codes(said, "03", d.module, [code]))
        edit(one, lambda said: with_codes(said, "07", d.module, [code]))
        edit(one, lambda said: with_codes(said, "0A", d.module, []))


@family(NEVER, KNOWN)
def readout_after_the_repair(d, _):
    one = d.before
    if "first_attempt" in d.job:
        return False
    d.events.remove(one)
    d.put(one, after=d.of("repair")[-1])
    one["at"] = one["captured"] = shifted(d.of("repair")[-1]["at"], minutes=1)


# Other faults.
LEFT = "other code or lamp left, any module, before or after"


@family(
    LEFT,
    ELSE,
    GONE,
    variants=[(s, w) for s in ("03", "07", "0A") for w in ("7E8", "7E9", "7EA", "7EB")],
)
def other_code_after(d, variant):
    service, who = variant
    return edit(
        d.after, lambda said: with_codes(said, service, who, ["C1234"], add=True)
    )


@family(
    LEFT,
    ELSE,
    GONE,
    KNOWN,
    variants=[(s, w) for s in ("03", "07", "0A") for w in ("7E8", "7E9", "7EA")],
)
def other_code_before(d, variant):
    service, who = variant
    return edit(
        d.before, lambda said: with_codes(said, service, who, ["P0606"], add=True)
    )


@family(LEFT, GONE, ELSE, variants=("7E8", "7E9", "7EC"))
def lamp_left(d, who):
    def change(said):
        found = answers(said, "0101")
        if found is None:
            return False
        old = dict(found).get(who, found[0][1])
        skip = 3 if old[0] == 0x62 else 2
        if old[skip] & 0x80:
            return False
        new = old[:skip] + bytes([old[skip] | 0x80]) + old[skip + 1 :]
        found[:] = [(w, p) for w, p in found if w != who] + [(who, new)]

    return edit(d.after, change)


def _counted(said, more):
    """Let the engine module count more codes than it lists (PID 01)."""
    found = answers(said, "0101")
    who, old = found[0]
    skip = 3 if old[0] == 0x62 else 2
    found[0] = (who, old[:skip] + bytes([old[skip] + more]) + old[skip + 1 :])


@family("count against list", GONE, ELSE, variants=(1, 3))
def count_after(d, more):
    return edit(d.after, lambda said: _counted(said, more))


@family("count against list", GONE, ELSE, KNOWN, variants=(1, 2))
def count_before(d, more):
    return edit(d.before, lambda said: _counted(said, more))


# The fault after.
BACK = "fault back"


@family(BACK, GONE, variants=("03", "07"))
def fault_back(d, service):
    return edit(
        d.after,
        lambda s: with_codes(s, service, d.module, d.job["codes"][:1], add=True),
    )


@family(BACK, GONE, PASSED, variants=(0x2F, 0x0C, 0x04, 0x01, 0x50, 0x20))
def status_back(d, status):
    if not (d.job.get("status") or d.job.get("uds")):
        return False

    def change(said):
        for one in said:
            if one[0].startswith("19"):
                body = code_bytes(d.job["codes"][0]) + b"\0" + bytes([status])
                one[1] = [(w, p[:3] + body) for w, p in one[1]]

    return edit(d.after, change)


SILENT = "module silent, refusing, replaced"
SERVICES = ("03", "07", "0A", "1902FF", "190A")


@family(
    SILENT,
    GONE,
    PASSED,
    variants=[
        (s, h)
        for s in ("03", "07")
        for h in ("silent", "not asked", "refused", "another")
    ],
)
def module_silent(d, variant):
    service, how = variant
    if d.module == "7EA":
        return False

    def change(said):
        found = answers(said, service)
        if found is None or d.module not in dict(found):
            return False
        old = dict(found)[d.module]
        rest = [(w, p) for w, p in found if w != d.module]
        if how == "not asked":
            if rest:
                return False
            return without(said, service)
        if how == "refused":
            rest.append((d.module, bytes([0x7F, int(service, 16), 0x12])))
        elif how == "another":
            rest.append(("7EF", old))
        found[:] = rest

    return edit(d.after, change)


@family(SILENT, GONE, PASSED, SAME)
def status_not_read(d, _):
    return edit(d.after, lambda said: without(said, "1902FF", "190A"))


@family(SILENT, GONE, PASSED, SAME)
def every_answer_from_another(d, _):
    def change(said):
        for one in said:
            one[1] = [("7EF" if w == d.module else w, p) for w, p in one[1]]

    return edit(d.after, change)


@family(SILENT, PASSED, GONE)
def no_readout_after(d, _):
    d.events.remove(d.after)


TWICE = "answers left out, doubled, from another id"


@family(TWICE, GONE, PASSED, SAME, variants=("03", "07", "0A", "0902", "0904", "0906"))
def answered_twice(d, request):
    other = {
        "03": b"\x43\x01" + code_bytes("P0606"),
        "07": b"\x47\x01" + code_bytes("P0606"),
        "0A": b"\x4a\x01" + code_bytes("P0606"),
        "0902": b"\x49\x02\x010ZZTB1A1XCA000124",
        "0904": b"\x49\x04\x01OTHER-ENG-00002\0",
        "0906": bytes.fromhex("49060116E062BE"),
    }[request]

    def change(said):
        found = answers(said, request)
        if found is None or "uds" in d.job:
            return False
        place = next(n for n, one in enumerate(said) if one[1] is found)
        said.insert(place, [request, [(ENGINE, other)]])

    return edit(d.after, change)


@family(TWICE, PASSED, GONE)
def failed_then_passed(d, _):
    """A failed result and a passed one of one test, in one readout."""

    def change(said):
        every = tests_of(said)
        if not every:
            return False
        for found, payload in every:
            old = next(
                p for f, p in tests_of(parsed(d.before["raw"])) if p[:3] == payload[:3]
            )
            place = next(n for n, one in enumerate(said) if one[1] is found)
            said.insert(place, [said[place][0], [(ENGINE, old)]])

    return edit(d.after, change)


@family(TWICE, PASSED, RERAN, lone=True)
def result_left_out(d, _):
    return edit(
        d.after,
        lambda s: (
            without(s, *(f"06{p[1]:02X}" for _, p in tests_of(s)))
            if tests_of(s)
            else False
        ),
    )


@family(TWICE, PASSED, RERAN, GONE, SAME, lone=True)
def result_from_another(d, _):
    def change(said):
        if not tests_of(said):
            return False
        for found, _payload in tests_of(said):
            found[0] = ("7EA", found[0][1])

    return edit(d.after, change)


# Self-tests.
OTHER_TEST = "self-test of another module, bank, monitor"


@family(
    OTHER_TEST, PASSED, RERAN, variants=("41", "A5", "71", "next bank", "E5"), lone=True
)
def other_monitor(d, mid):
    def change(said):
        every = tests_of(said)
        if not every:
            return False
        for found, p in every:
            new = p[1] + 1 if mid == "next bank" else int(mid, 16)
            if new == p[1] or (mid == "next bank" and p[1] in {0x39, 0x3A, 0x3B, 0x3C}):
                return False
            found[0] = (found[0][0], p[:1] + bytes([new]) + p[2:])
            for one in said:
                if one[1] is found:
                    one[0] = f"06{new:02X}"

    return edit(d.after, change)


@family(OTHER_TEST, PASSED, RERAN, variants=("07", "90"), lone=True)
def other_test_id(d, tid):
    return edit(
        d.after,
        lambda said: with_test(said, 0, lambda p: p[:2] + bytes.fromhex(tid) + p[3:]),
    )


MOVED = "limit or scaling moved; only a limit that cannot fail"


@family(MOVED, PASSED, variants=("wider", "none", "tighter"), lone=True)
def limit_moved(d, how):
    def new(p):
        low, high = int.from_bytes(p[6:8]), int.from_bytes(p[8:10])
        signed = p[3] >= 0x80
        if how == "none":
            ends = (0x8000, 0x7FFF) if signed else (0, 0xFFFF)
        elif how == "wider":
            ends = (low // 2, high if high in {0xFFFF, 0x7FFF} else high + 5)
        else:
            ends = (low + (low > 0), high if high in {0xFFFF, 0x7FFF} else high - 1)
        return p[:6] + word(ends[0]) + word(ends[1])

    return edit(d.after, lambda said: with_test(said, 0, new))


@family(MOVED, PASSED, variants=(0x01, 0x2F, 0x99), lone=True)
def scaling_moved(d, scaling):
    return edit(
        d.after,
        lambda said: with_test(said, 0, lambda p: p[:3] + bytes([scaling]) + p[4:]),
    )


@family("self-test failed", PASSED, variants=("same", "near"), contradicted=True)
def failed_after(d, how):
    def new(p):
        low, high = int.from_bytes(p[6:8]), int.from_bytes(p[8:10])
        value = high + 1 if high not in {0xFFFF, 0x7FFF} else low - 1
        if how == "same":
            value = high + 300 if high not in {0xFFFF, 0x7FFF} else low // 2
        return p[:4] + word(value) + p[6:]

    return edit(d.after, lambda said: with_test(said, 0, new))


SOON = "result before the drive, before the clear, too soon"


@family(SOON, PASSED, RERAN)
def not_run(d, _):
    return edit(d.after, lambda said: with_test(said, 0, lambda p: p[:4] + b"\0" * 6))


@family(SOON, PASSED, RERAN)
def sooner_than_the_test_can_run(d, _):
    """A drive round the block; the typed distance and all counts say so too."""
    if not d.of("code_clear") or d.job["codes"][0] not in {"P0420", "P0128"}:
        return False
    drive = d.of("road_test")[-1]
    drive["distance"] = {"value": "1", "unit": "km"}
    drive["end"] = shifted(drive["start"], minutes=2)

    def change(said):
        was = answers(parsed(d.before["raw"]), "01A6")
        if was:
            with_bytes(said, "01A6", word(int.from_bytes(was[0][1][2:]) + 10, 4))
        with_bytes(said, "0130", b"\0")
        with_bytes(said, "0131", word(1))
        with_bytes(said, "014E", word(1))

    return edit(d.after, change)


@family(SOON, PASSED, RERAN, variants=("first", "again"))
def worked_on_once_it_was_driven(d, how):
    """The part goes in, or another one does, and the vehicle is read at once."""
    work = d.of("repair")[-1]
    done = shifted(d.after["at"], minutes=-40)
    last = copy.deepcopy(work) | {"at": done, "started": shifted(done, minutes=-30)}
    d.events.insert(d.events.index(d.after), last)
    if how == "first":
        d.events.remove(work)
    if d.new_test:
        fitted = d.new_test
        d.events.remove(fitted)
        fitted["at"] = shifted(done, minutes=10)
        d.put(fitted, after=last)
    acknowledge_again(d)


@family(SOON, PASSED, RERAN, SAME)
def no_drive_since_clear(d, _):
    if not d.job.get("clear", True) or d.job.get("no_counts"):
        return False

    def change(said):
        with_bytes(said, "0130", b"\0")
        with_bytes(said, "0131", b"\0\0")
        with_bytes(said, "014E", b"\0\0")

    return edit(d.after, change)


@family(SOON, PASSED, RERAN, TIME, SAME)
def read_before_the_clear(d, _):
    if not d.of("code_clear"):
        return False
    clear = d.of("code_clear")[-1]
    d.after["at"] = d.after["captured"] = shifted(clear["at"], minutes=-10)


@family(SOON, PASSED, RERAN, TIME, SAME, GONE)
def read_before_the_repair(d, _):
    one = d.after
    when = shifted(d.before["at"], minutes=5)
    one["captured"] = when


@family(SOON, PASSED, RERAN, SAME, TIME)
def clear_that_never_was(d, _):
    """A clear is recorded, and the vehicle counts on."""
    if not d.of("code_clear") or d.job.get("no_counts"):
        return False

    def change(said):
        with_bytes(said, "0130", bytes([44]))
        with_bytes(said, "0131", word(2060))
        with_bytes(said, "014E", word(3090))

    return edit(d.after, change)


@family(SOON, PASSED, RERAN, SAME, TIME)
def ran_longer_than_passed(d, _):
    if not d.of("code_clear") or d.job.get("no_counts"):
        return False
    return edit(d.after, lambda said: with_bytes(said, "014E", word(60000)))


# Watched and measured.
WATCHED = "not watched, or not measured"


def _is_watched(d):
    return d.job["path"] == "watched and measured"


@family(WATCHED, PASSED, variants=("none", "still faulty", "good, then faulty"))
def not_measured(d, how):
    if not _is_watched(d):
        return False
    test = d.new_test
    bad = {**test, **bench(d.job["bench"], good=False)}
    if how == "none":
        d.events.remove(test)
    elif how == "still faulty":
        test.update(bad)
    else:
        d.put(bad, after=test)


@family(WATCHED, PASSED, AT_FAULT, variants=("limit", "part", "old", "method"))
def measured_otherwise(d, how):
    if not _is_watched(d):
        return False
    test = d.new_test
    if how == "limit":
        limit = test["limit"]
        end = "maximum" if "maximum" in limit else "minimum"
        limit[end] = str(Decimal(limit[end]) * 2)
    elif how == "part":
        test["part"] = "another-part"
    elif how == "old":
        test["of"] = "old"
    else:
        cup = ["typed", "9", "1", {"maximum": "5", "unit": "mm"}]
        for name in ("method", "readings", "conditions"):
            test.pop(name, None)
        test.update(bench(cup, good=True))


@family(WATCHED, PASSED, RERAN, SAME)
def never_driven(d, _):
    """Not one start since the clear: no count rose but the odometer."""
    if not _is_watched(d):
        return False
    old = answers(parsed(d.before["raw"]), "0908") or answers(
        parsed(d.before["raw"]), "090B"
    )

    def change(said):
        with_bytes(said, "0130", b"\0")
        with_bytes(said, "0908", old[0][1][2:])
        with_bytes(said, "090B", old[0][1][2:])

    return edit(d.after, change)


@family(WATCHED, PASSED, RERAN, variants=("rpm", "load", "speed"))
def frame_not_met(d, what):
    if not _is_watched(d) or watch_of(d.job["codes"][0]) == "C":
        return False
    pid, data = {
        "rpm": ("010C", word(4 * 3900)),
        "load": ("0104", b"\xf0"),
        "speed": ("010D", b"\xc8"),
    }[what]
    if d.job["codes"] == ["P0507"]:
        return False  # idle: its own quantity is exempt
    return edit(d.after, lambda said: with_bytes(said, pid, data))


# The lamp and the permanent code.
@family(
    "lamp did not go off by itself",
    PASSED,
    GONE,
    RERAN,
    SAME,
    variants=("cleared", "counts fell", "on", "calibration"),
)
def lamp_put_out(d, how):
    if d.job["path"] != "lamp went off":
        return False
    if how == "cleared":
        d.put(
            event("code_clear", "11:30", tool="adapter (invented)"),
            after=d.of("repair")[-1],
        )
        return None
    if how == "counts fell":

        def change(said):
            with_bytes(said, "0130", bytes([6]))
            with_bytes(said, "0131", word(300))
            with_bytes(said, "014E", word(450))

        return edit(d.after, change)
    if how == "on":
        return edit(d.after, lambda s: with_bytes(s, "0101", b"\x81\x07\xe5\0"))
    return edit(d.after, lambda s: with_bytes(s, "0906", b"\x01\0\x11\x22\x33"))


@family(
    "permanent code not erased by a test",
    PASSED,
    RERAN,
    GONE,
    SAME,
    variants=("held", "not asked", "reprogrammed"),
)
def permanent_left(d, how):
    if d.job["path"] != "permanent code erased":
        return False
    if how == "held":
        return edit(d.after, lambda s: with_codes(s, "0A", d.module, d.job["codes"]))
    if how == "not asked":
        return edit(d.after, lambda s: without(s, "0A"))
    repair = d.of("repair")[-1]
    d.put({**repair, "action": "reprogrammed"}, after=repair)


# Same vehicle.
TWIN = "readout of another day, order, twin vehicle"
VINS = ("0ZZTB1A1XCA000124", "0ZZTB1A18CA000124", "0ZZTB1A18CA000132")


@family(TWIN, SAME, variants=VINS)
def twin_vehicle(d, vin):
    return edit(d.after, lambda s: with_bytes(s, "0902", _vin_bytes(s, vin)))


def _vin_bytes(said, vin):
    payload = vin_request(said)[0][1]
    return (b"\x01" if payload[0] == 0x49 else b"") + vin.encode()


@family(TWIN, SAME, variants=VINS)
def written_vin(d, vin):
    d.of("opening")[0]["vehicle"]["vin"] = vin


@family("VIN left out, unreadable, wrong digit", SAME, variants=("after", "before"))
def vin_left_out(d, when):
    for one in [d.after] if when == "after" else d.of("readout")[:-1]:
        edit(one, lambda said: without(said, "0902"))


@family("VIN left out, unreadable, wrong digit", SAME, variants=("after", "before"))
def vin_unreadable(d, when):
    def change(said):
        payload = vin_request(said)[0][1]
        head = b"\x01" if payload[0] == 0x49 else b""
        return with_bytes(said, "0902", head + b"\xff" * 17)

    for one in [d.after] if when == "after" else d.of("readout")[:-1]:
        edit(one, change)


@family(
    TWIN, SAME, TIME, PASSED, GONE, variants=("comment", "spacing", "order", "case")
)
def first_readout_again(d, how):
    """The readout of before, changed in what nobody reads, and with the codes out."""
    d.after["raw"] = d.before["raw"]

    def change(said):
        for service in ("03", "07"):
            with_codes(said, service, d.module, d.job.get("set_aside", []))
        lamp = answers(said, "0101")
        who, old = lamp[0]
        skip = 3 if old[0] == 0x62 else 2
        count = len(d.job.get("set_aside", []))
        state = bytes([count | 0x80 * bool(count)])
        lamp[0] = (who, old[:skip] + state + old[skip + 1 :])
        if how == "order":
            said.reverse()

    edit(d.after, change)
    if how == "comment":
        d.after["raw"] = "# next day\n" + d.after["raw"]
    if how == "spacing":
        d.after["raw"] = d.after["raw"].replace("\n>", "\n\n>")
    if how == "case":
        d.after["raw"] = d.after["raw"].lower()


@family(TWIN, SAME, TIME, PASSED)
def nothing_went_on(d, _):
    """All live and counting values of the later readout are those of the earlier."""
    old = parsed(d.before["raw"])

    def change(said):
        for one in said:
            name = one[0]
            if name.startswith(
                (
                    "0130",
                    "0131",
                    "014E",
                    "01A6",
                    "0908",
                    "090B",
                    "010",
                    "22F430",
                    "22F431",
                    "22F44E",
                    "22F4A6",
                    "22F808",
                )
            ):
                if name[-2:] in {"01", "00"}:
                    continue
                found = answers(old, name)
                if found:
                    one[1] = found

    return edit(d.after, change)


@family(TWIN, SAME, variants=(1203000, 900000))
def odometer_back(d, tenths):
    return edit(d.after, lambda s: with_bytes(s, "01A6", word(tenths, 4)))


@family(TWIN, SAME)
def counters_back(d, _):
    def change(said):
        name = "090B" if d.job.get("diesel") else "0908"
        found = answers(said, name)
        if not found:
            return False
        payload = found[0][1]
        skip = 4 if payload[0] == 0x62 else 3
        found[0] = (found[0][0], payload[:skip] + word(5) * 16)
        if payload[0] == 0x62:
            found[0] = (found[0][0], payload[:3] + payload[3:4] + word(5) * 16)

    return edit(d.after, change)


@family(TWIN, SAME, variants=("0100", "011C"))
def built_otherwise(d, request):
    data = bytes.fromhex("983B0011") if request == "0100" else b"\x0a"
    return edit(d.after, lambda s: with_bytes(s, request, data))


@family(TWIN, SAME, variants=("", "# a line before\n"))
def another_order(d, line):
    digest = said_sha256(d.after["raw"])
    d.after["raw"] = line + d.after["raw"]
    d.elsewhere[digest] = "RO-0999"


@family(TWIN, SAME, way="screen", variants=("whole", "one value changed"))
def display_of_another_order(d, what):
    """What was typed for another car's order was typed once more, VIN and all else."""
    marks = [m for m in value_marks(d.after) if m.is_sure]
    fit = [m for m in marks if m.is_part is (what != "whole")]
    if not fit:
        return False
    d.elsewhere[fit[0].sha256] = "RO-0999"


EXCUSE = "calibration excused by nothing"


@family(EXCUSE, SAME, PASSED, variants=("0904", "0906", "both"))
def calibration_changed(d, request):
    if request == "both":
        calibration_changed(d, "0904")
        return calibration_changed(d, "0906")

    def change(said):
        found = answers(said, request)
        if not found:
            return False
        who, p = found[0]
        found[0] = (who, p[:-4] + bytes([p[-4] ^ 1]) + p[-3:])

    return edit(d.after, change)


@family(EXCUSE, SAME, PASSED, HAZARDS)
def calibration_excused_by_a_part(d, _):
    """Both changed, and another control module's reprogramming is named."""
    if calibration_changed(d, "both") is False:
        return False
    repair = d.of("repair")[-1]
    d.put({**repair, "part": "radio", "action": "reprogrammed"}, after=repair)


@family(EXCUSE, SAME, PASSED)
def programmed_by_halves(d, _):
    """A reprogramming names the new id and its source; the number is the old one."""

    def change(said):
        found = answers(said, "0904")
        if not found:
            return False
        who, p = found[0]
        found[0] = (who, p[:-16] + b"DEMO-ENG-0002".ljust(16, b"\0"))

    if edit(d.after, change) is False:
        return False
    d.put(programming("DEMO-ENG-0002"), after=d.of("repair")[-1])
    acknowledge_again(d)


@family(EXCUSE, SAME, PASSED, variants=("limit", "calibration"))
def excused_by_the_radio(d, what):
    """A part that has no part in it is reprogrammed, with all its cautions."""
    repair = d.of("repair")[-1]
    d.put({**repair, "part": "radio", "action": "reprogrammed"}, after=repair)
    radio = {"id": "radio", "name": "radio", "system": "body", "codes": ["B1000"]}
    for one in d.of("diagnosis"):
        one["suspect_parts"].append(radio)
    d.record["events"] = acknowledged(
        [e for e in d.events if e["kind"] != "caution"], CATALOGUE
    )
    if what == "calibration":
        return calibration_changed(d, "0904")
    if not d.job.get("clear", True):
        return False
    return limit_moved(d, "wider")


@family("freeze frame of another code", ELSE, variants=("P0606", "P0300"))
def frame_of_another(d, code):
    def change(said):
        found = answers(said, "020200")
        if not found:
            return False
        found[0] = (found[0][0], b"\x42\x02\x00" + code_bytes(code))

    return edit(d.before, change)


# Time.
PLACE = "times back, ahead, a year apart, all at once months later"


@family(PLACE, TIME, variants=("bench_test", "diagnosis", "repair", "readout"))
def a_year_back(d, kind):
    found = d.of(kind)
    if not found:
        return False
    move(found[-1], days=-365)


@family(PLACE, TIME, variants=("bench_test", "diagnosis", "repair", "code_clear"))
def a_day_ahead(d, kind):
    found = d.of(kind)
    if not found:
        return False
    move(found[-1], days=1 + d.job.get("days", 1))


@family(PLACE, TIME, typed=True, variants=(30, 90, 300))
def all_at_once_later(d, days):
    d.recorded = [at("10:00", days)] * len(d.events)


@family(PLACE, TIME, typed=True, variants=("bench_test", "repair", "caution"))
def one_step_recorded_later(d, kind):
    if not d.of(kind):
        return False
    last = d.of(kind)[-1]
    late = at("20:00", 40)
    place = d.events.index(last)
    d.recorded = [e["at"] for e in d.events[:place]]
    d.recorded += [late] * (len(d.events) - place)


@family(PLACE, TIME, AT_FAULT)
def test_dated_after_the_repair(d, _):
    if d.old_test is None:
        return False
    repair = d.of("repair")[-1]
    d.old_test["at"] = shifted(repair["at"], minutes=30)


# Amendments and set-asides.
UNSEEN = "a photograph that shows nothing"


@family(UNSEEN, SAME, variants=("small", "absent", "doubled", "other"), way="hand")
def picture_counts_for_nothing(d, why):
    """Of a vehicle without a VIN, plate and VIN are known by a photograph alone."""
    if not d.of("attachment"):
        return False
    (picture,) = d.of("attachment")
    if why == "doubled":
        d.events.append({**picture, "of": d.events.index(d.after)})
    elif why == "other":
        d.elsewhere[picture["sha256"]] = "RO-2"
    elif why == "absent":
        d.pictures.clear()
    else:
        d.pictures[picture["sha256"]] = "it has 320 x 240 pixels"
    return None


AWAY = "adverse event amended away"


def _amend(d, place, new):
    made = {
        "kind": "amendment",
        "at": shifted(d.events[-1]["at"], minutes=10),
        "by": "mechanic-1",
        "corrects": place,
        "why": "mistyped",
        "event": new,
    }
    d.events.append(made)


@family(AWAY, AT_FAULT, TIME)
def good_test_amended(d, _):
    if d.old_test is None:
        return False
    place = d.events.index(d.old_test)
    faulty = dict(d.old_test)
    d.old_test.update(bench(d.job["bench"], good=True))
    _amend(d, place, faulty)


TAKEN_BACK = {
    "faulty": {},
    "of a known-good part": {"of": "known-good"},
    "of another part": {"part": "spare"},
    "made later": {"at": at("23:00", 9)},
    "by no method": {"method": None, "test": "looked at"},
}
"""How a correction takes a good bench test of the old part away -> what it changes."""


@family(AWAY, AT_FAULT, TIME, variants=tuple(TAKEN_BACK))
def good_test_taken_back_and_faulty_again(d, how):
    """Good, corrected to something else by a word, and then made as it was wanted."""
    if d.old_test is None or "bench" not in d.job:
        return False
    good = {**d.old_test, **bench(d.job["bench"], good=True)}
    now = dict(d.old_test) if how == "faulty" else good | TAKEN_BACK[how]
    now = {name: value for name, value in now.items() if value is not None}
    place = d.events.index(d.old_test)
    move(good, minutes=-1)
    amendment = {"kind": "amendment", "at": good["at"], "by": "mechanic-1"}
    amendment |= {"corrects": place, "event": now, "why": "mistyped"}
    d.events[place:place] = [good, amendment]
    return None


@family(AWAY, GONE, TIME, PASSED)
def failed_readout_amended(d, _):
    good = dict(d.after)
    place = d.events.index(d.after)
    d.after["raw"] = text_of(parsed(d.before["raw"]))
    _amend(d, place, good)


@family(AWAY, KNOWN, TIME, EXPLAINS, variants=("codes", "system"))
def diagnosis_amended(d, what):
    one = d.of("diagnosis")[-1]
    good = {**one, "suspect_parts": [dict(p) for p in one["suspect_parts"]]}
    place = d.events.index(one)
    if what == "codes":
        one["codes"] = ["P0606"]
        one["suspect_parts"] = [{**p, "codes": ["P0606"]} for p in one["suspect_parts"]]
    else:
        one["suspect_parts"] = [
            {**p, "system": "restraint"} for p in one["suspect_parts"]
        ]
    _amend(d, place, good)


@family(AWAY, TIME, AT_FAULT)
def good_test_made_a_note(d, _):
    """Before the part was touched: nothing rests on it yet, and yet it happened."""
    if d.old_test is None or "bench" not in d.job:
        return False
    good = {**d.old_test, **bench(d.job["bench"], good=True)}
    place = d.events.index(d.old_test)
    written = {"at": good["at"], "by": "mechanic-1"}
    note = {"kind": "attachment", **written, "sha256": "0" * 64, "shows": "a mistake"}
    note |= {"media_type": "application/pdf", "size": 7}
    amendment = {"kind": "amendment", **written, "corrects": place, "event": note}
    amendment["why"] = "was no test"
    d.events[place:place] = [good, amendment]
    return None


@family(AWAY, TIME, GONE, ELSE)
def failed_readout_made_a_note(d, _):
    bad = {**d.after, "raw": text_of(parsed(d.before["raw"]))}
    d.events.insert(d.events.index(d.after), bad)
    place = d.events.index(bad)
    move(bad, hours=-1)
    note = event(
        "road_test",
        "12:30",
        start=at("12:00"),
        end=at("12:30"),
        distance={"value": "1", "unit": "km"},
        conditions="a mistake",
    )
    _amend(d, place, note)


ASIDE = "set aside after work on it, or everything set aside"


def _aside(codes):
    return [{"codes": codes, "reason": "declined", "agreed_by": "customer"}]


@family(ASIDE, ELSE, variants=("own", "later"))
def own_code_set_aside(d, when):
    codes = d.job["codes"][:1]
    if when == "own":
        one = d.of("diagnosis")[-1]
        one["set_aside"] = one.get("set_aside", []) + _aside(codes)
    else:
        d.events.append(
            {
                "kind": "diagnosis",
                "at": shifted(d.events[-1]["at"], minutes=5),
                "by": "mechanic-1",
                "codes": [],
                "suspect_parts": [],
                "reasoning": "seen again",
                "set_aside": _aside(codes),
            }
        )


@family(ASIDE, ELSE, GONE)
def came_back_and_set_aside(d, _):
    if (
        edit(
            d.after,
            lambda s: with_codes(s, "03", d.module, d.job["codes"][:1], add=True),
        )
        is False
    ):
        return False
    own_code_set_aside(d, "later")


@family(ASIDE)
def everything_set_aside(d, _):
    one = d.of("diagnosis")[-1]
    aside = [*d.job["codes"], *([d.job["pointer"]] if "pointer" in d.job else [])]
    one["set_aside"] = one.get("set_aside", []) + _aside(aside)
    for kind in ("repair", "code_clear"):
        for gone in d.of(kind):
            d.events.remove(gone)


@family("work called a step", AT_FAULT, ELSE, GONE)
def work_called_a_step(d, _):
    """No test of the part, since a step owes none: what is replaced is a part."""
    if d.old_test is None:
        return False
    d.events.remove(d.old_test)
    d.of("repair")[-1]["step"] = "relearn"
    return None


@family("work called a step", AT_FAULT)
def renewed_with_nothing(d, _):
    """No test of the part, since it is renewed with one that nobody worked on."""
    if d.old_test is None:
        return False
    d.events.remove(d.old_test)
    d.of("repair")[-1]["renewed_with"] = "engine"


# Typed, by hand: the best is vouched.
TYPED = "typed outcome against its numbers; typed monitor of another system"


@family(
    TYPED, PASSED, way="hand", variants=("outside", "no value", "no limit"), lone=True
)
def typed_against_numbers(d, how):
    typed = [e for e in d.of("self_test") if e["outcome"] == "passed"]
    if not typed:
        return False
    for one in typed:
        if how == "no value":
            one.pop("value")
        elif how == "no limit":
            one.pop("minimum", None)
            one.pop("maximum", None)
        else:
            end = one.get("maximum")
            value = (
                Decimal(end["value"]) + 9
                if end
                else (Decimal(one["minimum"]["value"]) - 9)
            )
            one["value"] = {"value": str(value), "unit": "1"}


@family(TYPED, PASSED, RERAN, way="hand", variants=("41", "E5", "A9"), lone=True)
def typed_of_another(d, mid):
    typed = [e for e in d.of("self_test") if e["outcome"] == "passed"]
    if not typed or typed[0]["mid"] == mid:
        return False
    for one in typed:
        one["mid"] = mid


@family(TYPED, PASSED, way="hand", variants=("failed", "not-run"), lone=True)
def typed_as_failed(d, outcome):
    typed = [e for e in d.of("self_test") if e["outcome"] == "passed"]
    if not typed:
        return False
    for one in typed:
        one["outcome"] = outcome


@family(TYPED, ELSE, variants=("EGR system", "monitor 3"))
def typed_failure_of_none_beside_a_pass(d, name):
    """The readout passed; the display then showed a failure, and of what was left out.

    It is too little to say that the fault is back, and too much to say nothing.
    """
    if not tests_of(parsed(d.after["raw"])):
        return False
    d.events.append(
        {
            "kind": "self_test",
            "at": shifted(d.events[-1]["at"], minutes=20),
            "by": "mechanic-1",
            "monitor": name,
            "value": {"value": "7.00", "unit": "1"},
            "maximum": {"value": "3.50", "unit": "1"},
            "outcome": "failed",
            "seen_on": "display (invented)",
        }
    )


@family(TYPED, AT_FAULT, way="hand")
def typed_good_part(d, _):
    test = d.old_test
    if test is None or not test.get("result"):
        return False
    limit = test["limit"]
    low, high = limit.get("minimum"), limit.get("maximum")
    inside = low or high
    test["result"] = {"value": inside, "unit": limit["unit"]}


@family(TYPED, GONE, PASSED, way="screen", typed=True)
def typed_readout_after_a_failed_one(d, _):
    """Raw data after the repair hold the fault; a typed readout after that does not."""
    name = next(name for name, job in JOBS.items() if job is d.job)
    events = record_of_job(name, "raw")["events"]
    raw = next(e for e in events if e["kind"] == "readout")
    bad = {**raw, "at": shifted(d.after["at"], minutes=-30)}
    bad["captured"] = bad["at"]
    d.events.insert(d.events.index(d.after), bad)


HIDDEN = "what the readout after does not say"


@family(HIDDEN, GONE, ELSE)
def lamp_not_read_again(d, _):
    old = answers(parsed(d.before["raw"]), "0101")
    return edit(d.after, lambda s: without(s, "0101")) if old else False


@family(HIDDEN, GONE, variants=("0101", "07"))
def never_asked(d, request):
    """No readout asks for a lamp, or for pending codes, and none is missed later."""
    if d.module not in dict(answers(parsed(d.after["raw"]), "03") or ()):
        return False
    for one in d.events:
        if "raw" in one:
            edit(one, lambda s: without(s, request))
    return None


@family(HIDDEN, GONE, variants=("0101", "01"))
def another_modules_lamp_alone_read(d, asked):
    """The gearbox alone is asked for its lamp, or for all data, never the engine."""
    said = parsed(d.after["raw"])
    if d.module != ENGINE or not answers(said, "03"):
        return False

    def change(said):
        for one in said:
            if one[0].startswith(asked):
                one[1] = [("7E9", payload) for _, payload in one[1]]

    for one in d.events:
        if "raw" in one:
            edit(one, change)
    return None


@family(HIDDEN, PASSED, RERAN, typed=True)
def freeze_frame_left_out(d, _):
    """Nothing of it to meet, and nothing read that could have met it."""
    if not _is_watched(d) or watch_of(d.job["codes"][0]) == "C":
        return False
    asked = {one[0] for one in parsed(d.before["raw"]) if one[0].startswith("02")}
    if not asked or edit(d.before, lambda s: without(s, *asked)) is False:
        return False
    return edit(d.after, lambda s: without(s, "0104", "010C", "010D"))


@family(HIDDEN, ELSE)
def failed_by_status_alone(d, _):
    def change(said):
        found = answers(said, "1902FF")
        if not found:
            return False
        who, payload = found[0]
        found[0] = (who, payload + bytes.fromhex("04200001"))

    return edit(d.after, change)


@family(HIDDEN, GONE, PASSED)
def asked_by_a_narrow_mask(d, _):
    def change(said):
        for one in said:
            if one[0] == "1902FF":
                one[0] = "190210"
                return None
        return False

    return edit(d.after, change)


@family(HIDDEN, SAME)
def codes_in_a_readout_of_their_own(d, _):
    asked = ("0902", "22F802", "22F190")
    alone = {**d.after, "raw": d.after["raw"]}
    if edit(alone, lambda s: without(s, *asked)) is False:
        return False
    d.put(alone, after=d.after)
