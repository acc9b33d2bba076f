"""Settings of an audit: defaults, a reader's own, and what is refused."""

import pytest

from auditkit.errors import InputError
from auditkit.fleet.settings import Settings, parse_settings

HEAD = 'format = "auditkit/audit-rules@1"\n'


def test_what_is_not_named_keeps_its_default():
    own = parse_settings(HEAD + "horizon_days = 365\nleast_coverage = 1\n")
    assert own == Settings(horizon_days=365, least_coverage=1.0)


def test_the_digest_is_of_the_values_alone():
    assert parse_settings(HEAD + "# as it is\nhorizon_days = 180").sha256 == (
        Settings().sha256
    )
    assert parse_settings(HEAD + "horizon_days = 181").sha256 != Settings().sha256


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("horizon_days = 180", "it does not say format"),
        (HEAD + "horizon = 180", "#horizon: there is no such setting"),
        (HEAD + "horizon_days = 0", "#horizon_days: this is out of bounds; write a n"),
        (HEAD + "horizon_days = 1.5", "#horizon_days: this is not a whole number"),
        (HEAD + "horizon_days = true", "#horizon_days: this is not a whole number"),
        (HEAD + 'look = "0.9"', "#look: this is not a number"),
        (HEAD + "look = nan", "#look: this is out of bounds"),
        (HEAD + "with_forked = 1", "#with_forked: this is not true or false"),
        ("format = ", "this is not TOML"),
    ],
)
def test_what_cannot_be_meant_is_refused(text, told):
    with pytest.raises(InputError) as error:
        parse_settings(text)
    assert told in str(error.value)
