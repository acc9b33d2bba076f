"""The exhibit: pages for a lawyer that are what the attached packet makes."""

import builtins
import copy
import functools
import hashlib
import io
import json
import os
import re
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from importlib.resources import files
from pathlib import Path

import pytest
from click.testing import CliRunner
from conftest import PASSPHRASE, BlockingRules, forced, judge, small_record
from hypothesis import given
from hypothesis import strategies as st

from auditkit.bench import KINDS
from auditkit.cli.exhibit import exhibit_command
from auditkit.errors import InputError, KeyProblem, VerificationError
from auditkit.exhibit import exhibit_of, recorded_moment
from auditkit.exhibit.check_pdf import attached_packet, check_exhibit
from auditkit.exhibit.pdf import exhibit_pdf
from auditkit.log.ledger import Ledger
from auditkit.order.events import Event
from auditkit.order.record import Record, parse_record
from auditkit.plugin.loading import load_catalogue
from auditkit.proof.check_packet import verify_packet
from auditkit.reader.blocks import Fact, Facts
from auditkit.reader.story import Known, tell

pypdf = pytest.importorskip("pypdf")
pytest.importorskip("typst")

CATALOGUE = load_catalogue()

LONG = "x" * 400
ODD = (
    "Z\u00fcndspule 1.2 k\u03a9 \u00b1 0.1 \u2264 \u20ac, "
    "\u0440\u0435\u043c\u043e\u043d\u0442; \u6f22\u5b57 \U0001f600 \u0e44; "
    "\u05d0\u05d1\u05d2 \u0645\u0631\u062d\u0628\u0627; "
    f"turned \u202e round; #strong[not markup] $x$ @ref <label> \\ // {LONG}"
)
LACKING = ("<U+6F22>", "<U+5B57>", "<U+1F600>", "<U+0E44>", "<U+202E>")


def odd_record():
    """Return an invented record with texts that are hard to print."""
    record = small_record("RO-ODD")
    opening = {**record.events[0], "complaint": ODD}
    bench = {
        "kind": "bench_test",
        "at": "2026-03-02T08:30:00+01:00",
        "by": "mechanic-1",
        "part": "coil-1",
        "test": "winding",
        "result": {"name": "primary", "value": "0.912", "unit": "\u03a9"},
        "limit": {
            "minimum": "0.35",
            "maximum": "0.65",
            "unit": "\u03a9",
            "source": "table 7 of an invented book",
        },
        "readings": [{"name": "w" * 200, "value": "0.912", "unit": "\u03a9"}],
    }
    typed = {
        "kind": "self_test",
        "at": "2026-03-02T08:40:00+01:00",
        "by": "mechanic-1",
        "monitor": "misfire cylinder 1",
        "value": {"value": "3", "unit": "counts"},
        "minimum": {"value": "0", "unit": "counts"},
        "maximum": {"value": "7", "unit": "counts"},
        "outcome": "passed",
        "mid": "A2",
        "seen_on": "screen of a tool (invented)",
    }
    amendment = {
        "kind": "amendment",
        "at": "2026-03-02T09:30:00+01:00",
        "by": "mechanic-1",
        "corrects": 1,
        "why": "wrong tool named",
        "event": {**record.events[1], "tool": "the right tool"},
    }
    events = (opening, record.events[1], bench, typed, amendment)
    return Record("RO-ODD", events)


@pytest.fixture(scope="module")
def packets(tmp_path_factory):
    """Packets of the demo's orders, judged by the shop rules, and of the odd one."""
    path = tmp_path_factory.mktemp("exhibit") / "shop.auditlog"
    made = {}
    with Ledger.create(
        path,
        shop="Example Yard Garage (invented)",
        person="mechanic-1",
        passphrase=PASSPHRASE,
    ) as log:
        for order in ("RO-1001", "RO-1002", "RO-1003"):
            source = files("auditkit_demo") / f"{order}.json"
            record = parse_record(source.read_bytes(), CATALOGUE)
            close(log, CATALOGUE, record)
            made[order] = log.packet(order).encode()
        close(log, load_catalogue({"tests": BlockingRules}), odd_record())
        made["RO-ODD"] = log.packet("RO-ODD").encode()
        made["named"] = log.packet("RO-ODD", reveal=["customer.name"]).encode()
    return made


def close(log, catalogue, record):
    judgement = judge(catalogue, record)
    reason = "for a test" if judgement.blocking else None
    log.record(record, judgement, passphrase=PASSPHRASE, unproven_reason=reason)


@pytest.fixture(scope="module")
def packet(packets):
    return packets["RO-1001"]


@pytest.fixture(scope="module")
def pdf(packet):
    return exhibit_pdf(packet, CATALOGUE)


