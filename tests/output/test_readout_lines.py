"""What a readout shows to people: by module, and "none" only where that was said."""

import json

import pytest
from click.testing import CliRunner

from auditkit.cli.decode import decode_command
from auditkit.obd import decode
from auditkit.obd.comparison import compare
from auditkit.output.comparison_lines import comparison_lines
from auditkit.output.readout_lines import readout_lines

TEXT = """
> 0101
7E8 06 41 01 81 07 E5 80 00
> 03
7E8 04 43 01 04 01 00 00 00
7E9 02 43 00 AA AA AA AA AA
> 07
7E9 02 47 00 AA AA AA AA AA
7E8 03 7F 07 11 AA AA AA AA
"""


def lines(text):
    return readout_lines(decode(text))


def test_one_module_never_answers_for_another():
    told = lines(TEXT)
    engine = told[
        told.index("Engine module 7E8:") : told.index("Transmission module 7E9:")
    ]
    gearbox = told[told.index("Transmission module 7E9:") :]
    assert "  Services: 01, 03 answered; 07 refused" in engine
    assert "  Engine lamp: ON; stored codes that it counts: 1" in engine
    assert "  Stored fault codes: P0401" in engine
    assert not [line for line in engine if "Pending" in line], "it refused: not none"
    assert "  Pending fault codes: none" in gearbox
    assert "  Services: 03, 07 answered; 01 not answered, others did" in gearbox


@pytest.mark.parametrize(
    ("answer", "problem"),
    [
        ("7E8 04 43 02 04 01", "answer 43: 2 fault codes need 4 bytes, not 2"),
        ("7E8 05 43 02 04 01", "a single frame shorter than its length"),
        ("7E8 10 08 43 03 04 01 04 02", "message not finished: 6 of 8 bytes"),
    ],
)
def test_an_answer_that_could_not_be_read_is_no_silence(answer, problem):
    # ISO 15765-2:2004: single and first frames state a length.
    # ISO 15031-5:2006 Table 146: the count of codes, two bytes each.
    text = f"> 03\n{answer}\n7E9 02 43 00\n"
    told = lines(text)
    assert "  Services: 03 answered, could not be read" in told
    assert "  Services: 03 answered" in told
    assert f"Problem: line 2: {problem}" in told
    before = decode("> 03\n7E8 04 43 01 04 01\n")
    compared = comparison_lines(compare(before, decode(text)))
    assert f"Problem, after: line 2: {problem}" in compared
    assert [line for line in compared if "stored: answered, could not be read" in line]
    alone = lines(f"> 03\n{answer}\n")
    (missing,) = [one for one in alone if one.startswith("Not asked")]
    assert "03" not in missing


def test_a_code_is_told_in_plain_words():
    assert (
        "  P0401: exhaust gas recirculation flow, or its control (powertrain, defined "
        "by the standard)" in lines(TEXT)
    )


def test_what_was_not_asked_is_told():
    (told,) = [line for line in lines(TEXT) if line.startswith("Not asked")]
    assert "0A (permanent codes)" in told
    assert "07" not in told


def test_status_bytes_are_told_and_an_empty_answer_is_an_answer():
    told = lines("> 1902FF\n7E8 07 59 02 FF 01 28 00 50\n")
    assert [line for line in told if line.startswith("  P0128-00: status 50: ")]
    empty = lines("> 1902FF\n7E8 03 59 02 FF AA AA AA AA\n")
    assert "  Services: 19 answered" in empty


@pytest.mark.parametrize(
    "first",
    ["\ufeff", "ADAPTER-X1 v2.1\n", "TEXT ADAPTER 1.0B\n", ">\n>\n"],
)
def test_marks_greetings_and_prompts_are_no_problem(first):
    readout = decode(f"{first}> 03\n7E8 02 43 00 AA AA AA AA AA\n")
    assert readout.problems == ()
    assert readout.has_answered("7E8", "03")


def test_an_answer_in_a_comment_is_told():
    readout = decode("# 7E8 04 43 01 04 01\n> 03\n7E8 02 43 00 AA AA AA AA AA\n")
    assert "1 answer stands in comments, left out: line 1" in readout.notes
    assert readout.confirmed == ()
    assert decode("# the engine was warm\n7E8 02 43 00\n").notes == ()


def test_json_has_lamps_services_and_statuses(tmp_path):
    path = tmp_path / "readout.txt"
    path.write_text(TEXT + "7E8 07 59 02 FF 01 28 00 50\n")
    done = CliRunner().invoke(decode_command, [str(path), "--format", "json"])
    found = json.loads(done.stdout)
    assert found["lamps"] == [{"responder": "7E8", "on": True, "counts_codes": 1}]
    assert {"responder": "7E8", "service": "07", "answer": "refused"} in found[
        "services"
    ]
    assert found["statuses"][0]["code"] == "P0128-00"
    assert found["code_details"][0]["meaning"].startswith("exhaust gas recirculation")


def test_a_service_that_all_refuse_is_refused_and_not_left_unasked():
    """7F, the service, and 12: not supported (ISO 14229-1, from memory)."""
    lines = readout_lines(decode("> 0A\n7E8 03 7F 0A 12\n7E9 03 7F 0A 12\n"))
    assert [line for line in lines if "refused" in line][:2] == [
        "  Services: 0A refused",
        "  Services: 0A refused",
    ]
    (missing,) = [line for line in lines if line.startswith("Not asked")]
    assert "0A" not in missing
