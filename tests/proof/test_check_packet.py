"""A packet is verified by someone without the shop's log, and refused if altered."""

import json
import os
import subprocess
import sys
from datetime import UTC, datetime

import pytest
import rfc8785
import web_corpus
from conftest import PASSPHRASE, judge, small_record
from joserfc import jws
from joserfc.jwk import OKPKey
from sampling import count, sampled
from web_corpus import (
    LOG,
    ORIGIN,
    SECOND,
    STATEMENT,
    Forge,
    corpus,
    edited,
    packet_text,
    pad64,
)

from auditkit.errors import InputError
from auditkit.order.findings import Verdict
from auditkit.proof import entry
from auditkit.proof.check_packet import format_packet, parse_packet, verify_packet
from auditkit.proof.check_report import VERDICTS, LogProblem
from auditkit.proof.entry import HEADER
from auditkit.proof.keys import PrivateKey
from auditkit.proof.merkle import root
from auditkit.proof.packet import Packet
from auditkit.proof.time_bounds import BelievedBounds, Bound, intervals, with_times
from auditkit.text.base64url import encode64


@pytest.fixture
def packet(closed):
    return closed.packet("RO-1")


def problems(text, **how):
    try:
        report = verify_packet(text, **how)
    except InputError as error:
        return [str(error)]
    return [p.problem for p in report.problems]


def test_packet_verifies_and_tells_its_story(closed, packet):
    report = verify_packet(packet, expect_key=closed.log_key.thumbprint)
    assert report.verified, report.problems
    assert report.checkpoint.size == 8
    assert report.story[0].startswith("Repair order RO-1 is unproven")
    assert any("with the reason" in line for line in report.story)


def test_json_says_which_order_which_verdict_and_the_statement(closed, packet):
    said = verify_packet(packet).to_json()
    assert said["repair_order"] == "RO-1"
    assert said["verdict"] == "unproven"
    assert said["statement"] == json.loads(packet)["statement"]
    assert list(said) == [
        *("verified", "entries", "since", "checkpoint", "log_key", "repair_order"),
        *("verdict", "signed_verdict", "faults", "answers", "findings"),
        *("statement", "paper", "problems", "notes", "intervals", "texts"),
        "attachments",
    ]
    assert said["signed_verdict"] == "unproven"
    assert (said["faults"], said["answers"]) == ([], []), "nobody judged it here"
    nothing = {"repair_order": None, "verdict": None, "statement": []}
    nothing |= {"signed_verdict": None, "faults": [], "answers": [], "findings": []}
    refused = verify_packet(packet.replace("lamp on", "lamp off"))
    objected = verify_packet(packet).with_more(["somebody objects"], [])
    late = BelievedBounds((), (LogProblem(2, "it is late"),))
    for report in (refused, objected, with_times(verify_packet(packet), late)):
        assert not report.verified
        assert report.to_json() | nothing == report.to_json()
    log = closed.verify()
    assert log.verified
    assert log.to_json() | nothing == log.to_json()


@pytest.mark.parametrize("said", [None, 1, ["proven"], "Proven", "", "proven "])
def test_a_verdict_of_no_known_word_is_none(said):
    """The words are those of ``auditkit.order.findings.Verdict``."""
    assert set(VERDICTS) == {str(verdict) for verdict in Verdict}
    for word in (*VERDICTS, said):
        forge = Forge().enrol().work()
        event = {"kind": "verdict", "judged": [2], "statement": STATEMENT}
        report = verify_packet(forge.add({**event, "verdict": word}).packet())
        assert report.verified
        assert report.verdict == (word if word in VERDICTS else None)
        assert (report.repair_order, report.statement) == ("RO-1", tuple(STATEMENT))


def test_notes_say_what_a_packet_cannot_show(packet):
    notes = " ".join(verify_packet(packet).notes)
    assert "entries written to this repair order after the verdict" in notes
    assert "a key's revocation, the log's closing or what outsiders said" in notes


def test_no_person_is_disclosed_unless_asked(closed, packet):
    assert "Customer One" not in packet
    assert json.loads(packet)["disclosures"] == []
    shown = closed.packet("RO-1", reveal=["customer.name"])
    (given,) = json.loads(shown)["disclosures"]
    assert given["seq"] == 2
    assert verify_packet(shown).verified
    with pytest.raises(InputError, match="nothing is withheld"):
        closed.packet("RO-1", reveal=["customer.shoe"])


