"""The tree over the parts of a log, each part by itself where its beginning is known.

The root that an entry states is that of all entries before it. A part can be compared
with its entries' roots in any process, if it is told the subtrees before it. They are
taken on trust there, and held against the part before when all are put together: where
they differ, that part is walked once more from the true ones.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from auditkit.proof.merkle import Frontier


@dataclass(frozen=True, slots=True)
class TreePart:
    """The tree over one part's leaves, begun after ``before``.

    ``after`` is the tree at its end, ``nodes`` the subtrees completed in it (see
    ``Frontier.append``), ``roots`` the roots at the sizes that were asked for.
    ``false`` are the entries whose root is the first of some that are false;
    ``fits`` whether the last one compared is true.
    """

    before: Frontier
    after: Frontier
    nodes: list[tuple[int, bytes]]
    roots: dict[int, bytes]
    false: tuple[int, ...]
    fits: bool

    def follows(self, before: Frontier) -> bool:
        """Return whether it began where another part ended."""
        return (self.before.size, self.before.peaks) == (before.size, before.peaks)


def walk(
    before: Frontier,
    leaves: Sequence[bytes],
    stated: Mapping[int, tuple[int, str]],
    sizes: frozenset[int],
    *,
    fitted: bool = True,
) -> TreePart:
    """Return the tree over more leaves, and where what entries state of it is false.

    ``stated`` are roots in hex: place among the leaves -> entry, root of all before.
    Where one is false, those after it may differ for its sake, and are not told;
    ``fitted`` says that none was so at the end of the part before. Where not every
    entry is asked, as in the quick check, the tree halts only where a root is, and no
    ``nodes`` are noted.
    """
    tree, all_asked = before.copy(), len(stated) >= len(leaves)
    nodes: list[tuple[int, bytes]] = []
    roots: dict[int, bytes] = {}
    false: list[int] = []
    ends = {
        n - before.size for n in sizes if before.size < n <= before.size + len(leaves)
    }
    at = 0
    for stop in sorted({*stated, *ends, len(leaves)}):
        if all_asked:
            for leaf in leaves[at:stop]:
                tree.append(leaf, nodes)
        else:
            tree.extend(leaves[at:stop])
        at = stop
        if stop in ends:
            roots[tree.size] = tree.root()
        if stop in stated:
            seq, root = stated[stop]
            fits = root == tree.root().hex()
            if fitted and not fits:
                false.append(seq)
            fitted = fits
    return TreePart(before, tree, nodes, roots, tuple(false), fitted)
