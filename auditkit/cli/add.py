"""``add``: one step of a repair, recorded as it happens."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Unpack

import click

from auditkit.bay.after_repair import NO_FRAME
from auditkit.bay.before_form import goes_unread
from auditkit.bay.corrected import corrected, correction_lines
from auditkit.bay.fields import kinds_asked
from auditkit.bay.file_members import file_members
from auditkit.cli import common, in_bay
from auditkit.cli.acknowledge import acknowledge
from auditkit.cli.ask import at_terminal, say_to_person, yes_or_no
from auditkit.cli.asked_help import AskedHelp
from auditkit.cli.bench import check_names, typed_conditions, typed_readings
from auditkit.cli.correct import asked_correction, asked_entry, asked_why
from auditkit.cli.reading_given import readout_known
from auditkit.errors import InputError
from auditkit.obd.comparison import compare
from auditkit.order.bench_event import result_of
from auditkit.order.events import Event
from auditkit.order.self_test_evidence import readout_of
from auditkit.output.bench_lines import short_bench_lines
from auditkit.output.comparison_lines import comparison_lines
from auditkit.output.readout_lines import readout_lines
from auditkit.plugin.loading import load_catalogue
from auditkit.text.display_text import nearest

if TYPE_CHECKING:
    from auditkit.log.held_order import HeldOrder
    from auditkit.text.values import Json


_PLAIN = {
    "code_clear": "Record that codes were cleared, with the tool that read them.",
    "diagnosis": "Record which parts are suspected of which codes; or set codes aside.",
    "handover": "Record who goes on with the order, what is done, and what waits.",
    "repair": "Record what was done to a part.",
    "road_test": "Record a drive: --set start=11:00 --set 'distance=27 km' ...",
    "self_test": "Record one result typed by hand; a typed readout says more.",
}


class _TestSaid(in_bay.Said):
    """What click hands on of the plain options of a bench test."""

    part: str | None
    method: str | None
    setup: str | None
    minimum: str | None
    maximum: str | None
    limit_unit: str | None
    limit_of: str | None
    limit_source: str | None


class _Kinds(click.Group):
    """The kinds of event that a person records: auditkit's own, and plugins'."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the kinds by name."""
        del ctx
        return [k for k in kinds_asked(load_catalogue()) if k != "opening"]

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Return the command of a kind; InputError, with near names, for none."""
        if cmd_name in ctx.help_option_names:  # behind ORDER, it is asked there too
            click.echo(ctx.get_help())
            ctx.exit()
        kind = cmd_name.replace("-", "_")
        own = super().get_command(ctx, kind)
        if own is not None:
            return own
        kinds = self.list_commands(ctx)
        if kind in kinds:
            return _plain(kind)
        near = nearest(kind, kinds)
        raise InputError(
            f"no step is of the kind {cmd_name!r}",
            what_to_do=f"did you mean {near[0]}?"
            if near
            else f"name one of {', '.join(kinds)}",
        )


@click.group("add", cls=_Kinds)
@click.argument("order")
@click.pass_context
def add_command(ctx: click.Context, order: str) -> None:
    """Record one step of an open or waiting order, as it happens.

    What it changed is told, and what is next. The time is now, the entry is signed with
    your key. 'auditkit add ORDER KIND --help' says what a kind asks.

    Example: auditkit add RO-1001 readout --raw before.txt
    """
    ctx.obj = order


def _plain(kind: str) -> click.Command:
    """Return the command of a kind of event that has no ways of its own."""
    told = _PLAIN.get(kind) or f"Record: {kind.replace('_', ' ')}."

    @click.command(kind, help=told, cls=AskedHelp)
    @click.option("--part", metavar="ID", help="The part that it is about.")
    @in_bay.recording_options
    @click.pass_obj
    def command(order: str, /, part: str | None, **said: Unpack[in_bay.Said]) -> None:
        given = in_bay.given(order, said).with_sets({"part": part} if part else {})
        with in_bay.bay(given) as bay:
            known: dict[str, Json] = {}
            if kind == "code_clear" and not {"tool"} & {*given.sets, *given.file}:
                known = _same_tool(bay.held())
            if kind == "code_clear" and at_terminal():
                _ask_before_clear(bay)
            bay.tell(bay.take([bay.event(kind, known, bay.offered(kind))]))

    return command


def _ask_before_clear(bay: in_bay.Bay) -> None:
    """Ask about a freeze frame that was not read: nothing brings it back."""
    if not goes_unread(bay.so_far()):
        return
    say_to_person(NO_FRAME)
    if not yes_or_no("record that codes were cleared without it?"):
        say_to_person("Nothing was recorded.")
        raise click.exceptions.Exit(1)


def _same_tool(held: HeldOrder) -> dict[str, Json]:
    """Return the tool of the last readout: codes are cleared with what reads them."""
    readouts = held.order.of("readout")
    return {"tool": readouts[-1].text("tool")} if readouts else {}


@add_command.command("readout")
@click.option(
    "--raw",
    type=common.FilePath(path_type=Path),
    help="A file that 'decode' reads, a CAN log, or - for a pipe. Without it, what a "
    "screen shows is typed: at a terminal it is asked for, question by question; "
    "elsewhere --set how=typed --set typed.modules.0.module=7E8 --set "
    "typed.modules.0.stored=P0401 …, or --file.",
)
@click.option("--captured", metavar="TIME", help="When it was read, if not just now.")
@click.option("--tool", metavar="TEXT", help="What it was read with; as before.")
@click.option("--protocol", metavar="TEXT", help="By what, if its ids do not show it.")
@in_bay.recording_options
@click.pass_obj
def readout_step(
    order: str,
    /,
    raw: Path | None,
    captured: str | None,
    tool: str | None,
    protocol: str | None,
    **said: Unpack[in_bay.Said],
) -> None:
    """Record what the vehicle says: raw, or typed from a display.

    Example: auditkit add RO-1001 readout --raw after.txt
    """
    given = in_bay.given(order, said)
    with in_bay.bay(given) as bay:
        earlier = bay.held().order.of("readout")
        last = earlier[-1] if earlier else None
        how = {"captured": captured, "tool": tool, "protocol": protocol}
        told: list[str] = []
        if raw is not None:
            known, found, told = readout_known(raw, bay.time(), how, last)
            told += readout_lines(found)
            if last is not None and last.text("raw"):
                told.append("Beside the readout before:")
                told += comparison_lines(compare(readout_of(last), found))
        else:
            known = {name: value for name, value in how.items() if value}
            if last is not None and "tool" not in {*known, *given.sets, *given.file}:
                known["tool"] = last.text("tool")
        offered = {} if last is None else {"tool": last.text("tool")}
        bay.tell(bay.take([bay.event("readout", known, offered)]), told)


@add_command.command("caution")
@click.argument("names", metavar="[NAME]...", nargs=-1)
@click.option("--before", "step", metavar="KIND", help="The step: bench_test, repair …")
@click.option("--part", metavar="ID", help="The part that the step is on.")
@click.option("--method", metavar="NAME", help="The kind of test, if it is tested.")
@click.option("--setup", metavar="HOW", help="How the part will be tested, if it is.")
@in_bay.recording_options
@click.pass_obj
def caution_step(
    order: str,
    /,
    names: tuple[str, ...],
    step: str | None,
    part: str | None,
    method: str | None,
    setup: str | None,
    **said: Unpack[in_bay.Said],
) -> None:
    """Read and acknowledge cautions before their step, each with what it asks.

    Without NAME all that the step calls for, one after the other; without --before
    those of the next step. What is asked may be given by its name: --set 'surface
    temperature=34 degC'.

    Example: auditkit add RO-1001 caution hot-exhaust --before bench_test
    --part egr-valve
    """
    with in_bay.bay(in_bay.given(order, said)) as bay:
        work = {"kind": step, "part": part, "method": method, "setup": setup}
        acknowledge(bay, names, {k: v for k, v in work.items() if v})


@add_command.command("bench_test")
@click.option("--part", metavar="ID", help="The part that is tested.")
@click.option("--method", metavar="NAME", help="The kind of test ('auditkit bench').")
@click.option("--setup", help="removed, engine-off, cranking or running.")
@click.option("--reading", multiple=True, metavar="NAME=VALUE UNIT", help="Repeat it.")
@click.option("--condition", multiple=True, metavar="NAME=VALUE", help="Repeat it.")
@click.option(
    "--instrument", multiple=True, metavar="ID", help="By its id in --instruments."
)
@click.option("--minimum", metavar="VALUE", help="The least good value.")
@click.option("--maximum", metavar="VALUE", help="The greatest good value.")
@click.option("--limit-unit", metavar="UNIT", help="The limit's unit.")
@click.option("--limit-of", metavar="NAME", help="What is limited, where several are.")
@click.option("--limit-source", metavar="TEXT", help="Where the limit comes from.")
@in_bay.recording_options
@click.pass_obj
def bench_step(
    order: str,
    /,
    reading: tuple[str, ...],
    condition: tuple[str, ...],
    instrument: tuple[str, ...],
    **said: Unpack[_TestSaid],
) -> None:
    """Record a bench test; its result with its uncertainty is told at once.

    Example: auditkit add RO-1001 bench_test --part egr-valve --method seal-hold
    """
    answers = {
        "part": said["part"],
        "method": said["method"],
        "setup": said["setup"],
        "limit.minimum": said["minimum"],
        "limit.maximum": said["maximum"],
        "limit.unit": said["limit_unit"],
        "limit.of": said["limit_of"],
        "limit.source": said["limit_source"],
    }
    sets = {path: text for path, text in answers.items() if text}
    given = in_bay.given(order, said).with_sets(sets)
    with in_bay.bay(given) as bay:
        kinds = bay.catalogue.bench_tests
        method = given.sets.get("method", "")
        known: dict[str, Json] = {}
        if reading:
            known["readings"] = typed_readings(reading)
        if condition:
            known["conditions"] = typed_conditions(condition)
        if instrument:
            known["instruments"] = [{"id": name} for name in instrument]
        if method in kinds:
            names = [text.partition("=")[0].strip() for text in (*reading, *condition)]
            check_names(kinds[method], names)
        if method and not {"test"} & {*given.sets, *given.file}:
            known["test"] = method
        event = bay.event("bench_test", known, bay.offered("bench_test"))
        result = result_of(Event(0, event), kinds)
        name = str(event.get("part"))
        told = [] if result is None else short_bench_lines(name, result)
        bay.tell(bay.take([event]), told)


@add_command.command("attachment")
@click.argument("path", type=common.FilePath(path_type=Path), metavar="FILE")
@click.option("--shows", metavar="TEXT", help="What is seen on it.")
@click.option("--of", "entry", type=int, metavar="ENTRY", help="The entry it is of.")
@in_bay.recording_options
@click.pass_obj
def attachment_step(
    order: str,
    /,
    path: Path,
    shows: str | None,
    entry: int | None,
    **said: Unpack[in_bay.Said],
) -> None:
    """Attach a picture, which is kept beside the log, or another file by its digest.

    Example: auditkit add RO-1001 attachment display.jpg --shows 'display: self-test 31'
    """
    given = in_bay.given(order, said).with_sets({"shows": shows} if shows else {})
    data = common.read(path)
    with in_bay.bay(given) as bay:
        held = bay.held()
        known, pictures = file_members(data, str(path))
        if entry is not None:
            known["of"] = _place(held, entry)
        bay.tell(bay.take([bay.event("attachment", known)], pictures))


def _place(held: HeldOrder, entry: int) -> int:
    """Return the place among an order's events of the one in an entry."""
    seqs = [line.seq for line in held.events]
    if entry not in seqs:
        raise InputError(
            f"entry {entry} is no step of {held.order.id}",
            where="--of",
            what_to_do=f"name one of {', '.join(map(str, seqs))}; 'auditkit status "
            f"{held.order.id}' lists them",
        )
    return seqs.index(entry)


