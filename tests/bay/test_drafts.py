"""What was typed and not sent survives a restart, and nothing more is kept of it."""

import stat
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import pytest

from auditkit.bay.drafts import MOST, MOST_BYTES, Draft, Drafts
from auditkit.errors import InputError, LogError

TYPED = Draft(
    "tech-a",
    "RO-1",
    "form-1",
    "2026-03-02T09:00:00Z",
    {"reading": "6,5", "note": "Zündspule 🔧 \ud800\x00"},
)


@pytest.fixture
def log(tmp_path):
    return tmp_path / "shop.auditlog"


@pytest.fixture
def drafts(log):
    with Drafts(log) as opened:
        yield opened


def test_a_draft_is_there_after_a_kill_as_it_was_typed(log):
    command = (
        "import os, sys, pathlib; from auditkit.bay.drafts import Draft, Drafts;"
        "Drafts(pathlib.Path(sys.argv[1])).keep("
        "Draft('tech-a', 'RO-1', 'f', '2026-03-02T09:00:00Z', {'reading': '6,5'}));"
        "os.kill(os.getpid(), 9)"
    )
    killed = subprocess.run([sys.executable, "-c", command, log], check=False)
    assert killed.returncode == -9
    with Drafts(log) as drafts:
        assert drafts.find("tech-a", "RO-1", "f").fields == {"reading": "6,5"}


def test_any_text_comes_back_and_the_last_one_counts(drafts, log):
    drafts.keep(TYPED)
    assert drafts.find("tech-a", "RO-1", "form-1") == TYPED
    later = replace(TYPED, fields={"reading": "6.5"}, kept_at="2026-03-02T09:00:01Z")
    drafts.keep(later)
    assert drafts.of("tech-a") == (later,)
    drafts.close()
    with Drafts(log) as again:
        assert again.of("tech-a") == (later,)


def test_nobody_finds_the_draft_of_another_person_order_or_form(drafts):
    drafts.keep(TYPED)
    assert drafts.find("tech-b", "RO-1", "form-1") is None
    assert drafts.find("tech-a", "RO-2", "form-1") is None
    assert drafts.find("tech-a", "RO-1", "form-2") is None
    assert drafts.of("tech-b") == ()


def test_it_is_gone_once_its_step_is_recorded_from_the_disk_too(drafts, log):
    drafts.keep(replace(TYPED, fields={"name": "Customer One (invented)"}))
    drafts.drop("tech-a", "RO-1", "form-1")
    drafts.drop("tech-a", "RO-1", "form-1")  # twice is once
    assert drafts.of("tech-a") == ()
    drafts.close()
    for path in log.parent.iterdir():
        assert b"Customer One" not in path.read_bytes()


def test_a_draft_that_comes_after_its_form_is_recorded_is_not_kept(drafts):
    other = replace(TYPED, form="form-2")
    drafts.keep(other)
    drafts.keep(TYPED)
    drafts.recorded("tech-a", "RO-1", "form-1")
    drafts.keep(TYPED)
    assert drafts.of("tech-a") == (other,)
    drafts.keep(replace(TYPED, person="tech-b"))  # who did not send it
    assert drafts.of("tech-b")
    for number in range(1001):
        drafts.recorded("tech-a", "RO-1", f"more-{number}")
    drafts.keep(TYPED)
    assert len(drafts.of("tech-a")) == 2, "no more of them are remembered"


def test_drafts_are_bounded(drafts):
    for number in range(MOST + 5):
        at = f"2026-03-02T09:{number // 60:02}:{number % 60:02}Z"
        drafts.keep(replace(TYPED, form=f"form-{number}", kept_at=at))
    drafts.keep(replace(TYPED, person="tech-b"))
    kept = [draft.form for draft in drafts.of("tech-a")]
    assert kept == [f"form-{number}" for number in range(MOST + 4, 4, -1)]
    assert len(drafts.of("tech-b")) == 1
    with pytest.raises(InputError, match=f"{MOST_BYTES} bytes"):
        drafts.keep(replace(TYPED, fields={"note": "x" * MOST_BYTES}))
    assert drafts.of("tech-a")[0].fields == TYPED.fields


def test_many_tablets_at_once(drafts):
    with ThreadPoolExecutor(8) as tablets:
        list(
            tablets.map(
                lambda n: drafts.keep(replace(TYPED, person=f"p{n % 8}", form=f"f{n}")),
                range(200),
            )
        )
    assert sum(len(drafts.of(f"p{n}")) for n in range(8)) == 200


def test_only_its_owner_may_read_it(drafts):
    assert stat.S_IMODE(drafts.path.stat().st_mode) == 0o600


@pytest.mark.parametrize(
    "content", [b"no database at all " * 99, b"SQLite format 3\0x"]
)
def test_a_file_of_another_kind_is_one_clear_error(log, content):
    path = log.with_name("shop.auditlog.drafts")
    path.write_bytes(content)
    with pytest.raises(LogError, match="move the file away") as told:
        Drafts(log)
    assert told.value.where == str(path)
    assert path.read_bytes() == content
