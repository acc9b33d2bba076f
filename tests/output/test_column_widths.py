"""Columns of a printed table: no word of a heading is broken, long texts get more."""

import pytest

from auditkit.output.column_widths import Paper, column_points
from auditkit.output.typeset import width_em

PAPER = Paper(page=481.0, inset=9.0, cell=9.0, most=160)
ANSWERS = (
    ("Asked", "vehicle's own test passed", "fault gone"),
    ("Of", "P0442, engine module 7E8", "P0442, engine module 7E8"),
    ("Because", "P0442: failed after the repair. " * 4, "it is back"),
    ("Rests on", "entry 43", "entry 43"),
)


def test_the_reason_gets_most_of_the_sheet():
    asked, of, because, rests = column_points(ANSWERS, PAPER)
    assert sum((asked, of, because, rests)) == pytest.approx(PAPER.page)
    assert because > max(asked, of, rests) * 1.5


@pytest.mark.parametrize("word", ["number", "Shown", "wwwwww", "questions"])
def test_a_word_has_room_in_one_line(word):
    columns = ((word, "1"), *ANSWERS)
    width = next(iter(column_points(columns, PAPER)))
    assert (width - PAPER.inset) / PAPER.cell >= width_em(word) - 1e-9


def test_short_columns_stay_narrow_and_too_many_share_the_sheet():
    assert sum(column_points((("a", "b"), ("c", "d")), PAPER)) < 60
    many = [("questions", "1")] * 20
    assert sum(column_points(many, PAPER)) == pytest.approx(PAPER.page)


def test_short_cells_wrap_before_a_word_is_broken():
    wordy = [("by hand, %", "16.3")] * 7
    columns = (("Shop", "log-2970af05"), ("Shown", "43"), ("whoever", "0.0"), *wordy)
    points = list(column_points(columns, PAPER))
    assert sum(points) == pytest.approx(PAPER.page)
    for cells, width in zip(columns, points, strict=True):
        for word in (word for cell in cells for word in cell.split()):
            assert (width - PAPER.inset) / PAPER.cell >= width_em(word) - 1e-9
