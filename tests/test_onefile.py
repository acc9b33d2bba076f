"""The one-file verifier answers as auditkit does, on a bare interpreter."""

import hashlib
import json
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
from click.testing import CliRunner
from conftest import PASSPHRASE, judge, small_record
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

from auditkit import note
from auditkit.bare import ed25519
from auditkit.bare.build import MODULES, build
from auditkit.cli.onefile import verifier_command
from auditkit.cli.verify import verify_command
from auditkit.errors import InputError
from auditkit.keys import PrivateKey
from auditkit.packet import verify_packet
from auditkit.text64 import decode64, encode64

VECTORS = json.loads((Path(__file__).parent / "vectors" / "log.json").read_text())
BARE = (sys.executable, "-I", "-S")

# Runs the verifier's own command line over many packets in one interpreter.
DRIVER = """
import contextlib, io, json, sys
sys.path.insert(0, sys.argv[1])
from auditkit.bare.main import main
import cryptography
assert cryptography.__file__.startswith(sys.argv[1]), cryptography.__file__
assert not [p for p in sys.path if "site-packages" in p], sys.path
for line in sys.stdin:
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        status = main(json.loads(line))
    print(json.dumps([status, out.getvalue(), err.getvalue()]))
"""


@pytest.fixture(scope="module")
def pyz(tmp_path_factory):
    path = tmp_path_factory.mktemp("bare") / "auditkit-verify.pyz"
    path.write_bytes(build())
    return path


def bare(pyz, *arguments, **how):
    return subprocess.run(
        [*BARE, pyz, *arguments], capture_output=True, text=True, check=False, **how
    )


def driven(pyz, calls):
    """Return (status, stdout, stderr) of every call of the verifier."""
    done = subprocess.run(
        [*BARE, "-c", DRIVER, pyz],
        input="".join(json.dumps(call) + "\n" for call in calls),
        capture_output=True,
        text=True,
        check=True,
    )
    return [json.loads(line) for line in done.stdout.splitlines()]


def answer(data, where, **how):
    """Return what auditkit answers: exit status, report, error."""
    try:
        report = verify_packet(data, where=where, **how)
    except InputError as error:
        return [2, None, f"auditkit-verify: {error}\n"]
    return [0 if report.verified else 1, report.to_json(), ""]


def edits(packet, other):
    """Return packets that say something false, each in another way."""

    def edit(change):
        content = json.loads(packet)
        change(content)
        return json.dumps(content, ensure_ascii=False, indent=1) + "\n"

    def entry(index, name, value):
        return edit(lambda c: c["entries"][index].update({name: value(c, index)}))

    def sig(change):
        return lambda c, i: encode64(change(decode64(c["entries"][i]["signature"])))

    def plus_order(raw):
        s = int.from_bytes(raw[32:], "little") + ed25519.L
        return raw[:32] + s.to_bytes(32, "little")

    count = len(json.loads(packet)["entries"])
    key = note.vkey("b.example", PrivateKey.from_seed(bytes(32)).public)
    identity = "log+00000000+AQEAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA"
    made = [
        edit(lambda c: c.update(log_key=key)),
        edit(lambda c: c.update(log_key=identity)),
        edit(lambda c: c.update(log_key="")),
        edit(lambda c: c.update(repair_order="RO-9")),
        edit(lambda c: c.update(statement=["Repair order RO-1 is proven."])),
        edit(lambda c: c.update(entries=[])),
        edit(lambda c: c.update(entries=json.loads(other)["entries"])),
        edit(lambda c: c.update(checkpoint=c["checkpoint"] + "\u2014 a b\n")),
        edit(lambda c: c["entries"].reverse()),
        edit(lambda c: c.update(disclosures=[{"seq": 2, "disclosure": "AAAA"}])),
    ]
    for index in range(count):
        made += [
            edit(lambda c, i=index: c["entries"].pop(i)),
            entry(index, "signature", sig(plus_order)),
            entry(index, "signature", sig(lambda raw: raw[:32] + bytes(32))),
            entry(index, "signature", sig(lambda raw: bytes(32) + raw[32:])),
            entry(index, "signature", sig(lambda raw: raw[:-1])),
            entry(index, "proof", lambda c, i: c["entries"][i - 1]["proof"]),
            entry(index, "payload", lambda c, i: c["entries"][i - 1]["payload"]),
        ]
    return made


