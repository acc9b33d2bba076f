"""What a person wrote as TOML is read, or refused with the line."""

import pytest

from auditkit.errors import InputError
from auditkit.text.toml_text import toml_table


def test_a_table_is_read():
    assert toml_table('a = 1\n[b]\nc = ["d"]\n') == {"a": 1, "b": {"c": ["d"]}}


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("a = 1\nb = [,\n", "keys.toml: this is not TOML: it cannot be read at line 2"),
        ("a = 1\na = 2\n", "keys.toml: this is not TOML: it cannot be read at line 2"),
        ("a = [", "keys.toml: this is not TOML: it cannot be read at its end"),
        ("\ufeffa = 1\n", "keys.toml: it starts with a byte-order mark; save it as"),
        (f"a = {'9' * 5000}", "keys.toml: a number is outside"),
        (f"a = {'[' * 5000}{']' * 5000}", "or it nests deeper than 64; write"),
    ],
)
def test_what_is_no_toml_is_told_with_its_place(text, told):
    with pytest.raises(InputError) as caught:
        toml_table(text, where="keys.toml")
    assert told in str(caught.value)
