"""``audit``: how well the repairs of a collection hold, and what is worth asking."""

from __future__ import annotations

import hashlib
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from auditkit.cli import common
from auditkit.errors import InputError

if TYPE_CHECKING:
    from auditkit.fleet.asking import Asked
    from auditkit.fleet.audit import Told
    from auditkit.fleet.audited import Audit
    from auditkit.fleet.part import Ask

_file = click.Path(path_type=Path)


@click.command("audit")
@click.argument("file", type=common.FilePath(path_type=Path))
@click.option(
    "--rules",
    "rules_file",
    type=_file,
    metavar="TOML-FILE",
    help="Your own thresholds and horizons; what it does not name keeps its default.",
)
@click.option(
    "--vehicles",
    "vehicles_file",
    type=_file,
    metavar="CSV-FILE",
    help="Your register of vehicles (vin,from,to): what came of repairs is told of "
    "these alone, while they are in view.",
)
@click.option("--vehicle", metavar="VIN", help="One vehicle, visit by visit, instead.")
@click.option(
    "--pseudonymous",
    "key_file",
    type=_file,
    metavar="KEY-FILE",
    help="The key with which it was collected, where it holds pseudonyms.",
)
@click.option(
    "--shop",
    default="",
    metavar="ORIGIN",
    help="What one shop is to see: its own rows; other shops have no names.",
)
@click.option(
    "--answers",
    "answers_file",
    type=_file,
    metavar="TOML-FILE",
    help="What shops answered, printed beside the questions: [[answer]] tables with "
    "shop, screen (a question's heading), date and text.",
)
@click.option(
    "--with-forked",
    is_flag=True,
    help="Count logs of which two histories are proven, too.",
)
@click.option(
    "--format",
    "form",
    type=click.Choice(["text", "json", "csv"]),
    default="text",
    show_default=True,
    help="How to print the result; csv writes one file a table into --into.",
)
@click.option("--into", type=_file, metavar="FOLDER", help="Where csv goes.")
@click.option("--parquet", type=_file, metavar="FOLDER", help="Write the tables so.")
@click.option("--html", "html_file", type=_file, metavar="FILE", help="Write a page.")
@click.option("--pdf", "pdf_file", type=_file, metavar="FILE", help="Write sheets.")
@click.option(
    "--orders",
    is_flag=True,
    help="With --html audit.html: beside it a folder audit-orders with a page of each "
    "packet that the audit says to open, linked from it.",
)
def audit_command(
    file: Path,
    rules_file: Path | None,
    vehicles_file: Path | None,
    vehicle: str | None,
    key_file: Path | None,
    shop: str,
    answers_file: Path | None,
    with_forked: bool,
    form: str,
    into: Path | None,
    parquet: Path | None,
    html_file: Path | None,
    pdf_file: Path | None,
    orders: bool,
) -> None:
    """Show how well the repairs of a collection hold, and what to ask of shops.

    FILE is a collection that 'auditkit collect' made; it is only read. A question to a
    shop is never an accusation, and nothing may follow from it by itself.

    Example: auditkit audit fleet.duckdb --html audit.html
    """
    from auditkit.cli.audit_files import Wanted, write
    from auditkit.fleet.asking import asking
    from auditkit.fleet.exported import audit_json

    if (form == "csv") != (into is not None):
        raise InputError(
            "--format csv and --into FOLDER go together",
            where="--into",
            what_to_do="give both, or neither",
        )
    if orders and (html_file is None or key_file is not None):
        raise InputError(
            "pages of repair orders would tell what pseudonyms hide"
            if key_file
            else "--orders goes with --html",
            where="--orders",
            what_to_do="leave out --orders" if key_file else "give --html FILE, too",
        )
    wanted = Wanted(into, parquet, html_file, pdf_file, has_orders=orders)
    wanted.refuse_existing()
    asked, told = _given(rules_file, vehicles_file, key_file, answers_file)
    if with_forked:
        asked = replace(asked, settings=replace(asked.settings, with_forked=True))
    with asking(file, replace(asked, seen_by=shop)) as ask:
        if vehicle is None:
            made = _whole(ask, replace(told, settings=asked.settings), shop)
        else:
            made = _of_vehicle(ask, asked, vehicle, file)
        dated = _last_record(ask)
        pages = _pages(ask, made, file) if orders else {}
    for path in write(made, wanted, dated, pages):
        common.say(f"written: {path}", err=True)
    if form == "json":
        common.print_json(audit_json(made))
    elif form == "text":
        _print(made, is_whole=html_file is None and pdf_file is None)


