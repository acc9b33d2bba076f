"""A witness never cosigns a fork, whatever it is sent and however many ask at once.

C2SP tlog-witness v1.0.0: statuses, bodies and the race that it describes.
"""

import http.client
import random
import socket
import sqlite3
import subprocess
import sys
import threading
import time
from contextlib import closing, contextmanager

import pytest
from click.testing import CliRunner
from conftest import PASSPHRASE
from sampling import sampled
from unguarded import unguarded

from auditkit.cli.witness import witness_command
from auditkit.errors import InputError, KeyProblem, LogError
from auditkit.log.verify_log import verify_file
from auditkit.outsiders.ask_witness import ask_for_cosignature
from auditkit.proof import cosignature, merkle, note
from auditkit.proof.keys import PrivateKey
from auditkit.proof.trust_policy import parse_trust_policy, satisfied
from auditkit.proof.witness_protocol import WitnessAnswer, format_request
from auditkit.witness import connections
from auditkit.witness.answer import LastCosigned, admitted, refusal
from auditkit.witness.connections import MAX_CONNECTIONS, PER_ADDRESS
from auditkit.witness.serve import WitnessService, known_logs, make_server
from auditkit.witness.state import WitnessMemory

ORIGIN = "garage.example/log"
LOG = PrivateKey.from_seed(bytes([1] * 32))
OTHER = PrivateKey.from_seed(bytes([2] * 32))
KEY = PrivateKey.from_seed(bytes([3] * 32))
COSIGNER = cosignature.make_cosigner("w.example/1", KEY.public)
LOGS = {ORIGIN: (LOG.public,)}
LEAVES = [merkle.leaf_hash(bytes([i])) for i in range(40)]
FORK = [*LEAVES[:5], *(merkle.leaf_hash(bytes([i, i])) for i in range(35))]


def checkpoint(size, leaves=LEAVES, *, origin=ORIGIN, key=LOG):
    made = note.Checkpoint(origin, size, merkle.root(leaves[:size]))
    return note.sign_checkpoint(made, key)


def proof(old, new, leaves=LEAVES):
    return merkle.prove_consistency(leaves[:new], old) if old else []


def body(old, new, leaves=LEAVES):
    return format_request(old, proof(old, new, leaves), checkpoint(new, leaves))


@pytest.fixture
def witness(tmp_path):
    return WitnessService(
        WitnessMemory.create(tmp_path / "w.state", COSIGNER), KEY, LOGS
    )


@contextmanager
def served(witness, **how):
    server = make_server("127.0.0.1", 0, witness, **how)
    thread = threading.Thread(target=server.serve_forever, args=(0.01,))
    thread.start()
    try:
        yield server.server_address[1]
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


@pytest.fixture
def url(witness, monkeypatch):
    monkeypatch.setenv("no_proxy", "127.0.0.1")
    with served(witness) as port:
        yield f"http://127.0.0.1:{port}"


def post(url, data, method="POST", path="/add-checkpoint"):
    host = url.removeprefix("http://")
    connection = http.client.HTTPConnection(host, timeout=5)
    try:
        connection.request(method, path, data)
        reply = connection.getresponse()
        media = reply.headers["Content-Type"]
        return WitnessAnswer(reply.status, reply.read().decode(), media)
    finally:
        connection.close()


def opened(answer, size, leaves=LEAVES):
    """Return the cosignature in an answer of 200."""
    assert answer.status == 200, answer
    text = checkpoint(size, leaves)
    return cosignature.cosignatures(text + answer.body, [COSIGNER])[0]


def test_published_request_is_read():
    """The example of tlog-witness v1.0.0; it publishes no key, so the answer is 403."""
    request = (
        "old 20852014\nPlRNCrwHpqhGrupue0L7gxbjbMiKA9temvuZZDDpkaw=\n"
        "jrJZDmY8Y7SyJE0MWLpLozkIVMSMZcD5kvuKxPC3swk=\n"
        "5+pKlUdi2LeF/BcMHBn+Ku6yhPGNCswZZD1X/6QgPd8=\n"
        "/6WVhPs2CwSsb5rYBH5cjHV/wSmA79abXAwhXw3Kj/0=\n\n"
        "example.com/behind-the-sofa\n20852163\n"
        "CsUYapGGPo4dkMgIAUqom/Xajj7h2fB2MPA3j2jxq2I=\n\n"
        "\u2014 example.com/behind-the-sofa Az3grlgtzPICa5OS8npVmf1Myq/5IZniMp+ZJurmRD"
        "eOoRDe4URYN7u5/Zhcyv2q1gGzGku9nTo+zyWE+xeMcTOAYQ8=\n"
    ).encode()
    assert admitted(request, LOGS).status == 404
    known = {"example.com/behind-the-sofa": [LOG.public]}
    assert admitted(request, known).status == 403


