"""What keeps a text from being JSON is told in our own words, at the place.

Whether a text is JSON is asked of a second parser: the standard library's.
"""

import json
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditkit.errors import InputError
from auditkit.text.json_mistakes import mistake_of
from auditkit.text.strict_json import parse, parse_canonical

LETTERS = "{}[],:\"\\u00e9 \n\t01-.eE+truefalsnNaIiy'\u201c/bfr"


def is_json(text):
    try:
        json.loads(text)
    except json.JSONDecodeError:
        return False
    return True


@given(st.text(alphabet=LETTERS, max_size=14))
def test_a_fault_is_found_exactly_where_there_is_one(text):
    assert (mistake_of(text) is None) == is_json(text)


def test_a_fault_is_found_in_every_damaged_text():
    whole = json.dumps({"a": [1, {"b": "x\ny"}], "c": None, "d": "\u00e9"}, indent=1)
    chance, broken = random.Random(1), 0
    for _ in range(3000):
        letters = list(whole)
        for _ in range(chance.randint(1, 3)):
            place = chance.randrange(len(letters))
            letters[place : place + chance.randint(0, 1)] = chance.choice(LETTERS)
        text = "".join(letters)
        broken += not is_json(text)
        assert (mistake_of(text) is None) == is_json(text), text
    assert broken > 1000


@pytest.mark.parametrize(
    ("text", "what", "what_to_do", "place"),
    [
        ("", "there is nothing in it", "write what belongs there", (1, 1)),
        (
            '{"a": "x\ny"}',
            "a line break stands inside a text",
            r"write \n for it, or close the text before it",
            (1, 9),
        ),
        (
            "[1,\n]",
            "a comma stands before the closing bracket",
            "leave it out",
            (2, 1),
        ),
        (
            "{\u201ca\u201d: 1}",
            "a curly or single quote stands here",
            'write the double one, "',
            (1, 2),
        ),
        ('{"a" 1}', "a colon is missing after the name", "write one", (1, 6)),
        ("[1 2]", "a comma is missing", "write one between two values", (1, 4)),
        ("[1", "it is broken off", "ask for the whole file", (1, 3)),
        ('["ab', "a text has no closing quote", 'close it with "', (1, 2)),
        (
            '["\\q"]',
            "a backslash begins nothing that JSON knows",
            r"write \\ for a backslash",
            (1, 3),
        ),
        (
            '["\x01"]',
            "a control character stands inside a text",
            r"write \u0001 for it",
            (1, 3),
        ),
        ("1 2", "there is more after the value", "keep one value", (1, 3)),
        *(
            (
                f"[1, {comment}\n2]",
                "a comment stands here, and JSON has none",
                "leave it out",
                (1, 5),
            )
            for comment in ("// x", "/* x */", "# x")
        ),
        ("[True]", "True is not spelt as JSON spells it", "write true", (1, 2)),
        ("[None]", "None is not spelt as JSON spells it", "write null", (1, 2)),
        (
            "{a: 1}",
            "a name stands without quotes",
            'write it in double quotes, "',
            (1, 2),
        ),
        (
            '{"a": yes}',
            "a word stands without quotes",
            'write it in double quotes, "',
            (1, 7),
        ),
        *(
            (
                f"[{number}]",
                "a number is written in a way that JSON does not know",
                'write the digits that were read as text, such as "14.0"',
                (1, column),
            )
            for number, column in (
                ("007", 3),
                ("+5", 2),
                (".5", 2),
                ("5.", 3),
                ("0x1F", 3),
                ("12kPa", 4),
            )
        ),
        (
            '{"a": 14,0}',
            "a number stands where a name belongs",
            'write 14,0 as "14.0", and a name in double quotes',
            (1, 10),
        ),
        (
            '{"a":\u00a01}',
            "an odd space (U+00A0) stands between values",
            "write a plain space",
            (1, 6),
        ),
    ],
)
def test_words(text, what, what_to_do, place):
    assert mistake_of(text) == (what, what_to_do, *place)
    for read in (parse, parse_canonical):
        with pytest.raises(InputError) as caught:
            read(text)
        line, column = place
        said = f"it is not JSON: {what} at line {line} column {column}"
        assert (caught.value.message, caught.value.what_to_do) == (said, what_to_do)


def test_depth_is_no_matter():
    assert mistake_of("[" * 100_000 + "]" * 100_000) is None
    found = mistake_of("[" * 100_000 + "}")
    assert (found.what, found.column) == ("a value is missing", 100_001)
