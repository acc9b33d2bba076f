"""Signed notes, checkpoints and proofs: C2SP vectors, then every change refused."""

import pytest

from auditkit.errors import AuditkitError, InputError, VerificationError
from auditkit.proof import merkle, note
from auditkit.proof.keys import PrivateKey

# (vkey, text, signature line): the signed-note specification's example, and the one of
# the documentation of Go's sumdb/note.
SPECIFIED = (
    "example.com/foo+530d903a+AekyeRrm56hApGFkyQR4ZCbV54Id2LKaANYcrnKv3U2k",
    "This is an example message.\n",
    (
        "\u2014 example.com/foo Uw2QOkn8srV1yJGh2VYRlL1Tnagv1YEq6TfXppzi2ONncAlTgK7Zt"
        "g1ERYNZXsYjOBH3mFXmRKuwHjG1Yu72IneyaQM=\n"
    ),
)
DOCUMENTED = (
    "PeterNeumann+c74f20a3+ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW",
    (
        "If you think cryptography is the answer to your problem,\n"
        "then you don't know what your problem is.\n"
    ),
    (
        "\u2014 PeterNeumann x08go/ZJkuBS9UG/SffcvIAQxVBtiFupLLr8pAcElZInNIuGUgYN1FFY"
        "C2pZSNXgKvqfqdngotpRZb6KE6RyyBwJnAM=\n"
    ),
)
KEY = PrivateKey.from_seed(bytes(range(32)))
CHECKPOINT = note.Checkpoint("garage.example/log", 8, bytes(range(32)))


@pytest.mark.parametrize("vector", [SPECIFIED, DOCUMENTED])
def test_published_notes_open(vector):
    name, key = note.parse_vkey(vector[0])
    assert note.vkey(name, key) == vector[0]
    assert note.open_note(f"{vector[1]}\n{vector[2]}", name, key) == vector[1]
    with pytest.raises(VerificationError):
        note.open_note(f"{vector[1]}x\n\n{vector[2]}", name, key)


def test_published_vkey_parses():
    """The checksum database's key, as its documentation prints it."""
    text = "sum.golang.org+033de0ae+Ac4zctda0e5eza+HJyk9SxEdh+s3Ux18htTTAD8OuAn8"
    assert note.parse_vkey(text)[0] == "sum.golang.org"


def test_published_checkpoint_parses():
    """The tlog-checkpoint specification's example; it names no key."""
    text = (
        "example.com/behind-the-sofa\n20852163\n"
        "CsUYapGGPo4dkMgIAUqom/Xajj7h2fB2MPA3j2jxq2I=\n"
    )
    found = note.parse_checkpoint(text)
    assert (found.origin, found.size) == ("example.com/behind-the-sofa", 20852163)
    assert note.format_checkpoint(found) == text


def test_unknown_signatures_are_passed_over():
    signed = note.sign_checkpoint(CHECKPOINT, KEY)
    other = note.sign_note(note.format_checkpoint(CHECKPOINT), "b.example", KEY)
    both = signed + "".join([other.rpartition("\n\n")[2]] * 15)
    assert note.open_checkpoint(both, KEY.public) == CHECKPOINT
    with pytest.raises(VerificationError, match="not signed"):
        note.open_checkpoint(other, KEY.public)


def test_every_byte_of_a_checkpoint():
    raw = note.sign_checkpoint(CHECKPOINT, KEY).encode()
    silent = []
    for place in range(len(raw)):
        for bit in range(8):
            changed = bytearray(raw)
            changed[place] ^= 1 << bit
            try:
                note.open_checkpoint(changed.decode(errors="replace"), KEY.public)
            except AuditkitError:
                continue
            silent.append((place, bit))
    assert not silent


def test_every_byte_of_a_proof():
    leaves = [merkle.leaf_hash(bytes([i])) for i in range(8)]
    root = merkle.root(leaves)
    checkpoint = note.sign_checkpoint(note.Checkpoint("g.example", 8, root), KEY)
    text = note.format_proof(5, merkle.prove_inclusion(leaves, 5), checkpoint)
    assert text.startswith("c2sp.org/tlog-proof@v1\nindex 5\n")

    def check(proof):
        index, path, signed = note.parse_proof(proof)
        found = note.open_checkpoint(signed, KEY.public)
        merkle.verify_inclusion(leaves[5], index, found.size, path, found.root)

    check(text)
    raw, silent = text.encode(), []
    for place in range(len(raw)):
        changed = bytearray(raw)
        changed[place] ^= 1 << (place % 7)
        try:
            check(changed.decode(errors="replace"))
        except AuditkitError:
            continue
        silent.append(place)
    assert not silent


@pytest.mark.parametrize(
    "text",
    ["", "a\n1\n", "a\n01\nAA==\n", "a\n1\nAAAA\n", "\n1\nAAAA\n", "a\n-1\nAAAA\n"],
)
def test_malformed_checkpoints(text):
    with pytest.raises(VerificationError):
        note.parse_checkpoint(text)


@pytest.mark.parametrize("name", ["", "a b", "a+b", "a\nb"])
def test_unfit_names(name):
    with pytest.raises(InputError):
        note.vkey(name, KEY.public)