def test_first_then_grown_then_the_same_again(url):
    first = opened(post(url, body(0, 5)), 5)
    assert opened(post(url, body(5, 13)), 13).at >= first.at
    assert opened(post(url, body(13, 13)), 13).at >= first.at


@pytest.mark.parametrize("old", [0, 4, 6, 13])
def test_other_old_size_is_told_the_size(url, old):
    post(url, body(0, 5))
    told = post(url, body(old, 13))
    assert told == WitnessAnswer(409, "5\n", "text/x.tlog.size")


def test_unknown_log_and_unknown_key(url):
    strange = checkpoint(5, origin="strange.example")
    assert post(url, format_request(0, [], strange)).status == 404
    false = checkpoint(5, key=OTHER)
    assert post(url, format_request(0, [], false)).status == 403
    assert post(url, format_request(9, [], checkpoint(5))).status == 400


def test_wrong_proofs(url):
    post(url, body(0, 5))
    good = proof(5, 13)
    for wrong in (
        [],
        good[1:],
        good[::-1],
        [*good, good[0]],
        proof(4, 13),
        [bytes(32)],
    ):
        request = format_request(5, wrong, checkpoint(13))
        assert post(url, request).status == 422
    assert opened(post(url, body(5, 13)), 13)


def test_nothing_seen_needs_an_empty_proof(url):
    request = format_request(0, [bytes(32)], checkpoint(5))
    assert post(url, request).status == 422


def test_fork_is_refused_at_every_size(url):
    """Every fork of a log of 13 that was cut at 5, with its own true proof."""
    post(url, body(0, 13))
    for size in sampled(range(6, 41), 35, "sizes of a fork"):
        for old in range(size + 1):
            answer = post(url, body(old, size, FORK))
            assert answer.status in (409, 422), (old, size)
    assert opened(post(url, body(13, 40)), 40)


def test_same_size_with_another_root(url):
    post(url, body(0, 13))
    told = post(url, format_request(13, [], checkpoint(13, FORK)))
    assert told == WitnessAnswer(409, "13\n", "text/x.tlog.size")


def test_empty_log_has_one_root():
    none = note.sign_checkpoint(note.Checkpoint(ORIGIN, 0, bytes(32)), LOG)
    request = admitted(format_request(0, [], none), LOGS)
    assert refusal(request, LastCosigned()).status == 409
    request = admitted(format_request(0, [], checkpoint(0)), LOGS)
    assert refusal(request, LastCosigned()) is None


GOOD = body(0, 5)


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"old 0\n",
        b"\n" + GOOD,
        GOOD.replace(b"old 0", b"old 00"),
        GOOD.replace(b"old 0", b"old -1"),
        GOOD.replace(b"old 0", b"old  0"),
        GOOD.replace(b"old 0", b"OLD 0"),
        GOOD.replace(b"old 0\n", b"old 0\r\n"),
        GOOD.replace(b"old 0\n", b"old 0\nAAAA\n"),
        GOOD.replace(b"old 0\n", b"old 0\nnot base64!\n"),
        format_request(0, [bytes(32)] * 64, checkpoint(5)),
        GOOD.replace(b"\n5\n", b"\n05\n"),
        GOOD.replace(b"\n\n\xe2", b"\nan extension\n\n\xe2"),
        b"\xff" + GOOD,
        GOOD.partition(b"\n\n")[0] + b"\n\nno checkpoint\n",
    ],
)
def test_malformed_requests(url, data):
    assert post(url, data).status == 400


def test_every_bit_of_a_request():
    """No change to a request that would be cosigned makes another one that would."""
    request = body(5, 13)
    seen = LastCosigned(5, merkle.root(LEAVES[:5]))
    assert refusal(admitted(request, LOGS), seen) is None
    silent = []
    for place in range(len(request)):
        for bit in range(8):
            changed = bytearray(request)
            changed[place] ^= 1 << bit
            found = admitted(bytes(changed), LOGS)
            if not isinstance(found, WitnessAnswer) and refusal(found, seen) is None:
                silent.append((place, bit))
    assert not silent