@pytest.fixture(scope="module")
def odd(packets):
    return exhibit_pdf(packets["RO-ODD"], CATALOGUE)


def words(pdf):
    """Return the text of all pages without any white space."""
    pages = pypdf.PdfReader(io.BytesIO(pdf)).pages
    return "".join("".join(p.extract_text() for p in pages).split())


def tight(text):
    return "".join(text.split())


def test_the_attached_packet_is_the_packet_and_verifies(packet, pdf):
    assert attached_packet(pdf) == packet
    assert verify_packet(attached_packet(pdf)).verified
    (name,) = pypdf.PdfReader(io.BytesIO(pdf)).attachments
    assert name == "packet.json"


def test_the_same_packet_gives_the_same_bytes_anywhere(packet, pdf, tmp_path):
    assert exhibit_pdf(packet, CATALOGUE) == pdf
    (tmp_path / "another name.json").write_bytes(packet)
    code = (
        "import pathlib, sys; from auditkit.exhibit.pdf import exhibit_pdf; "
        "from auditkit.plugin.loading import load_catalogue; "
        "packet = pathlib.Path(sys.argv[1]).read_bytes(); "
        "sys.stdout.buffer.write(exhibit_pdf(packet, load_catalogue()))"
    )
    elsewhere = {"TZ": "Pacific/Auckland", "LC_ALL": "C", "SOURCE_DATE_EPOCH": "7"}
    again = subprocess.run(
        [sys.executable, "-c", code, "another name.json"],
        cwd=tmp_path,
        env=os.environ | elsewhere,
        capture_output=True,
        check=True,
    )
    assert again.stdout == pdf


@pytest.mark.parametrize("order", ["RO-1001", "RO-1002", "RO-1003", "RO-ODD"])
def test_the_pages_say_what_was_signed(packets, order):
    content = json.loads(packets[order])
    said = words(exhibit_pdf(packets[order], CATALOGUE))
    origin, size, root = content["checkpoint"].split("\n")[:3]
    report = verify_packet(packets[order])
    fingerprint = report.log_key
    digest = hashlib.sha256(packets[order]).hexdigest()
    for exact in (
        *content["statement"],
        *report.notes,
        origin,
        root,
        fingerprint,
        digest,
    ):
        assert tight(exact) in said, exact
    first = pypdf.PdfReader(io.BytesIO(exhibit_pdf(packets[order], CATALOGUE))).pages[0]
    assert digest in first.extract_text()  # whole, to be copied
    assert said.count(digest) >= 4  # on its own, in the certification, on each page
    assert said.index(tight(content["statement"][0])) < said.index("Thepacketverified")
    assert f"Checkpoint:size:{size}entr" in said
    for line in content["entries"]:
        payload = line["payload"]
        assert f"Entry{payload['seq']}:" in said
        assert tight(payload["recorded_at"]) in said
        assert payload["key"] in said


def test_bench_tests_self_tests_and_cautions_stand_with_their_limits(pdf, odd):
    """Values as the demo's record has them (invented), and as a person typed them."""
    said = words(pdf)
    for text in (
        "end pressure 6.52 +/- 0.75 inHg (vacuum)",
        "at least 15.0 inHg",
        "vehicle maker's service information (invented for this demo)",
        "start pressure 18.0 inHg",
        "7E8 31/81: EGR bank 1 2.14 3.50 none kPa failed",
        "7E8 31/81: EGR bank 1 6.12 3.50 none kPa passed",
        "Caution acknowledged: hot-exhaust",
        "Precondition: surface temperature: 34 degC",
        "VIN: 0ZZTB1A18CA000123",
        "Confirmed fault codes: P0401 (7E8)",
    ):
        assert tight(text) in said, text
    said = words(odd)
    for text in (
        "Measured: primary: 0.912 \u03a9",
        "it should be at least 0.35 \u03a9 and at most 0.65 \u03a9",
        "Source of the limit: table 7 of an invented book",
        "Typed by hand, not read from the vehicle",
        "misfire cylinder 1 3 counts 0 counts 7 counts passed",
        "Seen on: screen of a tool (invented)",
    ):
        assert tight(text) in said, text


def test_a_correction_names_the_entry_and_stands_at_it(odd, packets):
    entries = [e["payload"] for e in json.loads(packets["RO-ODD"])["entries"]]
    own = [p["seq"] for p in entries if p["repair_order"]]
    said = words(odd)
    assert f"CorrectionofEntry{own[1]}".lower() in said.lower()
    assert f"Correctedlater,byentry{own[4]}." in said
    assert "Tool:therighttool" in said


