"""What several sets of lies and honest twists do to a draft, and how they are noted.

``CLEVER`` is what somebody would really do or tell; ``ODD`` is hidden in the form of
the raw text; ``LATE`` lies in clocks, corrections and pictures.
"""

import copy
import json
import re

from truth.acknowledged import acknowledged
from truth.bogus import Draft, answers, edit, with_bytes, with_codes
from truth.jobs import CATALOGUE, PICTURE, at, event
from truth.said import ENGINE, code_bytes
from truth.vehicle_counts import with_counts

CLEVER, ODD, LATE = "clever", "odd", "late"
CLEAN_03, CLEAN_07 = "7E8 02 43 00 AA AA AA AA AA", "7E8 02 47 00 AA AA AA AA AA"


def recorder(lies: list, twists: list):
    """Return what writes lies, and what writes twists, into the lists."""

    def lie(job, *falls, typed=False, kind="", way="raw"):
        def added(change):
            lies.append((change.__name__, job, falls, typed, kind, way, change))
            return change

        return added

    def twist(job, way="raw"):
        def added(change):
            twists.append((change.__name__, job, way, change))
            return change

        return added

    return lie, twist


def drafted(job: str, way: str, change) -> Draft:
    draft = Draft(job, way)
    whole = copy.deepcopy(draft.record)
    change(draft)
    assert (draft.record, draft.recorded) != (whole, []), change.__name__
    return draft


def answered(readout: dict, request: str, *lines: str) -> None:
    """Let other lines stand below a request."""
    pattern = rf"(?m)^> {request}\n(?:[^>\n].*\n)*"
    new = "\n".join((f"> {request}", *lines, ""))
    raw, found = re.subn(pattern, lambda _: new, readout["raw"])
    assert found == 1
    readout["raw"] = raw


def status_is(said, code: str, status: int) -> None:
    """Let every report of service 19 list one code with this status."""
    for one in said:
        if one[0].startswith("19"):
            body = code_bytes(code) + b"\0" + bytes([status])
            one[1] = [(w, p[:3] + body) for w, p in one[1]]


def corrected(d: Draft, old: dict, new: dict, when: str) -> None:
    place = d.events.index(old)
    made = event("amendment", "08:30", 3, corrects=place, why="a slip", event=new)
    d.events.append({**made, "at": when})


def with_frame(said, pid: str, data: bytes) -> None:
    """Let the freeze frame say other data of one PID."""
    found = answers(said, f"02{pid}00")
    found[0] = (found[0][0], found[0][1][:3] + data)


def renumbered(said, old: str, new: str) -> None:
    """Let answers of service 06 be another monitor's."""
    for one in said:
        if one[0] == old:
            one[0] = new
            monitor = bytes.fromhex(new[2:])
            one[1] = [(w, p[:1] + monitor + p[2:]) for w, p in one[1]]


def acknowledge_again(d: Draft) -> None:
    """Let whoever does each step acknowledge what it calls for, before it."""
    bare = [one for one in d.events if one["kind"] != "caution"]
    d.events[:] = acknowledged(bare, CATALOGUE)


def in_order(d: Draft) -> None:
    """Let the events stand in the order of their times."""
    d.events.sort(key=lambda one: one["at"])


def in_time(d: Draft) -> None:
    """Let the events stand in the order of their times, each with its cautions."""
    acknowledge_again(d)
    in_order(d)


def read_at(d: Draft, clock: str, drive: tuple[str, str], **counts: int) -> None:
    """Let the last readout be taken on the day of the repair, after a drive."""
    d.after["at"] = d.after["captured"] = at(clock)
    road = d.of("road_test")[0]
    road |= {"at": at(drive[1]), "start": at(drive[0]), "end": at(drive[1])}
    road["distance"]["value"] = str(counts["distance"])

    edit(d.after, lambda s: with_counts(s, **counts, went=counts["distance"]))
    acknowledge_again(d)


def also_said(readout: dict, request: str, payload: str, who: str = ENGINE) -> None:
    """Let a module answer one more request."""
    edit(readout, lambda s: s.append([request, [(who, bytes.fromhex(payload))]]))


def suspect(d: Draft, **members) -> dict:
    """Return the suspect part of the diagnosis, with other members."""
    return {**d.of("diagnosis")[0]["suspect_parts"][0], **members}


def set_aside(codes: list[str], reason: str) -> list[dict]:
    return [{"codes": codes, "reason": reason, "agreed_by": "customer"}]


def renamed(d: Draft, old: str, new: str) -> None:
    text = json.dumps(d.events)
    assert old in text
    d.events[:] = json.loads(text.replace(old, new))


def told_in(d: Draft, name: str) -> list[dict]:
    """Return the preconditions of cautions that have one of this name."""
    found = [c["preconditions"] for c in d.of("caution") if name in c["preconditions"]]
    assert found
    return found


def told_as(d: Draft, name: str, **members: str) -> list[dict]:
    """Let a precondition be told otherwise; return the preconditions that have it."""
    found = told_in(d, name)
    for one in found:
        one[name] |= members
    return found


def confirmed_again(d: Draft, when: str) -> None:
    """Let the second confirmation of each danger be of this time."""
    found = [c for c in d.of("caution") if "second_confirmation" in c]
    assert found
    for one in found:
        one["second_confirmation"]["at"] = when


def complaint(d: Draft, text: str) -> None:
    """Let the customer say this."""
    d.of("opening")[0]["complaint"] = text


def free_of_codes(said) -> None:
    """Let the engine module hold no code, light no lamp and keep no freeze frame."""
    with_bytes(said, "0101", bytes.fromhex("0007E500"))
    for service in ("03", "07"):
        with_codes(said, service, ENGINE, [])
    said[:] = [one for one in said if not one[0].startswith("02")]


def recalibrated(said) -> None:
    """Let the engine module say another calibration, and another number of it."""
    with_bytes(said, "0904", b"\x01" + b"DEMO-ENG-0002".ljust(16, b"\0"))
    with_bytes(said, "0906", bytes.fromhex("01A0B1C2D3"))


def programming(number: str, **members) -> dict:
    """Return the programming of the engine's module with a calibration."""
    made = {
        "part": "control-module",
        "action": "reprogrammed",
        "part_number": number,
        "note": "maker's service information (invented), page 4",
    }
    return event("repair", "10:50", **{**made, **members})


def pictured(d: Draft, of: dict, when: tuple = ("08:30", 1), **told) -> dict:
    """Return a picture of an event: of the display, unless told otherwise."""
    made = {
        "sha256": PICTURE,
        "media_type": "image/jpeg",
        "size": 400_000,
        "of": d.events.index(of),
        "kept": True,
        "shows": "the display (invented)",
    }
    return event("attachment", *when, **{**made, **told})
