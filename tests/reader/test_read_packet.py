"""What a reader asks of a packet: files read once, one report, in any process."""

import pickle
import sys
from dataclasses import replace
from functools import partial

import pytest
import web_corpus
from click.testing import CliRunner

from auditkit.cli.exhibit import exhibit_command
from auditkit.cli.verify import verify_command
from auditkit.errors import InputError, VerificationError
from auditkit.log.verify_log import verify_file
from auditkit.plugin.loading import load_canon
from auditkit.proof import cosignature, note
from auditkit.proof.check_packet import NO_KEY, parse_packet, verify_packet
from auditkit.proof.check_report import Unmet
from auditkit.proof.keys import PrivateKey
from auditkit.proof.receipt import format_receipt
from auditkit.reader.hold_receipt import compare_with_receipt, receipt_of
from auditkit.reader.judge_again import judge_again
from auditkit.reader.many_packets import verify_packets
from auditkit.reader.read_packet import (
    Expectations,
    GivenFile,
    check_packet,
    checked_and_judged,
    expectations,
    fingerprint,
    with_outsiders,
    with_reader_checks,
)

KEY = PrivateKey.from_seed(bytes([11] * 32))
VKEY = cosignature.make_cosigner("a.example", KEY.public).vkey
LOG = note.vkey(web_corpus.ORIGIN, web_corpus.LOG.private.public)
POLICY = GivenFile("policy", f"log {LOG}\nwitness a {VKEY}\nquorum a\n".encode())
AT = 1_772_440_000  # 2026-03-02T08:26:40Z


def cosigned(forge):
    def sign(text):
        return forge.sign_note(text) + cosignature.cosign(text, "a.example", KEY, AT)

    return sign


@pytest.fixture(scope="module")
def packet():
    forge = web_corpus.plain()
    return GivenFile("p.json", forge.packet(sign=cosigned(forge)).encode())


@pytest.fixture(scope="module")
def receipt(packet):
    return GivenFile("r.txt", format_receipt(receipt_of(packet.data)).encode())


def other_receipt(packet):
    text = format_receipt(receipt_of(packet.data)).replace("RO-1\n", "RO-2\n", 1)
    return GivenFile("r.txt", text.encode())


def test_nothing_more_asked_is_what_the_packet_alone_says(packet):
    report = check_packet(packet, expectations())
    assert replace(report, judged=None) == verify_packet(packet.data)
    assert report.judged.verdict == "unproven", "the evidence is judged here"
    assert expectations() == Expectations()


def test_a_packet_is_judged_as_it_was_read_and_not_read_again(packet, monkeypatch):
    report = verify_packet(packet.data)
    judged = judge_again(parse_packet(packet.data), load_canon())[1]

    def never(*_arguments, **_how):
        raise AssertionError

    monkeypatch.setattr("auditkit.reader.steps.parse_payload", never)
    found = checked_and_judged(report, wanted=Expectations())
    assert found.judged == judged


def test_all_that_is_asked_stands_in_one_report(packet, receipt):
    trust = GivenFile("t", web_corpus.plain().packet().encode())
    with pytest.raises(InputError, match="t: this is not a checkpoint"):
        expectations(trust=trust)
    wanted = expectations(
        expect_key=web_corpus.LOG.thumbprint, witnesses=POLICY, receipt=receipt
    )
    report = check_packet(packet, wanted)
    assert report.verified
    assert report.times == (
        "entries 0 to 4: recorded before 2026-03-02T08:26:41+00:00 (witnesses)",
    )
    assert report.notes[-1] == "the first 5 entries are cosigned by a; wanted: a"
    assert {line["before"] for line in report.intervals} == {
        "2026-03-02T08:26:41+00:00"
    }


def test_each_asked_thing_can_refuse_alone(packet):
    plain = GivenFile("p.json", web_corpus.plain().packet().encode())
    for given, wanted, said in (
        (packet, expectations(expect_key="x" * 43), "not the expected xxx"),
        (
            plain,
            expectations(witnesses=POLICY),
            "cosignatures wanted: a; given by: nobody",
        ),
        (
            packet,
            expectations(receipt=other_receipt(packet)),
            "the receipt: it is of repair order 'RO-2', the packet of 'RO-1'",
        ),
    ):
        report = check_packet(given, wanted)
        assert not report.verified
        (problem,) = report.problems
        assert said in problem.problem
        assert report.story == ()


def test_a_receipt_is_not_held_against_what_does_not_hold(packet):
    wanted = expectations(expect_key="x" * 43, receipt=other_receipt(packet))
    assert len(check_packet(packet, wanted).problems) == 1


def changed(packet, **members):
    """Return a receipt of the packet, with other members."""
    made = replace(receipt_of(packet.data), **members)
    return expectations(receipt=GivenFile("r.txt", format_receipt(made).encode()))