@pytest.fixture
def corpus(closed):
    """Return good packets, then packets altered in over a hundred ways."""
    packet, other = closed.packet("RO-1"), closed.packet("RO-2")
    good = [packet, other, closed.packet("RO-1", reveal=["*"])]
    bad = [text.encode() for text in edits(packet, other)]
    raw = packet.encode()
    for place in range(0, len(raw), len(raw) // 160):
        changed = bytearray(raw)
        changed[place] ^= 1 << (place % 7)
        bad.append(bytes(changed))
    bad += [raw[:end] for end in range(300, len(raw), len(raw) // 8)]
    return [text.encode() for text in good], bad


def test_same_answer_on_good_and_bad_packets(pyz, corpus, closed, tmp_path):
    good, bad = corpus
    assert len(bad) > 200
    calls, expected = [], []
    for number, data in enumerate([*good, *bad]):
        path = tmp_path / f"{number}.json"
        path.write_bytes(data)
        calls.append([str(path), "--format", "json"])
        expected.append(answer(data, str(path)))
    statuses = [status for status, _, _ in expected]
    assert statuses[: len(good)] == [0] * len(good)
    assert 0 not in statuses[len(good) :]
    assert statuses.count(1) > 50, "enough of them are readable"
    got = driven(pyz, calls)
    differ = []
    for call, (status, out, err), want in zip(calls, got, expected, strict=True):
        if "this is not a packet" in err or "this is not text" in err:
            assert (status, want[0]) == (2, 2)
        elif [status, json.loads(out) if out else None, err] != want:
            differ.append((call, status, err, want))
    assert not differ


def test_key_and_trust(pyz, closed, catalogue, tmp_path):
    data = closed.packet("RO-1").encode()
    path = tmp_path / "p.json"
    path.write_bytes(data)
    right, wrong = closed.log_key.thumbprint, "A" * 43
    texts = [closed.checkpoint()]
    record = small_record("RO-3")
    closed.record(
        record, judge(catalogue, record), passphrase=PASSPHRASE, unproven_reason="t"
    )
    texts.append(closed.checkpoint())
    name = closed.origin
    fork = note.Checkpoint(name, 8, bytes(32))
    texts.append(note.sign_checkpoint(fork, PrivateKey.from_seed(bytes(32))))
    calls, expected = [], []
    for number, trust in enumerate([None, *texts]):
        held = tmp_path / f"{number}.checkpoint"
        held.write_text(trust or "", encoding="utf-8")
        for key in (None, right, wrong):
            options = ["--key", key] if key else []
            options += ["--trust", str(held)] if trust else []
            calls.append([str(path), "--format", "json", *options])
            expected.append(answer(data, str(path), expect_key=key, trust=trust))
    assert {status for status, _, _ in expected} == {0, 1}
    got = driven(pyz, calls)
    assert [[s, json.loads(out), err] for s, out, err in got] == expected


def test_a_fingerprint_that_begins_with_a_hyphen_is_a_fingerprint(
    pyz, closed, tmp_path
):
    """One in 64 does (base64url, RFC 4648 section 5)."""
    path, key = tmp_path / "p.json", "-" + "A" * 42
    path.write_text(closed.packet("RO-1"), encoding="utf-8")
    ours = CliRunner().invoke(verify_command, [str(path), "--key", key])
    done = bare(pyz, path, "--key", key)
    assert (done.returncode, ours.exit_code) == (1, 1), done.stderr
    assert f"not the expected {key}" in done.stdout
    assert done.stdout == ours.stdout


def test_prints_what_auditkit_verify_prints(pyz, closed, tmp_path):
    good, bad = tmp_path / "good.json", tmp_path / "bad.json"
    text = closed.packet("RO-1")
    good.write_text(text, encoding="utf-8")
    bad.write_text(text.replace("lamp on", "lamp off"), encoding="utf-8")
    for path, status in ((good, 0), (bad, 1)):
        ours = CliRunner().invoke(verify_command, [str(path)])
        done = bare(pyz, path)
        assert (done.returncode, done.stderr) == (status, "")
        assert done.stdout == ours.stdout
        assert ours.exit_code == status


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["missing.json"], "it cannot be read"),
        (["."], "it cannot be read"),
        (["x.bin"], "not UTF-8"),
        (["x.txt"], "this is not a packet"),
        (["x.txt", "--trust", "x.txt"], "not a checkpoint"),
        ([], "required: PACKET"),
        (["x.txt", "--what"], "unrecognized"),
    ],
)
def test_unusable_input(pyz, tmp_path, arguments, said):
    (tmp_path / "x.bin").write_bytes(b"\xff\xfe")
    (tmp_path / "x.txt").write_text("a text\n", encoding="utf-8")
    done = bare(pyz, *arguments, cwd=tmp_path)
    assert done.returncode == 2
    assert said in done.stderr
    assert "Traceback" not in done.stderr


