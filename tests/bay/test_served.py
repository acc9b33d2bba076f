"""The bay served for real: by TLS to tablets, to slow clients, until it is stopped."""

import gc
import hashlib
import re
import signal
import socket
import ssl
import sys
import threading
import time
from contextlib import suppress
from ipaddress import ip_address

import pytest
from bay_desk import desk_over
from bay_served import HERE, Bay, Client, free_port, served, until
from conftest import PASSPHRASE

from auditkit.bay import addresses, connections, serve
from auditkit.bay.certificate import DAYS
from auditkit.bay.serve import BayServer, Secured
from auditkit.bay.writer import LogWriter
from auditkit.errors import LogError
from auditkit.plugin.loading import load_canon


@pytest.fixture
def desk(ledger):
    with desk_over(
        ledger.store.path, PASSPHRASE, load_canon(), is_secure=True, keys_apart=True
    ) as made:
        yield made


@pytest.fixture
def plain(ledger):
    with desk_over(
        ledger.store.path, PASSPHRASE, load_canon(), keys_apart=True
    ) as made:
        yield made


# Over the shop's network


@pytest.fixture
def lan(run, monkeypatch, tmp_path):
    """Return what runs ``bay --lan`` and asks it as a tablet would, once."""
    assert run("init", "--shop", "Example Yard Garage", "--person", "boss-1")[0] == 0
    monkeypatch.setattr(addresses, "own_addresses", lambda: (ip_address(HERE),))
    monkeypatch.setattr(addresses, "own_names", lambda: ("bay.test",))
    really = BayServer.serve_at

    def call(ask, *more):
        def serve_at(self, sockets):
            def client():
                until(lambda: self.started)
                try:
                    ask(sockets[0].getsockname()[1])
                finally:
                    self.should_exit = True

            asking = threading.Thread(target=client)
            asking.start()
            really(self, sockets)
            asking.join()

        monkeypatch.setattr(BayServer, "serve_at", serve_at)
        return run("bay", "--lan", "--port", str(free_port()), *more)

    return call


def test_tablets_reach_it_by_tls_alone_under_the_certificate_that_is_told(
    lan, tmp_path
):
    seen = {}

    def ask(port):
        trusted = tmp_path / "shop.auditlog.tls" / "authority.pem"
        tablet = Client(port, ssl.create_default_context(cafile=trusted))
        tablet.sign_in("boss-1", PASSPHRASE.decode())
        seen["orders"] = tablet.ask("GET", "/orders")[0]
        seen["cookies"] = tablet.set_cookies
        seen["by name"] = tablet.ask("GET", "/orders", headers={"Host": "bay.test"})[0]
        seen["evil"] = tablet.ask("GET", "/orders", headers={"Host": "evil.test"})[0]
        with pytest.raises(OSError):  # closed, or no HTTP: either
            Client(port).ask("GET", "/orders")
        with pytest.raises(ssl.SSLCertVerificationError):
            Client(port, ssl.create_default_context()).ask("GET", "/orders")
        der = ssl.PEM_cert_to_DER_cert(ssl.get_server_certificate((HERE, port)))
        seen["sha"] = hashlib.sha256(der).hexdigest().upper()

    status, said, errors = lan(ask)
    assert (status, errors) == (0, "")
    assert (seen["orders"], seen["by name"], seen["evil"]) == (200, 200, 400)
    assert len(seen["cookies"]) == 2
    assert all("Secure" in c and "HttpOnly" in c for c in seen["cookies"])
    told = re.search(r"SHA-256 of the certificate: (.*)", said)[1]
    assert told.replace(" ", "") == seen["sha"]
    assert re.search(rf"open https://{HERE}:\d+/ on a tablet", said)
    assert "https://bay.test:" in said
    assert "install" in said
    assert "has stopped" in said


def test_a_second_start_has_the_same_certificate_and_another_name_another(lan):
    def told(*more):
        said = lan(lambda _: None, *more)[1]
        return re.search(r"SHA-256 of the certificate: (.*)", said)[1]

    first = told()
    assert told() == first
    assert told("--name", "garage.local") != first


