"""What outsiders said lies in the log, travels in packets, and bounds every entry.

The time stamp authority is ``openssl ts`` (RFC 3161), the witness our own key.
"""

import json
import shutil
from datetime import UTC, datetime, timedelta
from types import SimpleNamespace

import pytest
from click.testing import CliRunner
from conftest import PASSPHRASE, close_order

from auditkit.cli.checkpoint_keep import keep_command
from auditkit.cli.verify import verify_command
from auditkit.errors import InputError, VerificationError
from auditkit.log.ledger import Ledger
from auditkit.proof import cosignature, note, timestamp
from auditkit.proof.check_packet import parse_packet, verify_packet
from auditkit.proof.keys import PrivateKey

KEY = PrivateKey.from_seed(bytes([9] * 32))
WITNESS = cosignature.make_cosigner("w.example/1", KEY.public)


def with_cosignature(text, at):
    body = note.split_note(text)[0]
    return cosignature.add_line(text, cosignature.cosign(body, WITNESS.name, KEY, at))


@pytest.fixture
def shop(tmp_path, catalogue):
    """Return a log of three orders, attested between them, by a clock of its own."""
    clock = SimpleNamespace(now=datetime(2026, 3, 2, 8, tzinfo=UTC))
    ledger = Ledger.create(
        tmp_path / "shop.auditlog",
        shop="Example Yard Garage",
        person="mechanic-1",
        passphrase=PASSPHRASE,
        clock=lambda: clock.now,
    )

    def attest(off=0):
        at = int((clock.now + timedelta(hours=off)).timestamp())
        text = with_cosignature(ledger.checkpoint(), at)
        return ledger.attest(text, passphrase=PASSPHRASE)

    for number in (1, 2, 3):
        clock.now += timedelta(hours=1)
        close_order(ledger, catalogue, f"RO-{number}")
        clock.now += timedelta(hours=1)
        attest()
    folder = tmp_path
    vkey = note.vkey(ledger.origin, ledger.log_key)
    (folder / "policy").write_text(f"log {vkey}\nwitness w {WITNESS.vkey}\nquorum w\n")
    yield SimpleNamespace(ledger=ledger, clock=clock, folder=folder, attest=attest)
    ledger.close()


def verify(path, *words):
    got = CliRunner().invoke(verify_command, [str(path), *map(str, words)])
    return got.exit_code, got.output


def test_every_event_of_a_packet_gets_its_interval(shop):
    path = shop.folder / "p.json"
    path.write_text(shop.ledger.packet("RO-2"))
    status, out = verify(
        path, "--witnesses", shop.folder / "policy", "--format", "json"
    )
    found = json.loads(out)
    assert (status, found["verified"]) == (0, True)
    own = [line for line in found["intervals"] if "T11:" in line["claimed"]]
    assert len(own) == 3
    for line in own:
        assert line["after"] == "2026-03-02T10:00:00+00:00"
        assert line["before"] == "2026-03-02T12:00:01+00:00"
    out = verify(path, "--witnesses", shop.folder / "policy")[1]
    assert "recorded after 2026-03-02T10:00:00+00:00 (witnesses) and before" in out
    assert "entries are cosigned by w; wanted: w" in out
    assert "intervals" in json.loads(verify(path, "--format", "json")[1])


def test_a_packet_carries_no_more_attestations_than_it_needs(shop):
    for _ in range(5):
        shop.attest()
    kinds = [
        json.loads(signed.payload)["event"]["kind"]
        for signed, _ in parse_packet(shop.ledger.packet("RO-2")).entries
    ]
    assert kinds.count("attestation") == 2


def test_each_readers_own_witness_is_found_in_the_packet(shop, tmp_path):
    """Another witness, nearer in the log, does not hide the one that is trusted."""
    other_key = PrivateKey.from_seed(bytes([8] * 32))
    other = cosignature.make_cosigner("v.example/1", other_key.public)
    body = note.split_note(shop.ledger.checkpoint())[0]
    at = int(shop.clock.now.timestamp())
    text = shop.ledger.checkpoint() + cosignature.cosign(
        body, other.name, other_key, at
    )
    shop.ledger.attest(text, passphrase=PASSPHRASE)
    shop.attest()
    path = shop.folder / "p.json"
    path.write_text(shop.ledger.packet("RO-3"))
    vkey = note.vkey(shop.ledger.origin, shop.ledger.log_key)
    for witness in (WITNESS, other):
        policy = shop.folder / "one"
        policy.write_text(f"log {vkey}\nwitness w {witness.vkey}\nquorum w\n")
        status, out = verify(path, "--witnesses", policy)
        assert status == 0, out


def test_a_checkpoint_of_the_readers_own_may_not_cover_the_order(shop):
    text = with_cosignature(shop.ledger.store.checkpoints()[1][1], 1_772_000_000)
    (shop.folder / "held").write_text(text)
    path = shop.folder / "p.json"
    since = [(note.parse_checkpoint(note.split_note(text)[0]))]
    given = [(point.size, point.root) for point in since]
    path.write_text(shop.ledger.packet("RO-3", since=given))
    words = ("--trust", shop.folder / "held", "--witnesses", shop.folder / "policy")
    status, out = verify(path, *words)
    assert (status, "is newer than what they know" in out) == (0, True)


