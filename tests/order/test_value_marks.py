"""What typed values are known by: their numbers, however they are spelt.

Authority: the standard library's ``decimal`` (General Decimal Arithmetic).
"""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditkit.order.value_marks import value_marks

NUMBER = st.from_regex(r"-?(0|[1-9][0-9]{0,8})(\.[0-9]{1,6})?", fullmatch=True)


def marks(*numbers):
    readings = [{"name": "n", "value": text, "unit": "V"} for text in numbers]
    return value_marks({"kind": "bench_test", "readings": readings})


@given(st.lists(st.tuples(NUMBER, NUMBER), min_size=3, max_size=5))
def test_equal_numbers_have_equal_marks_and_others_have_others(pairs):
    one, other = (
        [Decimal(text) for text in texts] for texts in zip(*pairs, strict=True)
    )
    spelt = [f"{number.normalize():f}" for number in one]
    assert marks(*(first for first, _ in pairs)) == marks(*spelt)
    if one != other and marks(*spelt):
        assert marks(*spelt) != marks(*(second for _, second in pairs))


def test_noughts_at_the_end_of_a_reading_are_not_counted():
    assert not marks("12.0", "1300", "1.40")
    assert marks("12.3", "1345", "1.4")[0].is_sure is False
    assert marks("12.34", "1345", "1.42")[0].is_sure is True


@pytest.mark.parametrize("odd", ["1.234{}e9999999", "nan{}", "१२३{}", "{}.", ""])
def test_what_is_no_number_of_the_schemas_leaves_no_mark(odd):
    """A stranger may sign what no schema lets pass; reading it is no error."""
    assert marks(*(odd.format(n) for n in (11111, 22222, 33333))) == ()
