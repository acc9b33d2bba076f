"""What is recorded in a life: orders, more of them, and single events."""

import copy
import hashlib

from conftest import PASSPHRASE, judge, small_record
from life.edges import rules
from life.model import PEOPLE, Call

from auditkit.errors import KeyProblem
from auditkit.order.record import Record


def event(kind, order, n):
    if kind == "attachment":
        data = picture(n)
        return {
            "kind": kind,
            "at": "2026-03-02T09:30:00+01:00",
            "by": "mechanic-1",
            "sha256": hashlib.sha256(data).hexdigest(),
            "media_type": "image/png",
            "size": len(data),
            "shows": f"picture {n}",
            "kept": True,
        }
    if kind == "code_clear":
        return {
            "kind": kind,
            "at": "2026-03-02T09:00:00+01:00",
            "by": "mechanic-1",
            "tool": f"tool {n:05} \u00e9\u2028\U0001f527",
        }
    opening = copy.deepcopy(small_record(order).events[0])
    opening["customer"] = {
        "name": f"Invented customer {3 * n:06}",
        "contact": f"invented letter box {3 * n + 1:06}",
    }
    if n % 2:
        opening["vehicle"]["plate"] = f"PLATE-{3 * n + 2:06}"
    if kind == "opening":
        return opening
    return {
        "kind": "amendment",
        "at": "2026-03-02T10:00:00+01:00",
        "by": "mechanic-1",
        "corrects": 0,
        "why": "misspelt",
        "event": opening,
    }


def picture(n):
    """Return the bytes of an invented picture; the log does not look into them."""
    return f"the bytes of picture {n:06}".encode() * 9


def more_events(life, order, many, *, first):
    kinds = ["opening", "attachment", "attachment"] if first else []
    kinds += [
        ("code_clear", "attachment", "amendment")[n % 5 // 2] for n in range(many)
    ]
    made = []
    for kind in kinds:
        n = life.new_id()
        made.append(event(kind, order, n))
        if kind == "attachment":
            life.pictures[made[-1]["sha256"]] = picture(n)
    return made


def putting(site, events):
    """Return the steps in which pictures come to lie beside a log."""
    named = [e["sha256"] for e in events if e["kind"] == "attachment"]
    if not named:
        return []
    return [
        ("put", lambda: site.pictures.add(named[0])),
        ("", lambda: site.pictures.update(named)),
    ]


def recording(life, site, order, events, *, keep_open, person):  # noqa: PLR0913
    """Plan ``Ledger.record`` of an order's events so far and some more."""
    known = self_events = site.log.events(order)
    record = Record(order, (*known, *events), life.pictures)
    active = site.log.active(person)
    key = active.key if active else None
    lines = [
        life.line(e["kind"], person, key=key, order=order, event=e) for e in events
    ]
    is_closed = bool(self_events) and site.log.is_closed_order(order)
    if not keep_open and (events or not is_closed):
        lines.append(life.line("verdict", person, key=key, order=order))

    def do(ledger):
        return ledger.record(
            record,
            judge(rules(), record),
            passphrase=PASSPHRASE,
            by=person,
            unproven_reason="a test",
            keep_open=keep_open,
        )

    errors = []
    if not site.may_use(person):
        errors = [(KeyProblem, "")]
    elif site.refusal():
        errors = life.refused(site)
    steps = []
    if lines:
        steps = [
            *putting(site, events),
            ("append", None),
            ("add_checkpoint", None),
            ("", life.add(site, lines, checkpoint=True)),
            ("remember", life.remembered(site)),
        ]
    return Call("record", do, steps, errors)


def somebody(site, pick):
    able = [name for name in PEOPLE if site.may_use(name)]
    return able[pick % len(able)] if able and pick < 10 else PEOPLE[pick % 3]


def record_order(life, site, many, keep_open, who, how):  # noqa: PLR0913, PLR0917
    order = f"RO-{life.new_id()}"
    events = more_events(life, order, many, first=True)
    person = somebody(site, who)
    call = recording(life, site, order, events, keep_open=keep_open, person=person)
    life.perform(site, call, how)


def record_more(life, site, order, many, keep_open, who, how):  # noqa: PLR0913, PLR0917
    events = more_events(life, order, many, first=False)
    person = somebody(site, who)
    call = recording(life, site, order, events, keep_open=keep_open, person=person)
    life.perform(site, call, how)


def append_events(life, site, order, many, who, how, which):  # noqa: PLR0913, PLR0917
    """Append, also with keys that are not in the folder or not active any more."""
    person = somebody(site, who)
    active = site.log.active(person)
    events = more_events(life, order, many, first=False)
    outside = [(i, key) for i, (name, key) in life.outside.items() if name == person]
    given = None
    if which >= 6 and outside:
        given = outside[which % len(outside)]
    elif which >= 4 and life.old_signers:
        person, *given = life.old_signers[which % len(life.old_signers)]
        active = site.log.active(person)

    def do(ledger):
        signer = given[1] if given else ledger.signer(person, PASSPHRASE)
        return ledger.append(
            order, events, person=person, signer=signer, pictures=life.pictures
        )

    enrolled = [e for e in site.log.people if e.person == person]
    may = {e.key for e in enrolled if e.revoked is None}
    key = given[0] if given else (active.key if active else None)
    errors = []
    if (given and key not in may) or (not given and not site.may_use(person)):
        errors = [(KeyProblem, ""), *life.refused(site)]
    elif site.refusal():
        errors = life.refused(site)
    lines = [
        life.line(e["kind"], person, key=key, order=order, event=e) for e in events
    ]
    steps = [
        *putting(site, events),
        ("append", None),
        ("", life.add(site, lines, checkpoint=False)),
        ("tell", None),
    ]
    life.perform(site, Call("append", do, steps, errors), how)
