"""``witness``: being a witness of other people's logs, and asking one."""

from __future__ import annotations

import signal
from datetime import UTC, datetime
from pathlib import Path

import click

from auditkit.cli import common, passphrases
from auditkit.errors import InputError
from auditkit.log import key_files
from auditkit.proof import cosignature
from auditkit.proof.keys import PrivateKey

_SUFFIX = ".p12"


@click.group("witness")
def witness_command() -> None:
    """Be a witness of logs, or have a log witnessed (C2SP tlog-witness).

    A witness cosigns a checkpoint only where it extends every earlier one. Whoever
    trusts the witness need not trust the shop to have one history only.

    Example: auditkit witness ask shop.auditlog --witness http://127.0.0.1:8080
    --vkey VKEY
    """


def _key_option(command: common.Command) -> common.Command:
    return click.option(
        "--key",
        "key_file",
        required=True,
        type=click.Path(path_type=Path),
        help="The witness's key file (.p12), encrypted.",
    )(command)


def _state_option(command: common.Command) -> common.Command:
    return click.option(
        "--state",
        required=True,
        type=click.Path(path_type=Path),
        help="The witness's memory; it must never be lost or set back.",
    )(command)


def _named(key_file: Path) -> Path:
    if key_file.suffix != _SUFFIX:
        raise InputError(
            f"a key file's name ends in {_SUFFIX}",
            where=str(key_file),
            what_to_do=f"write {key_file.with_suffix(_SUFFIX)}",
        )
    return key_file


@witness_command.command("key")
@click.argument("name")
@_key_option
@_state_option
@common.passphrase_option
def make_key(
    name: str, key_file: Path, state: Path, passphrase_file: Path | None
) -> None:
    """Make a witness's key and its memory, which belong together; print its vkey.

    NAME is an address-like name such as witness.example/1.

    Example: auditkit witness key witness.example/1 --key w1.p12 --state w1.state
    """
    from auditkit.witness.state import WitnessMemory

    path = _named(key_file)
    made = PrivateKey.generate()
    cosigner = cosignature.make_cosigner(name, made.public)
    for taken in (path, state):
        if taken.exists():
            raise InputError(
                "this file exists already",
                where=str(taken),
                what_to_do="choose another name: a key or a memory is "
                "never overwritten",
            )
    word = passphrases.new_passphrase(passphrase_file)
    key_files.save(path.parent, path.stem, made, word)
    WitnessMemory.create(state, cosigner)
    common.say(cosigner.vkey)


@witness_command.command("serve")
@click.option(
    "--listen",
    default="127.0.0.1:8080",
    show_default=True,
    metavar="HOST:PORT",
    help="Where to listen; port 0 picks a free one.",
)
@_state_option
@_key_option
@click.option(
    "--log",
    "vkeys",
    multiple=True,
    required=True,
    metavar="VKEY",
    help="A log to watch, as 'auditkit key show' prints it; give it once a log.",
)
@click.option(
    "--per-address",
    default=8,
    show_default=True,
    type=click.IntRange(1, 32),
    help="Connections of one address at a time; more where a proxy stands before it.",
)
@common.passphrase_option
def serve(
    listen: str,
    state: Path,
    key_file: Path,
    vkeys: tuple[str, ...],
    per_address: int,
    passphrase_file: Path | None,
) -> None:
    """Watch logs: cosign what extends what was seen, refuse the rest.

    It runs until it is interrupted or told to end (SIGTERM). It speaks plain HTTP: on
    an open network, put a reverse proxy with TLS before it.

    Example: auditkit witness serve --key w1.p12 --state w1.state --log VKEY
    """
    from auditkit.witness.serve import WitnessService, known_logs, make_server
    from auditkit.witness.state import WitnessMemory

    host, port = _address(listen)
    logs = known_logs(vkeys)
    path = _named(key_file)
    memory = WitnessMemory.open(state)
    key = key_files.load(path.parent, path.stem, common.passphrase(passphrase_file))
    witness = WitnessService(memory, key, logs)
    with make_server(
        host,
        port,
        witness,
        say=lambda line: click.echo(line, err=True),
        per_address=per_address,
    ) as server:
        common.say(f"{witness.cosigner.name}: listening on {host}:{server.server_port}")
        common.say(f"    {witness.cosigner.vkey}")
        common.say(f"    watching {', '.join(logs)}")
        signal.signal(signal.SIGTERM, signal.default_int_handler)
        try:
            server.serve_forever()
        except KeyboardInterrupt:
            click.echo(f"{witness.cosigner.name}: stopped", err=True)


def _address(listen: str) -> tuple[str, int]:
    host, _, port = listen.rpartition(":")
    if not host or not (port.isascii() and port.isdigit()) or len(port) > len("65535"):
        raise InputError(
            "this is not an address to listen on",
            where=listen,
            what_to_do="write it as 127.0.0.1:8080",
        )
    return host, int(port)


@witness_command.command("ask")
@click.argument("log", type=click.Path(path_type=Path))
@click.option(
    "--witness",
    "url",
    required=True,
    metavar="URL",
    help="Where the witness listens, such as http://127.0.0.1:8080.",
)
@click.option(
    "--vkey", required=True, help="The witness's verifier key, got from its people."
)
@click.option(
    "--checkpoint",
    "checkpoint_file",
    type=click.Path(path_type=Path),
    help="A checkpoint of this log, cosigned by others, to add to; else the newest.",
)
@click.option(
    "--out", type=click.Path(path_type=Path), help="Where to write it; else printed."
)
def ask_witness(
    log: Path, url: str, vkey: str, checkpoint_file: Path | None, out: Path | None
) -> None:
    """Have the newest checkpoint of LOG cosigned by a witness.

    Example: auditkit witness ask shop.auditlog --witness http://127.0.0.1:8080
    --vkey VKEY --out monday.checkpoint
    """
    from auditkit.outsiders.cosigned import cosigned_checkpoint

    cosigner = cosignature.parse_vkey(vkey)
    text = None if checkpoint_file is None else common.read_text(checkpoint_file)
    made = cosigned_checkpoint(log, url, cosigner, checkpoint_note=text)
    if out is None:
        click.echo(made.note, nl=False)
        return
    common.write_new(out, made.note)
    # The witness's own clock; a time that no calendar holds is shown as its number.
    at = made.cosignature.at
    try:
        when = datetime.fromtimestamp(at, UTC).isoformat()
    except (OverflowError, ValueError, OSError):
        when = f"second {at}"
    common.say(f"{out}: checkpoint of size {made.checkpoint.size} written")
    common.say(f"    cosigned by {cosigner.name} at {when}")
