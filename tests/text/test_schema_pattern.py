"""Patterns: the subset is what ECMA-262, Rust and Python read alike.

Authorities: node's ``RegExp`` with the flag u (ECMA-262), where node is there;
jsonschema-rs, which reads ECMA-262's patterns by rules of its own.
"""

import json
import random
import re
import shutil
import subprocess

import jsonschema_rs
import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditkit.errors import InputError
from auditkit.text.schema_pattern import compile_pattern

NODE = shutil.which("node")
SIGNS = "ab9-_ /.^$+é\u2028\U0001d11e"
TEXTS = [*SIGNS, "\n", "\r", "\t", "\u0085", "\ufeff", "", "A"]
PROGRAM = """
let said = [];
for (const [pattern, text] of JSON.parse(require("fs").readFileSync(0, "utf8")))
  said.push(new RegExp(pattern, "u").test(text));
console.log(JSON.stringify(said));
"""


def sign(random, special):
    one = random.choice(SIGNS)
    if random.random() < 0.1 and one < "\uffff":
        return f"\\u{ord(one):04x}"
    return f"\\{one}" if one in special else one


def some_class(random):
    members = []
    for _ in range(random.randint(1, 3)):
        one, other = (random.choice("a9_bé") for _ in "12")
        is_range = random.random() < 0.4 and one <= other
        members.append(f"{one}-{other}" if is_range else sign(random, "^$.+/-"))
    return f"[{random.choice(['', '^'])}{''.join(members)}{random.choice(['', '-'])}]"


def some_pattern(random, depth=2):
    pieces = []
    for _ in range(random.randint(1, 3)):
        kind = random.random()
        if kind < 0.5:
            piece = sign(random, "^$.+/")
        elif kind < 0.75 or depth == 0:
            piece = some_class(random)
        else:
            piece = f"({some_pattern(random, depth - 1)})"
        pieces.append(piece + random.choice(["", "", "*", "+", "?", "{2}", "{0,2}"]))
    text = "".join(pieces)
    if random.random() < 0.2:
        text = f"{text}|{sign(random, '^$.+/')}"
    return f"{random.choice(['', '^'])}{text}{random.choice(['', '$'])}"


def some_text(random):
    return "".join(random.choices(TEXTS, k=random.randint(0, 4)))


def matches(pattern, text):
    return compile_pattern(pattern).search(text) is not None


@pytest.mark.skipif(NODE is None, reason="node is absent")
def test_patterns_mean_what_ecmascript_says():
    chosen = random.Random(262)
    pairs = [(some_pattern(chosen), some_text(chosen)) for _ in range(4000)]
    ran = subprocess.run(
        [NODE, "-e", PROGRAM],
        input=json.dumps(pairs),
        capture_output=True,
        text=True,
        check=True,
    )
    said = json.loads(ran.stdout)
    assert [matches(*pair) for pair in pairs] == said
    assert 400 < sum(said) < 3600, "both answers occur"


@given(st.randoms(use_true_random=False))
def test_patterns_mean_what_another_reader_says(chosen):
    pattern, text = some_pattern(chosen), some_text(chosen)
    other = jsonschema_rs.Draft202012Validator({"pattern": pattern})
    assert matches(pattern, text) == other.is_valid(text)


@pytest.mark.parametrize(
    ("pattern", "said"),
    [
        (r"^\d+$", r"\d"),  # Python's has digits of every script
        (r"^[\w]$", r"\w"),
        (r"^\s$", r"\s"),  # ECMA-262's has U+FEFF, Python's U+001C
        (r"\bx", r"\b"),
        (r"(a)\1", r"\1"),
        (r"\p{L}", r"\p"),
        (r"\x41", r"\x"),
        (r"\cA", r"\c"),
        (r"\A", r"\A"),
        (r"\-", r"\-"),  # with the flag u
        ("\\", "holds \\"),
        (r"\u00", r"\u"),
        (r"\ud834\udd1e", "half a character"),
        ("\ud834", "half a character"),
        ("a.c", "a bare ."),  # not U+2028 in ECMA-262
        ("a{", "a bare {"),
        ("a{,2}", "a bare {"),  # from 0 in Python, five characters in ECMA-262
        ("a{2,1}", "repeats otherwise"),
        ("a{1001}", "repeats otherwise"),
        ("a}", "a bare }"),
        ("a]", "a bare ]"),
        ("(?:a)", "special kind"),
        ("(?=a)", "special kind"),
        ("(?i)a", "special kind"),
        ("a*?", "repeats what"),
        ("a*+", "repeats what"),  # possessive in Python
        ("*", "repeats what"),
        ("^*", "repeats what"),
        ("(*a)", "repeats what"),
        ("a|+", "repeats what"),
        ("[]", "empty class"),
        ("[]a]", "empty class"),  # a bracket in Python
        ("[^]", "empty class"),
        ("[a", "ends within"),
        ("[a-", "a bare -"),
        ("[--a]", "a bare -"),
        ("[b-a]", "backwards"),
        ("[[a]", "bare [ in a class"),
        ("[a&&b]", "bare & in a class"),
        ("[a~~b]", "bare ~ in a class"),
        ("[a--b]", "bare - in a class"),
        ("[a-b-c]", "bare - in a class"),
        (r"[\d-z]", r"\d"),
        ("(a", "not in order"),
        ("a)", "not in order"),
        ("(" * 5000, "not in order"),
    ],
)
def test_what_readers_take_differently_is_refused(pattern, said):
    with pytest.raises(InputError, match=re.escape(said)) as caught:
        compile_pattern(pattern)
    assert caught.value.what_to_do


def test_the_end_is_the_end():
    """Not, as in Python, also the place before a last line end."""
    assert re.search("^a$", "a\n")
    assert not matches("^a$", "a\n")
    assert matches("^[$]$", "$")
