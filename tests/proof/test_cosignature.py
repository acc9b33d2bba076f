"""Cosignatures: a published one opens, ours are as specified, every change is refused.

C2SP tlog-cosignature and signed-note.
"""

import base64
import hashlib

import pytest

from auditkit.errors import AuditkitError, InputError, VerificationError
from auditkit.proof import cosignature, note
from auditkit.proof.keys import PrivateKey

# A checkpoint of a public staging log of Certificate Transparency, cosigned by a public
# witness; other lines left out. The witness's verifier key is published in
# transparency-dev/formats, note/note_cosigv1_test.go; log key and cosignature stand in
# a public test of a witness client. Confirmed by computation: both signatures fit.
WITNESS_VKEY = "remora.n621.de+da77ade7+BOvN63jn/bLvkieywe8R6UYAtVtNbZpXh34x7onlmtw2"
COSIGNED = """\
arche2025h1.staging.ct.transparency.dev
1432088532
U7WM79jrzyhGZ5/GUBTpM7NzwdyfFx61t3RovgcC4Ro=

\u2014 arche2025h1.staging.ct.transparency.dev ui8GwCF1+kWqZrxGdhj4aX3gcw7XUlXQQabg/2\
7lefwhUkzbC3NygNI75MdhL1bfTW9g8Ei59RA23oHP7Ry1k3ZFWwQ=
\u2014 remora.n621.de 2net5wAAAABqEiEgPlfF3V06o0Y+fHM+J5J9s27wgxxcOVSpZ/2g/KSiXCg9D\
EZI+aVCIobWX9sXTynk5XeU/zZ0WBxtqB0DrAWfBw==
"""
LOG_VKEY = (
    "arche2025h1.staging.ct.transparency.dev+ba2f06c0+"
    "AU0vHmlGCS/PdN8b2OaGmKprLI8HKM+dJ472xgFYh15f"
)
# The example of the tlog-cosignature specification; it publishes no key.
SPECIFIED_TEXT = """\
example.com/behind-the-sofa
20852163
CsUYapGGPo4dkMgIAUqom/Xajj7h2fB2MPA3j2jxq2I=
"""
SPECIFIED_BLOB = (
    "jWbPPwAAAABkGFDLEZMHwSRaJNiIDoe9DYn/zXcrtPHeolMI5OWXEhZCB9dlrDJsX3b2oyin1nPZqhf5"
    "nNo0xUe+mbIUBkBIfZ+qnA=="
)
KEY = PrivateKey.from_seed(bytes(range(32, 64)))
TEXT = note.format_checkpoint(note.Checkpoint("garage.example/log", 8, bytes(32)))
LOG_KEY = PrivateKey.from_seed(bytes(range(32)))
SIGNED = note.sign_note(TEXT, "garage.example/log", LOG_KEY)


def test_published_cosignature_opens():
    witness = cosignature.parse_vkey(WITNESS_VKEY)
    assert witness.vkey == WITNESS_VKEY
    (found,) = cosignature.cosignatures(COSIGNED, [witness])
    assert (found.cosigner.name, found.at) == ("remora.n621.de", 0x6A122120)
    name, log_key = note.parse_vkey(LOG_VKEY)
    assert note.open_checkpoint(COSIGNED, log_key).origin == name


def test_published_cosignature_of_another_size_is_refused():
    witness = cosignature.parse_vkey(WITNESS_VKEY)
    with pytest.raises(VerificationError, match="remora"):
        cosignature.cosignatures(
            COSIGNED.replace("1432088532", "1432088533"), [witness]
        )


def test_specified_message_and_time():
    assert cosignature.signed_message(SPECIFIED_TEXT, 1679315147) == (
        b"cosignature/v1\ntime 1679315147\nexample.com/behind-the-sofa\n20852163\n"
        b"CsUYapGGPo4dkMgIAUqom/Xajj7h2fB2MPA3j2jxq2I=\n"
    )
    blob = base64.b64decode(SPECIFIED_BLOB)
    assert int.from_bytes(blob[4:12], "big") == 1679315147
    assert len(blob) == 4 + 8 + 64


def test_cosigned_checkpoint_stays_the_logs():
    line = cosignature.cosign(TEXT, "w.example/1", KEY, 1_700_000_000)
    both = cosignature.add_line(SIGNED, line)
    witness = cosignature.make_cosigner("w.example/1", KEY.public)
    assert cosignature.cosignatures(both, [witness]) == (
        cosignature.Cosignature(witness, 1_700_000_000),
    )
    assert note.open_checkpoint(both, LOG_KEY.public).size == 8


def test_newest_of_two_by_one_witness_and_none_by_a_stranger():
    both = SIGNED
    for at in (1_700_000_009, 1_700_000_000):
        both = cosignature.add_line(
            both, cosignature.cosign(TEXT, "w.example/1", KEY, at)
        )
    witness = cosignature.make_cosigner("w.example/1", KEY.public)
    assert [c.at for c in cosignature.cosignatures(both, [witness])] == [1_700_000_009]
    assert cosignature.cosignatures(both, []) == ()
    other = cosignature.make_cosigner("w.example/2", KEY.public)
    assert cosignature.cosignatures(both, [other]) == (), "another name is another key"


