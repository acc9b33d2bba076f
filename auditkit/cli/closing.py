"""``close``: an order is judged by what the log holds, and its verdict written."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from auditkit.bay.after_repair import to_wait_for
from auditkit.bay.next_step import next_step
from auditkit.bay.so_far import so_far
from auditkit.bay.told import argument_lines, hand_out_lines, step_lines
from auditkit.cli import common, in_bay, passphrases
from auditkit.cli.beside_log import policy_of
from auditkit.errors import InputError
from auditkit.log import people
from auditkit.log.held_order import held
from auditkit.log.ledger import Ledger
from auditkit.order.record import Record
from auditkit.order.statement import DEFERS, late_text, verdict_text
from auditkit.plugin.loading import load_plugins

if TYPE_CHECKING:
    from auditkit.bay.due_step import Step
    from auditkit.bay.so_far import SoFar


@click.command("close")
@click.argument("order")
@click.option(
    "--unproven",
    metavar="REASON",
    callback=common.plain_text,
    help="Close it although something blocks; the reason is kept with the verdict.",
)
@click.option(
    "--by", metavar="PERSON", help="Whose key signs; needed if several lie here."
)
@common.log_option
@common.policy_option
@common.passphrase_option
@common.format_option
def close_command(
    order: str,
    unproven: str | None,
    by: str | None,
    log: Path,
    policy_file: Path | None,
    passphrase_file: Path | None,
    form: str,
) -> None:
    """Judge an order by what the log holds, and write its verdict.

    Exit status 1, and nothing written, where something blocks and no reason is given.

    Example: auditkit close RO-1001
    """
    if unproven is not None and not unproven.strip():
        raise InputError(
            "a repair order that something blocks is closed for a reason",
            where="--unproven",
            what_to_do="write why",
        )
    policy = policy_of(log, policy_file)
    plugins = load_plugins()
    with Ledger.open(log, clock=in_bay.now) as ledger:
        ledger.show(order)
        this = held(ledger, order)
        judgement = plugins.catalogue.judge(this.order, policy)
        found = so_far(this.order, judgement)
        person = by or people.only_person(ledger)
        step = next_step(found, at=ledger.at(), by=person)
        if not judgement.is_enough and unproven is None:
            _refuse(found, step, order, form)
        signer, _ = passphrases.unlock(ledger, person, passphrase_file)
        hook = plugins.hook.sealed
        ledger.on_sealed = lambda seq, payload: hook(seq=seq, payload=payload)
        events = tuple(dict(line.event) for line in this.events)
        done = ledger.record(
            Record(order, events),
            judgement,
            signer=signer,
            by=person,
            unproven_reason=unproven,
        )
    if form == "json":
        common.print_json(
            {
                "repair_order": order,
                "verdict": str(done.verdict),
                "waiting": judgement.is_waiting,
                "written": done.written,
                "entry": done.last_seq,
                "findings": [one.to_json() for one in judgement.findings],
            }
        )
        return
    common.say(f"{order}: {verdict_text(judgement)}")
    if late := late_text(judgement):
        common.say(f"    {late}")
    common.say(
        f"Closed by entry {done.last_seq}."
        if done.written
        else "The log holds this verdict already; nothing written."
    )
    if judgement.is_waiting:
        todo = step.then or step
        common.say(f"It waits: {todo.sentence}")
        common.print_lines(f"    {line}" for line in to_wait_for(found))
        common.say(
            f"    when it comes back: auditkit add {order} readout --raw FILE, then "
            f"auditkit close {order}"
        )
    common.print_lines(hand_out_lines(order))
    common.say("For somebody else to hold, so that a rewritten log is told:")
    common.say(f"    auditkit checkpoint --out {order}.checkpoint")
    common.say(DEFERS)


def _refuse(found: SoFar, step: Step, order: str, form: str) -> None:
    judgement = found.judgement
    if form == "json":
        common.print_json(judgement.to_json())
    else:
        common.say(f"{order}: {verdict_text(judgement)}")
        common.print_lines(argument_lines(found))
        common.say("Nothing was written: it stays open.")
        common.print_lines(step_lines(step, order))
        common.say("Or close it all the same, with a reason: --unproven REASON")
    raise click.exceptions.Exit(1)
