"""Times as people read them: at the offset of the order's own."""

import pytest

from auditkit.text.moment import clock_text, local_times


@pytest.mark.parametrize(
    ("text", "told"),
    [
        # RFC 3339 section 5.8: the same moment in two notations.
        ("1996-12-20T00:39:57Z", "1996-12-19T16:39:57-08:00"),
        ("1996-12-19T16:39:57-08:00", "1996-12-19T16:39:57-08:00"),
        ("1996-12-20T00:39:57.000+00:00", "1996-12-19T16:39:57-08:00"),
        ("1996-12-20T00:39:57.52Z", "1996-12-19T16:39:57.520-08:00"),
        ("noon", "noon"),
        ("", ""),
        ("1996-12-20", "1996-12-20"),
        ("0001-01-01T00:00:00Z", "0001-01-01T00:00:00Z"),
    ],
)
def test_a_time_is_written_at_the_offset_of_the_first_one(text, told):
    local = local_times(["noon", "1996-12-19T16:39:57-08:00", "2026-01-01T00:00:00Z"])
    assert local(text) == told


def test_where_no_time_is_known_each_is_written_as_it_is():
    assert local_times(["", "noon"])("2026-01-01T00:00:00Z") == "2026-01-01T00:00:00Z"


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("1996-12-19T16:39:57-08:00", "1996-12-19 16:39:57 -08:00"),
        ("2026-11-27T03:41:52.139+00:00", "2026-11-27 03:41:52 +00:00"),
        ("1996-12-20T00:39:57Z", "1996-12-20 00:39:57 +00:00"),
        ("0001-01-01T00:00:00Z", "0001-01-01 00:00:00 +00:00"),
        ("noon", "noon"),
    ],
)
def test_a_list_has_day_clock_and_offset_apart(text, told):
    assert clock_text(text) == told