def test_logs_own_signature_is_no_cosignature():
    """The same key in both roles: type 01 and type 04 have different ids."""
    witness = cosignature.make_cosigner("garage.example/log", LOG_KEY.public)
    assert cosignature.cosignatures(SIGNED, [witness]) == ()
    with pytest.raises(InputError, match="type 04"):
        cosignature.parse_vkey(note.vkey("garage.example/log", LOG_KEY.public))


def test_a_line_of_a_type_not_known_here_is_passed_over():
    """C2SP signed-note v1.0.0, Signatures: it is of a key that nobody here knows.

    Type 06 of C2SP tlog-cosignature v1.1.0-rc.1: ML-DSA-44, 1,312 bytes of key, 2,420
    of signature (FIPS 204, table 2); here of the log's name, and of a witness's.
    """
    witness = cosignature.make_cosigner("w.example/1", KEY.public)
    both = cosignature.add_line(SIGNED, cosignature.cosign(TEXT, witness.name, KEY, 7))
    for name in ("garage.example/log", witness.name):
        hint = hashlib.sha256(f"{name}\n\x06".encode() + bytes(1312)).digest()[:4]
        blob = base64.b64encode(hint + bytes(8) + bytes(2420)).decode()
        both = cosignature.add_line(both, f"\u2014 {name} {blob}\n")
    assert cosignature.cosignatures(both, [witness]) == (
        cosignature.Cosignature(witness, 7),
    )
    assert note.open_checkpoint(both, LOG_KEY.public).size == 8


def test_sixteen_signatures_fit_a_note():
    """signed-note v1.0.0, Signatures: verifiers take at least 16."""
    full, known = SIGNED, []
    for number in range(15):
        name = f"w.example/{number}"
        full = cosignature.add_line(full, cosignature.cosign(TEXT, name, KEY, 7))
        known.append(cosignature.make_cosigner(name, KEY.public))
    assert len(cosignature.cosignatures(full, known)) == 15


LINE = cosignature.cosign(TEXT, "w.example/1", KEY, 1_700_000_000)


@pytest.mark.parametrize("line", ["\n", LINE[:-1], LINE[1:], LINE[:40] + "\n"])
def test_no_signature_line_at_all_refuses_the_note(line):
    witness = cosignature.make_cosigner("w.example/1", KEY.public)
    with pytest.raises(VerificationError):
        cosignature.cosignatures(SIGNED + line, [witness])


def test_every_bit_of_a_cosignature_line():
    """Each change fails, or makes a line that is of no known key."""
    line = cosignature.cosign(TEXT, "w.example/1", KEY, 1_700_000_000).encode()
    witness = cosignature.make_cosigner("w.example/1", KEY.public)
    silent = []
    for place in range(len(line)):
        for bit in range(8):
            changed = bytearray(line)
            changed[place] ^= 1 << bit
            try:
                found = cosignature.cosignatures(
                    SIGNED + changed.decode(errors="replace"), [witness]
                )
            except AuditkitError:
                continue
            if found:
                silent.append((place, bit))
    assert not silent


@pytest.mark.parametrize("size", [0, 75, 77, 4])
def test_blob_of_another_length_is_refused(size):
    witness = cosignature.make_cosigner("w.example/1", KEY.public)
    blob = base64.b64encode((witness.key_id + bytes(80))[:size] or b"").decode()
    line = f"\u2014 w.example/1 {blob}\n"
    if size == 0:
        assert cosignature.cosignatures(SIGNED + line, [witness]) == ()
    else:
        with pytest.raises(VerificationError, match="malformed"):
            cosignature.cosignatures(SIGNED + line, [witness])


@pytest.mark.parametrize("at", [-1, 2**63])
def test_impossible_times(at):
    with pytest.raises(InputError):
        cosignature.cosign(TEXT, "w.example/1", KEY, at)


@pytest.mark.parametrize(
    "text", ["a note that is no checkpoint\n", TEXT + "an extension\n", TEXT[:-1]]
)
def test_only_a_checkpoint_is_cosigned(text):
    with pytest.raises(VerificationError):
        cosignature.cosign(text, "w.example/1", KEY, 1)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "a+b",
        WITNESS_VKEY[:-1],
        WITNESS_VKEY.replace("da77ade7", "da77ade8"),
        WITNESS_VKEY.replace("da77ade7", "DA77ADE7"),
        WITNESS_VKEY.replace("remora", "re mora"),
        WITNESS_VKEY + "\n",
        "w+00000000+BAA=",
    ],
)
def test_malformed_vkeys(text):
    with pytest.raises(AuditkitError) as caught:
        cosignature.parse_vkey(text)
    assert caught.value.exit_code == 2
    assert caught.value.what_to_do


@pytest.mark.parametrize("line", ["", "x", "\u2014 w AAAA", "- w AAAA\n", "a\nb\n"])
def test_only_a_signature_line_is_added(line):
    with pytest.raises(VerificationError):
        cosignature.add_line(SIGNED, line)
