"""An error of the command line names the file or the option, and what mends it."""

import errno
import io
import json
import os
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from pathlib import Path

import pytest

from auditkit.order.statement import DEFERS

EMPTY = "47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU="  # RFC 9162 section 2.1.1


@pytest.fixture
def log(run):
    assert (
        run("init", "--shop", "Example Yard Garage", "--person", "mechanic-1")[0] == 0
    )
    assert run("record", "RO-1001.json")[0] == 0
    return run


def _refused(run, *arguments):
    """Return the one line that refuses a command; nothing was printed before it."""
    status, out, err = run(*arguments)
    assert (status, out, err.count("\n")) == (2, "", 1), (out, err)
    return err.removeprefix("auditkit: ").rstrip("\n")


@pytest.mark.parametrize(
    ("arguments", "place"),
    [
        (("init", "--log", "x", "--shop", "X\nY"), "--shop"),
        (("init", "--log", "x", "--shop", "X\u202eY"), "--shop"),
        (("init", "--log", "x", "--shop", "X", "--person", "a\x1b[2J"), "--person"),
        (("succeed", "shop.auditlog", "x", "--reason", "a\tb"), "--reason"),
        (("key", "enrol", "a\x07"), "PERSON"),
        (("key", "revoke", "mechanic-1", "--reason", "a\nb"), "--reason"),
        (("key", "rotate", "mechanic-1", "--reason", "a\x85b"), "--reason"),
        (("erase", "RO-1001", "--path", "customer.name", "--reason", "a\rb"),
         "--reason"),
        (("record", "RO-1002.json", "--unproven", "a\nb"), "--unproven"),
    ],
)  # fmt: skip
def test_control_characters_do_not_get_into_a_log(log, arguments, place):
    before = Path("shop.auditlog").read_bytes()
    said = _refused(log, *arguments)
    assert said.startswith(f"{place}: U+")
    assert "control character" in said
    assert Path("shop.auditlog").read_bytes() == before
    assert not Path("x").exists()


@pytest.mark.parametrize(
    ("arguments", "place"),
    [
        (("init", "--log", "x", "--person", "a", "--shop", ""), "--shop"),
        (("init", "--log", "x", "--shop", "X", "--person", "A b"), "--person"),
        (("key", "enrol", "A b"), "PERSON"),
        (("key", "revoke", "mechanic-1", "--reason", ""), "--reason"),
        (("record", "RO-1002.json", "--unproven", ""), "--unproven"),
    ],
)
def test_an_errors_place_is_the_option_that_was_typed(log, arguments, place):
    assert _refused(log, *arguments).startswith(f"{place}: ")


def test_a_short_new_passphrase_is_warned_about(run, monkeypatch):
    monkeypatch.setenv("AUDITKIT_PASSPHRASE", "1234567")
    status, _, err = run("init", "--shop", "X", "--person", "a")
    assert (status, "7 bytes long" in err, "at least 8" in err) == (0, True, True)
    monkeypatch.setenv("AUDITKIT_PASSPHRASE", "12345678")
    assert run("init", "--shop", "X", "--person", "a", "--log", "second")[2] == ""


def test_the_advice_says_what_to_back_up_and_what_never_to_put_back(run):
    _, out, _ = run("init", "--shop", "X", "--person", "a")
    assert "every day: 'auditkit backup --log shop.auditlog FILE'" in out
    assert "shop.auditlog.keys apart from the backups, and never put both" in out


def test_a_lost_passphrase_leads_to_no_command_that_fails(log, monkeypatch):
    monkeypatch.setenv("AUDITKIT_PASSPHRASE", "another passphrase")
    again = ("succeed", "shop.auditlog", "n", "--reason", "lost")
    said = _refused(log, *again, "--new-key")
    assert said == (
        "shop.auditlog: no person's key opens under this passphrase; name with "
        "--person who gets a new key and signs"
    )
    assert not Path("n").exists()
    again = (*again, "--person", "mechanic-1")
    status, out, _ = log(*again, "--new-key")
    assert status == 0
    assert "may sign: mechanic-1\n" in out
    assert "key enrol mechanic-1" not in out
    before = Path("n").read_bytes()
    status, out, _ = log(*again, "--new-key")
    assert status == 0
    first = "n: it continues shop.auditlog already; nothing new was begun"
    assert out.splitlines()[0] == first
    assert Path("n").read_bytes() == before


