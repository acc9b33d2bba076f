"""``bench``: compute one bench test, from a file or from the command line."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, cast

import click

from auditkit.bay import typed_numbers
from auditkit.cli import common
from auditkit.errors import InputError
from auditkit.order.bench_event import bench_input, result_of
from auditkit.order.events import Event
from auditkit.order.schema import validate_event
from auditkit.output.bench_kinds import (
    HOW_TO_SEE_ONE,
    kind_lines,
    method_lines,
    system_rows,
)
from auditkit.output.bench_lines import bench_json, bench_lines
from auditkit.plugin.loading import load_catalogue
from auditkit.text.display_text import nearest
from auditkit.text.placed_json import parse_placed
from auditkit.text.values import Json

if TYPE_CHECKING:
    from auditkit.bench import BenchResult, TestKind
    from auditkit.order.catalogue import Catalogue


@click.command("bench")
@click.argument("file", type=click.Path(path_type=Path), required=False)
@click.option(
    "--for", "code", metavar="CODE", help="The methods that fit a fault code, P0128."
)
@click.option(
    "--method",
    metavar="NAME",
    help="The kind of test, without a file; alone: what it asks for.",
)
@click.option(
    "--reading",
    multiple=True,
    metavar="NAME=VALUE UNIT",
    help="One reading, or NAME=above VALUE UNIT (over range), below; repeat it.",
)
@click.option(
    "--condition",
    multiple=True,
    metavar="NAME=VALUE UNIT",
    help="One condition, or a word; repeat it.",
)
@click.option(
    "--instrument",
    multiple=True,
    metavar="KEY=VALUE,...",
    help="id, unit, low, high, resolution, percent_of_reading, percent_of_span, "
    "digits, absolute, calibrated_on, due; repeat it.",
)
@click.option("--minimum", metavar="VALUE", help="The least good value.")
@click.option("--maximum", metavar="VALUE", help="The greatest good value.")
@click.option("--limit-unit", metavar="UNIT", help="The limit's unit.")
@click.option("--limit-of", metavar="NAME", help="What is limited, where several are.")
@click.option("--limit-source", metavar="TEXT", help="Where the limit comes from.")
@click.option(
    "--plot", type=click.Path(path_type=Path), help="A new file for a picture (SVG)."
)
@common.format_option
def bench_command(
    file: Path | None,
    code: str | None,
    method: str | None,
    reading: tuple[str, ...],
    condition: tuple[str, ...],
    instrument: tuple[str, ...],
    minimum: str | None,
    maximum: str | None,
    limit_unit: str | None,
    limit_of: str | None,
    limit_source: str | None,
    plot: Path | None,
    form: str,
) -> None:
    """Compute one bench test: faulty, good, inconclusive or not valid.

    FILE holds one bench_test event. Without FILE and --method the kinds of test are
    listed by system; --method NAME without a reading shows what that kind asks for,
    and --for CODE those that fit a fault code, part by part. Nothing is written but
    the picture.

    Exit status 0 where the test decides (faulty or good), 1 where it does not.

    A display that is over its range is a reading too: --reading "resistance=above 40
    Mohm". Of a short, below the smallest value that it could have shown.

    Example: auditkit bench bench-test.json
    """
    if code is not None:
        common.print_lines(_for_code(code))
        return
    catalogue = load_catalogue()
    kinds = catalogue.bench_tests
    if file is None and method is None:
        from auditkit.bench.methods import methods

        common.print_table(system_rows(kinds, methods()))
        common.print_lines(HOW_TO_SEE_ONE)
        return
    limits = (minimum, maximum, limit_unit, limit_of, limit_source)
    asks = file is None and form == "text"
    asks = asks and not any((reading, condition, instrument, plot, *limits))
    if asks and method is not None and method in kinds:
        common.print_lines(kind_lines(kinds[method]))
        return
    if file is not None:
        value, name = parse_placed(common.read(file), where=str(file)), str(file)
    else:
        sides = {
            "minimum": minimum,
            "maximum": maximum,
            "unit": limit_unit,
            "of": limit_of,
            "source": limit_source,
        }
        for side in ("minimum", "maximum"):
            typed_numbers.digits(sides[side] or "", f"--{side}")
        limit: dict[str, Json] = {k: v for k, v in sides.items() if v is not None}
        if method is not None and method in kinds:
            options = (("--reading", reading), ("--condition", condition))
            named = [_named(text, o)[0] for o, texts in options for text in texts]
            check_names(kinds[method], named)
        value, name = (
            _event(method or "", reading, condition, instrument, limit),
            "bench",
        )
    found = _computed(value, name, catalogue)
    if plot is not None:
        from auditkit.output.bench_plot import bench_plot

        event = Event(0, cast("dict[str, Json]", value))
        drawn = bench_plot(kinds[found.kind], bench_input(event), found)
        common.write_new(plot, drawn)
    if form == "json":
        common.print_json(bench_json(found))
    else:
        common.print_lines(bench_lines(name, found))
    if found.outcome.value not in {"faulty", "good"}:
        raise click.exceptions.Exit(1)


def _for_code(code: str) -> list[str]:
    """Return the methods that fit a fault code; InputError for what is none."""
    from auditkit.bench.methods import methods_for
    from auditkit.obd import code_table

    name = code.strip().upper()
    try:
        row = code_table.row_of(name)
    except ValueError as error:
        raise InputError(
            f"{code!r} is not a fault code",
            where="--for",
            what_to_do="write a letter (P, C, B or U) and four digits, such as P0128",
        ) from error
    systems = (row.system, *row.plausible, *code_table.ANYWHERE)
    return method_lines(name, row, methods_for(name, systems))


def _computed(value: Json, name: str, catalogue: Catalogue) -> BenchResult:
    if not isinstance(value, dict) or value.get("kind") != "bench_test":
        raise InputError(
            "this is not one bench_test event",
            where=name,
            what_to_do='give one JSON object with "kind": "bench_test"',
        )
    problems = validate_event(value, catalogue.events)
    if problems:
        first = problems[0]
        raise InputError(
            first.message, where=f"{name}#{first.pointer}", what_to_do=first.what_to_do
        )
    try:
        found = result_of(Event(0, value), catalogue.bench_tests)
    except InputError as error:
        error.where = f"{name}#/{error.where}" if error.where else name
        raise
    if found is None:
        raise InputError(
            "the bench test names no method, so nothing can be computed",
            where=name,
            what_to_do='write "method": one of '
            + ", ".join(sorted(catalogue.bench_tests)),
        )
    return found


def _event(
    method: str,
    readings: tuple[str, ...],
    conditions: tuple[str, ...],
    instruments: tuple[str, ...],
    limit: dict[str, Json],
) -> Json:
    members: dict[str, Json] = {
        "kind": "bench_test",
        "at": datetime.now(UTC).isoformat(timespec="seconds"),
        "by": "command-line",
        "part": "part",
        "test": method,
        "method": method,
        "readings": typed_readings(readings),
        "instruments": [_instrument(text) for text in instruments],
    }
    if conditions:
        members["conditions"] = typed_conditions(conditions)
    if limit:
        members["limit"] = limit
    return members


def typed_readings(texts: Iterable[str]) -> list[Json]:
    """Return readings, each ``NAME=VALUE UNIT``, as an event has them."""
    read: list[Json] = []
    for text in texts:
        name, value = _named(text, "--reading")
        amount = typed_numbers.amount(value, "--reading")
        if not amount["unit"]:
            raise InputError(
                f"{name}: {value!r} has no unit",
                where="--reading",
                what_to_do='write it, such as "12.0 A"; a count as "3 times"',
            )
        read.append({"name": name, **amount})
    return read


def typed_conditions(texts: Iterable[str]) -> dict[str, Json]:
    """Return conditions, each ``NAME=VALUE UNIT`` or a word, as an event has them."""
    given: dict[str, Json] = {}
    for text in texts:
        name, value = _named(text, "--condition")
        amount = typed_numbers.amount(value, "--condition")
        given[name] = dict(amount) if _is_number(amount) else value
    return given


def check_names(kind: TestKind, names: Iterable[str]) -> None:
    """Raise InputError for a name that a kind does not ask for: it would be unused."""
    asked = [need.name for need in kind.needs]
    asked += [f"{of} of {name}" for name in asked for of in ("uncertainty", "unit")]
    for name in names:
        if name not in asked:
            near = nearest(name, asked)
            what_to_do = f"write {near[0]!r}; " if near else ""
            what_to_do += (
                f"'auditkit bench --method {kind.name}' shows what it asks for"
            )
            raise InputError(
                f"{kind.name} asks for nothing called {name!r}",
                where=name,
                what_to_do=what_to_do,
            )


def _is_number(amount: dict[str, str]) -> bool:
    number, unit = amount.values()
    return bool(unit) and number.lstrip("-")[:1].isdigit()


def _named(text: str, option: str) -> tuple[str, str]:
    name, equals, value = text.partition("=")
    if not (equals and name.strip() and value.strip()):
        raise InputError(
            f"{text!r} is not NAME=VALUE UNIT",
            where=option,
            what_to_do='write it as "load current=12.0 A"',
        )
    return name.strip(), value.strip()


def _instrument(text: str) -> Json:
    parts = text.split(",")
    for before, after in pairwise(parts):
        _, _, number = before.partition("=")
        if number and after.isdecimal():
            typed_numbers.digits(f"{number},{after}", "--instrument")
    pairs = dict(_named(part, "--instrument") for part in parts)
    name = pairs.pop("id", "instrument-1")
    specification: dict[str, Json] = dict(pairs)
    return {"id": name, "specification": specification}