def test_prints_on_a_terminal_without_letters(pyz, closed, tmp_path):
    """Text that a terminal cannot show does not stop the answer."""
    path = tmp_path / "p\u00e4cket.json"
    path.write_text(closed.packet("RO-1"), encoding="utf-8")
    code = (
        "import sys; sys.path.insert(0, sys.argv[1]); sys.stdout.reconfigure("
        "encoding='ascii'); from auditkit.bare.main import main; main(sys.argv[2:])"
    )
    done = subprocess.run(
        [*BARE, "-c", code, pyz, path], capture_output=True, text=True, check=True
    )
    assert "p\\xe4cket.json: verified" in done.stdout


def test_same_bytes_each_time_and_printed_hash(tmp_path, pyz):
    out = tmp_path / "v.pyz"
    done = CliRunner().invoke(verifier_command, ["--out", str(out)])
    data = out.read_bytes()
    assert data == pyz.read_bytes() == build()
    assert hashlib.sha256(data).hexdigest() in done.stdout
    again = CliRunner().invoke(verifier_command, ["--out", str(out)])
    assert isinstance(again.exception, InputError)
    with zipfile.ZipFile(out) as archive:
        assert archive.testzip() is None
        infos = archive.infolist()
    assert {i.date_time[0] for i in infos} == {1980}
    assert [i.filename for i in infos] == sorted(i.filename for i in infos)


