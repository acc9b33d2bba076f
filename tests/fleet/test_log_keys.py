"""A reader's own list of log keys decides whose packets count; nothing else does."""

import pytest
from collections_made import asked, written
from made_logs import MadeLog, demo_events

from auditkit.errors import InputError
from auditkit.fleet.log_keys import NO_LIST, parse_log_keys

LISTED, UNLISTED = MadeLog(1), MadeLog(2)
for _log in (LISTED, UNLISTED):
    _log.close("RO-1", demo_events())
KEY = LISTED.log_key.public.thumbprint


def text(more="", key=KEY, name="Garage One (invented)"):
    return f"""format = "auditkit/log-keys@1"
[[shop]]
name = "{name}"
fingerprints = ["{key}"]
{more}
"""


def kept(run, tmp_path, keys):
    into = tmp_path / "fleet.duckdb"
    folder = written(tmp_path / "in", [LISTED.packet("RO-1"), UNLISTED.packet("RO-1")])
    (tmp_path / "keys.toml").write_text(keys)
    status, out, err = run(
        "collect", folder, "--into", into, "--keys", tmp_path / "keys.toml"
    )
    assert (status, err) == (0, "")
    trusted = asked(into, "SELECT origin, shop, is_trusted FROM log ORDER BY log_id")
    return out, trusted, asked(into, "SELECT key_is FROM packet ORDER BY packet_id")


def test_a_key_that_is_not_listed_is_kept_apart_and_told(run, tmp_path):
    out, trusted, states = kept(run, tmp_path, text())
    assert trusted == [
        (LISTED.origin, "Garage One (invented)", True),
        (UNLISTED.origin, None, False),
    ]
    assert states == [("listed",), ("not listed",)]
    other = UNLISTED.log_key.public.thumbprint
    assert f"key {other}: not in your list of keys, 1 packet kept apart" in out


@pytest.mark.parametrize(
    ("more", "state"),
    [
        ("since = 2026-03-02\nuntil = 2026-03-03", "listed"),
        ("since = 2026-03-04", "outside its dates"),
        ("until = 2026-03-02", "outside its dates"),
    ],
)
def test_a_packet_from_outside_its_keys_dates_is_told(run, tmp_path, more, state):
    """The order's last entry was recorded on 2026-03-03 (UTC), its shop says."""
    out, trusted, states = kept(run, tmp_path, text(more))
    assert states[0] == (state,)
    assert trusted[0][2] is True
    assert ("1 packet from outside the dates" in out) == (state != "listed")


def test_without_a_list_nothing_is_trusted_and_that_is_told(run, tmp_path):
    into = tmp_path / "fleet.duckdb"
    folder = written(tmp_path / "in", [LISTED.packet("RO-1")])
    _, out, _ = run("collect", folder, "--into", into)
    assert asked(into, "SELECT is_trusted FROM log") == [(False,)]
    assert asked(into, "SELECT key_is FROM packet") == [("no list",)]
    assert "no list of keys was given" in out
    assert NO_LIST.sha256 is None


def test_the_digest_of_a_list_is_that_of_what_it_says():
    plain = parse_log_keys(text())
    assert parse_log_keys("# a comment\n" + text()).sha256 == plain.sha256
    assert parse_log_keys(text("since = 2026-01-01")).sha256 != plain.sha256
    assert parse_log_keys(text(name="Another")).sha256 != plain.sha256


@pytest.mark.parametrize(
    ("bad", "said"),
    [
        ("= 1", "not TOML"),
        ("", "does not say format"),
        ('format = "auditkit/log-keys@2"', "does not say format"),
        ('format = "auditkit/log-keys@1"', "not a list of shops"),
        (text() + "\n[more]\n", "not a list of shops"),
        (text(key="short"), "43 letters"),
        (text(name=" "), "no name"),
        (text() + text().partition("\n")[2], "stands here twice"),
        (text('since = "2026-01-01"'), "no day"),
        (text("since = 2026-01-01T00:00:00Z"), "no day"),
        (text("since = 2026-02-01\nuntil = 2026-01-01"), "before since"),
        (text("from = 2026-02-01"), "nothing else"),
        (text().replace(f'["{KEY}"]', "[]"), "no fingerprints"),
        (text().replace(f'"{KEY}"', "5"), "not text"),
        ('format = "auditkit/log-keys@1"\nshop = 5', "not a list of shops"),
        ('format = "auditkit/log-keys@1"\nshop = [5]', "nothing else"),
    ],
)
def test_a_list_that_cannot_be_meant_is_refused_with_its_place(bad, said):
    with pytest.raises(InputError, match=said) as found:
        parse_log_keys(bad, where="keys.toml")
    assert str(found.value).startswith("keys.toml")
    assert found.value.what_to_do
