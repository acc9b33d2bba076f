"""On a terminal lines are wrapped between words; in a pipe they stay whole."""

import fcntl
import os
import pty
import struct
import subprocess
import sys
import termios
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditkit.cli.layout import table_lines, wrapped
from auditkit.order.findings import Verdict
from auditkit.order.policy import parse_policy
from auditkit.order.questions import Question

WORDS = st.lists(st.text("ab-./_", min_size=1, max_size=30), min_size=1, max_size=30)


@given(WORDS, st.integers(0, 8), st.integers(20, 120))
def test_no_word_is_lost_or_broken_and_only_a_long_word_is_too_wide(
    words, indent, columns
):
    pieces = wrapped(" " * indent + " ".join(words), columns)
    assert [word for piece in pieces for word in piece.split()] == words
    for number, piece in enumerate(pieces):
        assert len(piece) <= columns or len(piece.split()) == 1
        lead = len(piece) - len(piece.lstrip(" "))
        assert lead == indent + (4 if number else 0)


@given(st.lists(st.tuples(st.text("ab", max_size=20), WORDS), max_size=5))
def test_a_table_keeps_its_columns(rows):
    table = [(name, "x", " ".join(said)) for name, said in rows]
    whole = table_lines(table, None)
    assert [line.split("x", 1)[1].split() for line in whole] == [s for _, s in rows]
    assert len({line.index("x") for line in whole}) <= 1
    narrow = table_lines(table, 80)
    assert " ".join(narrow).split() == " ".join(whole).split()
    for line in narrow:
        assert len(line) <= 80 or len(line.split()) == 1


def test_a_narrow_terminal_gets_the_last_column_below():
    row = ("a-long-name-of-a-rule", "blocking", "what it finds is told here")
    assert table_lines([row], 40) == [
        "a-long-name-of-a-rule  blocking",
        "    what it finds is told here",
    ]


def test_a_last_column_is_never_a_strip_of_a_few_words():
    """The longest rule's name leaves 26 of 80 columns: its sentence goes below."""
    row = ("calibration-changed-without-reprogramming", "blocking", "a " * 30)
    assert table_lines([row], 80) == [
        "calibration-changed-without-reprogramming  blocking",
        "    " + ("a " * 30).strip(),
    ]


@pytest.mark.parametrize("arguments", [("rules",), ("rules", "no-monitor-result")])
def test_output_fits_eighty_columns_of_a_terminal(run, arguments):
    status, lines = on_terminal(arguments, "stdout")
    assert status == 0
    _, piped, _ = run(*arguments)
    assert max(map(len, lines)) <= 80
    assert max(map(len, piped.splitlines())) > 80
    assert " ".join(lines).split() == piped.split()


def test_an_error_fits_eighty_columns_of_a_terminal(run):
    arguments = ("open", "RO-1", "--captured", "10:30")
    status, lines = on_terminal(arguments, "stderr")
    assert status == 2
    _, _, piped = run(*arguments)
    assert len(lines) == 2
    assert max(map(len, lines)) <= 80
    assert len(piped.splitlines()) == 1
    assert " ".join(lines).split() == piped.split()


def on_terminal(arguments, stream):
    """Return the exit status, and what a terminal of 80 columns shows of a stream."""
    command = [sys.executable, "-m", "auditkit", *arguments]
    env = {k: v for k, v in os.environ.items() if k not in {"COLUMNS", "LINES"}}
    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
    child = subprocess.Popen(command, env=env, **{stream: theirs})
    os.close(theirs)
    shown = bytearray()
    while True:
        try:
            part = os.read(ours, 65536)
        except OSError:  # Linux says so where the other side has closed
            break
        if not part:
            break
        shown += part
    os.close(ours)
    return child.wait(60), shown.decode().splitlines()


def test_init_asks_who_signs_first_on_a_terminal_alone(run, monkeypatch, tmp_path):
    before = set(tmp_path.iterdir())
    with Path(os.devnull).open() as nobody, monkeypatch.context() as patch:
        patch.setattr("sys.stdin", nobody)
        status, out, err = run("init", "--shop", "Example Yard")
    assert (status, out) == (2, "")
    assert err == (
        "auditkit: --person: it is not said: who signs first; give --person NAME, a "
        "short id such as tech-a\n"
    )
    assert set(tmp_path.iterdir()) == before
    command = [sys.executable, "-m", "auditkit", "init", "--shop", "Example Yard"]
    ours, theirs = pty.openpty()
    with subprocess.Popen(command, stdin=theirs, stdout=subprocess.PIPE) as child:
        os.write(ours, b"mechanic 1\nmechanic-1\n2\n8, x\n7\n\n400\n")
        shown, _ = child.communicate(timeout=60)
    assert child.returncode == 0
    assert b"log begun for Example Yard, mechanic-1 signs as manager" in shown
    policy = parse_policy((tmp_path / "policy.toml").read_text())
    assert policy.least is Verdict.PROVEN
    assert policy.not_asked == (Question.HAZARDS_MET,)
    asked = {name: dict(one.parameters) for name, one in policy.rules.items()}
    assert asked == {"instrument-out-of-calibration": {"days": 400}}
    os.close(ours)
    os.close(theirs)