def test_expected_key(packet):
    assert problems(packet, expect_key="A" * 43) != []
    first = verify_packet(packet, expect_key="A" * 43).lines("p.json")[0]
    other = "signed under another key than the expected one"
    assert first == f"p.json: record NOT verified: {other}"


def test_a_packet_is_written_as_the_standard_library_writes_it():
    """json.dumps with an indent of two, but for what was signed, which has none."""
    read = 0
    cases = corpus(Forge().enrol().work().verdict().packet(earlier=[1]))
    for case in sampled(cases, len(cases), "packets that are written"):
        try:
            packet = parse_packet(case.raw)
        except InputError:
            continue
        value = json.loads(case.raw)
        told = packet_text(value)
        assert format_packet(packet) == told
        read += 1
    assert read > count(300, 300)


def test_every_earlier_root_is_proven():
    """RFC 9162 2.1.4: no proof leads from another root, nor from another size."""
    forge = Forge().enrol().work().work().verdict()
    whole = forge.packet(earlier=[1, 2, 3, 4])
    assert problems(whole) == []
    for index in range(4):
        content = json.loads(whole)
        content["earlier"][index]["root"] = "A" * 43 + "="
        (told,) = problems(packet_text(content))
        assert told.startswith(f"the earlier size {index + 1}: ")
    leaves = [signed.leaf for signed in forge.made]
    for size in (1, 2, 3, 4):
        true = forge.sign_note(f"{ORIGIN}\n{size}\n{pad64(root(leaves[:size]))}\n")
        assert problems(whole, trust=true) == []
        false = forge.sign_note(f"{ORIGIN}\n{size}\n{pad64(root(leaves[:1] * size))}\n")
        if size > 1:
            assert "the log was forked" in problems(whole, trust=false)[0]


def test_trusted_checkpoint(closed, packet, catalogue):
    assert problems(packet, trust=closed.checkpoint()) == []
    record = small_record("RO-3")
    closed.record(
        record, judge(catalogue, record), passphrase=PASSPHRASE, unproven_reason="t"
    )
    assert (
        "ask for a packet made since" in problems(packet, trust=closed.checkpoint())[0]
    )


def test_duplicated_entry_of_a_packet(packet):
    content = json.loads(packet)
    for at in (3, len(content["entries"])):
        twice = json.loads(packet)
        twice["entries"].insert(at, twice["entries"][2])
        told = problems(packet_text(twice))
        assert any("not in order of sequence number" in line for line in told)


def test_left_out_entry_is_missed(packet):
    text = edited(packet, lambda c: c["entries"].pop(3))
    assert any("the verdict judged" in p for p in problems(text))


def test_statement_that_was_not_signed(packet):
    def lie(content):
        content["statement"][0] = "Repair order RO-1 is proven."

    assert any(
        "not the one that was signed" in p for p in problems(edited(packet, lie))
    )


def test_entries_of_another_order(closed, packet):
    other = json.loads(closed.packet("RO-2"))

    def paste(content):
        content["entries"] = other["entries"]

    assert any("belongs to repair order" in p for p in problems(edited(packet, paste)))


def test_another_shops_key(closed, packet, tmp_path):
    from auditkit.log.ledger import Ledger

    with Ledger.create(
        tmp_path / "b.log",
        shop="B",
        origin=closed.origin,
        person="mechanic-1",
        passphrase=PASSPHRASE,
    ) as other:
        from auditkit.proof.note import vkey

        key = vkey(closed.origin, other.log_key)
    text = edited(packet, lambda c: c.update(log_key=key))
    assert problems(text) != []


def test_proof_of_another_entry(packet):
    def swap(content):
        first, second = content["entries"][2], content["entries"][3]
        first["proof"], second["proof"] = second["proof"], first["proof"]

    assert len(problems(edited(packet, swap))) >= 2