def test_people_whose_key_did_not_open_are_still_to_be_enrolled(log, monkeypatch):
    assert log("key", "enrol", "tech-a")[0] == 0
    monkeypatch.setenv("AUDITKIT_PASSPHRASE", "another passphrase")
    _, out, _ = log(
        *("succeed", "shop.auditlog", "n", "--reason", "r"),
        *("--new-key", "--person", "mechanic-1"),
    )
    assert "what to do: auditkit key enrol tech-a --log n" in out
    assert log("key", "enrol", "tech-a", "--log", "n")[0] == 0


def test_a_checkpoint_of_another_log_is_named_with_its_file(log):
    assert log("init", "--log", "other", "--shop", "Other", "--person", "a")[0] == 0
    assert log("checkpoint", "--log", "other", "--out", "o.cp")[0] == 0
    assert log("checkpoint", "--out", "c.cp")[0] == 0
    origin = Path("c.cp").read_text().split("\n")[0]
    Path("zero.cp").write_text(f"{origin}\n0\n{EMPTY}\n\n\u2014 {origin} AAAAAA==\n")
    for command in (("checkpoint", "keep"), ("packet", "RO-1001", "--since")):
        said = _refused(log, *command, "o.cp")
        assert said.startswith("o.cp: this is of another log, ")
        assert "'auditkit checkpoint'" in said
        assert _refused(log, *command, "zero.cp").startswith("zero.cp: ")
    said = _refused(log, "checkpoint", "keep", "c.cp")
    assert said.startswith("c.cp: nobody but the log itself signed")
    forged = Path("c.cp").read_text().replace("\n15\n", "\n14\n")
    Path("f.cp").write_text(forged)
    status, _, err = log("checkpoint", "keep", "f.cp")
    assert (status, "f.cp: the signature does not fit" in err) == (1, True)
    assert "give a checkpoint of this log ('auditkit checkpoint')" in err


def test_show_names_the_paths_that_can_be_revealed(log):
    _, out, _ = log("show", "RO-1001")
    assert out.endswith(f"auditkit packet RO-1001 --reveal PATH\n{DEFERS}\n")
    assert "Withheld: customer.contact, customer.name\n" in out
    _, out, _ = log("packet", "RO-1001", "--out", "p.json", "--reveal", "*")
    assert out.endswith("it discloses customer.contact, customer.name\n")
    given = json.loads(Path("p.json").read_text())["disclosures"]
    assert len(given) == 2


def test_no_key_at_all_is_said_so(log):
    Path("shop.auditlog.keys").rename("away")
    said = _refused(log, "record", "RO-1003.json", "--unproven", "r")
    assert said == (
        "no person's key lies in shop.auditlog.keys; put the folder back, or see "
        "'auditkit succeed'"
    )


def test_a_demo_is_refused_before_its_first_word(run):
    assert _refused(run, "demo", "--into", ".").startswith(
        ".: this folder is not empty"
    )
    said = _refused(run, "demo", "--into", "readout.txt")
    assert said.startswith("readout.txt: this is a file")


def test_who_decides_is_said_once_and_last(run):
    for names in (("RO-1003.json",), ("RO-1001.json", "RO-1002.json", "RO-1003.json")):
        _, out, _ = run("check", *names)
        assert out.endswith(f"\n{DEFERS}\n")
        assert out.count(DEFERS) == 1


def test_why_not_run_names_the_readout_that_lacks_an_answer(run):
    whole = Path("RO-1002.json").read_text()
    lacking = whole.replace("7E8#0641010017656500", "7E8#037F011200000000")
    assert lacking != whole
    Path("RO-1002.json").write_text(lacking)
    status, out, _ = run("why-not-run", "RO-1002.json")
    assert status == 1
    assert out == (
        "RO-1002.json: its last readout (event 9, 2026-03-03T11:00:00+01:00) holds no "
        "readiness (PID 01): read it first\n"
    )
    _, out, _ = run("why-not-run", "--help")
    assert "auditkit why-not-run demo/readout.txt" in out
    status, out, _ = run("why-not-run", "readout.txt")
    assert (status, out.startswith("Not complete")) == (1, True)


def test_a_token_is_looked_for_before_a_passphrase_is_asked(run, monkeypatch):
    pytest.importorskip("pkcs11")
    monkeypatch.delenv("AUDITKIT_PASSPHRASE")
    monkeypatch.setenv("AUDITKIT_PIN", "1234")
    uri = "pkcs11:token=shop;object=log?module-path=/nowhere/module.so"
    said = _refused(run, "init", "--shop", "X", "--person", "a", "--token", uri)
    assert "there is no PKCS#11 module /nowhere/module.so" in said


def test_a_caution_prints_the_digest_that_a_record_asks_for(run):
    events = json.loads(Path("RO-1001.json").read_text())["events"]
    asked = [(e["caution"], e["text_sha256"]) for e in events if e["kind"] == "caution"]
    assert asked
    for name, digest in asked:
        assert digest in run("cautions", name)[1]


