"""Which names of monitors and of their ids are offered to who types them."""

from auditkit.obd.monitors import (
    mid_name,
    mid_names,
    monitor_in_words,
    monitor_named,
    monitor_names,
)


def test_each_ignition_has_its_own_and_the_unknown_one_those_of_both():
    spark, other = monitor_names(compression=False), monitor_names(compression=True)
    assert "secondary-air" in set(spark) - set(other)
    assert "boost-pressure" in set(other) - set(spark)
    assert set(monitor_names()) == {*spark, *other}
    assert all(monitor_named(name) == name for name in monitor_names())


def test_what_people_read_has_no_ids_and_is_taken_for_them_where_it_is_typed():
    """ISO 15031-5:2006 Table B.3 calls bit 7 so."""
    assert monitor_in_words("egr-vvt") == "EGR and/or VVT"
    words = {name: monitor_in_words(name) for name in monitor_names()}
    assert not [one for one in words.values() if "-" in one]
    assert {monitor_named(one.upper()) for one in words.values()} == {*words}
    assert monitor_in_words("Cat-Mon (display)") == "Cat-Mon (display)", "as typed"


def test_each_id_is_named_as_it_is_elsewhere_and_the_reserved_are_left_out():
    named = dict(mid_names())
    assert named["31"] == mid_name(0x31) == "EGR bank 1"
    assert "00" not in named  # which asks which others are supported
    assert all(mid_name(int(mid, 16)) == name for mid, name in named.items())
