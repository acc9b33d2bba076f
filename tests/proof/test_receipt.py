"""What the customer keeps at the hand-over is held against a packet shown later."""

import base64
import builtins
import dataclasses
import io
import json
import os
import shutil
import subprocess
import sys
from datetime import datetime

import pytest
from click.testing import CliRunner
from conftest import PASSPHRASE, judge, small_record
from web_corpus import packet_text

from auditkit.cli.receipt import receipt_command
from auditkit.errors import InputError, VerificationError
from auditkit.log.ledger import Ledger
from auditkit.order.statement import DEFERS, JUDGED_BY
from auditkit.output.receipt_pdf import receipt_code, receipt_pdf
from auditkit.proof import note
from auditkit.proof.check_packet import format_packet, parse_packet, verify_packet
from auditkit.proof.check_report import Unmet
from auditkit.proof.receipt import (
    compare_with_receipt,
    format_receipt,
    parse_receipt,
    receipt_of,
)
from auditkit.reader.read_packet import GivenFile, check_packet, expectations

MADE_AT = "2026-03-02T17:00:00+01:00"


@pytest.fixture
def packet(closed):
    return closed.packet("RO-1")


@pytest.fixture
def receipt(packet):
    return receipt_of(packet)


@pytest.fixture
def text(receipt):
    return format_receipt(receipt)


def disagreements(packet, text):
    return tuple(
        problem.problem for problem in compare_with_receipt(packet, text).problems
    )


def close_another(ledger, catalogue, order_id="RO-3"):
    record = small_record(order_id)
    ledger.record(
        record,
        judge(catalogue, record),
        passphrase=PASSPHRASE,
        unproven_reason="a test of the log",
    )


def test_a_receipt_says_what_the_packet_and_its_checkpoint_say(closed, packet, receipt):
    content = json.loads(packet)
    origin, size, root = content["checkpoint"].split("\n")[:3]
    assert (receipt.origin, str(receipt.size), receipt.root) == (origin, size, root)
    assert receipt.statement == tuple(content["statement"])
    assert receipt.repair_order == "RO-1"
    assert receipt.log_key == closed.log_key.thumbprint


def test_round_trip(receipt, text):
    assert text.startswith("auditkit/receipt@1\nrepair_order: RO-1\nstatement: ")
    assert parse_receipt(text) == receipt
    odd = dataclasses.replace(receipt, statement=("a: b: c ", "", "  10 k\u03a9"))
    assert parse_receipt(format_receipt(odd)) == odd


@pytest.mark.parametrize(
    "edit",
    [
        lambda t: "",
        lambda t: t.replace("@1", "@2"),
        lambda t: t[:-1],
        lambda t: t + "\n",
        lambda t: t + "note: x\n",
        lambda t: t.replace("\n", "\r\n"),
        lambda t: "\ufeff" + t,
        lambda t: t.replace("origin: ", "origin:"),
        lambda t: t.replace("origin: ", "Origin: "),
        lambda t: t.replace("repair_order: RO-1\n", ""),
        lambda t: t.replace("repair_order: RO-1\n", "repair_order: \n"),
        lambda t: t.replace("repair_order: RO-1\n", "repair_order: RO-1\n" * 2),
        lambda t: t.replace("checkpoint_size: 8", "checkpoint_size: 08"),
        lambda t: t.replace("checkpoint_size: 8", "checkpoint_size: \u0668"),
        lambda t: t.replace("checkpoint_size: 8", "checkpoint_size: -8"),
        lambda t: t.replace("checkpoint_size: 8", "checkpoint_size: 0"),
        lambda t: t.replace("checkpoint_size: 8", "checkpoint_size: " + "9" * 5000),
        lambda t: t.replace("checkpoint_root: ", "checkpoint_root: A"),
        lambda t: t.replace("log_key: ", "log_key: AAAA"),
        lambda t: t.replace("log_key: ", "log_key: \u00e9"),
        lambda t: t.replace("statement: Repair", "statement: \u2028Repair"),
        lambda t: t.replace("statement: Repair", "statement: \x1bRepair"),
        lambda t: t.replace("statement: Repair", "statement: \udc80Repair"),
        lambda t: "".join(sorted(t.splitlines(keepends=True))),
        lambda t: t.replace("statement: ", "statement: " + "x" * 70000, 1),
    ],
)
def test_a_text_that_would_not_be_written_is_refused(text, edit):
    assert edit(text) != text
    with pytest.raises(InputError) as caught:
        parse_receipt(edit(text), where="r.txt")
    assert caught.value.where == "r.txt"
    assert caught.value.what_to_do