def test_holds_the_modules_that_a_packet_needs_and_no_more():
    """In a fresh interpreter, what checking a packet imports is what is packed."""
    code = (
        "import sys, json, auditkit.packet;"
        "print(json.dumps(sorted(m for m in sys.modules if m.startswith('auditkit'))))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    needed = {m.removeprefix("auditkit").strip(".") for m in json.loads(done.stdout)}
    packed = {m for m in MODULES if not m.startswith("bare/")}
    assert packed == {m or "__init__" for m in needed}


# Ed25519 itself


def openssl(public, signature, message):
    try:
        Ed25519PublicKey.from_public_bytes(public).verify(signature, message)
    except InvalidSignature:
        return False
    return True


def test_published_signatures():
    """RFC 8032 section 7.1: each holds, and no single-bit change of it does."""
    for vector in VECTORS["rfc8032"]:
        public, message, signature = (
            bytes.fromhex(vector[name]) for name in ("public", "msg", "sig")
        )
        assert ed25519.holds(public, signature, message)
        for place in range(0, 512, 9):
            changed = bytearray(signature)
            changed[place // 8] ^= 1 << (place % 8)
            assert not ed25519.holds(public, bytes(changed), message)
        assert not ed25519.holds(public, signature, message + b"\x00")


MIXED = "10eb7c3acfb2bed3e0d6ab89bf5a3d6afddd1176ce4812e38d9fd485058fdb1f"
R_36 = "36684ea91032ba5b1dbab2d02f4debc74c3327f2b3802e2e4d371aa42b12b56b"
R_B7 = "b797b156efcd45a4e2454d2fd0b21438b3ccd80d4c7fd1d1b2c8e55bd4ed4a94"
R_NON = "ed" + "ff" * 30 + "7f"


# C2SP CCTV, ed25519/ed25519vectors.json (commit 0fb2c3b), by number, under the one key
# that is of mixed order and so not refused at enrolment. Those flagged
# low_order_residue hold only with a cofactor; non_canonical_R only if R is decoded.
@pytest.mark.parametrize(
    ("number", "r", "s", "message", "holds"),
    [
        (
            4,
            "00" * 32,
            "5e176f12cfb0d4e6eb6929b19ae4c998ef05c1c2cf628a9b1fa1c21312627108",
            "ed25519vectors 7",
            False,
        ),
        (
            5,
            "00" * 32,
            "9472a69cd9a701a50d130ed52189e2455b23767db52cacb8716fb896ffeeac09",
            "ed25519vectors 3",
            True,
        ),
        (
            6,
            R_36,
            "c02e2b9e63e385c058bf62b14b3a2b29ccefe8e38ddb536bc3f9865320a3d801",
            "ed25519vectors 10",
            False,
        ),
        (
            7,
            R_36,
            "bbfd00bd9c259d8d222d15e67a3d8228585050dbb9b9585be20d8fadc721da03",
            "ed25519vectors",
            True,
        ),
        (
            17,
            R_NON,
            "ad7a355469b5c87e550469f6b2de409ee723acd584bf35f86b80c384e8ceb702",
            "ed25519vectors 3",
            False,
        ),
        (
            28,
            R_B7,
            "639734cf989e314e9e049fc01a3864d191fed8f231b12fee6fa50aaadba44b0e",
            "ed25519vectors 9",
            False,
        ),
        (
            29,
            R_B7,
            "732d9e0279fe001d90327efa319816e3e4506b78432b8b4e1f2fdc4b960d700f",
            "ed25519vectors 2",
            True,
        ),
    ],
)
def test_published_edge_cases(number, r, s, message, holds):
    key, signature = bytes.fromhex(MIXED), bytes.fromhex(r + s)
    assert ed25519.holds(key, signature, message.encode()) is holds, number
    assert openssl(key, signature, message.encode()) is holds, number


def torsion():
    """Return a point of order 8: L times a point that is not in the prime group."""
    found = ed25519.decode(
        bytes.fromhex(
            "26e8958fc2b227b045c3f489f2ef98f0d5dfac05d3c63339b13802886d53fc05"
        )
    )
    assert found is not None
    return found


def test_same_as_openssl_on_crafted_signatures():
    """Over keys and R with every torsion part, S in and out of range, bits flipped."""
    t = torsion()
    assert ed25519.encode(ed25519.both(t, 8, t, 0)) == b"\x01" + bytes(31)
    outcomes = {True: 0, False: 0}
    for n in range(64):
        a, r = 5 + n * 7919, 11 + n * 104729
        key = ed25519.encode(ed25519.both(ed25519.BASE, a, t, n % 8))
        point = ed25519.encode(ed25519.both(ed25519.BASE, r, t, n // 8))
        message = b"message %d" % n
        digest = hashlib.sha512(point + key + message).digest()
        k = int.from_bytes(digest, "little") % ed25519.L
        s = (r + k * a) % ed25519.L
        for value in (s, s + ed25519.L, s ^ 1):
            signature = point + value.to_bytes(32, "little")
            ours = ed25519.holds(key, signature, message)
            assert ours is openssl(key, signature, message), (n, value)
            outcomes[ours] += 1
    assert outcomes[True] >= 8
    assert outcomes[False] >= 128


def test_what_is_no_point_or_no_signature():
    key = PrivateKey.from_seed(bytes(32)).public.raw
    assert ed25519.decode((2).to_bytes(32, "little")) is None  # x^2 is no square
    assert ed25519.decode(ed25519.P.to_bytes(32, "little")) is None
    assert ed25519.decode((1 | 1 << 255).to_bytes(32, "little")) is None
    assert not ed25519.holds((2).to_bytes(32, "little"), bytes(64), b"")
    assert not ed25519.holds(key, bytes(63), b"")
    with pytest.raises(ValueError, match="32 bytes"):
        ed25519.Ed25519PublicKey.from_public_bytes(bytes(31))
    for make in (
        ed25519.Ed25519PrivateKey,
        ed25519.Ed25519PrivateKey.generate,
        lambda: ed25519.Ed25519PrivateKey.from_private_bytes(bytes(32)),
    ):
        with pytest.raises(NotImplementedError):
            make()
