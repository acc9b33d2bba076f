"""A policy that cannot be read: one clear error, whatever is in the file."""

from importlib.resources import files

import pytest

from auditkit.cli import main
from auditkit.errors import InputError
from auditkit.order.policy import parse_policy

HEAD = 'format = "auditkit/policy@1"\n'
RECORD = "RO-1001.json"
PARAMETERS = "[rules.no-monitor-result.parameters]\n"
UNFIT = {
    "least is a list": ('least = ["proven"]', "least ['proven'] is not known"),
    "least is a table": ("least = {a = 1}", "least {'a': 1} is not known"),
    "least is a long number": (f"least = 0x{'f' * 100_000}", "a number is outside"),
    "severity is a list": (
        '[rules.x]\nseverity = ["blocking"]',
        "severity ['blocking'] is not known",
    ),
    "many digits": (f"x = {'9' * 10_000}", "a number is outside"),
    "a long parameter": (f"{PARAMETERS}x = 0x{'f' * 5000}", "a number is outside"),
    "a parameter past 2^53-1": (f"{PARAMETERS}x = {2**53}", "a number is outside"),
    "deep": (f"a = {'[' * 2000}{']' * 2000}", "nests deeper than 64"),
    "a deep parameter": (f"{PARAMETERS}x = {'[' * 65}{']' * 65}", "nests deeper"),
    "deep names": (f"{PARAMETERS}{'.'.join('a' * 900)} = 1", "nests deeper"),
}


@pytest.mark.parametrize(("text", "told"), UNFIT.values(), ids=UNFIT)
def test_a_policy_that_cannot_be_is_told_in_one_error(
    tmp_path, monkeypatch, capsys, text, told
):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(InputError, match=r"least|severity|number") as refused:
        parse_policy(f"{HEAD}{text}\n", where="p.toml")
    assert told in refused.value.message
    assert refused.value.where.startswith("p.toml")
    assert refused.value.what_to_do
    (tmp_path / "p.toml").write_text(f"{HEAD}{text}\n")
    (tmp_path / "r.json").write_bytes((files("auditkit_demo") / RECORD).read_bytes())
    with pytest.raises(SystemExit) as left:
        main(["check", "r.json", "--policy", "p.toml"])
    assert left.value.code == 2
    told_there = capsys.readouterr().err
    assert told in " ".join(told_there.split())
    assert "Traceback" not in told_there


def test_a_number_that_json_holds_is_taken():
    policy = parse_policy(f"{HEAD}{PARAMETERS}x = {2**53 - 1}\ny = [[1]]\n")
    assert policy.setting("no-monitor-result").parameters == {
        "x": 2**53 - 1,
        "y": [[1]],
    }


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ('checker_url = "checker.example"', "checker_url is no address"),
        ('checker_url = "https://c.example/#x"', "checker_url is no address"),
        ('checker_url = "https://c.example/a b"', "checker_url is no address"),
        ('checker_url = "javascript:alert(1)"', "checker_url is no address"),
        ('checker_url = "https://c.example@other.example/"', "checker_url is no"),
        ("checker_url = 'https://c.example/\"><script>'", "checker_url is no"),
        (f'checker_url = "https://{"c" * 120}"', "checker_url is no address"),
        ("checker_url = 1", "checker_url is no address"),
        ('packet_from = "a\\nb"', "packet_from is not text for one line"),
        (f'packet_from = "{"x" * 121}"', "packet_from is not text for one line"),
        ("packet_from = []", "packet_from is not text for one line"),
    ],
)
def test_what_no_receipt_could_print_is_refused(line, said):
    with pytest.raises(InputError, match=said) as caught:
        parse_policy(f'format = "auditkit/policy@1"\n{line}\n', where="p.toml")
    assert caught.value.where == f"p.toml#{line.split()[0]}"
    assert caught.value.what_to_do


def test_what_a_receipt_prints_for_the_shop_judges_nothing():
    head = 'format = "auditkit/policy@1"\n'
    policy = parse_policy(
        f'{head}checker_url = "https://c.example/check.html"\npacket_from = "desk"\n'
    )
    assert policy.checker_url == "https://c.example/check.html"
    assert policy.packet_from == "desk"
    assert policy.sha256 == parse_policy(head).sha256