def test_its_files_are_for_its_owner_alone(lan, tmp_path):
    lan(lambda _: None)
    folder = tmp_path / "shop.auditlog.tls"
    assert folder.stat().st_mode & 0o777 == 0o700
    assert {f.stat().st_mode & 0o777 for f in folder.iterdir()} == {0o600}


def test_a_code_to_scan_is_drawn_on_a_terminal(monkeypatch, capsys):
    from PIL import Image
    from zxingcpp import read_barcodes

    from auditkit.cli import bay, common

    monkeypatch.setattr(common, "width", lambda: 80)
    bay._draw_code("https://192.0.2.7:8750/")
    drawn = capsys.readouterr().out.splitlines()
    lines = [line for line in drawn if line]
    assert max(map(len, lines)) <= 80
    upper, lower = {"█": 255, "▀": 255, "▄": 0}, {"█": 255, "▄": 255, "▀": 0}
    rows = []
    for line in lines:
        rows += [[half.get(c, 0) for c in line] for half in (upper, lower)]
    picture = Image.new("L", (len(rows[0]), len(rows)))
    picture.putdata([dot for row in rows for dot in row])
    (code,) = read_barcodes(picture.resize((picture.width * 8, picture.height * 8), 0))
    assert code.text == "https://192.0.2.7:8750/"
    monkeypatch.setattr(common, "width", lambda: None)
    bay._draw_code("https://192.0.2.7:8750/")
    assert capsys.readouterr().out == ""


def test_a_certificate_that_soon_ends_is_renewed_while_the_bay_runs(
    desk, monkeypatch, tmp_path
):
    secured = Secured.of(desk, ("bay.test",), (ip_address(HERE),))
    renewed = []
    server = BayServer(desk, secured=secured, tell=renewed.append)
    server.config.load()
    server.renew()
    assert renewed == []
    at = desk.at()
    monkeypatch.setattr(
        type(desk), "at", lambda _: f"{int(at[:4]) + DAYS // 365 + 1}{at[4:]}"
    )
    server.renew()
    assert [one.fingerprint for one in renewed] != [secured.certificate.fingerprint]
    assert len(renewed) == 1


# On this computer, and what stops it


def test_without_lan_it_listens_on_this_computer_alone(run, monkeypatch):
    run("init", "--shop", "Example Yard Garage", "--person", "boss-1")
    bound = []
    monkeypatch.setattr(
        BayServer,
        "serve_at",
        lambda _, sockets: bound.extend(s.getsockname()[0] for s in sockets),
    )
    port = free_port()
    status, said, _ = run("bay", "--port", str(port))
    assert status == 0
    assert {ip_address(a).is_loopback for a in bound} == {True}
    assert f"http://127.0.0.1:{port}" in said


def test_what_is_wrong_at_the_start_is_one_clear_error(run, monkeypatch):
    run("init", "--shop", "Example Yard Garage", "--person", "boss-1")
    with socket.create_server((HERE, 0)) as taken:
        port = taken.getsockname()[1]
        status, _, told = run("bay", "--port", str(port))
    assert (status, told.count("\n")) == (2, 1)
    assert f"another program listens at port {port} already" in told
    assert "--port" in told
    status, _, told = run("bay", "--name", "bay.test")
    assert (status, "give --lan too" in told) == (2, True)
    monkeypatch.setattr(addresses, "own_addresses", tuple)
    status, _, told = run("bay", "--lan")
    assert (status, "no address in a network" in told) == (2, True)
    monkeypatch.setattr(addresses, "own_addresses", lambda: (ip_address(HERE),))
    for name in ("http://bay.test", "bay.test:8750", "werkstätte"):
        status, _, told = run("bay", "--lan", "--name", name)
        assert (status, "no name of a computer" in told) == (2, True), name
    monkeypatch.setitem(sys.modules, "auditkit.bay.serve", None)
    monkeypatch.delitem(sys.modules, "uvicorn", raising=False)
    status, _, told = run("bay")
    assert (status, told.count("\n"), "pip install '.[bay]'" in told) == (2, 1, True)


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM])
def test_a_stopped_bay_says_so_and_a_second_one_is_refused(ledger, how):
    path = ledger.store.path
    with Bay(path, PASSPHRASE.decode()) as bay:
        with pytest.raises(LogError, match=f"as process {bay.process.pid}"):
            LogWriter(path, ledger.log_signer(PASSPHRASE))
        status, said = bay.stop(how)
    assert (status, bay.errors.read_text()) == (0, "")
    assert said.splitlines()[-1].startswith("The bay has stopped")
    LogWriter(path, ledger.log_signer(PASSPHRASE)).stop()


