"""A bay that is served: in a thread here, or as the command in a process of its own."""

import http.client
import os
import re
import signal
import socket
import subprocess
import sys
import threading
import time
from contextlib import contextmanager
from ipaddress import ip_address
from urllib.parse import urlencode

from auditkit.bay.addresses import listening
from auditkit.bay.serve import BayServer

HERE = "127.0.0.1"
_PATIENCE = 60.0  # seconds; a machine that is busy starts slowly


@contextmanager
def served(desk, secured=None, port=0):
    """Serve a desk at a port of this machine while in the block; yield the port."""
    with listening([ip_address(HERE)], port) as sockets:
        port = sockets[0].getsockname()[1]
        server = BayServer(desk, secured=secured)
        thread = threading.Thread(target=server.serve_at, args=(sockets,))
        thread.start()
        until(lambda: server.started)
        try:
            yield port
        finally:
            server.should_exit = True
            thread.join()


def until(holds):
    """Wait until something holds, for a minute at most."""
    end = time.monotonic() + _PATIENCE
    while not holds():
        assert time.monotonic() < end, "it did not come"
        time.sleep(0.01)


def free_port():
    """Return a port that nobody uses now."""
    with socket.create_server((HERE, 0)) as one:
        return one.getsockname()[1]


class Client:
    """A browser without a page: cookies and the form token are kept."""

    def __init__(self, port, context=None):
        self.port, self._context = port, context
        self.cookies, self.token = {}, ""
        self.set_cookies = []

    def ask(self, method, path, fields=None, headers=None):
        """Return status, headers and text of an answer."""
        with self._connected() as connection:
            sent = dict(headers or {})
            body = None
            if self.cookies:
                sent["Cookie"] = "; ".join(f"{k}={v}" for k, v in self.cookies.items())
            if method == "POST":
                body = urlencode({"form_token": self.token, **(fields or {})})
                sent["Content-Type"] = "application/x-www-form-urlencoded"
            connection.request(method, path, body, sent)
            answer = connection.getresponse()
            text = answer.read().decode()
            for line in answer.headers.get_all("Set-Cookie") or ():
                self.set_cookies.append(line)
                name, _, value = line.partition(";")[0].partition("=")
                self.cookies[name] = value
            if found := re.search(r'name="form_token" value="([0-9a-f]{64})"', text):
                self.token = found[1]
            return answer.status, answer.headers, text

    @contextmanager
    def _connected(self):
        if self._context is None:
            made = http.client.HTTPConnection(HERE, self.port, timeout=_PATIENCE)
        else:
            made = http.client.HTTPSConnection(
                HERE, self.port, timeout=_PATIENCE, context=self._context
            )
        try:
            yield made
        finally:
            made.close()

    def sign_in(self, person, passphrase):
        """Sign in; the form token of the first page is kept."""
        status, _, text = self.ask(
            "POST", "/sign-in", {"person": person, "passphrase": passphrase}
        )
        assert status == 303, text
        self.ask("GET", "/orders")


class Bay:
    """``auditkit bay`` in a process of its own."""

    def __init__(self, log, passphrase, *more):
        self.port = free_port()
        self.errors = log.with_name("bay.stderr")
        with self.errors.open("ab") as errors:
            self.process = subprocess.Popen(
                [
                    *(sys.executable, "-m", "auditkit", "bay"),
                    *("--log", log, "--port", str(self.port), *more),
                ],
                env={**os.environ, "AUDITKIT_PASSPHRASE": passphrase},
                stdout=subprocess.PIPE,
                stderr=errors,
                text=True,
            )
        until(self._answers)

    def __enter__(self):
        return self

    def __exit__(self, *_):
        if not self.process.stdout.closed:  # not waited for yet
            self.process.kill()
            self.process.communicate()

    def _answers(self):
        assert self.process.poll() is None, self.errors.read_text()
        try:
            return Client(self.port).ask("GET", "/sign-in")[0] == 200
        except OSError:
            return False

    def stop(self, how=signal.SIGTERM):
        """Stop it; return exit status and what it printed."""
        self.process.send_signal(how)
        said, _ = self.process.communicate(timeout=_PATIENCE)
        return self.process.returncode, said
