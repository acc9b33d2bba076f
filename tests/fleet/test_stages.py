"""Which packets are one order, and which counts, in whatever order they come."""

from hypothesis import given
from hypothesis import strategies as st

from auditkit.fleet.stages import HeldPacket, orders_among


def packet(number, own, size=0, vin=None, told=()):
    return HeldPacket(
        number,
        number.to_bytes(32, "big"),
        None,
        vin,
        size or max(own) + 1,
        frozenset(own),
        frozenset(bytes([text]) for text in told),
    )


def test_a_later_stage_replaces_the_one_that_it_extends():
    first, second = packet(1, {2, 3}), packet(2, {2, 3, 9})
    (order,) = orders_among([second, first])
    assert (order.current, order.rivals) == (second, ())


def test_a_larger_checkpoint_with_fewer_entries_does_not():
    whole, cut = packet(1, {2, 3, 4}), packet(2, {2, 3}, size=90)
    (order,) = orders_among([whole, cut])
    assert (order.current, order.rivals) == (whole, ())


def test_two_that_each_lack_entries_are_rivals():
    one, other = packet(1, {2, 3}, size=50), packet(2, {2, 9})
    (order,) = orders_among([one, other])
    assert (order.current, order.rivals) == (one, (other,))


def test_texts_that_others_disclose_are_lent():
    told = packet(1, {2, 3}, told={1})
    both = packet(2, {2, 3}, size=40, told={1, 2})
    plain = packet(3, {2, 3, 9}, size=60)
    (order,) = orders_among([told, both, plain])
    assert (order.current, order.lenders) == (plain, (both,))


def test_a_number_used_again_for_another_vehicle_is_another_order():
    orders = orders_among([packet(1, {2, 3}, vin="A"), packet(2, {8, 9}, vin="B")])
    assert [order.current.packet_id for order in orders] == [2, 1]


def test_a_vehicle_that_is_withheld_shows_no_other_order():
    (order,) = orders_among([packet(1, {2, 3}, vin="A"), packet(2, {8, 9})])
    assert len(order.rivals) == 1


PACKETS = st.lists(
    st.builds(
        packet,
        st.integers(0, 40),
        st.frozensets(st.integers(0, 8), min_size=1),
        st.integers(9, 14),
        st.sampled_from([None, "A", "B"]),
        st.frozensets(st.integers(0, 3)),
    ),
    min_size=1,
    max_size=6,
    unique_by=lambda one: one.packet_id,
)


@given(PACKETS, st.randoms())
def test_the_order_in_which_packets_come_changes_nothing(packets, chance):
    found = orders_among(packets)
    chance.shuffle(packets)
    assert orders_among(packets) == found
    assert sorted(p.packet_id for o in found for p in o.packets) == sorted(
        p.packet_id for p in packets
    )
    for order in found:
        assert all(not order.current.own_seqs < p.own_seqs for p in order.packets)
        known = order.current.disclosed.union(*(p.disclosed for p in order.lenders))
        assert all(p.disclosed <= known for p in order.packets)