def test_the_whole_log_is_told_in_runs(shop):
    path = shop.ledger.store.path
    status, out = verify(path, "--witnesses", shop.folder / "policy")
    assert status == 0
    assert "entries 0 to 4: recorded before 2026-03-02T10:00:01" in out


@pytest.mark.parametrize(
    ("hours", "said"),
    [(-9, "the clock was set back"), (9, "the clock was set forward")],
)
def test_a_clock_set_back_or_forward_is_found(shop, catalogue, hours, said):
    shop.clock.now += timedelta(hours=hours)
    close_order(shop.ledger, catalogue, "RO-4")
    shop.clock.now += timedelta(hours=2 - hours)
    shop.attest()
    path = shop.folder / "p.json"
    path.write_text(shop.ledger.packet("RO-4"))
    assert verify_packet(path.read_text()).verified, "by itself it is but a claim"
    status, out = verify(path, "--witnesses", shop.folder / "policy")
    assert (status, said in out) == (1, True)
    status, out = verify(shop.ledger.store.path, "--witnesses", shop.folder / "policy")
    assert (status, said in out) == (1, True)
    if hours < 0:
        assert "the clock went back before entries" in verify(path)[1]


def test_an_attestation_of_another_history_is_no_attestation(shop, tmp_path):
    """The log key signs a fork, a witness cosigns it: no packet can carry it."""
    ledger = shop.ledger
    fork = note.Checkpoint(ledger.origin, 4, bytes(32))
    key = ledger.log_signer(PASSPHRASE)
    text = with_cosignature(note.sign_checkpoint(fork, key), 1)
    with pytest.raises(InputError, match="not of the entries that this log holds"):
        ledger.attest(text, passphrase=PASSPHRASE)
    event = {"kind": "attestation", "checkpoint": text, "by": "log"}
    ledger.write_own({**event, "at": "2026-03-02T09:00:00Z"}, log_key=key)
    (problem,) = ledger.verify().problems
    assert "it attests a checkpoint of size 4 with another root" in problem.problem


def test_what_attest_refuses(shop):
    ledger = shop.ledger
    with pytest.raises(InputError, match="nobody but the log itself signed"):
        ledger.attest(ledger.checkpoint(), passphrase=PASSPHRASE)
    other = note.sign_checkpoint(note.Checkpoint(ledger.origin, 4, bytes(32)), KEY)
    with pytest.raises(VerificationError):
        ledger.attest(other, passphrase=PASSPHRASE)
    size = ledger.store.head()[0]
    assert ledger.verify().entries == size, "nothing was written"


@pytest.mark.skipif(shutil.which("openssl") is None, reason="openssl is absent")
def test_a_time_stamp_in_the_log_bounds_for_who_trusts_its_root(shop, catalogue):
    pytest.importorskip("rfc3161_client", reason="the extra auditkit[stamp] is absent")
    import openssl_authority

    folder = shop.folder
    root = openssl_authority.make_root(folder, "root")
    openssl_authority.make_signer(folder)
    (folder / "tsa.cnf").write_text(openssl_authority.CONFIG)
    (folder / "serial").write_text("01\n")
    text = shop.ledger.checkpoint()
    (folder / "c.checkpoint").write_text(text)
    (folder / "q.tsq").write_bytes(timestamp.request(text)[0])
    openssl_authority.openssl(
        *(folder, "ts", "-reply", "-config", "tsa.cnf"),
        *("-queryfile", "q.tsq", "-out", "c.tsr"),
    )
    log = shop.ledger.store.path
    words = [str(folder / "c.checkpoint"), "--stamp", str(folder / "c.tsr")]
    word = folder / "word"
    word.write_bytes(PASSPHRASE + b"\n")
    got = CliRunner().invoke(
        keep_command, [*words, "--log", str(log), "--passphrase-file", str(word)]
    )
    assert got.exit_code == 0, got.output
    assert "a time stamp over 14 entries kept by entry 14" in got.output
    shop.clock.now = datetime.now(UTC)
    with Ledger.open(log, clock=lambda: shop.clock.now) as ledger:
        close_order(ledger, catalogue, "RO-4")
        with pytest.raises(VerificationError, match="over another text"):
            ledger.attest(
                with_cosignature(text, 1),
                passphrase=PASSPHRASE,
                token=(folder / "c.tsr").read_bytes(),
            )
        packets = {name: ledger.packet(name) for name in ("RO-3", "RO-4")}
    today = f"{datetime.now(UTC):%Y-%m-%d}"
    for name, side in (("RO-3", "before"), ("RO-4", "after")):
        path = folder / f"{name}.json"
        path.write_text(packets[name])
        status, out = verify(path, "--roots", folder / "root.pem", "--format", "json")
        found = json.loads(out)
        assert (status, found["verified"]) == (0, True), out
        verdict = parse_packet(packets[name]).entries
        last = max(signed.seq for signed, _ in verdict if '"verdict"' in signed.payload)
        (line,) = [line for line in found["intervals"] if line["seq"] == last]
        assert line[side].startswith(today)
    other = openssl_authority.make_root(folder, "other")
    assert other != root
    status, out = verify(folder / "RO-4.json", "--roots", folder / "other.pem")
    assert (status, "is of no authority that you trust" in out) == (0, True)
    assert "recorded at an unknown time" in out
