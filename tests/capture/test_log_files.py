"""Logs of other tools: every format comes back whole, and damage is told."""

import gzip
import hashlib
import subprocess
import sys
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import can
import pytest
from hypothesis import given
from hypothesis import strategies as st
from simulated import read

from auditkit.capture.logfile import read_log
from auditkit.cli.capture import capture_command
from auditkit.errors import InputError
from auditkit.obd import decode

GOOD = read()[0]
TRUTH = decode(GOOD.text).to_json()
TEXT = ("log", "csv", "trc", "asc")
FORMATS = (*TEXT, "blf", "log.gz", "asc.gz")


def frames() -> list[can.Message]:
    """Return the captured frames as python-can's reader of candump logs has them."""
    with TemporaryDirectory() as folder:
        path = Path(folder, "a.log")
        path.write_text(GOOD.text)
        return list(can.LogReader(path))


@cache
def log(ending: str, *more: can.Message) -> bytes:
    """Return a log that python-can's own writer of a format made."""
    with TemporaryDirectory() as folder:
        path = Path(folder, f"a.{ending}")
        with can.Logger(path) as writer:
            for frame in (*frames(), *more):
                writer(frame)
        return path.read_bytes()


def told(data: bytes, ending: str) -> list[str]:
    """Return the problems of a log, or why it cannot be used."""
    try:
        return list(read_log(data, f"a.{ending}").problems)
    except InputError as error:
        return [str(error)]


@pytest.mark.parametrize("ending", FORMATS)
def test_a_log_of_python_cans_own_writer_comes_back_whole(ending):
    got = read_log(log(ending), f"drive.{ending.upper()}")
    assert got.problems == ()
    assert got.frames_read == GOOD.frames
    assert got.sha256 == hashlib.sha256(log(ending)).hexdigest()
    bare = [line.split(" ", 1)[1] for line in GOOD.text.splitlines()]
    assert [line.split(" ", 1)[1] for line in got.text.splitlines()] == bare
    assert decode(got.text).to_json() == TRUTH