def test_hard_texts_are_printed_or_named_and_never_vanish(odd):
    said = words(odd)
    for text in ("Z\u00fcndspule1.2k\u03a9\u00b10.1\u2264\u20ac", "\u0440\u0435\u043c"):
        assert text in said
    for code in LACKING:
        assert code in said
    assert "#strong[notmarkup]$x$@ref<label>\\//" in said
    assert LONG in said
    lines = [
        line
        for page in pypdf.PdfReader(io.BytesIO(odd)).pages
        for line in page.extract_text().splitlines()
    ]
    assert max(map(len, lines)) < 200  # a longer one would run off the paper
    for letter in "\u05d0\u05d1\u05d2":
        assert letter in said


def test_a_withheld_name_is_nowhere_and_a_disclosed_one_is_shown(odd, packets):
    assert b"Customer One" not in packets["RO-ODD"]
    assert "CustomerOne" not in words(odd)
    assert "Customer:name:CustomerOne(invented)" in words(
        exhibit_pdf(packets["named"], CATALOGUE)
    )
    said = "customer.contact, customer.name, vehicle.plate (withheld, or never written)"
    assert tight(f"Withheld in the opening entry: {said}") in words(odd)


def test_the_certification_is_unsigned_and_says_so(pdf, packet):
    """Wording checked against rule 902(13), (14) and 28 U.S.C. 1746, as reprinted."""
    said = words(pdf)
    for text in (
        "Not certified. Nothing on these pages is certified until a person",
        "no legal advice",
        "A lawyer decides",
        "rule 902(14)",
        "rule 902(13)",
        "28 U.S.C. 1746",
        "Each numbered statement must be true of the own knowledge of the person",
        "produces an accurate result",
        "I declare under penalty of perjury that the foregoing is true and correct",
        "Qualifications and experience",
        "Signature:",
        f"Length: {len(packet)} bytes",
        "it proves only that it is consistent",
        "Entries written to this repair order after the verdict are not seen",
        "Every time here is a claim",
    ):
        assert tight(text) in said, text


def test_the_file_is_marked_as_pdf_a_3a_and_pdf_ua_1(pdf, packet):
    """ISO 19005-3 (A: 6.6.4, 6.7.2, 6.8) and ISO 14289-1 (5, 7.1), read from memory.

    No validator of the whole standards is at hand here; the typesetter refuses by
    itself what it knows to break them. These are the marks that a reader looks for.
    """
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    root = reader.trailer["/Root"]
    metadata = root["/Metadata"].get_data().decode()
    for mark in ("pdfaid:part>3", "pdfaid:conformance>A", "pdfuaid:part>1"):
        assert mark in metadata, mark
    assert not reader.is_encrypted
    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"] == "en"
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]
    assert root["/OutputIntents"][0]["/S"] == "/GTS_PDFA1"
    assert reader.metadata.title == "Exhibit: repair order RO-1001"
    (file,) = root["/AF"]
    assert file["/AFRelationship"] == "/Source"
    embedded = file["/EF"]["/F"]
    assert embedded["/Subtype"] == "/application/json"
    assert embedded.get_data() == packet
    kinds = {str(o.get("/S")) for o in structure(root["/StructTreeRoot"])}
    assert {"/Document", "/H1", "/H2", "/Table", "/TH", "/TD", "/L"} <= kinds
    embedded_fonts = 0
    for page in reader.pages:
        for font in page["/Resources"].get("/Font", {}).values():
            assert "/ToUnicode" in font.get_object()
            (inner,) = font["/DescendantFonts"]
            assert {"/FontFile2", "/FontFile3"} & inner["/FontDescriptor"].keys()
            embedded_fonts += 1
    assert embedded_fonts > len(reader.pages)


def structure(node):
    """Yield every element of a structure tree."""
    node = node.get_object()
    if isinstance(node, list):
        for item in node:
            yield from structure(item)
    elif isinstance(node, dict):
        yield node
        if "/K" in node:
            yield from structure(node["/K"])


def test_the_only_date_is_the_verdicts(pdf, packet):
    verdict = json.loads(packet)["entries"][-1]["payload"]
    moment = datetime.fromisoformat(verdict["recorded_at"]).astimezone(UTC)
    dates = re.findall(rb"\(D:(\d{14})Z?", pdf)
    dates += [d.encode() for d in re.findall(r"D:(\d{14})", str(attached_dates(pdf)))]
    assert dates
    assert set(dates) == {moment.strftime("%Y%m%d%H%M%S").encode()}
    assert exhibit_of(packet, CATALOGUE, version="0").dated == datetime.fromisoformat(
        verdict["recorded_at"]
    )


def attached_dates(pdf):
    root = pypdf.PdfReader(io.BytesIO(pdf)).trailer["/Root"]
    return root["/AF"][0]["/EF"]["/F"].get("/Params", {})


