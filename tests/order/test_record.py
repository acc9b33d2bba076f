"""What a record's text may not hold is refused with its place."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditkit.errors import InputError
from auditkit.order.catalogue import CORE
from auditkit.order.record import parse_record
from auditkit.text.placed_json import parse_placed

NAMES = st.text("ab~/ ", max_size=4)
PLAIN = st.none() | st.integers(-9, 9) | st.text('ab{}[]:,\\"', max_size=6)
TWICE = "the name 'a' stands twice in one object"
NONE = "is not a JSON value"
LARGE = "the integer 9007199254740993 is outside ±(2^53-1)"
DEEP = "it nests deeper than 64"
MARK = 12.5  # no other value has a fraction


def _resolve(value, pointer):
    """Return what a pointer names, as RFC 6901 section 4 evaluates it."""
    for step in pointer.split("/")[1:]:
        name = step.replace("~1", "/").replace("~0", "~")
        value = value[int(name)] if isinstance(value, list) else value[name]
    return value


@st.composite
def _holding(draw):
    """Draw a JSON value that holds the mark once, somewhere."""
    value = MARK
    for _ in range(draw(st.integers(0, 6))):
        if draw(st.booleans()):
            value = [*draw(st.lists(PLAIN, max_size=3)), value, draw(PLAIN)]
        else:
            before = draw(st.dictionaries(NAMES, PLAIN, max_size=3))
            name = draw(NAMES.filter(lambda n, b=before: n not in b))
            value = {**before, name: value}
    return value


@given(_holding(), st.sampled_from([None, 1, "\t"]))
def test_the_pointer_and_the_column_lead_to_what_is_refused(value, indent):
    text = json.dumps(value, indent=indent)
    with pytest.raises(
        InputError, match=r"12\.5 is a number with a fraction"
    ) as caught:
        parse_placed(text.encode(), where="r.json")
    file, _, pointer = caught.value.where.partition("#")
    assert file == "r.json"
    assert _resolve(value, pointer) == MARK
    words = caught.value.message.split()
    line, column = int(words[-3]), int(words[-1])
    assert text.split("\n")[line - 1][column - 1 :].startswith("12.5")


@pytest.mark.parametrize(
    ("text", "where", "said"),
    [
        ('{"a": 1,\n "a": 2}', "#/a", f"{TWICE} at line 2 column 2"),
        ('{"x": {"a": 1, "\\u0061": 2}}', "#/x/a", f"{TWICE} at line 1 column 16"),
        ('[{"a": 1}, {"b": [NaN]}]', "#/1/b/0", f"NaN {NONE} at line 1 column 19"),
        ('{"b": -Infinity}', "#/b", f"-Infinity {NONE} at line 1 column 7"),
        ('{"n": [0, 9007199254740993]}', "#/n/1", f"{LARGE} at line 1 column 11"),
        ('{"é": 1}', "#/é", "the name 'é' is not plain ASCII at line 1 column 2"),
        ('{"s": "\\ud800"}', "#/s", "it holds a lone surrogate at line 1 column 7"),
        ("[" * 65 + "]" * 65, f"#{'/0' * 64}", f"{DEEP} at line 1 column 65"),
        ("truu", "", "it is not JSON: a word stands without quotes at line 1 column 1"),
        ('{"a": 1', "", "it is not JSON: it is broken off at line 1 column 8"),
        ("\ufeff{}", "", "it starts with a byte-order mark"),
    ],
)
def test_each_refusal_names_its_place(text, where, said):
    with pytest.raises(InputError) as caught:
        parse_record(text, CORE, where="r.json")
    assert (caught.value.where, caught.value.message) == (f"r.json{where}", said)


def test_what_is_no_text_keeps_its_own_place():
    with pytest.raises(InputError) as caught:
        parse_record(b'{"a": "\xff"}', CORE, where="r.json")
    assert caught.value.message == "byte 7 (line 1) is not UTF-8 text"


@given(st.text('{}[]:,"\\ab1.5eEN-', max_size=40))
def test_any_text_gives_one_error_of_ours(text):
    try:
        parse_placed(text)
    except InputError as error:
        assert error.message
