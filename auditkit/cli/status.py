"""``status``: what the evidence of an order says so far, and the one next step."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from auditkit.bay.closed import as_closed, going_on_lines
from auditkit.bay.next_step import next_step
from auditkit.bay.so_far import so_far
from auditkit.bay.told import (
    argument_lines,
    hand_out_lines,
    handed_over,
    state_text,
    step_lines,
    to_json,
)
from auditkit.cli import common, in_bay, progress
from auditkit.cli.beside_log import policy_of
from auditkit.errors import AuditkitError
from auditkit.log.held_order import HeldOrder, held
from auditkit.log.ledger import Ledger
from auditkit.log.logged_order import LoggedOrder
from auditkit.order.statement import DEFERS
from auditkit.output.listings import happened_lines
from auditkit.plugin.loading import load_catalogue
from auditkit.text.display_text import plural

if TYPE_CHECKING:
    from auditkit.bay.due_step import Step
    from auditkit.bay.so_far import SoFar
    from auditkit.log.logged_order import OrderLine
    from auditkit.order.catalogue import Catalogue
    from auditkit.order.policy import Policy


@click.command("status")
@click.argument("order", required=False)
@common.log_option
@common.policy_option
@common.format_option
def status_command(
    order: str | None, log: Path, policy_file: Path | None, form: str
) -> None:
    """Show what is shown so far of a repair order, what is missing, the next step.

    Without ORDER each order that is open, or that waits for a later readout, with its
    next step in a sentence.

    Example: auditkit status RO-1001
    """
    policy = policy_of(log, policy_file)
    catalogue = load_catalogue()
    with Ledger.open(log, clock=in_bay.now) as ledger:
        if order is None:
            _all(ledger, catalogue, policy, form)
            return
        lines = ledger.show(order).lines
        this = held(ledger, order)
        found, step = _judged(ledger, this, catalogue, policy)
    is_done = this.verdict is not None and not found.judgement.is_waiting
    if is_done:
        found = as_closed(found)
    if form == "json":
        common.print_json(
            {
                "repair_order": order,
                "closed": this.verdict and this.verdict.get("verdict"),
                "so_far": str(found.judgement.verdict),
                "waiting": found.judgement.is_waiting,
                **to_json(found, step, order),
                "happened": [
                    {
                        "seq": line.seq,
                        "at": line.event.get("at"),
                        "recorded_at": line.recorded_at,
                        "by": line.event.get("by"),
                        "kind": line.event.get("kind"),
                        "texts": {t.path: t.state for t in line.texts},
                    }
                    for line in lines
                ],
            }
        )
        return
    common.say(f"{order}: {_vehicle(found)}: {state_text(found, this.verdict)}")
    common.say("")
    common.print_lines(argument_lines(found))
    common.say("")
    if is_done:
        common.print_lines(hand_out_lines(order))
        if this.verdict and this.verdict.get("verdict") != "proven":
            common.print_lines(going_on_lines(order))
    else:
        if handed := handed_over(found):
            common.say(handed)
        common.print_lines(step_lines(step, order))
    common.say("")
    common.say("What happened, the newest first:")
    logged = LoggedOrder(order, lines)
    common.print_lines(happened_lines(logged, catalogue, found.order.events))
    common.say(DEFERS)


def _judged(
    ledger: Ledger, this: HeldOrder, catalogue: Catalogue, policy: Policy
) -> tuple[SoFar, Step]:
    """Return an order so far, and its next step for who recorded last, now."""
    found = so_far(this.order, catalogue.judge(this.order, policy))
    last = this.order.events[-1]
    by = last.text("to") if last.kind == "handover" else last.by
    return found, next_step(found, at=ledger.at(), by=by)


def _vehicle(found: SoFar) -> str:
    described = found.order.vehicle("description") or found.order.vehicle("vin")
    return described or "vehicle not described"


def _all(ledger: Ledger, catalogue: Catalogue, policy: Policy, form: str) -> None:
    """Tell each order that is open or waits, with its next step."""
    orders = ledger.orders(only_open=True)
    rows: list[tuple[OrderLine, str, Step | None]] = []
    with progress.over(orders, "Judging") as items:
        for line in items:
            try:
                this = held(ledger, line.id)
                found, step = _judged(ledger, this, catalogue, policy)
            except AuditkitError as error:
                rows.append((line, error.message, None))
                continue
            rows.append((line, state_text(found, this.verdict), step))
    if form == "json":
        common.print_json(
            [
                {
                    "repair_order": line.id,
                    "vehicle": line.vehicle,
                    "state": said,
                    "next": None if step is None else step.sentence,
                }
                for line, said, step in rows
            ]
        )
        return
    if not rows:
        common.say("No order is open. 'auditkit open ORDER' begins one.")
        return
    common.say(f"{plural(len(rows), 'order', 'orders')} open or waiting:")
    common.print_table(
        [
            (line.id, line.vehicle, said if step is None else step.sentence)
            for line, said, step in rows
        ]
    )
