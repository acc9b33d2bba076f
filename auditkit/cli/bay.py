"""``bay``: the page in the shop on which a repair is recorded as it happens."""

from __future__ import annotations

from pathlib import Path

import click

from auditkit.cli import common
from auditkit.errors import InputError
from auditkit.log.ledger import Ledger
from auditkit.plugin.loading import load_plugins


@click.command("bay")
@click.option("--port", type=click.IntRange(1, 65535), default=8750, show_default=True)
@common.log_option
@common.instruments_option
@common.policy_option
@common.passphrase_option
def bay_command(
    port: int,
    log: Path,
    register: Path | None,
    policy_file: Path | None,
    passphrase_file: Path | None,
) -> None:
    """Serve the page on which a repair is recorded, to a browser on this computer.

    Whoever starts it unlocks the log's key, which signs a checkpoint after each step.
    Ctrl-C stops it: what was taken on is written first.

    Example: auditkit bay
    """
    try:
        from auditkit.bay.serve import Place, desk_of, server
    except ModuleNotFoundError as error:
        raise InputError(
            f"the bay needs the library {error.name}, which is not installed",
            what_to_do="in the project's folder: pip install '.[bay]'",
        ) from error
    policy = common.read_policy(policy_file)
    known = common.read_register(register)
    plugins = load_plugins()
    with Ledger.open(log) as ledger:
        log_key = ledger.log_signer(common.passphrase(passphrase_file))
    with desk_of(
        log,
        log_key=log_key,
        catalogue=plugins.catalogue,
        policy=policy,
        register=known,
    ) as desk:
        common.say(f"{desk.shop}: open http://127.0.0.1:{port} in a browser.")
        common.say("    Ctrl-C stops it.")
        server(desk, Place("127.0.0.1", port)).run()
