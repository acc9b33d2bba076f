"""What shops answered stands beside the question it answers."""

from datetime import date

import pytest

from auditkit.errors import InputError
from auditkit.fleet.audited import AskedOfShop
from auditkit.fleet.shop_answers import (
    ShopAnswer,
    answered,
    not_asked_here,
    parse_answers,
)

HEAD = 'format = "auditkit/audit-answers@1"\n'
ONE = '[[answer]]\nshop = "Shop 7"\nscreen = "comebacks"\n'


def asked(shop, screen="comebacks"):
    return AskedOfShop(screen, shop, "Why?", {}, {}, "one", (), ())


def test_answers_stand_in_the_order_of_their_days():
    text = HEAD + ONE + 'date = 2026-03-02\ntext = "second"\n'
    text += ONE + 'date = 2026-01-09\ntext = "first"\n'
    given = parse_answers(text)
    seven, eight = answered([asked("Shop 7"), asked("Shop 8")], given)
    assert seven.answer == "2026-01-09: first\n2026-03-02: second"
    assert eight.answer == ""


def test_an_answer_to_another_question_is_told_apart():
    given = (ShopAnswer("Shop 7", "last digits", date(2026, 1, 9), "x"),)
    assert not_asked_here([asked("Shop 7")], given) == list(given)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("= 3", "this is not TOML"),
        ("", "it does not say format"),
        (HEAD + "answer = 3", "something else than [[answer]] tables"),
        (HEAD + "more = 3", "something else than [[answer]] tables"),
        (HEAD + "answer = [3]", "answer 1: an answer has shop, screen, date and text"),
        (HEAD + ONE, "answer 1: an answer has shop, screen, date and text"),
        (HEAD + ONE + 'date = 2026-01-09\ntext = ""', "text is not a text of 1 to"),
        (HEAD + ONE + "date = 2026-01-09\ntext = 4", "text is not a text of 1 to"),
        (HEAD + ONE + 'date = "today"\ntext = "a"', "date is not a day"),
        (HEAD + ONE + 'date = 2026-01-09T10:00:00\ntext = "a"', "date is not a day"),
        (HEAD + ONE + 'date = 2026-01-09\ntext = "a\\u001b[2J"', "control character"),
    ],
)
def test_what_is_no_answer_is_refused(text, told):
    with pytest.raises(InputError) as error:
        parse_answers(text, where="answers.toml")
    assert told in str(error.value)
