"""Two packets of one forked log prove the fork, whatever their sizes."""

import shutil
from itertools import combinations

import pytest
from conftest import PASSPHRASE, close_order
from hypothesis import given
from hypothesis import strategies as st

from auditkit.errors import InputError, VerificationError
from auditkit.log.ledger import Ledger
from auditkit.proof import entry, merkle, note
from auditkit.proof.fork import _along, _along_earlier, fork_between, known_spans
from auditkit.proof.packet import EarlierTree, parse_packet


@pytest.fixture
def forked(closed, catalogue, tmp_path):
    """Return two ledgers of one name and key that part after the first orders."""
    closed.store._db.execute("pragma wal_checkpoint(truncate)")
    path = tmp_path / "fork" / "shop.auditlog"
    shutil.copytree(closed.keys, path.with_name("shop.auditlog.keys"))
    shutil.copy(closed.store.path, path)
    with Ledger.open(path) as other:
        yield closed, other


def test_packets_of_one_history_show_no_fork(closed, catalogue):
    texts = [closed.packet("RO-1")]
    for number in range(2, 12):
        close_order(closed, catalogue, f"RO-{number}")
        texts.append(closed.packet(f"RO-{number}"))
    texts.append(closed.packet("RO-1"))
    for one, other in combinations(texts, 2):
        assert fork_between(one, other) is None


def test_packets_of_two_histories_prove_the_fork(forked, catalogue):
    """Even those of an order that both hold, made at different sizes."""
    one, other = forked
    base = one.store.head()[0]
    for number in range(3, 8):
        close_order(one, catalogue, f"RO-{number}")
    for number in range(3, 12):
        close_order(other, catalogue, f"RO-{number}x")
    assert one.store.head()[0] != other.store.head()[0]
    told = fork_between(one.packet("RO-1"), other.packet("RO-1"))
    assert told is not None
    assert told.first + told.count > base, "what lies before the fork is the same"
    assert (told.log, told.log_key) == (one.origin, one.log_key.thumbprint)
    assert str(told).startswith(f"the log {one.origin} has two histories under one key")
    assert told.checkpoints[0] != told.checkpoints[1]
    late = fork_between(one.packet("RO-7"), other.packet("RO-11x"))
    assert late is not None


def test_only_packets_that_hold_and_of_one_log_are_compared(
    forked, catalogue, tmp_path
):
    one, _ = forked
    text = one.packet("RO-1")
    with pytest.raises(VerificationError, match="does not hold"):
        fork_between(text, text.replace("tool 0", "tool 1"))
    path = tmp_path / "second" / "shop.auditlog"
    path.parent.mkdir()
    with Ledger.create(
        path, shop="Another (invented)", person="mechanic-1", passphrase=PASSPHRASE
    ) as strange:
        close_order(strange, catalogue, "RO-1")
        with pytest.raises(InputError, match="two logs"):
            fork_between(text, strange.packet("RO-1"))


@given(st.integers(1, 70), st.data())
def test_each_step_of_a_path_is_the_root_of_its_stretch(size, data):
    """Against the tree made from its leaves (RFC 9162 section 2.1.1)."""
    leaves = [merkle.leaf_hash(bytes([n])) for n in range(size)]
    index = data.draw(st.integers(0, size - 1))
    old = data.draw(st.integers(1, size))
    path = merkle.prove_inclusion(leaves, index)
    found = [*_along(leaves[index], index, 0, size, path)]
    assert len(dict(found)) > len(path) // 2
    earlier = EarlierTree(
        old, merkle.root(leaves[:old]), tuple(merkle.prove_consistency(leaves, old))
    )
    found += _along_earlier(earlier, size) if old < size else ()
    for (first, count), named in found:
        assert first + count <= size
        assert named == merkle.root(leaves[first : first + count])


def test_no_stretch_is_missed_where_entries_share_their_way(closed, catalogue):
    """What a packet names is all that each of its proofs names by itself."""
    for number in range(3, 9):
        close_order(closed, catalogue, f"RO-{number}")
    for number in range(1, 9):
        packet = parse_packet(closed.packet(f"RO-{number}"))
        head = note.open_checkpoint(packet.checkpoint, closed.log_key)
        found = known_spans(packet)
        for signed, proof in packet.entries:
            index, path, _ = note.parse_proof(proof)
            each = dict(_along(signed.leaf, index, 0, head.size, path))
            assert each.items() <= found.items()
        said = [entry.parse_payload(signed.payload) for signed, _ in packet.entries]
        assert known_spans(packet, said) == found
