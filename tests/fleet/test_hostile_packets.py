"""Whatever strangers send among packets stops nothing, and nothing of it is lost."""

import copy
from datetime import UTC, datetime

from collections_made import asked, collected
from conftest import PASSPHRASE, judge, small_record
from made_logs import MadeLog, demo_events
from sampling import chance, count, sampled
from web_corpus import corpus

from auditkit.errors import AuditkitError
from auditkit.fleet.asking import Asked, asking
from auditkit.fleet.audit import Told, audit
from auditkit.fleet.judging import _UNEXPECTED
from auditkit.proof.check_packet import verify_packet

NASTY = (
    "9" * 40,
    "-0",
    "1e400",
    "NaN",
    "",
    "\u0000",
    "\U0010ffff\u202e",
    "9999-12-31T23:59:59.999999-23:59",
    "0001-01-01T00:00:00+23:59",
    "0000-00-00",
    "%s'; DROP TABLE packet; --",
    2**53 - 1,
    -(2**53) + 1,
    0,
    True,
    None,
    [],
    [[]],
    {},
    {"value": "9" * 40, "unit": "inHg"},
    {"above": "x", "unit": "\u0000"},
)


def holds(raw):
    """Return whether a packet verifies."""
    try:
        return verify_packet(raw).verified
    except AuditkitError:
        return False


def test_the_corpus_of_hostile_packets_is_taken_in_where_it_verifies(
    ledger, catalogue, tmp_path
):
    record = small_record()
    ledger.record(
        record,
        judge(catalogue, record),
        passphrase=PASSPHRASE,
        unproven_reason="a test",
    )
    cases = sampled(corpus(ledger.packet(record.repair_order)), 300, "hostile packets")
    raws = sorted({case.raw for case in cases})
    into, done = collected(tmp_path, raws)
    good = sum(map(holds, raws))
    assert good > count(5, 5)
    assert done.added == good
    assert done.added + len(done.left_out) == len(raws)
    assert asked(into, "SELECT count(*) FROM packet WHERE is_verified") == [(good,)]
    assert not [one for one in done.left_out if one.because == _UNEXPECTED]


def places(value, at=()):
    """Yield the path of every value in JSON."""
    items = value.items() if isinstance(value, dict) else enumerate(value)
    for name, item in items:
        yield (*at, name)
        if isinstance(item, dict | list):
            yield from places(item, (*at, name))


def changed(events, place, value):
    made = copy.deepcopy(events)
    inner = made
    for name in place[:-1]:
        inner = inner[name]
    inner[place[-1]] = value
    return made


def test_events_of_any_content_become_rows_or_are_told(tmp_path):
    """A shop signs what it likes: each value in turn is something else."""
    events = demo_events()
    drawn = chance("nasty values")
    every = [
        place
        for place in places(events)
        if len(place) > 1 and place[-1] not in {"kind", "at", "by"}
    ]
    cases = [(place, nasty) for place in every for nasty in NASTY]
    cases += [((n, "at"), nasty) for n in range(len(events)) for nasty in NASTY[:11]]
    packets = []
    tried = count(150, len(cases))
    for place, nasty in drawn.sample(cases, tried):
        log = MadeLog(len(packets) + 1)
        try:
            close(log, changed(events, place, nasty))
        except (AuditkitError, ValueError, TypeError, OverflowError):
            continue  # what no log of ours would sign
        packets.append(log.packet("RO-1"))
    assert len(packets) > tried / 2
    into, done = collected(tmp_path, packets)
    assert [one for one in done.left_out if one.because == _UNEXPECTED] == []
    assert done.added == sum(map(holds, packets)) == len(packets)
    assert asked(into, "SELECT count(*) FROM repair_order") == [(done.added,)]


def close(log, events):
    """Sign events whose times may be none: they are recorded at a time that is one."""
    for event in events:
        log.add("RO-1", event, recorded=datetime(2026, 3, 2, 8, tzinfo=UTC))
    log.verdict("RO-1", "2026-03-03T08:00:00+01:00")


def with_number(place, value):
    """Return the demo's events, its bench test with another number at a place."""
    events = demo_events()
    test = next(e for e in events if e["kind"] == "bench_test")
    for name in place.split("."):
        test = test[int(name) if name.isdigit() else name]
    test["resolution" if "specification" in place else "value"] = value
    return events


def test_no_number_of_a_shop_ends_an_audit(tmp_path):
    packets = []
    for place in ("conditions.hold time", "readings.1", "instruments.0.specification"):
        for value in ("9" * 17, "9" * 300, "-" + "9" * 30):
            log = MadeLog(len(packets) + 1)
            log.close("RO-1", with_number(place, value))
            packets.append(log.packet("RO-1"))
    into, done = collected(tmp_path, packets)
    assert done.added == len(packets)
    with asking(into, Asked()) as ask:
        assert audit(ask, Told()).sections
    ((longest, largest),) = asked(
        into, "SELECT max(hold_s), max(abs(value_si)) FROM bench_reading"
    )
    assert (longest or 0) <= 366 * 86400
    assert (largest or 0) <= 1e30
