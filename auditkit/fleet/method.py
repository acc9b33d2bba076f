"""How an audit was made: settings, what each screen misses, what it is not. Pure."""

from __future__ import annotations

from dataclasses import fields

from auditkit.fleet.audited import Column, Section, Table
from auditkit.fleet.settings import Settings

MISSES = (
    (
        "comebacks",
        (
            "a shop whose vehicles never return to any shop of the collection; small "
            "shops; a shop that is only somewhat worse than others; invented records"
        ),
    ),
    (
        "delivered",
        "orders that were never recorded; work written down under another name",
    ),
    (
        "vehicles not named",
        "shares that are usual among the other shops; which vehicle it was",
    ),
    ("two histories", "a second log that nobody outside the shop ever sees"),
    ("logs begun anew", "a new log each year"),
    (
        "readings just beyond a limit",
        (
            "values that are invented far from a limit; most of one in ten invented "
            "ones; a test that fewer than ten other shops make, or call alike"
        ),
    ),
    (
        "last digits of readings",
        "values drawn by a machine; most shares of invented values below one in four",
    ),
    (
        "bench tests written down late",
        (
            "records that are invented at once; work that is handed over together "
            "from another program, which is counted apart"
        ),
    ),
    (
        "bench tests that agree in every number",
        "copies of which one number was changed; copies written on the same day",
    ),
    (
        "repeated readings that agree",
        "repeats that were made up with a usual spread",
    ),
    (
        "readouts that stand in two records",
        (
            "a readout of a vehicle of which no other packet is here; one of which a "
            "byte was changed; answers with little in them; vehicles without a VIN"
        ),
    ),
    (
        "odometers that do not fit",
        (
            "visits outside this collection; a step back that a slip of writing would "
            "explain is listed, and asked of nobody"
        ),
    ),
    (
        "one person, or one instrument, at two vehicles at once",
        "tests without a start or a hold time; work under several names",
    ),
    (
        "one certificate at several shops",
        "a certificate that is written in two ways; one that a single shop borrowed",
    ),
    ("holds that were cut short", "a start that was typed in to fit"),
    (
        "instruments that drift",
        "instruments that never read a known-good part",
    ),
    (
        "instruments used outside their calibration",
        "a certificate that nobody ever wrote",
    ),
)
"""(screen, what passes it): printed so that nobody takes silence for proof."""
SENTENCES = (
    (
        "Counted is the fault that a repair order repairs, judged here from its "
        "packet; what the shop signed is compared, never taken over. Of each fault "
        "the first comeback counts, at any shop of the collection, to the shop that "
        "repaired it."
    ),
    (
        "A comeback is a later visit of the same vehicle with the same code, or a "
        "code of the same group from the same module. A repair is followed until the "
        "horizon, the last record here, or the end that the register gives its "
        "vehicle; never only until its last visit, which would drop those early that "
        "hold."
    ),
    (
        "Expected comebacks are those that all compared shops together had for the "
        "same kind of work over the same time (cumulative hazard by Nelson and Aalen, "
        "by group of faults and age of the vehicle). Limits hold the spread between "
        "shops, estimated from all of them with the farthest held in (Spiegelhalter "
        "2005); they are about as wide as they say."
    ),
    (
        "Two marks: what lies outside the wider limits asks for a look, what lies "
        "outside the narrower ones is watched until new packets show it again. Where "
        "many things are tested at once, the share of false ones is held down "
        "(Benjamini and Hochberg 1995). To repeat an audit on the same packets "
        "confirms nothing."
    ),
    (
        "The thresholds stand here although a screen that is known can be dodged: a "
        "rule that is hidden cannot be answered. Rely on several unlike screens, and "
        "on first-hand evidence, which is dearer to invent."
    ),
    (
        "Nothing may follow from an audit by itself. A question goes to the shop "
        "first, and its answer stands beside it."
    ),
)


def method(settings: Settings) -> Section:
    """Return the last part of an audit: how it was made."""
    return Section(
        "method",
        "How this was made",
        SENTENCES,
        (_settings_table(settings), _misses_table()),
    )


def _settings_table(settings: Settings) -> Table:
    here, usual = settings.listed(), Settings().listed()
    rows = tuple(
        (
            *(one.name, _shown(here[one.name]), _shown(usual[one.name])),
            one.metadata["says"],
        )
        for one in fields(settings)
    )
    return Table(
        name="settings",
        title="Settings",
        columns=(
            Column("setting", "setting"),
            Column("value", "here"),
            Column("default", "unless set"),
            Column("says", "what it is"),
        ),
        rows=rows,
        note=f"Digest of all: {settings.sha256}",
    )


def _shown(value: float) -> str:
    """Return a setting's value; bool, a kind of int, in words."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}"


def _misses_table() -> Table:
    return Table(
        name="misses",
        title="What each screen misses",
        columns=(Column("screen", "screen"), Column("misses", "what passes it")),
        rows=MISSES,
    )