@add_command.command("amendment")
@click.option(
    "--of", "entry", type=int, metavar="ENTRY", help="What it corrects; else asked for."
)
@click.option("--why", metavar="TEXT", help="Why it was wrong; else asked for.")
@in_bay.recording_options
@click.pass_obj
def amendment_step(
    order: str, /, entry: int | None, why: str | None, **said: Unpack[in_bay.Said]
) -> None:
    """Correct a step: the earlier entry stays, the corrected one stands beside it.

    Only what is wrong is given, with --set; at a terminal it is picked from what was
    written, and typed anew.

    Example: auditkit add RO-1001 amendment --of 2 --set 'vehicle.odometer=148210 km'
    --why 'two digits were swapped'
    """
    given = in_bay.given(order, said)
    with in_bay.bay(given) as bay:
        held = bay.held()
        place = _place(held, asked_entry(held, bay) if entry is None else entry)
        was = dict(held.order.events[place].data)
        event = (
            asked_correction(bay, was, place)
            if at_terminal() and not given.sets
            else corrected(was, given.sets)
        )
        if event == was:
            raise InputError("nothing is corrected", what_to_do="say what was wrong")
        amendment: dict[str, Json] = {
            "kind": "amendment",
            "at": bay.time(),
            "by": bay.hands.person,
            "corrects": place,
            "why": why or asked_why(),
            "event": event,
        }
        bay.tell(bay.take([amendment]), correction_lines(was, event))