def test_a_kind_and_a_member_that_nobody_knows_are_told():
    strange = {"kind": "strange", "at": "t", "by": "b", "colour": {"a_b": ["1", 2]}}
    title, blocks = tell(Event(0, strange), Known(str, KINDS))
    assert "strange" in title
    assert blocks == [Facts((Fact("Colour", "a b 1, 2"),))]
    repair = {"kind": "repair", "part": "p", "action": "cleaned", "new_thing": True}
    assert tell(Event(0, repair), Known(str, KINDS))[1] == [
        Facts((Fact("New thing", "yes"),))
    ]


def odd_events():
    """Return events that no schema lets pass, as a stranger's own software may sign."""
    demo = json.loads((files("auditkit_demo") / "RO-1001.json").read_text("utf-8"))
    bench = next(e for e in demo["events"] if e["kind"] == "bench_test")
    zero, noon, nameless = (copy.deepcopy(bench) for _ in range(3))
    zero["instruments"][0]["specification"]["certificate_k"] = "0"
    noon["at"] = "noon"
    del nameless["instruments"][0]["id"]
    return (zero, noon, nameless)


SAID = (
    "certificate_k is not above zero",
    "made at 'noon', which is no time",
    "an instrument has no id",
)


@pytest.fixture(scope="module")
def forged(tmp_path_factory):
    """The log and the packet of an order whose signed events are odd."""
    path = tmp_path_factory.mktemp("forged") / "shop.auditlog"
    record = small_record("RO-9")
    events = [dict(record.events[0]), *odd_events()]
    verdict = {
        "kind": "verdict",
        "at": "2026-03-02T10:00:00+01:00",
        "by": "mechanic-1",
        "verdict": "proven",
        "findings": [],
        "rules": [],
        "policy_sha256": "0" * 64,
        "statement": ["Repair order RO-9 is proven."],
    }
    with Ledger.create(
        path, shop="Stranger (invented)", person="mechanic-1", passphrase=PASSPHRASE
    ) as log:
        signer = log.signer("mechanic-1", PASSPHRASE)
        seqs = forced(log, "RO-9", events, "mechanic-1", signer)
        forced(log, "RO-9", [{**verdict, "judged": seqs}], "mechanic-1", signer)
        # an order of its own brings the checkpoint that covers them
        close(log, load_catalogue({"tests": BlockingRules}), small_record("RO-8"))
        return path, log.packet("RO-9").encode()


def test_odd_events_of_a_stranger_are_told_and_never_a_traceback(forged, run):
    log, packet = forged
    assert verify_packet(packet).verified, verify_packet(packet).problems
    facts = [
        fact.value
        for block in exhibit_of(packet, CATALOGUE, version="test").blocks
        if isinstance(block, Facts)
        for fact in block.rows
    ]
    for said in SAID:
        assert [f for f in facts if f.startswith("not computed: ") and said in f], said
    Path("p.json").write_bytes(packet)
    for arguments in (
        ("exhibit", "p.json", "--out", "e.pdf"),
        ("receipt", "p.json", "--text", "r.txt"),
        ("verify", "p.json"),
        ("show", "RO-9", "--log", str(log)),
    ):
        status, _, err = run(*arguments)
        assert (status, err) == (0, ""), arguments


ODD_VALUES = st.sampled_from(
    [
        *("", "noon", "0", "-1", "1/0", "1e999999999", "nan", 7, 0, None, True),
        *([], {}, [{}], [[]], {"value": "x", "unit": 1}, {"kind": "amendment"}),
    ]
)
DEMO = tuple(
    event
    for order in ("RO-1001", "RO-1002", "RO-1003")
    for event in json.loads(
        (files("auditkit_demo") / f"{order}.json").read_text("utf-8")
    )["events"]
)


def places(value, path=()):
    """Yield the path of every member of a JSON value."""
    if path:
        yield path
    members = value.items() if isinstance(value, dict) else ()
    for name, item in enumerate(value) if isinstance(value, list) else members:
        yield from places(item, (*path, name))


@given(st.sampled_from(DEMO), st.data())
def test_whatever_one_member_of_an_event_is_it_is_told(event, data):
    event = copy.deepcopy(event)
    *path, last = data.draw(st.sampled_from(list(places(event))))
    place = functools.reduce(lambda value, name: value[name], path, event)
    if data.draw(st.booleans()):
        place[last] = data.draw(ODD_VALUES)
    else:
        del place[last]
    title, _ = tell(Event(0, event), Known(str, KINDS))
    assert title


@pytest.mark.parametrize("recorded", ["noon", "2026-03-02T10:00:00", ""])
def test_a_verdict_recorded_at_no_time_is_refused(recorded):
    with pytest.raises(VerificationError, match="which is no time") as raised:
        recorded_moment(recorded, "p.json")
    assert raised.value.where == "p.json"
    assert raised.value.what_to_do


