"""Trust policies: the specification's example and rules, then whom a checkpoint has.

C2SP tlog-policy (draft). Its example elides the keys, so these are our own.
"""

import itertools

import pytest

from auditkit.errors import InputError
from auditkit.proof import cosignature, note
from auditkit.proof.keys import PrivateKey
from auditkit.proof.trust_policy import KnownLog, parse_trust_policy, satisfied

LOG = PrivateKey.from_seed(bytes([9] * 32))
ORIGIN = "garage.example/log"
LOG_VKEY = note.vkey(ORIGIN, LOG.public)
NAMES = ("X1", "X2", "X3", "Y1", "Y2", "Y3")
KEYS = {name: PrivateKey.from_seed(bytes([i] * 32)) for i, name in enumerate(NAMES, 20)}
VKEYS = {
    name: cosignature.make_cosigner(f"w.example/{name}", key.public).vkey
    for name, key in KEYS.items()
}
# The example of the specification, with keys filled in.
SPECIFIED = f"""\
log {LOG_VKEY}

witness X1 {VKEYS["X1"]}
witness X2 {VKEYS["X2"]}
witness X3 {VKEYS["X3"]}
group X-witnesses 2 X1 X2 X3

witness Y1 {VKEYS["Y1"]}
witness Y2 {VKEYS["Y2"]}
witness Y3 {VKEYS["Y3"]}
group Y-witnesses any Y1 Y2 Y3

group X-and-Y all X-witnesses Y-witnesses
quorum X-and-Y
"""
TEXT = note.format_checkpoint(note.Checkpoint(ORIGIN, 8, bytes(32)))


def cosigned(*names):
    made = note.sign_note(TEXT, ORIGIN, LOG)
    for name in names:
        line = cosignature.cosign(TEXT, f"w.example/{name}", KEYS[name], 1_700_000_000)
        made = cosignature.add_line(made, line)
    return made


def parsed(text):
    return parse_trust_policy(text.encode() if isinstance(text, str) else text)


def test_specified_example_over_all_sets_of_witnesses():
    """Of all 64 sets, those with two X and one Y, as the specification says."""
    policy = parsed(SPECIFIED)
    assert policy.wanted() == "(2 of (X1, X2, X3) and (Y1 or Y2 or Y3))"
    good = 0
    for count in range(7):
        for names in itertools.combinations(NAMES, count):
            standing = satisfied(policy, cosigned(*names))
            many = "".join(names)
            assert standing.satisfied == (many.count("X") >= 2 and many.count("Y") >= 1)
            assert {name for name, _ in standing.by} == set(names)
            good += standing.satisfied
    assert good == 28  # (3 + 1) sets of X by 7 sets of Y


def test_what_is_missing_is_said():
    standing = satisfied(parsed(SPECIFIED), cosigned("X1", "Y2"))
    assert standing.checkpoint.size == 8
    assert standing.problems == (
        (
            "cosignatures wanted: (2 of (X1, X2, X3) and (Y1 or Y2 or Y3)); "
            "given by: X1, Y2"
        ),
    )


def test_what_is_merely_missing_is_told_from_what_is_false():
    policy = parsed(SPECIFIED)
    few = cosigned("X1", "Y2")
    assert satisfied(policy, few).is_missing
    assert not satisfied(policy, cosigned(*NAMES)).is_missing
    other = cosignature.cosign(TEXT.replace("8", "9"), "w.example/X2", KEYS["X2"], 1)
    assert not satisfied(policy, few + other).is_missing, "a false line"
    assert not satisfied(policy, few.replace("garage", "garden")).is_missing


def test_quorum_none_and_unknown_log():
    policy = parsed("quorum none\n")
    assert "no log" in satisfied(policy, cosigned()).problems[0]
    known = KnownLog(ORIGIN, LOG.public)
    assert satisfied(policy, cosigned(), known_log=known).satisfied
    assert policy.wanted() == "nobody's"


def test_checkpoint_not_signed_by_the_log():
    line = cosignature.cosign(TEXT, "w.example/X1", KEYS["X1"], 1)
    policy = parsed(
        f"log {LOG_VKEY}\nwitness X1 {VKEYS['X1']}\nquorum X1\n",
    )
    assert satisfied(policy, cosigned("X1")).satisfied
    other = note.sign_note(TEXT, ORIGIN, KEYS["Y1"]) + line
    standing = satisfied(policy, other)
    assert (standing.satisfied, standing.checkpoint) == (False, None)
    assert not satisfied(policy, "no note at all").satisfied


def test_two_keys_of_one_log():
    """A log that changed its key: either line will do."""
    old = note.vkey(ORIGIN, KEYS["Y1"].public)
    policy = parsed(f"log {old}\nlog {LOG_VKEY}\nquorum none\n")
    assert satisfied(policy, cosigned()).satisfied


def test_false_line_of_a_listed_witness_refuses_the_rest():
    policy = parsed(SPECIFIED)
    moved = cosignature.cosign(TEXT.replace("8", "9"), "w.example/X3", KEYS["X3"], 1)
    standing = satisfied(policy, cosigned("X1", "X2", "Y1") + moved)
    assert not standing.satisfied
    assert "w.example/X3 does not fit" in standing.problems[0]


