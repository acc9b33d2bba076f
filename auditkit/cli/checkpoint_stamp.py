"""``checkpoint stamp``: an outside authority says when a checkpoint existed.

The stamp is a time-stamp token of RFC 3161.
"""

from __future__ import annotations

import http.client
from pathlib import Path

import click

from auditkit.cli import common
from auditkit.errors import AuditkitError, InputError, VerificationError
from auditkit.outsiders import http_post
from auditkit.proof import note, timestamp

TIMEOUT = 20.0  # seconds
_QUERY = "application/timestamp-query"  # RFC 3161 section 3.4


@click.command("stamp")
@click.argument("checkpoint", type=click.Path(path_type=Path))
@click.option(
    "--url",
    metavar="URL",
    help="Where the authority answers; else the policy's stamp_url.",
)
@click.option(
    "--out", type=click.Path(path_type=Path), help="The time stamp to write (.tsr)."
)
@click.option(
    "--check", type=click.Path(path_type=Path), help="A time stamp to verify (.tsr)."
)
@click.option(
    "--roots",
    type=click.Path(path_type=Path),
    help="The authority's root certificate (PEM), got from its own people.",
)
@common.policy_option
def stamp_command(
    checkpoint: Path,
    url: str | None,
    out: Path | None,
    check: Path | None,
    roots: Path | None,
    policy_file: Path | None,
) -> None:
    """Have a CHECKPOINT stamped with the time by an authority, or check a stamp.

    A stamp proves that the log's entries up to the checkpoint existed before a time
    that does not come from the shop's clock. To check one, give --check and --roots.

    Example: auditkit checkpoint stamp monday.checkpoint --url URL --out monday.tsr
    """
    if url is None and check is None:
        url = common.read_policy(policy_file).stamp_url or None
    ask = url is not None and out is not None and check is None
    look = check is not None and roots is not None and url is None and out is None
    if not ask and not look:
        raise InputError(
            "these options do not make one question",
            what_to_do="give --url (or a policy with stamp_url) and --out to "
            "stamp, or --check "
            "and --roots to check",
        )
    text = common.read_text(checkpoint)
    size = _size(text, checkpoint)
    if url is not None and out is not None:
        _stamp(text, url, out, roots)
    if check is not None and roots is not None:
        found = _verified(common.read(check), text, roots, str(check))
        before = found.before.isoformat(timespec="seconds")
        common.say(
            f"{check}: the log's first {size} entries existed before {before} "
            f"(authority {found.authority})"
        )
        common.say(f"    policy {found.policy}; revocation was not looked at")
        common.say("    the log's own signature was not checked here: see 'verify'")


def _size(text: str, path: Path) -> int:
    """Return how many entries a checkpoint file speaks of."""
    try:
        return note.parse_checkpoint(note.split_note(text)[0]).size
    except AuditkitError as error:
        raise InputError(
            error.message,
            where=str(path),
            what_to_do="name a file that 'auditkit checkpoint --out' wrote",
        ) from error


def _stamp(text: str, url: str, out: Path, roots: Path | None) -> None:
    common.refuse_existing(out)
    query, nonce = timestamp.request(text)
    token = _post(_address(url), query)
    try:
        at = timestamp.check_answer(token, text, nonce)
    except VerificationError as error:
        raise InputError(
            error.message, where=url, what_to_do=error.what_to_do
        ) from error
    if roots is not None:
        _verified(token, text, roots, url, nonce)
    common.write_new(out, token)
    common.say(f"{out}: time stamp of {at.isoformat(timespec='seconds')} written")
    if roots is None:
        common.say("    its signature is not checked yet: use --check with --roots")


def _verified(
    token: bytes, text: str, roots: Path, where: str, nonce: int | None = None
) -> timestamp.TimeStamp:
    trusted = common.read(roots)
    try:
        return timestamp.verify(token, text, trusted, nonce=nonce)
    except VerificationError as error:
        raise error.at(where) from error
    except InputError as error:
        raise error.at(str(roots)) from error


def _address(url: str) -> str:
    if not http_post.is_address(url, with_query=True):
        raise InputError(
            "this is not the address of a time stamp authority",
            where=url[:200],
            what_to_do="write it as https://stamps.example/tsr",
        )
    return url


def _post(url: str, body: bytes) -> bytes:
    """Return the authority's answer; raise InputError where there is none."""
    said = http_post.post(
        url,
        body,
        _QUERY,
        who="the authority",
        most=timestamp.MAX_TOKEN,
        timeout=TIMEOUT,
    )
    if said.status != http.client.OK:
        raise InputError(
            f"the authority answers with HTTP status {said.status}",
            where=url,
            what_to_do="check the address and the network, then ask again",
        )
    return said.body