def outcome(pdf):
    """Return what the check says of a file, None where it refuses it."""
    try:
        return check_exhibit(pdf, CATALOGUE).signatures
    except (InputError, VerificationError):
        return None


def flipped(pdf, place):
    changed = bytearray(pdf)
    changed[place] ^= 1
    return bytes(changed)


@pytest.fixture
def remembered(monkeypatch):
    """Make each packet's pages once: that they are the same twice is tested above."""
    monkeypatch.setattr(
        "auditkit.exhibit.check_pdf.exhibit_pdf", functools.cache(exhibit_pdf)
    )


def lie(packet, old, new):
    assert old in packet
    return packet.replace(old, new, 1)


def test_an_altered_packet_makes_no_exhibit_and_every_reason_is_told(packet):
    altered = lie(packet, b"delivery van", b"delivery vaN")
    with pytest.raises(VerificationError, match="does not verify: entry 2: ") as caught:
        exhibit_pdf(altered, CATALOGUE, where="p.json")
    assert caught.value.where == "p.json"
    assert len(verify_packet(altered).problems) > 1
    for problem in verify_packet(altered).problems:
        assert problem.problem in caught.value.message
    with pytest.raises(InputError):
        exhibit_pdf(b"{}", CATALOGUE)


def test_check_says_yes_to_what_the_packet_makes(pdf, packet):
    checked = check_exhibit(pdf, CATALOGUE)
    assert checked.packet == packet
    assert checked.sha256 == hashlib.sha256(packet).hexdigest()
    assert checked.signatures == ()


def edited(pdf, change):
    """Return a PDF as a common editor writes it anew after ``change``."""
    writer = pypdf.PdfWriter(clone_from=io.BytesIO(pdf))
    change(writer)
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


def test_an_altered_attachment_is_found(pdf, packet):
    altered = lie(packet, b"delivery van", b"delivery vaN")

    def change(writer):
        file = writer.root_object["/AF"][0]["/EF"].raw_get("/F").get_object()
        file.set_data(altered)

    found = edited(pdf, change)
    assert attached_packet(found) == altered
    with pytest.raises(VerificationError, match="does not verify"):
        check_exhibit(found, CATALOGUE)


def test_another_packet_behind_the_same_pages_is_found(pdf, packets):
    def change(writer):
        file = writer.root_object["/AF"][0]["/EF"].raw_get("/F").get_object()
        file.set_data(packets["RO-1002"])

    with pytest.raises(VerificationError, match="byte for byte"):
        check_exhibit(edited(pdf, change), CATALOGUE)


def test_changed_pages_around_the_same_packet_are_found(pdf, packet):
    """The first page is replaced by the second: an editor's work, not a broken file."""

    def change(writer):
        writer.remove_page(0)

    found = edited(pdf, change)
    assert attached_packet(found) == packet
    with pytest.raises(VerificationError, match="it was altered, though its packet"):
        check_exhibit(found, CATALOGUE)


def test_another_version_is_named_where_the_bytes_differ(packet, pdf, monkeypatch):
    monkeypatch.setattr("auditkit.exhibit.pdf.makers", lambda: ("9.9", "8.8"))
    other = exhibit_pdf(packet, CATALOGUE)
    monkeypatch.undo()
    assert other != pdf
    with pytest.raises(VerificationError, match=r"says of itself auditkit 9\.9"):
        check_exhibit(other, CATALOGUE)


def test_something_appended_is_found(pdf):
    pytest.importorskip("pyhanko")
    with pytest.raises(VerificationError, match="no signature"):
        check_exhibit(pdf + b"\n% a line more\n", CATALOGUE)


