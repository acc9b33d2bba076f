"""Families of lies that one rule alone stops: without it, the record comes out.

Each is what a dishonest shop would do who knows all other rules.
"""
# ruff: noqa: RET503  a change returns False where it makes no sense, else nothing

from itertools import pairwise

from auditkit.obd.code_table import watch_of
from truth.acknowledged import acknowledged
from truth.bogus import (
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
    without,
)
from truth.jobs import CATALOGUE, COUNTERS, IGNITION
from truth.said import ENGINE, parsed, text_of, word

SOON = "result before the drive, before the clear, too soon"


@family(SOON, PASSED, RERAN)
def read_with_the_key_on(d, _):
    """Cleared in the yard, with no drive at all: nothing has been tested since."""
    if not d.job.get("clear", True) or d.job.get("no_counts"):
        return False

    def change(said):
        for request, size in (("0130", 1), ("0131", 2), ("014E", 2)):
            with_bytes(said, request, word(0, size))
        stood = 1203450 + (305 if "first_attempt" in d.job else 0)
        return with_bytes(said, "01A6", word(stood + 40, 4))

    for drive in d.of("road_test"):
        d.events.remove(drive)
    return edit(d.after, change)


@family(SOON, TIME)
def another_module_counts_since_the_clear(d, _):
    """That of the engine was cleared alone two minutes ago; the gearbox's was not."""
    if not d.job.get("clear", True) or "module" in d.job:
        return False

    def change(said):
        for request, size, number in (("0130", 1, 0), ("0131", 2, 0), ("014E", 2, 2)):
            found = answers(said, request)
            if not found:
                return False
            ((who, payload),) = found
            own = payload[:-size] + word(number, size)
            found[:] = [(who, own), ("7E9", payload)]
        return None

    return edit(d.after, change)


@family(SOON, TIME, PASSED, RERAN, variants=("all counts", "no minutes"))
def captured_before_the_clear(d, counts):
    """Written down the next day, and captured before the codes were cleared."""
    if not d.of("code_clear") or d.job.get("days", 1) > 1:
        return False
    d.after["captured"] = shifted(d.of("code_clear")[-1]["at"], minutes=-10)
    if counts == "no minutes":
        return edit(d.after, lambda said: without(said, "014E"))


@family(SOON, TIME, PASSED, RERAN)
def captured_before_the_repair(d, _):
    """Written down after the repair, and captured before it; nothing was cleared."""
    if d.of("code_clear"):
        return False
    repair = d.of("repair")[-1]["at"]
    d.after["at"] = shifted(repair, hours=20)
    d.after["captured"] = shifted(repair, minutes=-5)


@family("answers left out, doubled, from another id", GONE, PASSED, SAME, lone=True)
def failed_result_commented_out(d, _):
    """The readout of after held a failed result: it is a comment now."""
    asked = [f"06{p[1]:02X}" for _, p in tests_of(parsed(d.after["raw"]))]
    if not asked:
        return False
    failed = text_of([one for one in parsed(d.before["raw"]) if one[0] in asked])
    answered = [line for line in failed.splitlines() if not line.startswith(">")]
    request = f"> {asked[0]}\n"
    hidden = "".join(f"# {line}\n" for line in answered)
    d.after["raw"] = d.after["raw"].replace(request, request + hidden)


TWIN = "readout of another day, order, twin vehicle"


@family(TWIN, SAME, variants=("0ZZTB1A1XCA000124", "0ZZTB1A18CA000132"))
def result_of_a_twin(d, vin):
    """Another vehicle ran the test; the last readout is of this one, without it."""
    twin = {**d.after}
    move(twin, hours=-1)

    def other(said):
        payload = vin_request(said)[0][1]
        head = b"\x01" if payload[0] == 0x49 else b""  # service 09 counts its items
        return with_bytes(said, "0902", head + vin.encode())

    if not tests_of(parsed(twin["raw"])) or edit(twin, other) is False:
        return False
    d.events.insert(d.events.index(d.after), twin)
    asked = {f"06{p[1]:02X}" for _, p in tests_of(parsed(d.after["raw"]))}
    return edit(d.after, lambda said: without(said, *asked))


@family("permanent code not erased by a test", SAME)
def permanent_gone_and_nothing_ran(d, _):
    """An erased permanent code stands in for the result: no monitor has run."""
    code = d.job["codes"][0]
    if watch_of(code) != "M" or d.job.get("kline") or d.job.get("eobd"):
        return False
    if edit(d.before, lambda s: with_codes(s, "0A", d.module, [code], add=True)):
        return False
    old = parsed(d.before["raw"])

    def change(said):
        for request in ("0908", "090B"):
            if found := answers(said, request):
                found[:] = [
                    (who, _with_starts_of(new, then))
                    for (who, new), (_, then) in zip(
                        found, answers(old, request), strict=True
                    )
                ]
        return without(said, *(f"06{p[1]:02X}" for _, p in tests_of(said)))

    return edit(d.after, change)


def _with_starts_of(new: bytes, old: bytes) -> bytes:
    """Return old counters with the new one of ignition cycles, the second of them."""
    place = len(old) - 2 * len(COUNTERS) + 2 * IGNITION
    return old[:place] + new[place : place + 2] + old[place + 2 :]


def _count(said, request, data):
    """Let the engine module say a count of service 01, asked before or not."""
    if answers(said, request):
        return with_bytes(said, request, data)
    head = "62F4" if said[0][0].startswith("22F4") else "41"
    answer = bytes.fromhex(head + request[2:]) + data
    asked = f"22F4{request[2:]}" if head == "62F4" else request
    said.append([asked, [(ENGINE, answer)]])


