"""What holds of a log, whenever one looks."""

import hashlib
from datetime import timedelta

import pytest
from conftest import PASSPHRASE
from life.edges import authority
from life.erasing import is_picture
from life.model import COSIGNER, SECOND, without

from auditkit.log.logged_order import AlreadyErasedError
from auditkit.log.sealing import stamp
from auditkit.proof import attested_bounds, disclosure, note
from auditkit.proof.check_packet import parse_packet, verify_packet
from auditkit.proof.check_report import Unmet
from auditkit.proof.entry import parse_payload
from auditkit.proof.time_bounds import SLACK, with_times
from auditkit.proof.trust_policy import parse_trust_policy


def check(life, site):
    """The log holds what the model says, in order, as it was given."""
    log, ledger = site.log, site.open()
    rows = list(ledger.store.rows())
    assert len(rows) == len(log.lines)
    for seq, (row, line) in enumerate(zip(rows, log.lines, strict=True)):
        said = parse_payload(row.entry.payload)
        thumbprint = log.key if line.key is None else life.thumbprints[line.key]
        assert (said.seq, said.repair_order, said.event["kind"], said.by) == (
            seq,
            line.order,
            line.kind,
            line.by,
        )
        assert (said.recorded_at, said.key) == (stamp(line.claimed), thumbprint)
    assert {size for size, _ in ledger.store.checkpoints()} == log.sizes
    for order in life.orders(site):
        for shown in ledger.show(order).lines:
            check_event(log, shown)
    settle_erased_pictures(life, site)
    report = ledger.verify(expect_key=log.key)
    assert report.verified, report.problems
    check_pictures(site, report)
    states = [state for state, _ in log.texts.values()]
    for word in ("erased", "lost"):
        told = [n for n in report.notes if n.startswith(f"withheld texts {word}")]
        many = states.count(word)
        assert len(told) == bool(many), report.notes
        assert not told or f": {many}" in told[0], (told, many)
    check_erased(site)


def settle_erased_pictures(life, site):
    """Erase once more what a kill or a backup left: the log is not whole before."""
    log, ledger = site.log, site.open()
    erased = {d for d, state in log.pictures.items() if state == "erased"}
    lying = sorted(erased & ledger.attachments.names())
    if not lying:
        return
    report = ledger.verify()
    told = [p for p in report.problems if p.unmet is Unmet.ERASED]
    assert tuple(told) == report.problems
    assert all(any(d in p.problem for p in told) for d in lying)
    order = next(
        x.order for x in log.lines if is_picture(x) and x.event["sha256"] == lying[0]
    )
    with pytest.raises(AlreadyErasedError):
        ledger.erase(order, attachments=lying[:1], reason="r", passphrase=PASSPHRASE)
    assert not erased & ledger.attachments.names()
    site.pictures -= erased
    life.met("an erased picture that lay there was erased again")


def check_pictures(site, report):
    """Those kept lie beside the log as they were; what is missing is told."""
    log, attachments = site.log, site.open().attachments
    here = attachments.names()
    assert here == site.pictures
    assert all(hashlib.sha256(attachments.get(d)).hexdigest() == d for d in here)
    states = list(log.pictures.values())
    for word, many in (
        ("attachments lost", sum(d not in here for d in kept(log))),
        ("attachments erased", states.count("erased")),
        ("files beside the log that no entry names", len(here - log.pictures.keys())),
    ):
        told = [n for n in report.notes if n.startswith(word)]
        assert len(told) == bool(many), (word, many, report.notes)
        assert not told or f": {many}" in told[0], (told, many)


def kept(log):
    return [d for d, state in log.pictures.items() if state == "kept"]


def check_event(log, shown):
    line = log.lines[shown.seq]
    texts = {
        path: state for (seq, path), (state, _) in log.texts.items() if seq == shown.seq
    }
    assert {t.path: t.state for t in shown.texts} == texts
    if line.event is not None:
        hidden = [path for path, state in texts.items() if state != "withheld"]
        assert shown.event == without(line.event, hidden)


def check_erased(site):
    """No part of an erased text lies in the file: salt and value are its own."""
    if site.log.is_dirty or not site.log.gone:
        return
    lying = site.bytes()
    for state, value in site.log.texts.values():
        assert state != "erased" or value.encode() not in lying
    for text in site.log.gone:
        for part in (text[3:15], text[9:21], text[15:27], text[-12:]):
            assert part.encode() not in lying, part


def check_held(site, held):
    report = site.open().verify(trust=held.text)
    assert report.verified is site.extends(held), report.problems


def check_packet(life, index):
    text, key, wanted, own = life.packets[index]
    report = verify_packet(text, expect_key=key)
    assert report.verified, report.problems
    assert report.checkpoint.size == len(own.ids)
    said = {
        disclosure.parse(given).value for _, given in parse_packet(text).disclosures
    }
    assert said == wanted
    if life.held:
        held = life.held[index % len(life.held)]
        found = verify_packet(text, trust=held.text)
        same = (held.origin, held.key) == (own.origin, own.key)
        if not same or own.ids[: len(held.ids)] != held.ids:
            assert not found.verified, "another history is never taken for this"


def check_times(life, site):
    """Intervals hold the true time, and a lie of over 15 minutes is told."""
    log, ledger = site.log, site.open()
    if not log.spoken:
        return
    vkey = note.vkey(ledger.origin, ledger.log_key)
    policy = parse_trust_policy(
        f"log {vkey}\nwitness w {COSIGNER.vkey}\nquorum w\n".encode()
    )
    roots = authority()[0] if any(s.is_stamp for s in log.spoken) else None
    report = ledger.verify()
    for trust, is_stamp in (({"policy": policy}, False), ({"roots": roots}, True)):
        spoken = [s for s in log.spoken if s.is_stamp is is_stamp]
        if not spoken:
            continue
        found = with_times(
            report, attested_bounds.believed_bounds(report.attested, **trust)
        )
        lies = set()
        for seq, line in enumerate(log.lines):
            after = [s for s in spoken if s.seq <= seq]
            before = [s for s in spoken if s.size > seq]
            told = found.intervals[seq]
            low = max((s.at for s in after), default=None)
            late = timedelta() if is_stamp else SECOND  # rounded down by witnesses
            high = min((s.at + late for s in before), default=None)
            assert told["after"] == (low and low.isoformat(timespec="seconds"))
            assert told["before"] == (high and high.isoformat(timespec="seconds"))
            if all(s.is_true for s in (*after, *before)):
                assert low is None or low <= line.true
                assert high is None or line.true <= high
            is_lie = (low and line.claimed < low - SLACK) or (
                high and line.claimed > high + SLACK
            )
            if is_lie or (low and high and low - high > SLACK):
                lies.add(seq)
        life.met(f"clock found out: {bool(lies)}; by stamp: {is_stamp}")
        assert {p.seq for p in found.problems} == lies
        assert found.verified is not bool(lies)


def check_witness(life):
    """What the witness cosigned under one name is one history."""
    last: dict[str, tuple[int, ...]] = {}
    for held, _, _ in life.cosigned:
        before = last.get(held.origin, ())
        assert held.ids[: len(before)] == before
        last[held.origin] = held.ids