@pytest.mark.usefixtures("remembered")
def test_flipped_bytes_are_caught(pdf):
    places = range(0, len(pdf), len(pdf) // 60)
    assert [p for p in places if outcome(flipped(pdf, p)) is not None] == []


@pytest.mark.parametrize(
    "file", [b"", b"%PDF-1.7\n", b"no pdf", b"%PDF-1.7\n" + b"\xff" * 2000]
)
def test_what_is_no_pdf_is_one_clear_error(file):
    with pytest.raises(InputError) as caught:
        check_exhibit(file, CATALOGUE, where="f.pdf")
    assert caught.value.where == "f.pdf"
    assert caught.value.what_to_do


def test_a_pdf_without_a_packet_is_one_clear_error():
    out = io.BytesIO()
    writer = pypdf.PdfWriter()
    writer.add_blank_page(100, 100)
    writer.write(out)
    with pytest.raises(InputError, match="no packet is attached: printing"):
        check_exhibit(out.getvalue(), CATALOGUE)


@pytest.mark.parametrize("name", ["typst", "pypdf"])
def test_a_missing_library_names_the_extra(packet, pdf, monkeypatch, name):
    hide(monkeypatch, name)
    with pytest.raises(InputError, match=f"library {name}, which is not") as caught:
        exhibit_pdf(packet, CATALOGUE) if name == "typst" else check_exhibit(
            pdf, CATALOGUE
        )
    assert ".[pdf]" in caught.value.what_to_do


def hide(monkeypatch, name):
    real = builtins.__import__

    def absent(wanted, *arguments, **how):
        if wanted.partition(".")[0] == name:
            raise ImportError(wanted, name=name)
        return real(wanted, *arguments, **how)

    monkeypatch.setattr(builtins, "__import__", absent)


def key_file(passphrase=b"word"):
    """Return a PKCS#12 file of an authority and a signer made here."""
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes, serialization
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.hazmat.primitives.serialization import pkcs12
    from cryptography.x509.oid import NameOID

    def name(text):
        return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, text)])

    def certificate(subject, key, issuer, issuer_key, *, authority):
        now = datetime.now(UTC)
        usage = x509.KeyUsage(
            digital_signature=not authority,
            content_commitment=not authority,
            key_encipherment=False,
            data_encipherment=False,
            key_agreement=False,
            key_cert_sign=authority,
            crl_sign=authority,
            encipher_only=False,
            decipher_only=False,
        )
        return (
            x509.CertificateBuilder()
            .subject_name(name(subject))
            .issuer_name(name(issuer))
            .public_key(key.public_key())
            .serial_number(x509.random_serial_number())
            .not_valid_before(now - timedelta(days=1))
            .not_valid_after(now + timedelta(days=30))
            .add_extension(x509.BasicConstraints(authority, None), critical=True)
            .add_extension(usage, critical=True)
            .sign(issuer_key, hashes.SHA256())
        )

    root_key, key = (ec.generate_private_key(ec.SECP256R1()) for _ in range(2))
    root = certificate(
        "Root (invented)", root_key, "Root (invented)", root_key, authority=True
    )
    leaf = certificate(
        "Signer (invented)", key, "Root (invented)", root_key, authority=False
    )
    return pkcs12.serialize_key_and_certificates(
        b"signer", key, leaf, [root], serialization.BestAvailableEncryption(passphrase)
    ), root


@pytest.fixture(scope="module")
def keys():
    return key_file()


@pytest.fixture(scope="module")
def signed(pdf, keys):
    pytest.importorskip("pyhanko")
    from auditkit.exhibit.pades import sign_pdf

    return sign_pdf(pdf, keys[0], b"word")


def test_a_signed_exhibit_begins_with_the_unsigned_one_and_holds(pdf, signed, packet):
    assert signed.startswith(pdf)
    assert len(signed) > len(pdf)
    checked = check_exhibit(signed, CATALOGUE)
    assert checked.packet == packet
    (line,) = checked.signatures
    assert "Signer (invented)" in line
    assert "not judged" in line
    metadata = pypdf.PdfReader(io.BytesIO(signed)).trailer["/Root"]["/Metadata"]
    assert 'pdfaid:part="3"' in metadata.get_data().decode()


def test_pyhanko_trusts_the_signature_under_the_tests_own_root(signed, keys):
    """pyHanko's validation (ETSI EN 319 102-1): intact, valid, trusted, whole file."""
    from asn1crypto import x509
    from cryptography.hazmat.primitives.serialization import Encoding
    from pyhanko.pdf_utils.reader import PdfFileReader
    from pyhanko.sign.validation import validate_pdf_signature
    from pyhanko_certvalidator import ValidationContext

    (found,) = PdfFileReader(io.BytesIO(signed)).embedded_signatures
    root = x509.Certificate.load(keys[1].public_bytes(Encoding.DER))
    context = ValidationContext(trust_roots=[root], allow_fetching=False)
    status = validate_pdf_signature(found, context)
    assert status.bottom_line
    assert status.coverage.name == "ENTIRE_FILE"
    assert found.sig_object["/SubFilter"] == "/ETSI.CAdES.detached"