def test_a_changed_byte_is_refused_or_disagrees(packet, text):
    raw = text.encode()
    silent = []
    for place in range(0, len(raw), 11):
        changed = bytearray(raw)
        changed[place] ^= 1
        try:
            found = disagreements(packet, changed.decode())
        except InputError:
            continue
        if not found:
            silent.append(place)
    assert silent == []
    assert disagreements(packet, text) == ()


def test_a_statement_that_holds_a_line_end_makes_no_receipt(receipt):
    forged = dataclasses.replace(receipt, statement=("x\nlog_key: y",))
    with pytest.raises(InputError, match="line end"):
        format_receipt(forged)


def test_a_packet_that_does_not_verify_makes_no_receipt_and_is_held_against_none(
    packet, text
):
    content = json.loads(packet)
    content["statement"][0] = "Repair order RO-1 is proven."
    lie = packet_text(content)
    with pytest.raises(VerificationError, match="not the one that was signed"):
        receipt_of(lie)
    with pytest.raises(VerificationError):
        disagreements(lie, text)
    with pytest.raises(InputError):
        receipt_of("{}")


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"repair_order": "RO-9"}, "the repair order differs"),
        ({"origin": "other.example/log"}, "the log differs"),
        ({"log_key": "A" * 43}, "the log's key differs"),
        ({"root": "A" * 43 + "="}, "different roots: the log was forked"),
        ({"statement": ("Repair order RO-1 is proven.",)}, "differs at its line 1"),
        ({"size": 9}, "is earlier than the receipt's, of size 9"),
        ({"size": 7}, "does not reach back to the receipt's, of size 7"),
        ({"size": 5, "root": "A" * 43 + "="}, "first 5 entries had another root"),
    ],
)
def test_each_disagreement_is_told_alone(packet, receipt, change, said):
    changed = format_receipt(dataclasses.replace(receipt, **change))
    (line,) = disagreements(packet, changed)
    assert said in line


def test_a_shortened_statement_disagrees_at_the_missing_line(packet, receipt):
    short = dataclasses.replace(receipt, statement=receipt.statement[:-1])
    (line,) = disagreements(packet, format_receipt(short))
    assert f"line {len(receipt.statement)}: the receipt says no such line" in line


def test_a_later_packet_agrees_where_it_reaches_back(closed, text, catalogue):
    close_another(closed, catalogue)
    held = compare_with_receipt(closed.packet("RO-1"), text)
    (problem,) = held.problems
    assert problem.unmet is Unmet.REACH
    assert "does not reach back to the receipt's, of size" in problem.problem
    assert held.agreement is None
    since = [
        (given.size, base64.b64decode(given.root)) for given in [parse_receipt(text)]
    ]
    assert disagreements(closed.packet("RO-1", since=since), text) == ()


def test_a_receipt_of_the_day_of_closing_needs_no_further_word(closed, catalogue):
    """The packet reaches back by itself to the checkpoint of each closing."""
    close_another(closed, catalogue, "RO-4")
    text = format_receipt(receipt_of(closed.packet("RO-4")))
    close_another(closed, catalogue, "RO-5")
    assert disagreements(closed.packet("RO-4"), text) == ()


def test_a_packet_cannot_reach_back_to_another_history(closed, text):
    given = parse_receipt(text)
    with pytest.raises(VerificationError, match="does not extend the checkpoint of 8"):
        closed.packet("RO-1", since=[(given.size, bytes(32))])
    with pytest.raises(VerificationError, match="does not extend"):
        closed.packet("RO-1", since=[(given.size + 1, base64.b64decode(given.root))])


