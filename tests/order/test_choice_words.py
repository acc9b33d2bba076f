"""Each choice that a schema offers has its words for people, in one place."""

import json
from importlib.resources import files

import pytest

from auditkit.order.cautions import StepKind
from auditkit.order.choice_words import CHOICES, WORK, in_words

NOT_TOLD_IN_SENTENCES = {
    "not_shown": "names of members",
    "system": "read as it is named, without its hyphens",
    "unit": "a unit is its own word",
    "verdict": "a verdict is its own word",
    "answer": "told by order/answer_text",
    "severity": "told by output/listings",
}


def enumerations(node, name=""):
    """Yield the member and the values of each list of choices in a schema."""
    if isinstance(node, dict):
        if "enum" in node:
            yield name, node["enum"]
        for key, value in node.items():
            inner = name if key in {"items", "allOf"} else key
            yield from enumerations(value, inner)
    elif isinstance(node, list):
        for value in node:
            yield from enumerations(value, name)


def offered():
    for path in files("auditkit_schemas").iterdir():
        if path.name.startswith("event-"):
            for name, values in enumerations(json.loads(path.read_text())):
                yield path.name, name, values


def test_every_choice_of_every_schema_has_words():
    seen = set()
    for schema, name, values in offered():
        if name in NOT_TOLD_IN_SENTENCES:
            continue
        seen.add(name)
        assert name in CHOICES, f"{schema}: {name}"
        assert set(CHOICES[name]) == set(values), f"{schema}: {name}"
    assert seen == set(CHOICES), "words that no schema offers"


def test_no_words_are_left_over_as_they_are_written():
    for choices in CHOICES.values():
        for words in choices.values():
            assert not set("_") & set(words)
            assert "-" not in words.replace("high-voltage", "").replace(
                "known-good", ""
            )


@pytest.mark.parametrize(
    ("name", "value", "words"),
    [
        ("where", ["elsewhere"], ["at another place on the vehicle"]),
        ("setup", "engine-off", "on the vehicle, engine off"),
        ("setup", "of-a-plugin", "of a plugin"),
        ("system", "oxygen-sensor", "oxygen sensor"),
        ("note", "a-b", "a-b"),
        ("where", 3, 3),
    ],
)
def test_a_choice_is_read_in_words_and_nothing_else_is(name, value, words):
    assert in_words(name, value) == words


def test_every_kind_of_step_has_words():
    assert set(WORK) == set(StepKind)