def test_two_clients_race_with_two_forks(tmp_path):
    """Of two forks asked for at once, in many rounds, one each round is cosigned."""
    for attempt in range(10):
        state = WitnessMemory.create(tmp_path / f"{attempt}.state", COSIGNER)
        # Two servers over one memory: the lock is in the file, not in the process.
        pair = [
            WitnessService(WitnessMemory.open(state.path), KEY, LOGS) for _ in range(2)
        ]
        pair[0].answer(body(0, 5))
        start = threading.Barrier(2)
        answers = {}

        def run(which, leaves, pair=pair, start=start, answers=answers):
            start.wait()
            answers[which] = pair[which].answer(body(5, 9 + which, leaves))

        threads = [
            threading.Thread(target=run, args=(i, leaves))
            for i, leaves in enumerate((LEAVES, FORK))
        ]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert sorted(a.status for a in answers.values()) == [200, 409]
        winner = 0 if answers[0].status == 200 else 1
        kept = state.seen()[ORIGIN]
        assert kept.size == 9 + winner
        assert kept.root == merkle.root((LEAVES, FORK)[winner][: kept.size])


def test_many_clients_never_roll_back(url, witness):
    """The race that tlog-witness describes: the size told never falls."""
    seed = random.Random(7)
    sizes = []

    def run(order):
        for new in order:
            told = post(url, body(0, 1)).body
            old = int(told) if told[:1].isdigit() else 1
            if old <= new and post(url, body(old, new)).status == 200:
                sizes.append(new)

    orders = [seed.sample(range(2, 41), 12) for _ in range(4)]
    threads = [threading.Thread(target=run, args=(order,)) for order in orders]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sizes
    kept = witness._state.seen()[ORIGIN]
    assert kept.size == max(sizes)
    assert kept.root == merkle.root(LEAVES[: kept.size])


def test_memory_outlives_the_process(tmp_path):
    path = tmp_path / "w.state"
    WitnessService(WitnessMemory.create(path, COSIGNER), KEY, LOGS).answer(body(0, 13))
    again = WitnessService(WitnessMemory.open(path), KEY, LOGS)
    assert again.answer(body(0, 13)).status == 409
    with pytest.raises(LogError, match="exists"):
        WitnessMemory.create(path, COSIGNER)


def test_lost_memory_is_not_made_anew(tmp_path):
    with pytest.raises(LogError, match="no witness's memory") as caught:
        WitnessMemory.open(tmp_path / "w.state")
    assert "retire" in caught.value.what_to_do
    (tmp_path / "x").write_bytes(b"not a database" * 100)
    with pytest.raises(LogError):
        WitnessMemory.open(tmp_path / "x")


def test_key_and_memory_belong_together(tmp_path):
    state = WitnessMemory.create(tmp_path / "w.state", COSIGNER)
    with pytest.raises(KeyProblem, match=r"not the key of w\.example/1"):
        WitnessService(state, OTHER, LOGS)


def test_clock_that_goes_back(tmp_path):
    """A larger tree is never cosigned with an earlier time."""
    times = iter([1_700_000_100.9, 1_600_000_000.0])
    state = WitnessMemory.create(tmp_path / "w.state", COSIGNER)
    witness = WitnessService(state, KEY, LOGS, clock=lambda: next(times))
    assert opened(witness.answer(body(0, 5)), 5).at == 1_700_000_100
    assert opened(witness.answer(body(5, 9)), 9).at == 1_700_000_100
    with state.turn(ORIGIN) as turn, pytest.raises(LogError, match="never goes back"):
        turn.keep(LastCosigned(8, bytes(32), 1_800_000_000))


def test_nothing_is_signed_that_is_not_kept(witness, url):
    """A memory that cannot be written: 500, no cosignature, and the fault is told."""
    said = []
    with witness._state.turn("another"):  # holds the writer's place
        busy = WitnessService(
            WitnessMemory.open(witness._state.path, wait=0.05), KEY, LOGS
        )
        with served(busy, say=said.append) as port:
            answer = post(f"http://127.0.0.1:{port}", body(0, 5))
    assert answer.status == 500
    assert "\u2014" not in answer.body
    assert any("fault" in line and "locked" in line for line in said)
    assert opened(post(url, body(0, 5)), 5)