def test_a_log_written_anew_with_the_same_key_is_caught(tmp_path, catalogue):
    """Copied before the last order, which each then holds: same size, another root."""
    first = tmp_path / "a"
    first.mkdir()
    with Ledger.create(
        first / "shop.auditlog",
        shop="Example Yard Garage",
        person="mechanic-1",
        passphrase=PASSPHRASE,
    ) as log:
        close_another(log, catalogue, "RO-1")
    shutil.copytree(first, tmp_path / "b")
    packets = []
    for name in ("a", "b"):
        with Ledger.open(tmp_path / name / "shop.auditlog") as log:
            close_another(log, catalogue, "RO-2")
            packets.append(log.packet("RO-2"))
    kept = format_receipt(receipt_of(packets[0]))
    assert disagreements(packets[0], kept) == ()
    (line,) = disagreements(packets[1], kept)
    assert "the log was forked" in line


def test_a_log_written_anew_and_grown_does_not_agree_for_want_of_a_proof(
    tmp_path, catalogue
):
    """The shop need only leave the consistency proof out: no other line tells."""
    first, second = tmp_path / "a", tmp_path / "b"
    first.mkdir()
    log_file = "shop.auditlog"
    with Ledger.create(
        first / log_file,
        shop="Example Yard Garage",
        person="mechanic-1",
        passphrase=PASSPHRASE,
    ):
        pass
    shutil.copytree(first, second)
    with Ledger.open(first / log_file) as log:
        close_another(log, catalogue, "RO-1")
        kept = format_receipt(receipt_of(log.packet("RO-1")))
    with Ledger.open(second / log_file) as log:
        close_another(log, catalogue, "RO-1")
        close_another(log, catalogue, "RO-2")
        anew = parse_packet(log.packet("RO-1"))
    assert any(
        "had another root" in d for d in disagreements(format_packet(anew), kept)
    )
    forged = format_packet(dataclasses.replace(anew, earlier=()))
    assert verify_packet(forged).verified
    (problem,) = compare_with_receipt(forged, kept).problems
    assert problem.unmet is Unmet.REACH
    report = check_packet(
        GivenFile("packet", forged.encode()),
        expectations(receipt=GivenFile("receipt", kept.encode())),
    )
    assert not report.verified
    assert not any("the receipt agrees" in said for said in report.notes)


def words(page):
    pypdf = pytest.importorskip("pypdf")
    (only,) = pypdf.PdfReader(io.BytesIO(page)).pages
    return only.extract_text()


@pytest.fixture
def libraries():
    pytest.importorskip("typst")
    pytest.importorskip("segno")


@pytest.mark.usefixtures("libraries")
def test_the_page_is_the_same_bytes_when_made_again(receipt):
    page = receipt_pdf(receipt, MADE_AT)
    code = (
        "import sys; from auditkit.proof.receipt import parse_receipt; "
        "from auditkit.output.receipt_pdf import receipt_pdf; "
        "text = sys.stdin.buffer.read().decode(); "
        "sys.stdout.buffer.write(receipt_pdf(parse_receipt(text), sys.argv[1]))"
    )
    elsewhere = {"TZ": "Pacific/Auckland", "LC_ALL": "C", "SOURCE_DATE_EPOCH": "7"}
    again = subprocess.run(
        [sys.executable, "-c", code, MADE_AT],
        input=format_receipt(receipt).encode(),
        env=os.environ | elsewhere,
        capture_output=True,
        check=True,
    )
    assert again.stdout == page
    assert page != receipt_pdf(receipt, "2026-03-02T17:00:01+01:00")


@pytest.mark.usefixtures("libraries")
def test_the_page_says_when_it_was_made_and_what_standards_it_follows(receipt):
    """XMP names: ISO 19005-2 section 6.6.4, ISO 14289-1 section 5."""
    pypdf = pytest.importorskip("pypdf")
    file = pypdf.PdfReader(io.BytesIO(receipt_pdf(receipt, MADE_AT)))
    root = file.trailer["/Root"]
    said = root["/Metadata"].get_data().decode()
    for name, value in (
        ("pdfaid:part", "2"),
        ("pdfaid:conformance", "A"),
        ("pdfuaid:part", "1"),
    ):
        assert f"<{name}>{value}</{name}>" in said
    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"] == "en"
    assert file.metadata.title == f"Receipt for repair order {receipt.repair_order}"
    assert file.metadata.creation_date == datetime.fromisoformat(MADE_AT)
    assert file.metadata["/Keywords"].startswith("auditkit ")