def test_a_receipt_s_page_is_no_text_and_says_where_its_text_is():
    page = GivenFile("r.pdf", b"%PDF-1.7\n\xe2\xe3")
    with pytest.raises(InputError, match=r"r\.pdf: this is a PDF.*what the code on"):
        expectations(receipt=page)


def test_a_receipt_that_agrees_is_said_and_its_key_was_compared(packet, receipt):
    alone = check_packet(packet, expectations())
    assert NO_KEY in alone.notes
    report = check_packet(packet, expectations(receipt=receipt))
    (agrees,) = report.agreed
    assert agrees.startswith("the receipt agrees: the order, its steps, its verdict")
    assert agrees.endswith("; the log only grew since it was handed over")
    assert report.notes == tuple(n for n in alone.notes if n != NO_KEY)
    later = web_corpus.plain().work().verdict()
    given = GivenFile("p.json", later.packet().encode())
    report = check_packet(given, expectations(receipt=receipt))
    assert not report.verified, "that the log only grew is not shown"
    (problem,) = report.problems
    assert "does not reach back to the receipt's, of size 5" in problem.problem
    differs = check_packet(packet, changed(packet, log_key="A" * 43))
    assert NO_KEY not in differs.notes, "it was compared, and differs"
    assert not any("agrees" in note for note in differs.notes)
    broken = GivenFile("p.json", packet.data.replace(b"tool 0", b"tool 1"))
    assert NO_KEY in check_packet(broken, expectations(receipt=receipt)).notes


def test_a_packet_is_verified_once(packet, receipt, monkeypatch):
    def never(*_arguments, **_how):
        raise AssertionError

    report = verify_packet(packet.data)
    monkeypatch.setattr("auditkit.reader.hold_receipt.verify_packet", never)
    assert with_reader_checks(report, wanted=expectations(receipt=receipt)).verified
    refused = report.with_more(["somebody objects"], [])
    with pytest.raises(VerificationError, match="somebody objects"):
        compare_with_receipt(refused, receipt.text())
    with pytest.raises(InputError, match="a receipt is of a packet"):
        compare_with_receipt(replace(report, repair_order=None), receipt.text())


def checkpoint(size, root=bytes(32)):
    text = f"{web_corpus.ORIGIN}\n{size}\n{web_corpus.pad64(root)}\n"
    return expectations(
        trust=GivenFile("t", web_corpus.plain().sign_note(text).encode())
    )


@pytest.mark.parametrize(
    ("wanted", "steps"),
    [
        (lambda _p: checkpoint(3), [Unmet.REACH]),
        (lambda _p: checkpoint(9), [Unmet.OLDER]),
        (lambda _p: expectations(expect_key="A" * 43), [Unmet.KEY]),
        (
            lambda _p: replace(checkpoint(3), expect_key="A" * 43),
            [Unmet.REACH, Unmet.KEY],
        ),
        (lambda p: changed(p, repair_order="RO-2"), [Unmet.ORDER]),
        (
            lambda p: changed(p, repair_order="RO-2", statement="A" * 43),
            [Unmet.ORDER],
        ),
        (lambda p: changed(p, size=9), [Unmet.OLDER]),
        (lambda p: changed(p, origin="o", log_key="A" * 43, size=9), [Unmet.LOG]),
        (lambda p: changed(p, origin="o", repair_order="RO-2"), [Unmet.LOG]),
        (lambda p: changed(p, story="A" * 43), [Unmet.STORY]),
        (lambda _p: checkpoint(5), None),
        (lambda p: changed(p, statement="A" * 43), None),
        (lambda p: changed(p, entries="A" * 43), None),
        (lambda p: changed(p, log_key="A" * 43), None),
        (
            lambda p: changed(p, repair_order="RO-2", root=web_corpus.pad64(bytes(32))),
            None,
        ),
    ],
)
def test_what_to_do_next_accuses_nobody_without_ground(packet, wanted, steps):
    report = check_packet(packet, wanted(packet))
    assert not report.verified
    told = [line for line in report.lines("p.json") if "what to do:" in line]
    if steps is None:
        (line,) = told
        assert "do not rely on it; keep it as it is" in line
        return
    words = {
        Unmet.REACH: "ask the shop for 'auditkit packet ORDER --since FILE'; nothing",
        Unmet.OLDER: "ask the shop for a packet made since; nothing shows",
        Unmet.KEY: "look for a mistyped letter first; then ask the shop, by a way that",
        Unmet.ORDER: "hold the receipt against the packet of its own repair order",
        Unmet.LOG: "look on the receipt which shop it is of, and hold it against that",
        Unmet.STORY: "compare your paper with what is told here, line by line; then",
    }
    assert len(told) == len(steps)
    for line, step in zip(told, steps, strict=True):
        assert line.startswith(f"    what to do: {words[step]}")
    altered = GivenFile("p.json", packet.data.replace(b"tool 0", b"tool 1"))
    lines = check_packet(altered, wanted(packet)).lines("p.json")
    (line,) = [line for line in lines if "what to do:" in line]
    assert "do not rely on it" in line


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("foo", "these are 3"),
        ("", "these are 0"),
        ("A" * 42, "these are 42"),
        ("A" * 44, "these are 44"),
        ("A" * 42 + "!", "'!' is none of them"),
        ("A" * 42 + "\u00e9", "'\u00e9' is none of them"),
        ("A" * 42 + "\n", "'<U+000A>' is none of them"),
    ],
)
def test_what_is_no_fingerprint_is_no_answer(packet, text, said, tmp_path):
    with pytest.raises(InputError) as caught:
        expectations(expect_key=text)
    whole = f"--key: a fingerprint has 43 letters, digits, - and _; {said}"
    assert str(caught.value).startswith(whole)
    assert caught.value.exit_code == 2
    assert fingerprint(web_corpus.LOG.thumbprint) == web_corpus.LOG.thumbprint
    path = tmp_path / "p.json"
    path.write_bytes(packet.data)
    done = CliRunner().invoke(verify_command, [str(path), "--key", text])
    assert isinstance(done.exception, InputError)
    done = CliRunner().invoke(exhibit_command, ["--check", str(path), "--key", text])
    assert str(done.exception) == str(caught.value)


