"""Asking a witness for its cosignature (C2SP tlog-witness v1.0.0, client side).

Nothing that a witness says is believed but its signature.
"""

from __future__ import annotations

import http.client
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import NoReturn

from auditkit.errors import AuditkitError, InputError
from auditkit.outsiders import http_post
from auditkit.proof import cosignature, note
from auditkit.proof.cosignature import Cosigner
from auditkit.proof.keys import PublicKey
from auditkit.proof.witness_protocol import PLAIN, SIZE, WitnessAnswer, format_request

TIMEOUT = 10.0  # seconds
MAX_ANSWER = note.MAX_NOTE
_MAX_TRIES = 4
_MAX_DIGITS = 16

Prove = Callable[[int], Sequence[bytes]]  # old size -> consistency proof from there


def _post(url: str, body: bytes, timeout: float) -> WitnessAnswer:
    """Return what the witness answers; raise InputError where it cannot be reached."""
    said = http_post.post(
        url, body, PLAIN, who="the witness", most=MAX_ANSWER, timeout=timeout
    )
    return WitnessAnswer(said.status, said.body.decode("utf-8", "replace"), said.media)


@dataclass(frozen=True, slots=True)
class _Question:
    url: str
    cosigner: Cosigner
    checkpoint_note: str
    size: int

    def refuse(self, message: str, what_to_do: str) -> NoReturn:
        raise InputError(message, where=self.url, what_to_do=what_to_do)

    def told_size(self, answer: WitnessAnswer, old: int) -> int:
        """Return the size that a witness says it saw; refuse an impossible one."""
        text = answer.body.removesuffix("\n")
        plain = text.isascii() and text.isdigit() and len(text) <= _MAX_DIGITS
        if answer.media.partition(";")[0] != SIZE or not plain:
            self.refuse("the witness tells no size", "check that the address is right")
        told = int(text)
        if told > self.size:
            self.refuse(
                f"the witness saw {told} entries, this checkpoint has {self.size}",
                "ask with the newest checkpoint; if this is it, entries were removed",
            )
        if told == old:
            self.refuse(
                f"the witness saw another log of the same {told} entries",
                "keep both: the log was forked, or this is a copy that was altered",
            )
        return told

    def line(self, answer: WitnessAnswer) -> str:
        """Return the cosignature line of this witness in its answer, verified."""
        text = self.checkpoint_note.rpartition("\n\n")[0] + "\n"
        for line in answer.body.splitlines(keepends=True):
            if not line.startswith(f"\u2014 {self.cosigner.name} "):
                continue
            try:
                found = cosignature.cosignatures(f"{text}\n{line}", [self.cosigner])
            except AuditkitError as error:
                self.refuse(error.message, "check the witness's address and vkey")
            if found:
                return line
        return self.refuse(
            f"the answer holds no cosignature of {self.cosigner.name}",
            "check the witness's address and vkey",
        )


_REFUSALS = {
    403: (
        "the witness knows another key for this log",
        "give the witness the log's vkey, as 'auditkit key show' prints it",
    ),
    404: (
        "the witness does not know this log, or nothing lies at this address",
        "give the witness the log's vkey, and check the address",
    ),
    422: (
        "the witness finds that this log does not extend what it saw",
        "keep both: the log was forked, or this is a copy that was altered",
    ),
}


def ask_for_cosignature(  # noqa: PLR0913  whom, about what, and how to prove it
    url: str,
    cosigner: Cosigner,
    checkpoint_note: str,
    log_key: PublicKey,
    prove: Prove,
    *,
    timeout: float = TIMEOUT,
) -> str:
    """Return the witness's cosignature line of a checkpoint, verified.

    ``url`` is the witness's submission prefix. It is asked from old size 0; where it
    saw the log before, it says how much, and is asked again with ``prove``. Raises
    InputError, with what to do, where no cosignature is given.
    """
    size = note.open_checkpoint(checkpoint_note, log_key).size
    question = _Question(_address(url), cosigner, checkpoint_note, size)
    old = 0
    for _ in range(_MAX_TRIES):
        body = format_request(old, prove(old) if old else (), checkpoint_note)
        answer = _post(question.url, body, timeout)
        if answer.status == http.client.OK:
            return question.line(answer)
        if answer.status != http.client.CONFLICT:
            status = f"the witness answers with HTTP status {answer.status}"
            question.refuse(*_REFUSALS.get(answer.status, (status, "ask it later")))
        old = question.told_size(answer, old)
    return question.refuse("the witness keeps changing its answer", "ask it later")


def _address(url: str) -> str:
    """Return the address where checkpoints are added; refuse what is no web address."""
    if not http_post.is_address(url, with_query=False):
        raise InputError(
            "this is not the address of a witness",
            where=url[:200],
            what_to_do="write it as http://127.0.0.1:8080 or https://witness.example/name",
        )
    return url.rstrip("/") + "/add-checkpoint"