def test_two_keys_of_one_log():
    logs = known_logs([note.vkey(ORIGIN, OTHER.public), note.vkey(ORIGIN, LOG.public)])
    assert not isinstance(admitted(body(0, 5), logs), WitnessAnswer)
    with pytest.raises(InputError) as caught:
        known_logs(["garbage"])
    assert (caught.value.where, bool(caught.value.what_to_do)) == ("garbage", True)


def test_other_paths_and_methods(url):
    assert post(url, GOOD, path="/").status == 404
    answer = post(url, None, method="GET")
    assert (answer.status, COSIGNER.vkey in answer.body) == (405, True)


def raw(url, data, *, wait=True):
    host, port = url.removeprefix("http://").split(":")
    with socket.create_connection((host, int(port)), timeout=5) as connection:
        connection.sendall(data)
        return connection.recv(65536) if wait else b""


@pytest.mark.parametrize(
    ("length", "status"),
    [("999999999999999999999", 413), ("70000", 413), ("-1", 411), ("x", 411)],
)
def test_length_is_looked_at_before_the_body(url, length, status):
    head = f"POST /add-checkpoint HTTP/1.1\r\nContent-Length: {length}\r\n\r\n"
    assert raw(url, head.encode()).startswith(f"HTTP/1.1 {status} ".encode())


def test_slow_client_is_let_go(witness):
    said = []
    head = b"POST /add-checkpoint HTTP/1.1\r\nContent-Length: 5\r\n\r\nol"
    with served(witness, timeout=0.1, say=said.append) as port:
        url = f"http://127.0.0.1:{port}"
        assert raw(url, head).startswith(b"HTTP/1.1 408 ")
        raw(url, head, wait=False)  # goes away at once
        assert opened(post(url, body(0, 5)), 5)
    assert any("408" in line for line in said)


class Dripping:
    """Connections that each send one more byte of a header, now and then."""

    def __init__(self, port, addresses, each):
        self.open = []
        for address in addresses:
            for _ in range(each):
                one = socket.socket()
                one.bind((address, 0))
                one.connect(("127.0.0.1", port))
                one.settimeout(0)
                one.send(b"POST /add-checkpoint HTTP/1.1\r\nX: ")
                self.open.append(one)

    def __enter__(self):
        return self

    def __exit__(self, *_):
        for one in self.open:
            one.close()

    def drip(self):
        """Send a byte on each; leave out those that the server has closed."""
        kept = []
        for one in self.open:
            try:
                one.send(b"x")
                is_open = one.recv(1) != b""
            except BlockingIOError:
                is_open = True
            except OSError:
                is_open = False
            if is_open:
                kept.append(one)
            else:
                one.close()
        self.open = kept
        return len(kept)


def test_a_request_has_one_deadline_however_it_drips(witness):
    with served(witness, timeout=0.5) as port, Dripping(port, ["127.0.0.1"], 3) as slow:
        begun = time.monotonic()
        while slow.drip():
            assert time.monotonic() < begun + 20, "the deadline is for each read only"
            time.sleep(0.05)
        assert time.monotonic() > begun + 0.4
        assert opened(post(f"http://127.0.0.1:{port}", body(0, 5)), 5)


def test_one_address_has_few_of_the_places(witness):
    two = ["127.0.0.2", "127.0.0.3"]
    with (
        served(witness, timeout=30) as port,
        Dripping(port, two, MAX_CONNECTIONS) as slow,
    ):
        begun = time.monotonic()
        while slow.drip() > 2 * PER_ADDRESS:
            assert time.monotonic() < begun + 20, "one address holds every place"
            time.sleep(0.05)
        for size in (5, 13):
            url = f"http://127.0.0.1:{port}"
            assert opened(post(url, body({5: 0, 13: 5}[size], size)), size)
        assert slow.drip() == 2 * PER_ADDRESS, "those within their bound are served on"


def test_an_ipv6_network_counts_as_one_address():
    one, other, far = (
        connections._network((f"2001:db8::{tail}", 1))
        for tail in ("1", "2:3", "1:0:0:0:9")
    )
    assert one == other != far


def test_address_in_use(url, witness):
    port = int(url.rpartition(":")[2])
    with pytest.raises(InputError, match="cannot listen"):
        make_server("127.0.0.1", port, witness)


# The client