@family(
    "fault made in the yard", KNOWN, typed=True, variants=("lamp", "lamp, km alone")
)
def lamp_since_it_came_in(d, how):
    """A plug was pulled: the lamp came on after the vehicle had come in."""
    if "module" in d.job and "pointer" not in d.job:
        return False  # no lamp speaks of it

    def change(said):
        _count(said, "0121", word(0))
        if how == "lamp":
            _count(said, "014D", word(6))

    return edit(d.of("readout")[0], change)


@family("fault made in the yard", KNOWN, TIME, typed=True)
def code_since_it_came_in(d, _):
    """Codes were cleared after it had come in, and one came back at once."""
    if d.job.get("no_counts") or not d.of("code_clear"):
        return False

    def change(said):
        for request, data in (("0130", b"\0"), ("0131", word(0)), ("014E", word(6))):
            _count(said, request, data)

    return edit(d.of("readout")[0], change)


# Cautions: the words are there, and nobody was kept from harm.
DODGED = "caution dodged"


@family(DODGED, HAZARDS)
def dodged_by_a_later_diagnosis(d, _):
    """Only what a harmless system calls for is acknowledged: it is named before work.

    The true system stands in the diagnosis before that, by which the part explains it.
    """
    diagnosis = d.of("diagnosis")[-1]
    parts = diagnosis["suspect_parts"]
    wires = {**diagnosis, "suspect_parts": [{**p, "system": "wiring"} for p in parts]}
    old = {c["caution"] for c in d.of("caution")}
    work = [e for e in d.events if e["kind"] != "caution"]
    work[work.index(diagnosis)] = wires
    fewer = acknowledged(work, CATALOGUE)
    if old <= {e["caution"] for e in fewer if e["kind"] == "caution"}:
        return False
    again = next(n for n, e in enumerate(fewer) if e is wires)
    fewer.insert(again, diagnosis)
    d.record["events"] = fewer


@family(DODGED, HAZARDS)
def dodged_by_wording(d, _):
    """The part, the test and the work sound harmless, and nothing is acknowledged."""
    for one in d.of("caution"):
        d.events.remove(one)
    for diagnosis in d.of("diagnosis"):
        for part in diagnosis["suspect_parts"]:
            part["name"] = "cold, empty plastic cover"
    for test in d.of("bench_test"):
        test["test"] = "looked at from afar"


def _confirmed(caution, at):
    """Date an acknowledgement, with its second confirmation."""
    caution["at"] = at
    if "second_confirmation" in caution:
        caution["second_confirmation"]["at"] = shifted(at, seconds=40)


@family(DODGED, HAZARDS, variants=("the day before", "in the morning"))
def caution_long_before(d, how):
    """All cautions acknowledged at once, when the vehicle came in."""
    found = d.of("caution")
    if not found:
        return False
    opening = d.of("opening")[0]
    hours = 24 if how == "the day before" else 5
    opening["at"] = shifted(opening["at"], hours=-hours)
    for one in found:
        d.events.remove(one)
    for number, one in enumerate(found):
        _confirmed(one, shifted(opening["at"], minutes=number + 1))
    place = d.events.index(opening) + 1
    d.events[place:place] = found


@family(DODGED, HAZARDS, variants=("left out", "before", "after the step"))
def danger_confirmed_once(d, how):
    changed = False
    for one in d.of("caution"):
        if "second_confirmation" not in one:
            continue
        changed = True
        if how == "left out":
            del one["second_confirmation"]
        else:
            hours = -1 if how == "before" else 9
            again = one["second_confirmation"]
            again["at"] = shifted(again["at"], hours=hours)
    return changed


BEYOND = {
    "battery voltage": ("19", "V"),
    "coolant temperature": ("96", "degC"),
    "surface temperature": ("180", "degC"),
    "oil temperature": ("110", "degC"),
    "residual pressure": ("280", "kPa"),
    "rail pressure": ("30", "MPa"),
    "voltage at the parts": ("380", "V"),
    "time since gloves were tested": ("900", "d"),
    "mass": ("700", "kg"),
    "time waited": ("2", "min"),
    "time since stop": ("1", "min"),
    "supply limit": ("400", "kPa (gauge)"),
}
"""Precondition -> a value that is possible, and at which no step is called safe."""


@family(DODGED, HAZARDS, variants=tuple(BEYOND))
def begun_beyond_the_limit(d, name):
    """The hazard was measured, written down, and not heeded."""
    cautions = CATALOGUE.cautions
    changed = False
    for one in d.of("caution"):
        stops = {p.name: p.stops for p in cautions[one["caution"]].preconditions}
        given = one["preconditions"]
        if name in given and stops.get(name):
            given[name] = dict(zip(("value", "unit"), BEYOND[name], strict=True))
            for stop in stops[name]:
                given.pop(stop.unless, None)
            changed = True
    return changed


@family(DODGED, HAZARDS, variants=(0, 2))
def ticked_in_one_go(d, seconds):
    """All cautions of a step within a blink, by one person."""
    found = d.of("caution")
    changed = False
    for earlier, one in pairwise(found):
        if one["by"] == earlier["by"] and one["step"] == earlier["step"]:
            again = one.get("second_confirmation", {}).get("at")
            one["at"] = shifted(earlier["at"], seconds=seconds)
            if again:
                one["second_confirmation"]["at"] = again
            changed = True
    return changed
