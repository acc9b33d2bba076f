"""The witness as an HTTP server: one call, ``POST /add-checkpoint``.

It has no access control beyond the log's signature (tlog-witness) and speaks plain
HTTP: on an open network, put a reverse proxy with TLS and rate limits before it.
"""

from __future__ import annotations

import io
import time
from collections.abc import Callable, Iterable
from http.server import BaseHTTPRequestHandler

from auditkit.errors import AuditkitError, InputError, KeyProblem
from auditkit.proof import cosignature, note
from auditkit.proof.keys import PublicKey, SigningKey
from auditkit.proof.witness_protocol import PLAIN, WitnessAnswer
from auditkit.witness.answer import MAX_BODY, LastCosigned, Logs, admitted, refusal
from auditkit.witness.connections import (
    PER_ADDRESS,
    TIMEOUT,
    BoundedServer,
    PatientReader,
)
from auditkit.witness.state import WitnessMemory

PATH = "/add-checkpoint"


def known_logs(vkeys: Iterable[str]) -> Logs:
    """Return the logs of verifier keys, by origin; refuse any other text."""
    logs: dict[str, list[PublicKey]] = {}
    for vkey in vkeys:
        try:
            origin, key = note.parse_vkey(vkey)
        except AuditkitError as error:
            raise InputError(
                error.message,
                where=vkey[:120],
                what_to_do=error.what_to_do
                or "copy the log's vkey as 'auditkit key show' prints it",
            ) from error
        logs.setdefault(origin, []).append(key)
    return logs


class WitnessService:
    """A key, a memory and the logs to watch. It answers one request after the other."""

    def __init__(
        self,
        state: WitnessMemory,
        key: SigningKey,
        logs: Logs,
        *,
        clock: Callable[[], float] = time.time,
    ) -> None:
        self.cosigner = state.cosigner
        if key.public != self.cosigner.key:
            raise KeyProblem(
                f"this is not the key of {self.cosigner.name}",
                where=str(state.path),
                what_to_do="name the key file and the memory that were made together",
            )
        self._state = state
        self._key = key
        self._logs = logs
        self._clock = clock

    def answer(self, body: bytes) -> WitnessAnswer:
        """Return the answer to a request; what is cosigned is on the disk before."""
        request = admitted(body, self._logs)
        if isinstance(request, WitnessAnswer):
            return request
        new = request.checkpoint
        with self._state.turn(new.origin) as turn:
            refused = refusal(request, turn.seen)
            if refused is not None:
                return refused
            # Where the clock was set back, this must not look older than the last one.
            at = max(int(self._clock()), turn.seen.at)
            turn.keep(LastCosigned(new.size, new.root, at))
            line = cosignature.cosign(request.text, self.cosigner.name, self._key, at)
        return WitnessAnswer(200, line)


def make_server(  # noqa: PLR0913  all but three have defaults
    host: str,
    port: int,
    witness: WitnessService,
    *,
    say: Callable[[str], None] = lambda _: None,
    timeout: float = TIMEOUT,
    per_address: int = PER_ADDRESS,
) -> BoundedServer:
    """Return a server that listens; call ``serve_forever`` on it. Port 0 picks one.

    ``say`` is told a line for every request. ``timeout`` are the seconds that a whole
    request may take, ``per_address`` the connections that one address may hold.
    Raises InputError where the address is taken or is none.
    """

    class Handler(_Handler):
        pass

    Handler.witness, Handler.say, Handler.seconds = witness, staticmethod(say), timeout
    try:
        return BoundedServer((host, port), Handler, per_address=per_address)
    except (OSError, OverflowError) as error:
        raise InputError(
            f"it cannot listen there ({error})",
            where=f"{host}:{port}",
            what_to_do="choose another address or port",
        ) from error


class _Handler(BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"
    server_version = "auditkit-witness"
    sys_version = ""
    witness: WitnessService
    say: Callable[[str], None]
    seconds: float

    def setup(self) -> None:
        super().setup()
        self._reader = PatientReader(self.connection)
        self.rfile = io.BufferedReader(self._reader)

    def handle_one_request(self) -> None:
        self._reader.begin(self.seconds)
        super().handle_one_request()

    def do_POST(self) -> None:
        if self.path != PATH:
            self._send(
                WitnessAnswer(404, f"nothing lies here; use {PATH}\n"), close=True
            )
            return
        body = self._body()
        if isinstance(body, WitnessAnswer):
            self._send(body, close=True)
            return
        try:
            answer = self.witness.answer(body)
        except AuditkitError as error:
            answer = WitnessAnswer(500, "the witness cannot keep what it sees\n")
            self.say(f"fault: {error}")
        self._send(answer)

    def do_GET(self) -> None:
        name = self.witness.cosigner.vkey
        self._send(WitnessAnswer(405, f"{name}\nuse POST {PATH}\n"), close=True)

    def _body(self) -> bytes | WitnessAnswer:
        """Return the request's body."""
        given = self.headers.get("Content-Length", "")
        if not (given.isascii() and given.isdigit()):
            return WitnessAnswer(411, "the request states no length\n")
        length = int(given[:10]) if len(given) <= len(str(MAX_BODY)) else MAX_BODY + 1
        if length > MAX_BODY:
            return WitnessAnswer(413, f"the request is longer than {MAX_BODY} bytes\n")
        try:
            body = self.rfile.read(length)
        except TimeoutError:
            return WitnessAnswer(408, "the request took too long\n")
        if len(body) < length:
            return WitnessAnswer(400, "the request is shorter than it states\n")
        return body

    def _send(self, answer: WitnessAnswer, *, close: bool = False) -> None:
        body = answer.body.encode()
        self.connection.settimeout(self.seconds)
        self.send_response(answer.status)
        self.send_header("Content-Type", answer.media)
        self.send_header("Content-Length", str(len(body)))
        if answer.media == PLAIN:
            self.send_header("X-Content-Type-Options", "nosniff")
        if close:
            self.close_connection = True
            self.send_header("Connection", "close")
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, format: str, *args: object) -> None:  # noqa: A002  as the base class has it
        said = ascii(format % args)[1:-1]  # a client chooses these words
        self.say(f"{self.client_address[0]} {said}")
