"""What a step is made of, below the options in its help."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import click

from auditkit.bay.field import Field, Path
from auditkit.bay.fields import fields_of
from auditkit.plugin.loading import load_catalogue

_FIRST = ("0",)


class AskedHelp(click.Command):
    """A kind of step whose help lists each PATH that --set takes.

    Its name is that of the kind.
    """

    def format_epilog(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the paths, with what each wants."""
        asked = fields_of(self.name or "", load_catalogue(), {})
        with formatter.section("What --set takes, .0 being the first of several"):
            formatter.write_dl(list(_rows(asked, ())), col_max=34)
        super().format_epilog(ctx, formatter)


def _rows(asked: Iterable[Field], before: Path) -> Iterator[tuple[str, str]]:
    for one in asked:
        path = (*before, *one.path)
        if one.fields and not one.by_name:
            yield from _rows(one.fields, (*path, *_FIRST))
            continue
        what = one.help or f"{one.label[:1].lower()}{one.label[1:]}"
        if one.choices:
            what += f"; one of {', '.join(value for value, _ in one.choices)}"
        yield ".".join(path), what