@pytest.mark.usefixtures("libraries")
def test_the_page_says_all_of_the_receipt(receipt):
    odd = dataclasses.replace(
        receipt,
        origin="garage.example/" + "log" * 40,
        statement=(
            "Repair order RO-1 is unproven: something is missing.",
            "Fault codes: P0401.",
            "Bench test of coil-1 (winding) by mechanic-1: 1.2 k\u03a9.",
            "coil-1 was replaced by mechanic-1, \u20ac 5 \u2013 \u00fcber.",
            "coil-2 was cleaned by mechanic-1, \u4e2d\U0001f527, \u202egone.",
            "coil-3 was renewed by mechanic-1, #strong[$x$] `*a*` _b_ // c",
            "part-" + "long" * 40 + " was renewed by mechanic-1.",
            "blocking: x: y",
            "  what to do: z",
            "something else",
            DEFERS,
        ),
    )
    said = " ".join(words(receipt_pdf(odd, MADE_AT)).split())
    whole = said.replace(" ", "")  # words longer than a line are broken
    lacking = {c: f"<U+{ord(c):04X}>" for c in "\u4e2d\U0001f527\u202e"}
    for line in odd.statement:
        assert line.translate(str.maketrans(lacking)).replace(" ", "") in whole
    assert odd.origin in whole
    for value in (odd.log_key, odd.root, f"size {odd.size}", MADE_AT):
        assert value in said
    assert said.count(DEFERS) == 1
    assert said.endswith(DEFERS)
    assert "No self-test after the repair is stated." in said


@pytest.mark.usefixtures("libraries")
def test_the_code_carries_the_text_and_a_reader_of_codes_reads_it(receipt):
    """Read by zxing-cpp, an encoder and decoder of its own (ISO/IEC 18004)."""
    zxingcpp = pytest.importorskip("zxingcpp")
    image = pytest.importorskip("PIL.Image")
    for statement in (receipt.statement, ("10 k\u03a9",), ("long " * 400,)):
        made = dataclasses.replace(receipt, statement=statement)
        picture = io.BytesIO()
        receipt_code(made).save(picture, kind="png", scale=3, border=4)
        (found,) = zxingcpp.read_barcodes(image.open(picture))
        assert found.text == format_receipt(made)


@pytest.mark.usefixtures("libraries")
@pytest.mark.skipif(not shutil.which("pdftoppm"), reason="nothing draws a PDF here")
def test_the_code_is_read_off_the_drawn_page_in_grey(receipt, text, tmp_path):
    """Drawn by poppler at 150 dots an inch, read by zxing-cpp."""
    zxingcpp = pytest.importorskip("zxingcpp")
    image = pytest.importorskip("PIL.Image")
    (tmp_path / "r.pdf").write_bytes(receipt_pdf(receipt, MADE_AT))
    draw = ["pdftoppm", "-r", "150", "-gray", "-png", "-singlefile", "r.pdf", "r"]
    subprocess.run(draw, cwd=tmp_path, check=True)
    with image.open(tmp_path / "r.png") as picture:
        (found,) = zxingcpp.read_barcodes(picture)
    assert found.text == text


@pytest.mark.usefixtures("libraries")
@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"statement": ("x" * 3000,)}, "fits no QR code"),
        ({"statement": ("x",) * 150}, "longer than one page"),
        ({"origin": "o" * 1500}, "log's name is longer"),
    ],
)
def test_what_no_page_holds_is_refused_and_not_cut(receipt, change, said):
    with pytest.raises(InputError, match=said) as caught:
        receipt_pdf(dataclasses.replace(receipt, **change), MADE_AT)
    assert "--text" in caught.value.what_to_do