def test_what_has_not_happened_yet_is_not_recorded(log):
    record = json.loads(Path("RO-1002.json").read_text())
    record["events"][-1]["at"] = "2999-01-01T08:00:00+01:00"
    Path("later.json").write_text(json.dumps(record))
    words = ("record", "later.json", "--unproven", "a test")
    told = _refused(log, *words)
    assert told.startswith(f"later.json#/events/{len(record['events']) - 1}/at: ")
    assert "is later than this computer's clock" in told


def test_an_empty_path_is_not_this_folder(log):
    """Such as an unset variable of a shell leaves."""
    assert log("packet", "RO-1001", "--out", "RO-1001.packet.json")[0] == 0
    status, out, err = log("verify", "")
    assert (status, out) == (2, "")
    assert "an empty path was given" in err


def test_a_log_is_never_to_be_saved_as_text(log):
    for command in (["record"], ["receipt", "--out", "r.pdf"]):
        status, _, err = log(*command, "shop.auditlog")
        assert status == 2
        assert "this is a log" in err
        assert "leave it as it is" in err


def test_a_packet_that_is_not_written_leaves_no_page(log):
    Path("taken.json").write_text("mine")
    asked = ("packet", "RO-1001", "--out", "taken.json", "--page", "new.html")
    status, _, err = log(*asked)
    assert status == 2
    assert "this file exists already" in err
    assert not Path("new.html").exists()
    assert Path("taken.json").read_text() == "mine"


@pytest.mark.parametrize("leads", ["nowhere", "link"])
@pytest.mark.parametrize("command", [("checkpoint",), ("capture", "--simulated")])
def test_a_link_that_leads_to_no_file_is_not_written_over(log, command, leads):
    Path("link").symlink_to(leads)
    status, out, err = log(*command, "--out", "link")
    assert (status, out) == (2, "")
    assert err.startswith("auditkit: link: this file exists already")
    assert (Path("link").is_symlink(), Path("nowhere").exists()) == (True, False)


def test_a_full_disk_is_told_with_the_file_and_leaves_nothing(log, monkeypatch):
    opened = os.fdopen

    def full(handle, mode="r", *rest):
        if "w" in mode:
            raise OSError(errno.ENOSPC, "No space left on device")
        return opened(handle, mode, *rest)

    monkeypatch.setattr(os, "fdopen", full)
    status, _, err = log("packet", "RO-1001", "--out", "p.json")
    assert status == 2
    assert "p.json: it cannot be written: No space left" in err
    assert "free some space" in err
    assert not list(Path().glob("p.json*"))


def test_a_recorded_text_steers_no_screen(run):
    assert (
        run("init", "--shop", "Example Yard Garage", "--person", "mechanic-1")[0] == 0
    )
    text = Path("RO-1002.json").read_text()
    for wrong in (r"\u001b[2J", r"\u202e", r"\u0000", r"\u009b"):
        changed = text.replace('"complaint": "', f'"complaint": "{wrong}', 1)
        assert changed != text
        Path("c.json").write_text(changed)
        status, _, err = run("record", "c.json", "--unproven", "a test")
        assert status == 2
        assert "c.json#/events/0/complaint" in err
        assert "is a control character" in err


@pytest.fixture
def program(log):
    """Return a function that runs the command line in a process of its own."""

    def call(line, **environment):
        return subprocess.run(
            ["bash", "-o", "pipefail", "-c", line],
            env={
                **os.environ,
                **environment,
                "AUDITKIT": f"{sys.executable} -m auditkit",
            },
            capture_output=True,
            check=False,
        )

    assert log("packet", "RO-1001", "--out", "p.json")[0] == 0
    return call


@pytest.fixture
def piped():
    """Return a function that gives the path of a pipe, by which a file comes once."""
    with ExitStack() as ends, ThreadPoolExecutor() as writers:

        def path(name):
            ours, theirs = os.pipe()
            ends.callback(os.close, ours)
            content = Path(name).read_bytes()

            def write():
                with os.fdopen(theirs, "wb") as pipe:
                    pipe.write(content)

            writers.submit(write)
            return f"/dev/fd/{ours}"

        yield path


def test_a_packet_comes_through_a_pipe(program, log, piped):
    done = program("cat p.json | $AUDITKIT verify /dev/stdin")
    assert done.returncode == 0, done.stderr
    assert b"record unaltered" in done.stdout
    status, _, err = log("verify", piped("shop.auditlog"))
    assert status == 2
    assert "this is a log" in err