@pytest.mark.parametrize("name", ["trust", "witnesses", "receipt"])
@pytest.mark.parametrize("data", [b"", b"\xff", b"a text\n"])
def test_an_unusable_file_is_named(name, data):
    with pytest.raises(InputError) as caught:
        expectations(**{name: GivenFile("the-file", data)})
    assert caught.value.where.startswith("the-file")
    assert caught.value.what_to_do or "trust policy" in caught.value.message


def test_no_packet_is_named(packet):
    with pytest.raises(InputError, match=r"p\.json: it is not JSON") as caught:
        check_packet(GivenFile("p.json", b"{"), expectations(witnesses=POLICY))
    assert caught.value.where == "p.json"
    with pytest.raises(InputError, match=r"p\.json: this is not text: byte 0"):
        GivenFile("p.json", b"\xff").text()


def test_roots_that_cannot_be_used_name_their_file(monkeypatch):
    """They are used where a stamp is met, and not before; here the library lacks."""
    monkeypatch.setitem(sys.modules, "rfc3161_client", None)
    with pytest.raises(InputError, match="no certificate in PEM form") as none:
        expectations(roots=GivenFile("roots.pem", b"no certificate\n"))
    assert none.value.where == "roots.pem"
    wanted = expectations(
        roots=GivenFile("roots.pem", b"-----BEGIN CERTIFICATE-----\n")
    )
    unstamped = GivenFile("p.json", web_corpus.plain().packet().encode())
    assert check_packet(unstamped, wanted).verified
    forge = web_corpus.Forge().enrol().work().attest(3, token=web_corpus.pad64(b"0"))
    stamped = forge.verdict().packet(earlier=[3])
    with pytest.raises(InputError, match=r"pip install") as caught:
        check_packet(GivenFile("p.json", stamped.encode()), wanted)
    assert caught.value.where == "roots.pem"


def test_other_processes_are_asked_the_same(packet, receipt, tmp_path):
    """What is asked is sent whole: many packets are verified in processes."""
    wanted = expectations(witnesses=POLICY, receipt=receipt)
    assert pickle.loads(pickle.dumps(wanted)) == wanted  # noqa: S301  our own bytes
    plain = web_corpus.plain().packet().encode()
    for number in range(4):
        place = tmp_path / f"{number}.json"
        place.write_bytes(plain if number % 2 else packet.data)
    paths = sorted(tmp_path.iterdir())
    found = verify_packets(
        paths,
        more_checks=partial(with_reader_checks, wanted=wanted),
        processes=2,
    )
    assert [one.verified for one in found] == [True, False, True, False]


def test_a_log_hears_the_same_outsiders(closed):
    """A log's own checkpoint is known to nobody else: what it keeps counts."""
    report = verify_file(closed.store.path)
    assert with_outsiders(report, expectations()) == report
    found = with_outsiders(report, expectations(witnesses=POLICY))
    assert [p.problem for p in found.problems] == [
        "witnesses: nobody spoke; wanted: a",
    ]
    path = str(closed.store.path)
    done = CliRunner().invoke(verify_command, [path, "--receipt", path])
    assert isinstance(done.exception, InputError)