def asked(url, size, leaves=LEAVES, **how):
    return ask_for_cosignature(
        url,
        how.pop("cosigner", COSIGNER),
        checkpoint(size, leaves),
        LOG.public,
        lambda old: proof(old, size, leaves),
        **how,
    )


def test_client_gets_a_cosignature_from_any_old_size(url):
    for size in (5, 13, 13, 40):
        whole = cosignature.add_line(checkpoint(size), asked(url + "/", size))
        assert len(cosignature.cosignatures(whole, [COSIGNER])) == 1
        assert note.open_checkpoint(whole, LOG.public).size == size


@pytest.mark.parametrize(
    ("size", "leaves", "said"),
    [
        (20, FORK, "does not extend"),
        (13, FORK, "another log of the same 13"),
        (12, LEAVES, "saw 13 entries, this checkpoint has 12"),
    ],
)
def test_client_says_what_a_refusal_means(url, size, leaves, said):
    asked(url, 13)
    with pytest.raises(InputError, match=said) as caught:
        asked(url, size, leaves)
    assert caught.value.where == f"{url}/add-checkpoint"
    assert caught.value.what_to_do


def test_client_wants_the_witness_it_named(url):
    other = cosignature.make_cosigner("w.example/1", OTHER.public)
    with pytest.raises(InputError, match="no cosignature"):
        asked(url, 5, cosigner=other)
    strange = checkpoint(5, origin="strange.example")
    with pytest.raises(InputError, match="does not know this log"):
        ask_for_cosignature(url, COSIGNER, strange, LOG.public, lambda _: [])


class Liar:
    """A witness that answers what it likes."""

    cosigner = COSIGNER

    def __init__(self, *answers):
        self.answers = list(answers)

    def answer(self, _body):
        return self.answers.pop(0) if len(self.answers) > 1 else self.answers[0]


MOVED = cosignature.cosign(
    note.format_checkpoint(note.Checkpoint(ORIGIN, 6, bytes(32))), "w.example/1", KEY, 1
)


@pytest.mark.parametrize(
    ("answers", "said"),
    [
        ([WitnessAnswer(200, "")], "no cosignature"),
        ([WitnessAnswer(200, "\u2014 w.example/1 AAAA\n")], "no cosignature"),
        ([WitnessAnswer(200, MOVED)], "does not fit"),
        ([WitnessAnswer(409, "5\n")], "tells no size"),
        ([WitnessAnswer(409, "five\n", "text/x.tlog.size")], "tells no size"),
        ([WitnessAnswer(409, "1" * 5000, "text/x.tlog.size")], "tells no size"),
        ([WitnessAnswer(409, "99\n", "text/x.tlog.size")], "saw 99 entries"),
        ([WitnessAnswer(409, "0\n", "text/x.tlog.size")], "another log"),
        ([WitnessAnswer(302, "")], "HTTP status 302"),
        ([WitnessAnswer(500, "")], "HTTP status 500"),
        ([WitnessAnswer(403, "")], "another key"),
        (
            [WitnessAnswer(409, f"{i}\n", "text/x.tlog.size") for i in (1, 2, 3, 4)],
            "keeps changing",
        ),
    ],
)
def test_client_believes_no_word(monkeypatch, answers, said):
    monkeypatch.setenv("no_proxy", "127.0.0.1")
    with (
        served(Liar(*answers)) as port,
        pytest.raises(InputError, match=said) as caught,
    ):
        asked(f"http://127.0.0.1:{port}", 5)
    assert caught.value.what_to_do


def test_client_and_a_witness_that_is_not_there(monkeypatch):
    monkeypatch.setenv("no_proxy", "127.0.0.1")
    with socket.create_server(("127.0.0.1", 0)) as silent:
        url = f"http://127.0.0.1:{silent.getsockname()[1]}"
        with pytest.raises(InputError, match="cannot be reached"):
            asked(url, 5, timeout=0.1)
    with pytest.raises(InputError, match="cannot be reached"):
        asked(url, 5)


@pytest.mark.parametrize(
    "address",
    [
        "",
        "w.example",
        "file:///etc/passwd",
        "ftp://w.example",
        "http://",
        "http://w.example:99999",
        "http://w.example/?a=b",
        "http://w example",
        "http://[::1",
    ],
)
def test_unfit_addresses(address):
    with pytest.raises(InputError, match="not the address"):
        asked(address, 5)


# The commands


