"""A receipt's text: short, written in one way, and put right after it was copied."""

import base64
import dataclasses
import hashlib
import re
from urllib.parse import unquote

import pytest
from conftest import PASSPHRASE, judge, small_record

from auditkit.errors import InputError
from auditkit.proof import note
from auditkit.proof.receipt import (
    MAX_RECEIPT,
    as_written,
    digest_of_entries,
    digest_of_lines,
    format_receipt,
    is_receipt,
    parse_receipt,
    receipt_address,
)
from auditkit.reader.hold_receipt import receipt_of

PAGE = "https://checker.example/check.html"


@pytest.fixture
def receipt(closed):
    return receipt_of(closed.packet("RO-1"))


@pytest.fixture
def text(receipt):
    return format_receipt(receipt)


def test_round_trip(receipt, text):
    assert text.startswith("auditkit/receipt@1\nrepair_order: RO-1\norigin: ")
    assert text.count("\n") == 9
    assert parse_receipt(text) == receipt


def test_the_digests_are_sha_256_as_anybody_computes_it():
    """FIPS 180-4's answer for "abc", and RFC 8785 of a list by hand."""
    known = "ungWv48Bz-pBQUDeXa4iI7ADYaOWF3qctBD_YfIAFa0"  # base64url, RFC 4648
    assert digest_of_entries([b"a", b"bc"]) == known
    by_hand = hashlib.sha256('["\u00e9","b\\n"]'.encode()).digest()
    made = base64.urlsafe_b64encode(by_hand).decode().rstrip("=")
    assert digest_of_lines(["\u00e9", "b\n"]) == made


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
        lambda t: t.replace("repair_order: RO-1\n", "repair_order: RO 1\n"),
        lambda t: t.replace("repair_order: RO-1\n", "repair_order: RO-1\u200b\n"),
        lambda t: t.replace("repair_order: RO-1\n", "repair_order: RO-1\n" * 2),
        lambda t: t.replace("checkpoint_size: 8", "checkpoint_size: 08"),
        lambda t: t.replace("checkpoint_size: 8", "checkpoint_size: \u0668"),
        lambda t: t.replace("checkpoint_size: 8", "checkpoint_size: -8"),
        lambda t: t.replace("checkpoint_size: 8", "checkpoint_size: 0"),
        lambda t: t.replace("checkpoint_size: 8", "checkpoint_size: " + "9" * 500),
        lambda t: t.replace("checkpoint_root: ", "checkpoint_root: A"),
        lambda t: t.replace("log_key: ", "log_key: AAAA"),
        lambda t: t.replace("log_key: ", "log_key: \u00e9"),
        lambda t: t.replace("entries: ", "entries: AAAA"),
        lambda t: t.replace("statement: ", "statement: x y"),
        lambda t: t.replace("story: ", "story: \x1b"),
        lambda t: "".join(sorted(t.splitlines(keepends=True))),
        lambda t: t.replace("origin: ", "origin: " + "x" * 700),
        lambda t: t.replace("origin: ", "origin: " + "x" * 70000),
    ],
)
def test_a_text_that_would_not_be_written_is_refused(text, edit):
    assert edit(text) != text
    with pytest.raises(InputError) as caught:
        parse_receipt(edit(text), where="r.txt")
    assert caught.value.where == "r.txt"
    assert caught.value.what_to_do


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"repair_order": "x\nlog_key: y"}, "no name without spaces"),
        ({"origin": ""}, "no name without spaces"),
        ({"origin": "o" * 700}, f"longer than {MAX_RECEIPT} bytes"),
        ({"story": "AAAA"}, "story is no SHA-256"),
    ],
)
def test_what_could_not_be_read_back_is_not_written(receipt, change, said):
    with pytest.raises(InputError, match=said):
        format_receipt(dataclasses.replace(receipt, **change))


@pytest.mark.parametrize(
    "copied",
    [
        lambda t: t.replace("\n", " "),
        lambda t: t.replace("\n", ""),
        lambda t: t.replace("\n", "\r\n"),
        lambda t: t.replace("\n", "\n\n"),
        lambda t: t.replace(": ", ":"),
        lambda t: t.replace(": ", ":\u00a0"),
        lambda t: t.replace(" ", "").replace("\n", ""),
        lambda t: t.replace("log_key", "log_\nkey"),
        lambda t: re.sub(r"(.{11})", r"\1\n   ", t),
        lambda t: f"\ufeff\n{t} \u200b",
        lambda t: t[:-1],
        lambda t: f"  {t}",
    ],
)
def test_line_ends_and_spaces_that_copying_lost_are_put_back(text, copied):
    assert is_receipt(copied(text))
    assert as_written(copied(text)) == text
    assert as_written(text) == text


def test_the_receipt_stands_in_the_fragment_of_an_address(receipt, text):
    """Characters of a fragment: RFC 3986 section 3.5; the rest is percent-encoded."""
    odd = dataclasses.replace(receipt, origin="garage.example/l\u00f6g&a#b%20", size=7)
    for made in (receipt, odd):
        address = receipt_address(PAGE, made)
        page, _, fragment = address.partition("#")
        assert page == PAGE
        assert re.fullmatch(
            r"(?:[A-Za-z0-9\-._~!$&'()*+,;=:@/?]|%[0-9A-F]{2})+", fragment
        )
        for copied in (
            address,
            f"{address}\n",
            f"#{fragment}",
            address[:90] + "\n" + address[90:],
        ):
            assert is_receipt(copied)
            assert as_written(copied) == format_receipt(made)
    assert as_written(unquote(receipt_address(PAGE, receipt))) == text


@pytest.mark.parametrize(
    "other",
    ["", "x", "auditkit/receipt@1", "auditkit/receipt@1 log_key: x", f"{PAGE}#limits"],
)
def test_what_is_no_receipt_is_not_mended(other):
    assert as_written(other) == other


def test_a_swapped_character_is_not_mended(text):
    wrong = text.replace("repair_order", "repair order", 1).replace(
        "log_key: ", "log_key: !"
    )
    with pytest.raises(InputError):
        parse_receipt(as_written(wrong))


def test_the_checkpoint_root_is_spelled_as_the_checkpoint_spells_it(closed, receipt):
    opened = note.open_checkpoint(closed.checkpoint(), closed.log_key)
    spelled = f"{receipt.origin}\n{receipt.size}\n{receipt.root}\n"
    assert note.format_checkpoint(opened) == spelled


def test_a_long_order_makes_no_longer_receipt(ledger, catalogue):
    record = small_record("RO-" + "9" * 61, extra=300)
    ledger.record(
        record,
        judge(catalogue, record),
        passphrase=PASSPHRASE,
        unproven_reason="a test of the log",
    )
    packet = ledger.packet(record.repair_order)
    assert len(packet) > 100_000
    assert len(format_receipt(receipt_of(packet)).encode()) < 450
