"""The pointers of a log (see ``pointers``), made anew of its entries: compared, or put.

Nothing that was signed hangs on them, so a false one is told apart from an altered
entry: it hides something, or stops the log from being written, until they are rebuilt.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

from auditkit.errors import AuditkitError
from auditkit.log.marks import marks_of
from auditkit.proof.check_report import LogProblem, Unmet
from auditkit.proof.entry import Payload, parse_payload
from auditkit.proof.merkle import Frontier

if TYPE_CHECKING:
    from auditkit.log.pointers import Mark, OrderRow
    from auditkit.log.store import Store
    from auditkit.proof.tree_parts import TreePart

_TREE = "the tree"
_ORDERS = "the table of repair orders"
_MARKS = "the table of marks"
_BATCH = 5_000  # entries whose pointers are held at once


@dataclass(slots=True)
class Made:
    """The pointers to repair orders and marks that some consecutive entries make.

    ``own`` are those of the entries that are of no repair order, but the log's own.
    """

    orders: dict[str, OrderRow] = field(default_factory=dict)
    marks: list[Mark] = field(default_factory=list)
    own: list[int] = field(default_factory=list)

    def take(self, payload: Payload) -> None:
        """Add those of the next entry."""
        order_id, seq = payload.repair_order, payload.seq
        if order_id is None:
            self.own.append(seq)
            return
        first = self.orders.get(order_id, (order_id, seq, None))[1]
        verdict = seq if payload.event["kind"] == "verdict" else None
        self.orders[order_id] = (order_id, first, verdict)
        self.marks += [(kind, value, seq) for kind, value in marks_of(payload.event)]

    def follow(self, later: Made) -> None:
        """Add those of the entries that come next."""
        for order_id, row in later.orders.items():
            first = self.orders.get(order_id, row)[1]
            self.orders[order_id] = (order_id, first, row[2])
        self.marks += later.marks
        self.own += later.own


class Held(NamedTuple):
    """How many subtrees and marks some entries make, and whose table lacks one."""

    nodes: int
    marks: int
    false: frozenset[str]


def hold(store: Store, tree: TreePart | None, made: Made) -> Held:
    """Look for the subtrees and marks that entries make; the marks of ``made`` go.

    Done by whoever checks a part: they are many, and not needed together.
    """
    pointers, marks = store.pointers, set(made.marks)
    made.marks.clear()
    false, nodes = set[str](), [] if tree is None else tree.nodes
    if tree is not None and nodes:
        # Those of this part alone lie side by side (see ``merkle.place``).
        kept = dict(pointers.nodes(2 * tree.before.size, 2 * tree.after.size))
        if not all(
            kept.get(place) == node or pointers.node(place) == node
            for place, node in nodes
        ):
            false.add(_TREE)
    if not all(map(pointers.has, marks)):
        false.add(_MARKS)
    return Held(len(nodes), len(marks), frozenset(false))


def compare(
    store: Store, held: Iterable[Held], made: Made, *, whole: bool, hints: bool
) -> tuple[LogProblem, ...]:
    """Return where a log's pointers are not those that its entries make.

    Of a ``whole`` log no more may be there. ``hints`` says whether each part of it
    began with the subtrees that are kept.
    """
    pointers, parts = store.pointers, tuple(held)
    false = set().union(*(part.false for part in parts))
    if whole:
        orders = _are(pointers.orders(), sorted(made.orders.values()))
        if pointers.count("node") != sum(part.nodes for part in parts):
            false.add(_TREE)
        if pointers.count("mark") != sum(part.marks for part in parts):
            false.add(_MARKS)
    else:
        orders = all(
            (kept := pointers.order(order_id)) is not None
            and kept[1] <= first
            and kept[2] == verdict
            for order_id, first, verdict in made.orders.values()
        )
    found = ((_TREE, hints), (_ORDERS, orders), (_MARKS, True))
    return tuple(_false(what) for what, holds in found if what in false or not holds)


def compare_indices(store: Store) -> tuple[LogProblem, ...]:
    """Return whether an index of the file could hide a row, or show one twice."""
    return () if store.is_whole() else (_false("an index"),)


def _false(what: str) -> LogProblem:
    text = f"{what} kept beside the entries is not theirs"
    return LogProblem(None, text, Unmet.POINTERS)


def _are(kept: Iterator[object], due: Iterable[object]) -> bool:
    """Return whether a table holds just what is due, in its order of bytes."""
    end = object()
    return all(next(kept, end) == one for one in due) and next(kept, end) is end


def rebuild(store: Store) -> None:
    """Make the pointers anew of the entries, in one transaction; no key is needed.

    What cannot be read as an entry gets none: verification names it.
    """
    with store.transaction():
        store.index_anew()
        store.pointers.clear()
        tree, nodes, made = Frontier(), list[tuple[int, bytes]](), Made()
        for row in store.rows():
            tree.append(row.entry.leaf, nodes)
            try:
                made.take(parse_payload(row.entry.payload))
            except AuditkitError:
                continue
            if tree.size % _BATCH == 0:
                store.pointers.add(nodes, made.orders.values(), made.marks)
                nodes, made = [], Made()
        store.pointers.add(nodes, made.orders.values(), made.marks)