# Slow clients


@pytest.fixture
def hasty(monkeypatch):
    monkeypatch.setattr(connections.Connection, "head", 0.5)
    monkeypatch.setattr(connections.Connection, "whole", 1.0)


def closed_after(one, dripped):
    """Return the seconds until a connection is closed, a byte sent now and then."""
    begun = time.monotonic()
    one.settimeout(0.05)
    while time.monotonic() - begun < 30:
        try:
            one.sendall(dripped)
        except OSError:
            break
        try:
            if one.recv(1000) == b"":
                break
        except TimeoutError:
            continue
        except OSError:
            break
    return time.monotonic() - begun


HEADS = {
    "its first line": (b"G", b"E"),
    "its headers": (b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX: ", b"x"),
    "its body": (
        b"POST /sign-in HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 9999\r\n\r\n",
        b"p",
    ),
}


@pytest.mark.parametrize("what", HEADS)
def test_who_drips_a_request_is_cut_off_in_time(plain, hasty, what):
    begin, more = HEADS[what]
    with served(plain) as port, socket.create_connection((HERE, port)) as one:
        one.sendall(begin)
        assert closed_after(one, more) < 20  # on a busy machine too; 1 s is asked


def test_who_drips_the_second_request_of_a_connection_is_cut_off_too(plain, hasty):
    asked = b"GET /static/look.css HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n"
    with served(plain) as port, socket.create_connection((HERE, port)) as one:
        one.sendall(asked)
        assert one.recv(10).startswith(b"HTTP/1.1 2")
        assert closed_after(one, b"G") < 20


def test_dripping_clients_leave_room_for_a_tablet(plain, monkeypatch):
    """One address holds few places, and gives each back in time."""
    monkeypatch.setattr(connections.Connection, "at_once", 20)
    monkeypatch.setattr(connections.Connection, "head", 1.0)
    with served(plain) as port:
        others = [socket.create_connection((HERE, port)) for _ in range(60)]
        for one in others:
            one.sendall(b"GET / HTTP/1.1\r\nX: ")
        assert closed_after(others[-1], b"x") < 20, "a place too many is closed"

        def answers():
            try:
                return Client(port).ask("GET", "/sign-in")[0] == 200
            except OSError:
                return False

        until(answers)
        for one in others:
            one.close()


def test_python_collects_seldom_while_it_is_served_and_as_before_after(plain):
    before = gc.get_threshold()
    with served(plain):
        assert gc.get_threshold() == serve._COLLECTS != before
        assert gc.get_freeze_count()
    assert gc.get_threshold() == before
    assert not gc.get_freeze_count()


def test_a_head_without_end_is_refused(plain):
    with served(plain) as port, socket.create_connection((HERE, port)) as one:
        one.sendall(b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\n")
        sent = 0
        with suppress(OSError):  # it is cut off in the middle
            while sent < 50 * serve._HEAD_BYTES:
                one.sendall(b"X: " + bytes([120] * 1000) + b"\r\n")
                sent += 1005
        assert sent < 50 * serve._HEAD_BYTES


def test_who_speaks_no_tls_is_cut_off_in_time(desk, hasty, ledger, monkeypatch):
    monkeypatch.setattr(BayServer, "handshake", 1.0)
    secured = Secured.of(desk, ("bay.test",), (ip_address(HERE),))
    with served(desk, secured) as port, socket.create_connection((HERE, port)) as one:
        assert closed_after(one, b"") < 20  # on a busy machine too; 1 s is asked
