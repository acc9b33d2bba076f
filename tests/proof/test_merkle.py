"""The Merkle tree: published roots and proofs, a second library, refusals."""

import json
from pathlib import Path

import hypothesis.strategies as st
import pytest
from hypothesis import given
from pymerkle import InmemoryTree

from auditkit.errors import InputError, VerificationError
from auditkit.proof import merkle

# The 8-leaf test for RFC 6962 and RFC 9162 2.1; see vectors/README.md.
VECTORS = json.loads(
    (Path(__file__).parent.parent / "vectors" / "log.json").read_text()
)
MERKLE = VECTORS["merkle"]
DATA = [bytes.fromhex(text) for text in MERKLE["leaves"]]
LEAVES = [merkle.leaf_hash(data) for data in DATA]


def hashes(texts):
    return [bytes.fromhex(text) for text in texts]


@pytest.mark.parametrize("size", range(9))
def test_published_roots(size):
    assert merkle.root(LEAVES[:size]).hex() == MERKLE["roots"][size]
    frontier = merkle.Frontier()
    for leaf in LEAVES[:size]:
        frontier.append(leaf)
    assert (frontier.root().hex(), frontier.size) == (MERKLE["roots"][size], size)


@pytest.mark.parametrize("place", MERKLE["inclusion"])
def test_inclusion_proofs(place):
    index, size = map(int, place.split("/"))
    proof = hashes(MERKLE["inclusion"][place])
    root = merkle.root(LEAVES[:size])
    assert merkle.prove_inclusion(LEAVES[:size], index) == proof
    merkle.verify_inclusion(LEAVES[index], index, size, proof, root)
    wrong = [
        (LEAVES[index - 1], index, size, proof, root),
        (LEAVES[index], index, size, [*proof, root], root),
        (LEAVES[index], size, size, proof, root),
        (LEAVES[index], -1, size, proof, root),
        (LEAVES[index], index, size, proof, LEAVES[0][::-1]),
        *(
            (LEAVES[index], index, size, proof[:i] + proof[i + 1 :], root)
            for i in range(len(proof))
        ),
    ]
    for arguments in wrong:
        with pytest.raises(VerificationError):
            merkle.verify_inclusion(*arguments)


@pytest.mark.parametrize("place", MERKLE["consistency"])
def test_consistency_proofs(place):
    old, new = map(int, place.split("/"))
    proof = hashes(MERKLE["consistency"][place])
    roots = merkle.root(LEAVES[:old]), merkle.root(LEAVES[:new])
    assert merkle.prove_consistency(LEAVES[:new], old) == proof
    merkle.verify_consistency(old, new, *roots, proof)
    wrong = [
        (old, new, roots[0], roots[1], [*proof, roots[0]]),
        (old, new, roots[0][::-1], roots[1], proof),
        (old, new, roots[0], roots[1][::-1], proof),
        (new + 1, new, roots[0], roots[1], proof),
        (0, new, roots[0], roots[1], proof),
        *((old, new, *roots, proof[:i] + proof[i + 1 :]) for i in range(len(proof))),
    ]
    for arguments in wrong:
        with pytest.raises(VerificationError):
            merkle.verify_consistency(*arguments)


def test_impossible_proofs_are_refused():
    with pytest.raises(InputError):
        merkle.prove_inclusion(LEAVES, 8)
    with pytest.raises(InputError):
        merkle.prove_consistency(LEAVES, 9)


@given(st.lists(st.binary(max_size=40), min_size=1, max_size=70))
def test_pymerkle_gives_the_same_root(data):
    """pymerkle 7, an independent RFC 9162 tree from the package registry."""
    other = InmemoryTree(algorithm="sha256")
    for item in data:
        other.append_entry(item)
    ours = merkle.root([merkle.leaf_hash(item) for item in data])
    assert ours == other.get_root()


@given(st.integers(1, 90), st.data())
def test_any_proof_holds_for_its_own_place_only(size, data):
    leaves = [merkle.leaf_hash(bytes([i])) for i in range(size)]
    index = data.draw(st.integers(0, size - 1))
    root = merkle.root(leaves)
    proof = merkle.prove_inclusion(leaves, index)
    merkle.verify_inclusion(leaves[index], index, size, proof, root)
    other = data.draw(st.integers(0, size - 1))
    if other != index:
        with pytest.raises(VerificationError):
            merkle.verify_inclusion(leaves[index], other, size, proof, root)
    old = data.draw(st.integers(1, size))
    steps = merkle.prove_consistency(leaves, old)
    merkle.verify_consistency(old, size, merkle.root(leaves[:old]), root, steps)


@given(st.integers(1, 300), st.data())
def test_an_inclusion_proof_shows_the_root_before_its_leaf(size, data):
    """The same root comes from the leaves, a frontier and pymerkle."""
    leaves = [merkle.leaf_hash(bytes([i % 256, i // 256])) for i in range(size)]
    index = data.draw(st.integers(0, size - 1))
    proof = merkle.prove_inclusion(leaves, index)
    found = merkle.verify_inclusion(
        leaves[index], index, size, proof, merkle.root(leaves)
    )
    assert found == merkle.root(leaves[:index])
    frontier, other = merkle.Frontier(), InmemoryTree(algorithm="sha256")
    for i in range(index):
        frontier.append(leaves[i])
        other.append_entry(bytes([i % 256, i // 256]))
    assert found == frontier.root()
    if index:
        assert found == other.get_root()


def test_a_copy_of_a_frontier_grows_by_itself():
    frontier = merkle.Frontier()
    assert (frontier.root(), frontier.last) == (merkle.EMPTY_ROOT, None)
    for size, leaf in enumerate(LEAVES):
        made = frontier.copy()
        made.append(leaf)
        assert made.root() == merkle.root(LEAVES[: size + 1])
        assert (made.size, made.last) == (size + 1, leaf)
        assert frontier.root() == merkle.root(LEAVES[:size])
        frontier.append(leaf)