def invoked(*arguments):
    """Return what a command of the group says; its error is re-raised."""
    environment = {"AUDITKIT_PASSPHRASE": PASSPHRASE.decode()}
    done = CliRunner().invoke(
        witness_command, [str(a) for a in arguments], env=environment
    )
    if done.exception and not isinstance(done.exception, SystemExit):
        raise done.exception
    return done


@pytest.fixture
def made(tmp_path):
    """Return the files of a new witness, and its vkey."""
    key, state = tmp_path / "w1.p12", tmp_path / "w1.state"
    done = invoked("key", "w.example/1", "--key", key, "--state", state)
    return key, state, done.stdout.strip()


def test_a_log_is_witnessed_over_the_commands(closed, made, tmp_path, monkeypatch):
    """The server as a process of its own: a shop asks twice, then alters its log."""
    monkeypatch.setenv("no_proxy", "127.0.0.1")
    monkeypatch.setenv("AUDITKIT_PASSPHRASE", PASSPHRASE.decode())
    key, state, vkey = made
    log, name = closed.store.path, closed.origin
    code = "from auditkit.cli.witness import witness_command as c; c()"
    call = [sys.executable, "-u", "-c", code, "serve", "--listen", "127.0.0.1:0"]
    call += ["--key", key, "--state", state, "--log", note.vkey(name, closed.log_key)]
    with subprocess.Popen(
        call, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as server:
        try:
            port = server.stdout.readline().strip().rpartition(":")[2]
            asking = (log, "--witness", f"http://127.0.0.1:{port}", "--vkey", vkey)
            out = tmp_path / "monday.checkpoint"
            assert (
                "cosigned by w.example/1"
                in invoked("ask", *asking, "--out", out).stdout
            )
            closed.enrol("tech-a", passphrase=PASSPHRASE)
            grown = invoked("ask", *asking).stdout
            with pytest.raises(
                InputError, match="saw 9 entries, this checkpoint has 8"
            ):
                invoked("ask", *asking, "--checkpoint", out)
            with closing(sqlite3.connect(log)) as db, db, unguarded(db):
                change = "payload = replace(payload, 'tool', 'fool')"
                db.execute(f"update entry set {change} where seq = 3")
            verify_file(log, anew=True)
            with pytest.raises(LogError, match="another root over those before it"):
                invoked("ask", *asking)
        finally:
            server.terminate()
            last = threading.Timer(10, server.kill)  # a server that does not end
            last.start()
            _, said = server.communicate()
            last.cancel()
    assert server.returncode == 0
    assert "stopped" in said
    trust = f"log {note.vkey(name, closed.log_key)}\nwitness w {vkey}\nquorum w\n"
    policy = parse_trust_policy(trust.encode())
    for text, size in ((out.read_text(encoding="utf-8"), 8), (grown, 9)):
        standing = satisfied(policy, text)
        assert (standing.satisfied, standing.checkpoint.size) == (True, size)


def test_key_is_private_and_never_overwritten(made):
    key, state, vkey = made
    assert cosignature.parse_vkey(vkey).name == "w.example/1"
    assert key.stat().st_mode & 0o777 == 0o600
    for other in (key.with_name("w2.p12"), key):
        with pytest.raises(InputError, match="exists"):
            invoked("key", "w.example/2", "--key", other, "--state", state)
    assert not key.with_name("w2.p12").exists()


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--key", "w1.key"], r"ends in \.p12"),
        (["--listen", "8080"], "not an address"),
        (["--listen", "127.0.0.1:http"], "not an address"),
        (["--listen", "127.0.0.1:70000"], "cannot listen"),
        (["--log", "x"], "not a verifier key"),
        (["--state", "missing.state"], "no witness's memory"),
    ],
)
def test_unusable_arguments(made, arguments, said):
    key, state, _ = made
    vkey = note.vkey(ORIGIN, LOG.public)
    usual = ["--key", key, "--state", state, "--log", vkey]
    with pytest.raises((InputError, LogError), match=said) as caught:
        invoked("serve", *usual, *arguments)
    assert caught.value.what_to_do


def test_a_strange_checkpoint_is_not_asked_about(closed, tmp_path):
    path = tmp_path / "strange.checkpoint"
    path.write_text(checkpoint(5), encoding="utf-8")
    with pytest.raises(InputError, match="no checkpoint of this log"):
        invoked(
            *("ask", closed.store.path, "--witness", "http://127.0.0.1:9"),
            *("--vkey", COSIGNER.vkey, "--checkpoint", path),
        )