def test_an_mf4_comes_back_whole(tmp_path):
    pytest.importorskip("asammdf")
    with can.Logger(tmp_path / "a.mf4") as writer:
        for frame in frames():
            writer(frame)
    data = (tmp_path / "a.mf4").read_bytes()
    got = read_log(data, "a.mf4")
    assert (got.frames_read, got.problems) == (GOOD.frames, ())
    assert decode(got.text).to_json() == TRUTH
    assert told(data[: len(data) // 2], "mf4")


def test_mf4_without_its_library_names_the_extra(monkeypatch):
    monkeypatch.setattr("can.io.mf4.asammdf", None)
    with pytest.raises(InputError, match="needs one library more") as error:
        read_log(b"MDF     ", "a.mf4")
    assert ".[mf4]" in error.value.what_to_do


def test_29_bit_ids_come_back():
    text = read(extended=True)[0].text
    assert read_log(text.encode(), "a.log").text == text


# --- damage ---


def test_a_blf_cut_in_half_is_told_though_the_reader_says_nothing():
    """python-can gives the frames of the first half without a word."""
    whole = log("blf")
    half = whole[: len(whole) // 2]
    with TemporaryDirectory() as folder:
        path = Path(folder, "a.blf")
        path.write_bytes(half)
        silently = len(list(can.BLFReader(path)))
    assert 0 < silently < GOOD.frames
    got = read_log(half, "a.blf")
    assert got.frames_read == silently
    assert got.problems == (
        f"the header states {len(whole)} bytes, the file has {len(half)}",
        f"the header states {GOOD.frames} objects, {silently} are there",
    )


@pytest.mark.parametrize("ending", ["blf", "asc", "log.gz", "asc.gz"])
def test_cut_anywhere_it_is_told(ending):
    """Where the format itself says how much there should be."""
    whole = log(ending)
    for at in [*range(0, len(whole) - 1, 131), len(whole) - 1]:
        assert told(whole[:at], ending), at


@pytest.mark.parametrize("ending", ["log", "csv", "trc"])
def test_cut_within_a_line_it_is_told(ending):
    """A cut between two lines leaves no trace in these formats."""
    whole = log(ending)
    for at in range(0, len(whole), 131):
        if whole[at - 1 : at] not in {b"\n", b"\r"}:
            assert told(whole[:at], ending), at


@pytest.mark.parametrize("ending", TEXT)
def test_a_line_that_is_no_frame_is_named_and_the_rest_is_read(ending):
    lines = log(ending).splitlines(keepends=True)
    at = len(lines) // 2
    lines[at] = lines[at][:25] + b" ZZ " + lines[at][29:]
    got = read_log(b"".join(lines), f"a.{ending}")
    assert got.frames_read == GOOD.frames - 1
    assert got.problems[0].startswith(f"line {at + 1} is no frame: ")
    assert len(got.problems) == 1


def test_a_line_taken_out_of_a_trc_is_told():
    lines = log("trc").splitlines(keepends=True)
    del lines[60]
    (problem,) = told(b"".join(lines), "trc")
    number = int(lines[60].split()[0])
    assert problem == f"line 61 is message {number}, after message {number - 2}"


def test_a_blf_is_held_against_its_header():
    """A count of objects off by more than the one container, and bytes too many."""
    whole = bytearray(log("blf"))
    # The count of objects lies at byte 32 (python-can's source).
    assert int.from_bytes(whole[32:36], "little") == GOOD.frames
    whole[32] += 2
    assert told(bytes(whole), "blf") == [
        f"the header states {GOOD.frames + 2} objects, {GOOD.frames} are there"
    ]
    longer = log("blf") + b"\0" * 16
    damaged, size = told(longer, "blf")
    assert damaged.startswith(f"after {GOOD.frames} frames the file is damaged: ")
    assert size == (
        f"the header states {len(longer) - 16} bytes, the file has {len(longer)}"
    )


@given(st.sampled_from(FORMATS), st.data())
def test_any_bytes_give_a_log_or_one_clear_error(ending, data):
    whole = bytearray(log(ending))
    for _ in range(data.draw(st.integers(1, 6))):
        at = data.draw(st.integers(0, len(whole) - 1))
        whole[at : at + data.draw(st.integers(0, 9))] = data.draw(st.binary(max_size=9))
    try:
        got = read_log(bytes(whole), f"a.{ending}")
    except InputError as error:
        assert error.where == f"a.{ending}"
        assert error.what_to_do
    else:
        decode(got.text)


@given(st.sampled_from([*FORMATS, "mf4"]), st.binary(max_size=300))
def test_noise_is_one_clear_error_or_told(ending, data):
    if ending != "mf4":
        assert told(data, ending)


# --- what is kept ---


def message(can_id, data=b"\1", **options):
    return can.Message(
        timestamp=1_700_000_100,
        arbitration_id=can_id,
        data=data,
        **({"is_extended_id": False, "channel": "can0"} | options),
    )


def test_other_traffic_is_counted_and_not_kept():
    others = (
        message(0x123),
        message(0x7F0),
        message(0x18DAF2F0, is_extended_id=True),
        message(0x7E8, is_remote_frame=True, data=None),
        message(0x7E8, is_fd=True, data=bytes(12)),
        message(0, is_error_frame=True, data=None),
    )
    got = read_log(log("log", *others), "a.log")
    assert (got.frames_read, got.problems) == (GOOD.frames + 6, ())
    assert got.text.count("\n") == GOOD.frames
    assert got.notes == (
        "3 frames with ids that are not OBD's",
        "1 remote frames",
        "1 CAN FD frames with OBD ids",
        "1 error frames",
    )


def test_two_channels_in_one_log_are_told():
    got = read_log(log("log", message(0x7E8, channel="can1")), "a.log")
    assert got.problems == ("OBD frames of several channels are mixed: can0, can1",)


def test_lines_that_hold_no_frame_in_other_tools_logs():
    """Kinds of line as python-can's readers list them; invented values."""
    trc = (
        ";$FILEVERSION=1.1\n;$STARTTIME=45200.5\n"
        "     1)  10.1  Rx  07E8  8  06 41 00 80 00 00 00 AA\n"
        "     2)  11.0  Warng  FFFFFFFF  4  00 00 00 08  BUSHEAVY\n"
        "     3)  12.0  Rx  07E8  2  06 41\n"
    )
    got = read_log(trc.encode(), "a.trc")
    assert (got.frames_read, got.problems) == (2, ())
    assert got.notes == ("1 lines of other kinds than frames",)
    asc = (
        "date Wed Mar 4 08:00:00.000 2026\nbase hex  timestamps absolute\n"
        "// version 7.0.0\nBegin TriggerBlock Wed Mar 4 08:00:00.000 2026\n"
        "   0.000000 Start of measurement\n"
        "   0.010000 1  7E8             Rx   d 8 06 41 00 80 00 00 00 AA\n"
        "   0.020000 1  Statistic: D 1 R 0 XD 0 XR 0 E 0 O 0 B 0.10%\n"
        "   0.030000 CAN 1 Status:chip status error active\n"
        "   0.040000 1  ErrorFrame\n"
        "End TriggerBlock\n"
    )
    got = read_log(asc.encode(), "a.asc")
    assert (got.frames_read, got.problems) == (2, ())
    assert got.text == "(0.010000) can0 7E8#06410080000000AA\n"


def test_a_candump_log_of_its_own_tools_form():
    """The form of ``candump -L``, with and without direction; a person's comment."""
    text = (
        "# read in bay 2\n\n"
        "(1700000000.000001) vcan0 7DF#0201000000000000\n"
        "(1700000000.010000) vcan0 7E8#0641008000000000 R\n"
    )
    got = read_log(text.encode(), "a.log")
    assert (got.frames_read, got.problems, got.notes) == (2, (), ())
    assert decode(got.text).responders == ("7E8",)


@pytest.mark.parametrize(
    ("name", "data", "said"),
    [
        ("a.txt", b"x", ".txt is no known log format"),
        ("readme", b"x", "a name without ending"),
        ("a.gz", gzip.compress(b"x", mtime=0), "a name without ending"),
        ("a.log", b"", "no frame could be read"),
        ("a.log", b"\xff\xfe\0", "line 1 has no end"),
        ("a.log.gz", b"not packed", "the compressed data are damaged"),
        ("a.blf", b"LOGG", "it does not begin as a BLF file"),
        ("a.blf", bytes(200), "it does not begin as a BLF file"),
        ("a.csv", b"time;id;data\n1;2;3\n", "line 1 is no frame"),
        ("a.trc", b";$FILEVERSION=2.1\n;$STARTTIME=x\nx\n", "cannot be read"),
    ],
)
def test_what_is_no_log_is_one_clear_error(name, data, said):
    with pytest.raises(InputError) as error:
        read_log(data, name)
    assert said in error.value.message
    assert error.value.where == name
    assert error.value.what_to_do


def test_without_python_can_the_extra_is_named(monkeypatch):
    monkeypatch.setitem(sys.modules, "can", None)
    with pytest.raises(InputError, match=r"\.\[can\]"):
        read_log(log("log"), "a.log")


# --- the command ---


def test_the_command_turns_a_log_into_a_readout(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    Path("a.blf").write_bytes(log("blf"))
    Path("cut.blf").write_bytes(log("blf")[:-300])
    run = capture_command.main
    options = {"standalone_mode": False}
    assert run(["--from-log", "a.blf", "--out", "a.txt"], **options) == 0
    first, *_ = capsys.readouterr().out.splitlines()
    assert first == (
        "a.blf: 3 modules answered (7E8, 7E9, 7EA): 165 frames, 165 of them OBD's; "
        "0 problems"
    )
    text = Path("a.txt").read_text()
    digest = hashlib.sha256(log("blf")).hexdigest()
    assert text.startswith(f"# read from a.blf, SHA-256 {digest}\n")
    assert decode(text).to_json() == TRUTH
    assert run(["--from-log", "cut.blf", "--out", "cut.txt"], **options) == 1
    assert "problem: the header states" in capsys.readouterr().out
    assert "# the header states" in Path("cut.txt").read_text()
    Path("other.log").write_text("(1.0) can0 123#00\n")
    with pytest.raises(InputError, match="none of its 1 frames has an OBD id"):
        run(["--from-log", "other.log"], **options)


def test_a_log_of_more_answers_than_a_readout_may_hold_writes_nothing(
    tmp_path, monkeypatch
):
    monkeypatch.chdir(tmp_path)
    Path("long.log").write_text("(1.0) can0 7E8#0341057B\n" * 50_000)
    with pytest.raises(InputError, match="cut the log: one reading") as error:
        capture_command.main(
            ["--from-log", "long.log", "--out", "a.txt"], standalone_mode=False
        )
    assert error.value.where == "long.log"
    assert not Path("a.txt").exists()


def test_a_log_whose_name_is_no_unicode_is_told_as_it_can_be(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    try:
        Path("bad\udcff.log").write_text(GOOD.text)
    except OSError:  # a file system of Unicode names alone
        pytest.skip("no such name can be given here")
    options = ["--from-log", "bad\udcff.log", "--out", "a.txt"]
    assert capture_command.main(options, standalone_mode=False) == 0
    assert Path("a.txt").read_text().startswith("# read from bad<U+DCFF>.log, SHA-256")


def test_a_damaged_log_gets_one_error_and_controls_no_terminal(tmp_path):
    path = tmp_path / "a.trc"
    path.write_text(
        ";$FILEVERSION=1.1\n1)\x1b[2J 0.1 Rx 07E8 x\x1b[31m\n\x1b]2;x\x07\n"
    )
    command = [sys.executable, "-m", "auditkit", "capture", "--from-log", str(path)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert done.stderr.count("\n") == 1, done.stderr
    assert "no frame could be read" in done.stderr
    assert "\x1b" not in done.stderr