def test_readouts_and_repairs_come_through_a_pipe(program, log, piped):
    """What a pipe holds is there once: nothing is read twice."""
    for words in (
        ("readiness", "readout.txt", "--beside", piped("p.json")),
        ("readiness", "readout.txt", piped("RO-1003.json")),
        ("why-not-run", piped("readout.txt")),
    ):
        status, out, err = log(*words, "--format", "json")
        assert status in {0, 1}, err
        assert json.loads(out), words


def test_a_closed_output_changes_no_answer(program, log, monkeypatch):
    assert program("$AUDITKIT verify p.json >&-").returncode == 0
    monkeypatch.setattr("sys.stdout", None)  # as Python has it where it is closed
    assert log("list")[0] == 0


def test_who_reads_no_further_is_not_told_no(program):
    done = program("$AUDITKIT show RO-1001 | head -n 0", PYTHONUNBUFFERED="1")
    assert done.returncode in {0, 141}
    assert b"Traceback" not in done.stderr


def printed(log, monkeypatch, encoding, *arguments):
    """Return the bytes that a command prints in an encoding, and its errors."""
    shown = io.TextIOWrapper(io.BytesIO(), encoding)
    with monkeypatch.context() as patch:
        patch.setattr("sys.stdout", shown)
        status, _, err = log(*arguments)
    assert status == 0, err
    shown.flush()
    return shown.buffer.getvalue()


@pytest.mark.parametrize("encoding", ["latin-1", "ascii"])
def test_a_packet_is_printed_as_it_is_whatever_the_terminal(log, monkeypatch, encoding):
    assert log("packet", "RO-1001", "--out", "p.json")[0] == 0

    def said(*arguments):
        return printed(log, monkeypatch, encoding, *arguments)

    assert said("packet", "RO-1001") == Path("p.json").read_bytes()
    assert "\u2014 ".encode() in said("checkpoint")


def test_a_packet_is_printed_as_it_is_by_a_process(program):
    done = program("$AUDITKIT packet RO-1001", PYTHONIOENCODING="utf-16")
    assert done.returncode == 0, done.stderr
    assert done.stdout == Path("p.json").read_bytes()
    done = program("$AUDITKIT checkpoint", PYTHONIOENCODING="utf-16")
    assert "\u2014 ".encode() in done.stdout


def test_a_record_in_another_encoding_is_told_without_a_place(log):
    Path("wide.json").write_bytes(Path("RO-1001.json").read_text().encode("utf-16"))
    status, _, err = log("check", "wide.json")
    assert status == 2
    assert err == (
        "auditkit: wide.json: it is saved as UTF-16 or UTF-32; save the file as UTF-8\n"
    )


def test_an_older_copy_gives_no_checkpoint(log):
    old = Path("shop.auditlog").read_bytes()
    assert log("record", "RO-1003.json", "--unproven", "a test")[0] == 0
    for end in ("-wal", "-shm"):
        Path(f"shop.auditlog{end}").unlink(missing_ok=True)
    Path("shop.auditlog").write_bytes(old)
    status, out, err = log("checkpoint")
    assert (status, out) == (2, "")
    assert "an older copy of the log lies here" in err
    status, out, _ = log("verify", "shop.auditlog")
    assert (status, "note: an older copy of the log lies here" in out) == (0, True)


def test_a_receipt_of_another_order_is_told_as_just_that(log):
    for number in (1, 3):
        name = f"RO-100{number}"
        assert log("record", f"{name}.json", "--unproven", "a test")[0] == 0
        assert log("packet", name, "--out", f"{name}.packet")[0] == 0
    assert log("receipt", "RO-1003.packet", "--text", "RO-1003.txt")[0] in {0, 1}
    status, out, _ = log("verify", "RO-1001.packet", "--receipt", "RO-1003.txt")
    assert status == 1
    assert "record NOT verified: your receipt is of another repair order\n" in out
    assert "do not rely on it" not in out


def test_a_report_is_a_page_and_is_not_called_a_pdf(log):
    status, out, err = log("report", "RO-1001.json", "--out", "bench.PDF")
    assert (status, out) == (2, "")
    assert "bench.PDF: the report is a page (HTML)" in err
    assert "name bench.html" in err
    assert not Path("bench.PDF").exists()


def test_show_calls_lists_and_late_steps_as_people_do(log):
    _, out, _ = log("show", "RO-1001")
    assert "stored code P0401 (7E8)" in out
    assert "order of the steps, written down later;" in out
    assert "typed by hand" not in out, "this order is of raw data"
    _, out, _ = log("readiness", "readout.txt", "--rules", "federal")
    assert "  stored codes: P0401" in out