def test_false_disclosure(closed):
    text = closed.packet("RO-1", reveal=["*"])
    from auditkit.proof.disclosure import make

    false = make("name", "Somebody Else", b"0123456789abcdef")
    assert problems(
        edited(text, lambda c: c["disclosures"][0].update(disclosure=false))
    )


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{",
        "[]",
        '{"format": "auditkit/packet@2"}',
        '{"format": "auditkit/packet@1"}',
    ],
)
def test_unreadable_packet_is_refused_with_a_mend(text):
    with pytest.raises(InputError) as caught:
        verify_packet(text, where="x.json")
    assert caught.value.where.startswith("x.json")


def test_every_byte_of_a_packet(packet):
    """Change every byte of a packet, or a sample of them: none is silent."""
    raw = packet.encode()
    silent = []
    for place in sampled(range(len(raw)), len(raw), "bytes of a packet", 12):
        changed = bytearray(raw)
        changed[place] ^= 1 << (place % 7)
        if not problems(bytes(changed)):
            silent.append(place)
    assert len(raw) > 5000
    assert not silent


def test_every_cut_of_a_packet(packet):
    raw = packet.encode()
    for end in range(0, len(raw), 97):
        assert problems(raw[:end]), end


def test_needs_neither_database_nor_plugins(packet, tmp_path):
    """In a fresh interpreter, verifying loads no sqlite3, pluggy or plugin."""
    path = tmp_path / "p.json"
    path.write_text(packet)
    code = (
        "import sys, pathlib; from auditkit.proof.check_packet import verify_packet;"
        "assert verify_packet(pathlib.Path(sys.argv[1]).read_bytes()).verified;"
        "bad = {'sqlite3','pluggy','auditkit_plugins'} & set(sys.modules);"
        "assert not bad, bad"
    )
    subprocess.run([sys.executable, "-c", code, path], check=True, env={**os.environ})


def test_the_log_key_cannot_sign_for_a_nameless_person_with_a_key_nobody_knows():
    forged = Forge().enrol().add({"kind": "code_clear"}, by="", signer=LOG, key="none")
    assert any("not enrolled" in p for p in problems(forged.verdict().packet()))
    assert problems(Forge().enrol().work().verdict().packet()) == []


def interleaved(between, *, kept=None):
    """Return a log in which ``second`` signs after an entry of another order.

    ``between`` makes the entries that the packet does not carry; ``kept`` is an entry
    signed elsewhere that takes the place of the one that ``second`` would sign.
    """
    forge = Forge().enrol().enrol("second", SECOND).work()
    between(forge)
    if kept is None:
        forge.add({"kind": "code_clear"}, "second", SECOND)
    else:
        forge.made.append(kept)
    return forge


def other_order(tool):
    def add(forge):
        forge.add({"kind": "code_clear", "tool": tool}, order="RO-2")
        forge.add({"kind": "code_clear", "tool": tool}, order="RO-2")

    return add


def without_other_orders(forge, **how):
    def edit(content):
        content["entries"] = [e for e in content["entries"] if e["seq"] not in (4, 5)]

    return edited(forge.verdict([3, 6]).packet(**how), edit)


@pytest.mark.parametrize("role", ["Manager", "", None, 5])
def test_an_enrolment_in_no_role_enrols_nobody(role):
    found = problems(Forge().enrol(role=role).work().verdict().packet())
    assert any("role" in problem for problem in found)
    assert any("is not enrolled for 'mechanic-1'" in problem for problem in found)
    assert problems(Forge().enrol(role="manager").work().verdict().packet()) == []


def test_a_fork_needs_every_signer():
    """Who signed after the place of a fork vouched for what stood there before.

    The packet carries neither of the two histories: each entry's root stands for its.
    """
    true = interleaved(other_order("before"))
    signed = true.made[6]
    assert not problems(without_other_orders(true))
    forked = interleaved(other_order("after"), kept=signed)
    text = "its root is not that of the entries before it"
    told = verify_packet(without_other_orders(forked)).problems
    assert LogProblem(6, text) in told
    with_every_key = interleaved(other_order("after"))
    assert not problems(without_other_orders(with_every_key))


