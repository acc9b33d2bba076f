"""Of what modules count, each is asked for its own."""

import pytest

from auditkit.obd.parameters import DISTANCE
from auditkit.order.events import RepairOrder
from auditkit.order.own_counts import own_counts
from auditkit.order.self_test_evidence import readout_of

OWN, OTHERS, UNNAMED = "7E8 04 41 31 00 05", "7E9 04 41 31 00 50", "41 31 00 50"


@pytest.mark.parametrize(
    ("lines", "kilometres"),
    [
        ([OWN, OTHERS], 5),
        ([OWN, UNNAMED], 5),  # what names no module outranks none that is named
        ([OTHERS], 80),  # the fault's module tells none in any readout
        ([UNNAMED, OTHERS], 80),
    ],
)
def test_a_modules_own_count_is_taken_where_it_gives_one(lines, kilometres):
    raw = "\n".join((">0131", *lines))
    event = {"kind": "readout", "at": "2026-03-02T08:00:00+01:00", "raw": raw}
    order = RepairOrder.fold("RO-1", [event])
    readout = own_counts(order, "7E8", readout_of(order.events[0]))
    assert readout.value(DISTANCE) == kilometres