@pytest.mark.usefixtures("remembered")
def test_flipped_bytes_of_a_signed_exhibit_are_caught(pdf, signed):
    """Every byte but the signature value's own is under the signature (ISO 32000-2,
    12.8.1); in that value, padding and the authority's certificate are not, and a
    change there changes nothing that is said.
    """
    hole = re.search(rb"/Contents <([0-9a-fA-F]+)>", signed[len(pdf) :])
    start, end = (len(pdf) + place for place in hole.span(1))
    places = [*range(0, len(pdf), len(pdf) // 8), *range(len(pdf), start, 499)]
    places += range(end, len(signed), 61)
    assert [p for p in places if outcome(flipped(signed, p)) is not None] == []
    held = check_exhibit(signed, CATALOGUE).signatures
    inside = {outcome(flipped(signed, p)) for p in range(start, end, 311)}
    assert None in inside
    assert inside <= {None, held}


def appended(pdf, change):
    """Return a PDF with an incremental update that ``change`` makes."""
    from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter

    writer = IncrementalPdfFileWriter(io.BytesIO(pdf))
    change(writer)
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


def other_text(writer):
    from pyhanko.pdf_utils import generic

    page = writer.root["/Pages"]
    while page["/Type"] != "/Page":
        page = page["/Kids"][0]
    text = generic.StreamObject(stream_data=b"BT ET")
    page["/Contents"] = writer.add_object(text)
    writer.update_container(page)


def start_action(writer):
    from pyhanko.pdf_utils import generic

    writer.root["/OpenAction"] = generic.DictionaryObject(
        {generic.pdf_name("/S"): generic.pdf_name("/Launch")}
    )
    writer.update_root()


def visible_note(writer):
    from pyhanko.pdf_utils import generic

    page = writer.root["/Pages"]
    while page["/Type"] != "/Page":
        page = page["/Kids"][0]
    name = generic.pdf_name
    note = generic.DictionaryObject(
        {
            name("/Type"): name("/Annot"),
            name("/Subtype"): name("/FreeText"),
            name("/Rect"): generic.ArrayObject(
                generic.NumberObject(n) for n in (50, 700, 400, 800)
            ),
            name("/Contents"): generic.TextStringObject("PROVEN"),
        }
    )
    page["/Annots"] = generic.ArrayObject([writer.add_object(note)])
    writer.update_container(page)


@pytest.mark.parametrize("change", [other_text, start_action, visible_note])
def test_an_update_that_changes_pages_and_is_then_signed_is_refused(pdf, keys, change):
    """The first bytes are the true exhibit; the signature holds; the pages lie."""
    pytest.importorskip("pyhanko")
    from auditkit.exhibit.pades import sign_pdf

    forged = sign_pdf(appended(pdf, change), keys[0], b"word")
    assert forged.startswith(pdf)
    with pytest.raises(VerificationError, match="more than a signature"):
        check_exhibit(forged, CATALOGUE)


def by_hand(pdf, objects, order):
    """Return the PDF with an update whose table lists ``objects`` in this order.

    ``objects`` are (number, body); ISO 32000-1 section 7.5.6 is the form.
    """
    import re

    from pyhanko.pdf_utils.reader import PdfFileReader

    reader = PdfFileReader(io.BytesIO(pdf))
    trailer, out, places = reader.trailer, bytearray(pdf), []
    for number, body in objects:
        places.append(len(out))
        out += b"%d 0 obj\n%b\nendobj\n" % (number, body)
    table = len(out)
    out += b"xref\n"
    for at in order:
        out += b"%d 1\n%010d 00000 n \n" % (objects[at][0], places[at])
    ident = re.search(rb"/ID ?\[.*?\]", pdf[-2000:])[0]
    before = int(re.findall(rb"startxref\s+(\d+)", pdf)[-1])
    out += b"trailer\n<< /Size %d /Root %d 0 R /Info %d 0 R /Prev %d %b >>\n" % (
        int(trailer["/Size"]) + 5,
        trailer.raw_get("/Root").idnum,
        trailer.raw_get("/Info").idnum,
        before,
        ident,
    )
    out += b"startxref\n%d\n%%%%EOF\n" % table
    return bytes(out)


def body_of(value):
    made = io.BytesIO()
    value.write_to_stream(made, None)
    return made.getvalue()


@pytest.mark.parametrize("order", [(0, 1, 2), (1, 0, 2)])
def test_an_update_that_lists_a_page_twice_is_refused(pdf, keys, order):
    """Of two spellings one reader takes the first, another the last."""
    pytest.importorskip("pyhanko")
    from pyhanko.pdf_utils import generic
    from pyhanko.pdf_utils.reader import PdfFileReader

    from auditkit.exhibit.pades import sign_pdf

    reader = PdfFileReader(io.BytesIO(pdf))
    page = reader.root["/Pages"]
    while page["/Type"] != "/Page":
        page = page["/Kids"][0]
    size = int(reader.trailer["/Size"])
    forged = generic.DictionaryObject({key: page.raw_get(key) for key in page})
    forged[generic.pdf_name("/Contents")] = generic.IndirectObject(size + 1, 0, None)
    number = page.container_ref.idnum
    black = b"0 0 0 rg 0 0 700 900 re f"
    objects = [
        (number, body_of(page)),
        (number, body_of(forged)),
        (size + 1, b"<< /Length %d >>\nstream\n%b\nendstream" % (len(black), black)),
    ]
    made = sign_pdf(by_hand(pdf, objects, order), keys[0], b"word")
    with pytest.raises(VerificationError, match="lists an object twice"):
        check_exhibit(made, CATALOGUE)


def test_an_update_of_the_title_in_its_metadata_is_refused(pdf, keys):
    """A reader shows it in the window's title: ISO 32000-1 section 12.2."""
    pytest.importorskip("pyhanko")
    from pyhanko.pdf_utils.reader import PdfFileReader

    from auditkit.exhibit.pades import sign_pdf

    root = PdfFileReader(io.BytesIO(pdf)).root
    true = root["/Metadata"].data
    false = true.replace(b"Exhibit: repair order", b"PROVEN by the court:")
    assert false != true
    head = b"<< /Type /Metadata /Subtype /XML /Length %d >>" % len(false)
    body = b"%b\nstream\n%b\nendstream" % (head, false)
    objects = [(root.raw_get("/Metadata").idnum, body)]
    made = sign_pdf(by_hand(pdf, objects, (0,)), keys[0], b"word")
    with pytest.raises(VerificationError, match="changes what it says of itself"):
        check_exhibit(made, CATALOGUE)


def test_an_update_after_the_signature_is_refused(signed):
    with pytest.raises(VerificationError):
        check_exhibit(appended(signed, lambda writer: writer.update_root()), CATALOGUE)


@pytest.mark.parametrize(
    ("data", "word"), [(None, b"wrong"), (b"no key", b"word"), (b"", b"word")]
)
def test_a_key_that_cannot_be_opened_is_one_clear_error(pdf, keys, data, word):
    pytest.importorskip("pyhanko")
    from auditkit.exhibit.pades import sign_pdf

    with pytest.raises(KeyProblem) as caught:
        sign_pdf(pdf, keys[0] if data is None else data, word, where="k.p12")
    assert caught.value.where == "k.p12"


def test_signing_without_its_library_names_the_extra(pdf, keys, signed, monkeypatch):
    from auditkit.exhibit.pades import sign_pdf

    hide(monkeypatch, "pyhanko")
    monkeypatch.delitem(sys.modules, "auditkit.exhibit.appended", raising=False)
    for attempt in (
        lambda: sign_pdf(pdf, keys[0], b"word"),
        lambda: check_exhibit(signed, CATALOGUE),
    ):
        with pytest.raises(InputError, match="not installed") as caught:
            attempt()
        assert ".[sign]" in caught.value.what_to_do
    assert check_exhibit(pdf, CATALOGUE).signatures == ()


def test_the_command_makes_checks_and_never_writes_over(
    packet, pdf, keys, tmp_path, monkeypatch
):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "p.json").write_bytes(packet)
    (tmp_path / "bad.json").write_bytes(lie(packet, b"delivery van", b"delivery vaN"))
    (tmp_path / "k.p12").write_bytes(keys[0])
    (tmp_path / "word").write_text("word\n")

    def run(*arguments):
        return CliRunner().invoke(exhibit_command, arguments)

    done = run("p.json", "--out", "e.pdf")
    assert done.exit_code == 0, done.output
    assert (tmp_path / "e.pdf").read_bytes() == pdf
    done = run("--check", "e.pdf")
    assert done.exit_code == 0, done.output
    assert "byte for byte" in done.output.splitlines()[0]
    fingerprint = verify_packet(packet).log_key
    assert run("--check", "e.pdf", "--key", fingerprint).exit_code == 0
    refused = run("--check", "e.pdf", "--key", "A" * 43)
    assert isinstance(refused.exception, VerificationError)
    assert isinstance(run("bad.json", "--out", "b.pdf").exception, VerificationError)
    for arguments in (
        (),
        ("p.json",),
        ("p.json", "--out", "e.pdf"),
        ("p.json", "--check", "e.pdf"),
        ("--check", "e.pdf", "--sign", "k.p12"),
        ("gone.json", "--out", "g.pdf"),
        ("--check", "p.json"),
    ):
        assert isinstance(run(*arguments).exception, InputError), arguments
    assert sorted(p.name for p in tmp_path.glob("*.pdf")) == ["e.pdf"]


def test_the_command_signs(packet, pdf, keys, tmp_path, monkeypatch):
    pytest.importorskip("pyhanko")
    monkeypatch.chdir(tmp_path)
    (tmp_path / "p.json").write_bytes(packet)
    (tmp_path / "k.p12").write_bytes(keys[0])
    (tmp_path / "word").write_text("word\n")
    sign = ("p.json", "--out", "s.pdf", "--sign", "k.p12", "--passphrase-file", "word")
    done = CliRunner().invoke(exhibit_command, sign)
    assert done.exit_code == 0, done.output
    assert (tmp_path / "s.pdf").read_bytes().startswith(pdf)
    done = CliRunner().invoke(exhibit_command, ["--check", "s.pdf"])
    assert done.exit_code == 0, done.output
    assert "Signer (invented)" in done.output