def test_recorded_after_an_attestation_holds_in_a_packet_by_itself():
    """An entry that was signed before an attestation cannot be moved behind it."""

    def attest(forge):
        forge.attest(4)
        forge.add({"kind": "code_clear"}, order="RO-2")

    def packet(forge):
        whole = forge.verdict([3, 6]).packet(earlier=[4])
        return edited(whole, lambda c: c["entries"].pop(5))

    early = interleaved(other_order("before")).made[6]
    moved = verify_packet(packet(interleaved(attest, kept=early)))
    assert LogProblem(6, "its root is not that of the entries before it") in (
        moved.problems
    )
    report = verify_packet(packet(interleaved(attest)))
    assert report.verified, report.problems
    (kept,) = report.attested
    at = datetime(2026, 3, 2, 8, tzinfo=UTC)
    bound = Bound(kept.checkpoint.size, at, at, "a witness", kept.seq)
    after = {i.seq: i.after for i in intervals(report.recorded, [bound])}
    assert after == {0: None, 1: None, 2: None, 3: None, 4: bound, 6: bound, 7: bound}


def test_the_chain_is_checked_where_a_packet_holds_both_ends():
    forge = Forge().enrol().work().add({"kind": "code_clear"}, prev="0" * 64)
    text = "it does not name the leaf hash of the entry before it"
    assert LogProblem(3, text) in verify_packet(forge.verdict().packet()).problems


def test_what_was_signed_stands_in_a_packet_byte_for_byte(closed, packet):
    """Cut out of the file, header and payload are what the signature is over.

    joserfc (RFC 7515, RFC 7797) judges it; rfc8785 writes the same from what a JSON
    library reads.
    """
    keys = {}
    for person in closed.people():
        keys[person.thumbprint] = closed.ring.enrolled[person.thumbprint].key
    keys[closed.log_key.thumbprint] = closed.log_key
    lines = packet.split("\n")
    seen = 0
    for at, line in enumerate(lines):
        name, _, payload = line.strip().removesuffix(",").partition(": ")
        if name != '"payload"':
            continue
        seen += 1
        header = lines[at - 1].strip().removesuffix(",").removeprefix('"header": ')
        signature = lines[at + 1].strip().removesuffix(",").split('"')[3]
        said = json.loads(payload)
        assert rfc8785.dumps(said).decode() == payload
        key = OKPKey.import_key(
            {"kty": "OKP", "crv": "Ed25519", "x": keys[said["key"]].x}
        )
        detached = f"{encode64(header.encode())}..{signature}".encode()
        jws.deserialize_compact(detached, key, ["Ed25519"], payload=payload.encode())
    assert seen == len(json.loads(packet)["entries"])


def test_a_payload_in_another_order_of_members_is_no_packet(packet):
    def turned(content):
        payload = content["entries"][3]["payload"]
        content["entries"][3]["payload"] = dict(reversed(payload.items()))

    assert "not byte for byte" in problems(edited(packet, turned))[0]


def test_an_event_too_deep_for_a_packet_is_not_signed():
    """strict_json reads 64 levels; a packet, its entries and an entry are three."""
    key = PrivateKey.from_seed(b"2" * 32)

    def deep(levels):
        event = {"kind": "code_clear", "deep": []}
        for _ in range(levels - 3):
            event["deep"] = [event["deep"]]
        return entry.Payload(
            by="mechanic-1",
            event=event,
            key=key.public.thumbprint,
            log=ORIGIN,
            prev=None,
            recorded_at="2026-03-02T09:00:00+01:00",
            repair_order="RO-1",
            root="0" * 64,
            seq=0,
        )

    signed = entry.sign(deep(61), key)
    whole = Packet("RO-1", (), "k", "c", (), ((signed, "p"),), ())
    assert parse_packet(format_packet(whole)) == whole
    with pytest.raises(InputError, match="deeper than a packet"):
        entry.sign(deep(62), key)


@pytest.mark.parametrize(
    ("cases", "good"),
    [
        (
            web_corpus.erasures,
            {"erased", "the other is given", "of an attachment", "named twice"},
        ),
        (
            web_corpus.disclosed,
            {"none", "one", "both", "names ['x', 'y']", "two values of one name, 2nd"},
        ),
        (web_corpus.headers, {f"header {HEADER!r}"}),
        (web_corpus.places, {f"form {'f-1_A'!r}", f"form {'x' * 64!r}"}),
    ],
)
def test_of_hostile_packets_none_but_these_verify(cases, good):
    verified = {name for name, text in cases() if not problems(text)}
    odd = {name for name in verified if name.startswith(("reason ", "at {"))}
    assert verified - odd == good