@pytest.mark.usefixtures("libraries")
def test_a_statement_of_any_length_is_whole_on_one_page_or_refused(receipt):
    refused = []
    for number in (0, 20, 34, *range(37, 42), 60):
        lines = tuple(f"line-{at} of the statement" for at in range(number))
        made = dataclasses.replace(receipt, statement=("The verdict.", *lines))
        try:
            said = words(receipt_pdf(made, MADE_AT))
        except InputError as error:
            assert "longer than one page" in error.message
            refused.append(number)
            continue
        assert all(line in said for line in lines), number
        assert not refused
    assert 36 < min(refused) < 50


@pytest.mark.usefixtures("libraries")
@pytest.mark.parametrize(
    "made_at",
    ["", "today", "2026-03-02T17:00:00", "9999-12-31T23:59:59-01:00"],
)
def test_a_time_without_its_offset_is_refused(receipt, made_at):
    with pytest.raises(InputError, match="no time with its offset"):
        receipt_pdf(receipt, made_at)


@pytest.mark.parametrize("name", ["typst", "segno"])
def test_a_missing_library_names_the_extra(receipt, monkeypatch, name):
    real = builtins.__import__

    def absent(wanted, *arguments, **how):
        if wanted == name:
            raise ImportError(wanted, name=wanted)
        return real(wanted, *arguments, **how)

    monkeypatch.setattr(builtins, "__import__", absent)
    with pytest.raises(InputError, match=f"library {name}, which is not") as caught:
        receipt_pdf(receipt, MADE_AT)
    assert ".[pdf]" in caught.value.what_to_do


@pytest.mark.usefixtures("libraries")
def test_the_command_writes_page_and_text_and_never_over_a_file(
    packet, text, tmp_path, monkeypatch
):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "p.json").write_text(packet)

    def run(*arguments):
        return CliRunner().invoke(receipt_command, ["p.json", *arguments])

    handed = "2126-03-02T17:00:00+01:00"
    done = run("--out", "r.pdf", "--text", "r.txt", "--made-at", handed)
    assert done.exit_code == 0, done.output
    assert (tmp_path / "r.txt").read_text() == text
    about = {
        "Shop": "Example Yard Garage",
        "Vehicle": "delivery van, 2012",
        "VIN": "0ZZTB1A18CA000123",
    }
    page = receipt_pdf(receipt_of(packet), handed, about)
    assert (tmp_path / "r.pdf").read_bytes() == page
    said = " ".join(words(page).split())
    assert (
        "Receipt for repair order RO-1 Shop: Example Yard Garage Vehicle: delivery "
        f"van, 2012 VIN: 0ZZTB1A18CA000123 Made at {handed}"
    ) in said
    assert "auditkit verify PACKET --receipt FILE" in said
    assert "Customer One" not in said
    (tmp_path / "r.pdf").unlink()
    early = run("--out", "r.pdf", "--made-at", MADE_AT)
    assert "before the verdict was recorded" in str(early.exception)
    assert not (tmp_path / "r.pdf").exists()
    (tmp_path / "r.pdf").write_bytes(page)
    for refused in (
        ("--out", "r.pdf"),
        ("--text", "r.txt"),
        ("--out", "a", "--text", "a"),
        (),
    ):
        assert isinstance(run(*refused).exception, InputError)
    assert sorted(p.name for p in tmp_path.glob("[ar].*")) == ["r.pdf", "r.txt"]


def test_the_checkpoint_root_is_spelled_as_the_checkpoint_spells_it(closed, receipt):
    opened = note.open_checkpoint(closed.checkpoint(), closed.log_key)
    spelled = f"{receipt.origin}\n{receipt.size}\n{receipt.root}\n"
    assert note.format_checkpoint(opened) == spelled


@pytest.mark.usefixtures("libraries")
def test_a_policy_that_asks_less_stands_with_the_verdict(receipt):
    told = f"{JUDGED_BY}1 rule (self-test-not-run) did not run."
    first, *others = receipt.statement
    said = words(
        receipt_pdf(
            dataclasses.replace(receipt, statement=(first, told, *others)), MADE_AT
        )
    )
    assert told in " ".join(said.split())
    assert said.index(JUDGED_BY[:20]) < said.index("The faults, and their")