def test_spacing_comments_and_urls():
    text = (
        f"\n# a comment\n\t # another\n\twitness \t w1  {VKEYS['X1']}"
        f"   https://w1.example/  \nlog {LOG_VKEY} x\n  quorum\tw1\n"
    )
    policy = parsed(text)
    assert policy.witnesses[0].url == "https://w1.example/"
    assert (policy.logs[0].url, policy.quorum) == ("x", "w1")


def test_names_are_octets():
    """K, the Kelvin sign and a byte that is no UTF-8 are three names."""
    names = (b"K", "\u212a".encode(), b"K\x80")
    lines = [
        b"witness " + name + b" " + VKEYS[key].encode()
        for name, key in zip(names, NAMES, strict=False)
    ]
    policy = parsed(b"\n".join([*lines, b"quorum K\x80\n"]))
    assert len({w.name for w in policy.witnesses}) == 3
    assert satisfied(
        policy, cosigned("X3"), known_log=KnownLog(ORIGIN, LOG.public)
    ).satisfied
    policy.wanted().encode()  # prints anywhere


def test_keywords_are_names_too():
    policy = parsed(
        f"witness all {VKEYS['X1']}\nwitness any {VKEYS['X2']}\n"
        "group group 2 all any\nquorum group\n"
    )
    assert policy.wanted() == "(all and any)"


SAME_KEY = cosignature.make_cosigner("other.example", KEYS["X1"].public).vkey
W1, W2 = (f"witness w{i} {VKEYS[f'X{i}']}\n" for i in (1, 2))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "no line end"),
        ("quorum none", "no line end"),
        (W1, "no quorum line"),
        ("quorum none\r\n", "byte 0d"),
        ("quorum none\n\x01\n", "byte 01"),
        ("quibble w1\nquorum none\n", "begins no line"),
        (W1[:-1] + " https://x.example # why\nquorum w1\n", "other words"),
        ("log\nquorum none\n", "other words"),
        ("log garbage\nquorum none\n", "not a verifier key"),
        (f"log {LOG_VKEY}\nlog {LOG_VKEY} x\nquorum none\n", "earlier line"),
        (f"log {VKEYS['X1']}\nquorum none\n", "another algorithm"),
        (f"witness w1 {LOG_VKEY}\nquorum w1\n", "type 04"),
        ("witness w1\nquorum w1\n", "other words"),
        (f"witness none {VKEYS['X1']}\nquorum none\n", "taken"),
        (W1 + f"witness w2 {SAME_KEY}\nquorum w1\n", "earlier line"),
        (W1 + W2.replace("w2", "w1") + "quorum w1\n", "taken"),
        (W1 + "group w1 any w1\nquorum w1\n", "taken"),
        (W1 + "group g 1\nquorum w1\n", "other words"),
        (W1 + "group none any w1\nquorum none\n", "taken"),
        (W1 + "group g 0 w1\nquorum g\n", "threshold"),
        (W1 + "group g -1 w1\nquorum g\n", "threshold"),
        (W1 + "group g 01 w1\nquorum g\n", "threshold"),
        (W1 + "group g 2 w1\nquorum g\n", "threshold"),
        (W1 + "group g any w2\nquorum g\n", "defines 'w2'"),
        ("group g any w1\n" + W1 + "quorum g\n", "defines 'w1'"),
        (W1 + "group g any g\nquorum g\n", "defines 'g'"),
        (W1 + "group g any none w1\nquorum g\n", "defines 'none'"),
        (W1 + "group g all w1 w1\nquorum g\n", "member already"),
        (W1 + W2 + "group g any w1 w2\ngroup h any w1\nquorum g\n", "member already"),
        (W1 + "quorum w1\nquorum w1\n", "second quorum"),
        ("quorum unknown\n", "defines 'unknown'"),
        ("quorum w1\n" + W1, "defines 'w1'"),
        ("quorum\n", "other words"),
        ("quorum none\n" + "#" * 65536 + "\n", "bytes long"),
    ],
)
def test_unfit_policies(text, said):
    """The rules of tlog-policy, a line each; the error names place and what to do."""
    with pytest.raises(InputError, match=said) as caught:
        parse_trust_policy(text.encode(), where="trust.txt")
    assert caught.value.where.startswith("trust.txt")
    assert caught.value.what_to_do


def test_as_many_as_the_specification_recommends():
    """At least 32 logs, 32 witnesses and 32 groups."""
    keys = [PrivateKey.from_seed(bytes([i, *[7] * 31])).public for i in range(64)]
    lines = [f"log {note.vkey(f'l.example/{i}', keys[i])}" for i in range(32)]
    for i in range(32):
        vkey = cosignature.make_cosigner(f"w.example/{i}", keys[32 + i]).vkey
        lines += [f"witness w{i} {vkey}", f"group g{i} all w{i}"]
    policy = parsed("\n".join([*lines, "quorum g31\n"]))
    assert [len(policy.logs), len(policy.witnesses), len(policy.groups)] == [32] * 3