def _given(
    rules: Path | None, vehicles: Path | None, key: Path | None, answers: Path | None
) -> tuple[Asked, Told]:
    """Return how a collection is asked, and what goes into its audit, from files."""
    from auditkit.fleet.asking import Asked
    from auditkit.fleet.audit import Told
    from auditkit.fleet.pseudonyms import parse_key
    from auditkit.fleet.settings import Settings, parse_settings
    from auditkit.fleet.shop_answers import parse_answers
    from auditkit.fleet.vehicles import parse_vehicles

    settings, named = Settings(), []
    if rules is not None:
        settings = parse_settings(common.read_text(rules), where=str(rules))
    asked = Asked(settings)
    if key is not None:
        asked = replace(asked, pseudonyms=parse_key(common.read(key), where=str(key)))
    if vehicles is not None:
        data = common.read(vehicles)
        found = parse_vehicles(common.as_text(data, vehicles), where=str(vehicles))
        asked = replace(asked, vehicles=found)
        named.append(("register of vehicles, SHA-256", _digest(data)))
    told = Told(settings)
    if answers is not None:
        data = common.read(answers)
        said = parse_answers(common.as_text(data, answers), where=str(answers))
        told = replace(told, answers=said)
        named.append(("answers of shops, SHA-256", _digest(data)))
    return asked, replace(told, made_from=tuple(named))


def _digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def _whole(ask: Ask, told: Told, shop: str) -> Audit:
    from auditkit.fleet.audit import audit

    if shop:
        # By its log's origin, too: the one shop that still has a name of its own.
        ((shop,),) = ask(
            "SELECT DISTINCT shop FROM shop_log WHERE shop = ? OR origin = ? ORDER BY "
            "1",
            (shop, shop),
        )
    with _progress() as progress:
        return audit(ask, replace(told, seen_by=shop, progress=progress))


def _of_vehicle(ask: Ask, asked: Asked, vin: str, file: Path) -> Audit:
    from auditkit.fleet.asking import need_key
    from auditkit.fleet.visits import vehicle_audit

    if asked.pseudonyms is None and ask(
        "SELECT pseudonym_check IS NOT NULL FROM collection ORDER BY 1"
    ) == [(True,)]:
        raise need_key(file)
    held = asked.pseudonyms.vin(vin.upper()) if asked.pseudonyms else vin.upper()
    found = vehicle_audit(ask, asked.settings, held, vin)
    if found is None:
        raise InputError(
            "no repair order of this vehicle counts here",
            where=f"{file}, {vin}",
            what_to_do="check the VIN; one that was withheld is not known here",
        )
    return found


def _pages(ask: Ask, made: Audit, file: Path) -> dict[str, str]:
    """Return the pages of the packets to open; those that are gone are told."""
    from auditkit.fleet.collecting import packet_again
    from auditkit.fleet.judging import rules
    from auditkit.fleet.report.packet_pages import packet_pages, packets_named

    ((is_pseudonymous,),) = ask("SELECT is_pseudonymous FROM collection")
    if is_pseudonymous:
        raise InputError(
            "pages of repair orders would tell what pseudonyms hide",
            where=str(file),
            what_to_do="leave out --orders",
        )
    named = packets_named(made)
    paths = dict(
        ask(
            "SELECT lower(hex(sha256)), path FROM packet WHERE is_verified "
            "AND list_contains(CAST(? AS VARCHAR[]), lower(hex(sha256))) ORDER BY ALL",
            (named,),
        )
    )

    def find(sha256: str) -> bytes | None:
        path = paths.get(sha256)
        return packet_again(path, bytes.fromhex(sha256)) if path else None

    pages = packet_pages(made, find, rules().bench_tests)
    if gone := len(named) - len(pages):
        common.say(
            f"without a page: {gone} packets are not where they were collected",
            err=True,
        )
    return pages


def _last_record(ask: Ask) -> datetime:
    """Return the moment that dates the files: the last record, not when this ran."""
    ((moment,),) = ask(
        "SELECT coalesce((SELECT moment FROM cut_off), max(started), "
        "TIMESTAMP '2000-01-01') FROM run"
    )
    found: datetime = moment.replace(tzinfo=UTC)
    return found


def _print(made: Audit, *, is_whole: bool) -> None:
    """Print what people read: the answer; *whole* with each shop, and the questions."""
    from auditkit.cli.audit_lines import lead_lines, lead_tables, question_lines

    common.print_lines(lead_lines(made))
    if not is_whole:
        return
    for title, rows in lead_tables(made.sections[0]):
        common.say("")
        common.say(title)
        common.print_table(rows)
    common.say("")
    common.print_lines(question_lines(made.asked))
    common.say("The whole report: --html FILE or --pdf FILE; its tables: --format csv")


@contextmanager
def _progress() -> Iterator[Callable[[int, int], None] | None]:
    """Yield what draws how many measures are done; None without a terminal."""
    if not sys.stderr.isatty():
        yield None
        return
    with click.progressbar(length=1, label="Auditing", file=sys.stderr) as bar:

        def draw(done: int, total: int) -> None:
            bar.length = total
            bar.update(done - bar.pos)

        yield draw
