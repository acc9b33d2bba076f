"""An audit of invented shops with every sort of chart; no number of it was measured."""

import math
from dataclasses import replace
from datetime import UTC, datetime

from auditkit.fleet.audited import (
    AskedOfShop,
    Audit,
    Bars,
    Chart,
    Column,
    Dot,
    Line,
    Scale,
    Section,
    Shade,
    Shape,
    Span,
    Style,
    Table,
    ToOpen,
)

DIGEST = "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08"
OTHER_DIGEST = "60303ae22b998861bce3b28f33eec1be758a213c86c93c076dbe9f558c11c752"

HOSTILE = (
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "</svg></style><svg onload=alert(1)>",
    "&lt;b&gt; &amp; ]]> <!-- -->",
    "Caf\u00e9 \u202eliver-xeht\u202c \x00\x07 end",
    "\u05de\u05d5\u05e1\u05da \u0627\u0644\u0648\u0631\u0634\u0629 7",
    '#panic("x") $x$ *bold* _it_ @label <label> \\ ` ``` //',
    "W" * 400,
    "one\ntwo\n\n= Heading",
)
"""What strangers may write where a name is asked for."""


def shops(count):
    """Return names of invented shops."""
    return tuple(f"Shop {number}" for number in range(1, count + 1))


def funnel(count=24, name="{}", named=3):
    """Return a funnel of so many shops, as many of them named as asked for."""
    expected = [6 + 90 * ((i * 37 % 101) / 101) ** 2 for i in range(count)]
    ratios = [
        1 + 0.6 * math.sin(i * 2.4) / math.sqrt(e / 8) for i, e in enumerate(expected)
    ]
    dots = tuple(
        Dot(
            e,
            1.9 + 0.03 * (i % 3) if i < named else max(0.05, r),
            Shape.HOLLOW if i % 7 == 3 else Shape.CIRCLE,
            name.format(f"Shop {i + 1}") if i < named else "",
        )
        for i, (e, r) in enumerate(zip(expected, ratios, strict=True))
    )
    places = [5, 6, 8, 10, 14, 20, 30, 45, 70, 103]

    def limit(z, sign):
        roots = [1 + sign * z * math.sqrt(1 / e + 0.045) / 2 for e in places]
        return tuple(
            (float(e), max(0.0, r) ** 2) for e, r in zip(places, roots, strict=True)
        )

    return Chart(
        "funnel",
        "Comebacks seen against those to be expected",
        f"{named} of {count} shops lie outside the 95 % limits; all others differ no "
        "more than shops usually do.",
        Scale("comebacks to be expected for this shop's kind of work"),
        Scale("seen / expected"),
        lines=(
            Line("as expected", ((5.0, 1.0), (103.0, 1.0)), Style.DOTTED),
            Line("95 %", limit(1.96, 1), Style.DASHED),
            Line("95 %", limit(1.96, -1), Style.DASHED),
            Line("99.8 %", limit(3.09, 1)),
            Line("99.8 %", limit(3.09, -1)),
        ),
        dots=dots,
        shapes=(
            (Shape.CIRCLE, "a shop"),
            (Shape.HOLLOW, "a shop that delivered less than 90 of 100 entries"),
        ),
    )


def survival():
    """Return a curve of how long repairs hold, with its band and numbers at risk."""
    days = list(range(0, 181, 6))

    def held(rate):
        return [100 * math.exp(-rate * d / 180) for d in days]

    def line(name, rate, wide):
        points = tuple(zip(map(float, days), held(rate), strict=True))
        band = tuple(
            (d, h - wide * d / 180, min(100.0, h + wide * d / 180)) for d, h in points
        )
        return Line(name, points, Style.STEPS, band)

    at_risk = (0.0, 30.0, 90.0, 180.0)
    return Chart(
        "holds",
        "How long repairs hold",
        "After 180 days 88.6 of 100 repairs of Shop 7 still held, and 94.8 of 100 of "
        "all other shops.",
        Scale("days after the repair", 0.0, 180.0),
        Scale("repairs that still hold, of 100", 80.0, 100.0),
        lines=(line("Shop 7", 0.12, 3.0), line("all other shops", 0.053, 0.6)),
        below=(
            (
                "Shop 7: repairs still followed",
                tuple(zip(at_risk, ("520", "470", "380", "282"), strict=True)),
            ),
            (
                "all other shops: repairs still followed",
                tuple(
                    zip(at_risk, ("25,481", "24,002", "20,114", "15,880"), strict=True)
                ),
            ),
        ),
        band_name="95 % interval",
    )


def strip(count=5):
    """Return readings of so many shops beside a limit."""
    members = shops(count)
    dots = [
        Dot(
            round((11 + (i * 7 + s * 3) % 40 / 10 if s != 2 else 14 + i % 10 / 10), 1),
            float(s),
        )
        for s in range(count)
        for i in range(12)
    ]
    return Chart(
        "strip",
        "Flow tests of EGR valves beside their limit",
        "In Shop 3 all 12 readings lie just beyond the limit; in others it is 1 in 4.",
        Scale("flow at idle, g/s", 9.0, 17.0),
        Scale("shop", members=members),
        lines=(Line("limit 15 g/s (invented)", ((15.0, -0.5), (15.0, count - 0.5))),),
        dots=tuple(dots),
        shaded=(Shade(14.0, 15.0, "just beyond the limit"),),
        beside=tuple("12 of 12" if i == 2 else "3 of 12" for i in range(count)),
    )


def digits():
    """Return last digits of one shop against its peers."""
    return Chart(
        "digits",
        "Last digits of 80 readings to 0.1 g/s",
        "Shop 3 ends 22 of 80 readings in 5; by its peers 9 would be expected.",
        Scale("last digit"),
        Scale("readings", 0.0),
        bars=Bars(
            tuple("0123456789"),
            ("Shop 3",),
            tuple((float(n),) for n in (8, 3, 4, 5, 9, 22, 4, 6, 7, 12)),
            (8.3, 7.9, 8.0, 7.7, 8.1, 8.8, 7.7, 8.0, 8.1, 7.5),
            "other shops with the same resolution, scaled to 80 readings",
        ),
    )


def strength():
    """Return shares by strength and question, in stacked bars."""
    rows = (
        ("fault known", (62.0, 10.0, 20.0, 8.0, 0.0)),
        ("part at fault", (48.0, 22.0, 18.0, 9.0, 3.0)),
        ("test reran", (71.0, 4.0, 15.0, 2.0, 8.0)),
        ("fault gone", (74.0, 3.0, 12.0, 1.0, 10.0)),
    )
    return Chart(
        "strength",
        "What the answers rest on",
        "Between 48 and 74 of 100 answers rest on first-hand evidence.",
        Scale("question"),
        Scale("answers, of 100", 0.0, 100.0),
        bars=Bars(
            tuple(name for name, _ in rows),
            ("first-hand", "photographed", "typed", "word", "not shown"),
            tuple(values for _, values in rows),
        ),
    )


def lateness(count=3):
    """Return small charts of how late shops record, one a shop."""
    return tuple(
        Chart(
            f"late-{s}",
            f"Shop {s}",
            f"Shop {s} records half of its events within {s * 3} minutes.",
            Scale("month of 2026", 1.0, 6.0),
            Scale("minutes late", 0.1, 10000.0, is_logarithmic=True),
            lines=tuple(
                Line(
                    f"{part} %",
                    tuple((float(m), s * m**0.3 * rise) for m in range(1, 7)),
                    style,
                )
                for part, rise, style in (
                    (50, 3.0, Style.FULL),
                    (90, 24.0, Style.DASHED),
                    (99, 700.0, Style.DOTTED),
                )
            ),
            group="late",
        )
        for s in range(1, count + 1)
    )


def day(month, number, hour=0):
    """Return a moment of 2026 in seconds since 1970."""
    return datetime(2026, month, number, hour, tzinfo=UTC).timestamp()


def timeline():
    """Return an invented vehicle's year."""
    return Chart(
        "timeline",
        "The vehicle's year",
        "The vehicle came in three times, the second time for the fault of the first.",
        Scale("time (UTC)", is_time=True),
        Scale("odometer, km"),
        lines=(
            Line(
                "odometer",
                ((day(1, 14), 91200.0), (day(3, 2), 94410.0), (day(8, 20), 103900.0)),
                Style.STEPS,
            ),
        ),
        spans=(
            Span("visits", day(1, 14), day(1, 19), "Shop 2"),
            Span("visits", day(3, 2), day(3, 3), "Shop 7"),
            Span("visits", day(8, 20), day(8, 27), "Shop 7"),
            Span("codes", day(1, 14), day(1, 14), "P0401"),
            Span("codes", day(3, 2), day(3, 2), "P0401"),
            Span("codes", day(8, 20), day(8, 20), "P0299"),
            Span("bench tests", day(1, 15), day(1, 15), "EGR valve: faulty"),
            Span(
                "bench tests",
                day(1, 16),
                day(2, 10),
                "EGR cooler: good",
                claimed=day(1, 16),
            ),
            Span("bench tests", day(3, 2), day(3, 3), "", is_hatched=True),
            Span("repairs", day(1, 18), day(1, 18), "EGR valve replaced"),
            Span("repairs", day(3, 3), day(3, 3), "passage cleaned"),
        ),
    )


def rates(count=24):
    """Return the table of shops: some too small to say anything."""
    return Table(
        "shops",
        "Shops: how many repairs held for 180 days",
        (
            Column("shop", "shop"),
            Column("repairs", "repairs"),
            Column("held", "held", "of 100", 1),
            Column("low", "at least", "of 100", 1),
            Column("high", "at most", "of 100", 1),
            Column("left_out", "left out"),
        ),
        tuple(
            (f"Shop {i}", 40 * i, 90 + i / 10, 85.0, 96.0, 2)
            if i % 5
            else (f"Shop {i}", 18, None, None, None, 0)
            for i in range(1, count + 1)
        ),
        note="Left out: repairs whose VIN is withheld (n of N in section 2).",
    )


def asked():
    """Return two questions: one with a picture, one that was answered."""
    return (
        AskedOfShop(
            "readings just beyond a limit",
            "Shop 3",
            "In 22 of 60 bench tests the value lies just beyond the limit. How is the "
            "test done?",
            {"readings": 60, "just beyond the limit": 22},
            {"shops with the same test": 11, "just beyond the limit, of 100": 10.7},
            "50 readings, and 10 other shops",
            (
                "A coarse gauge rounds readings to the same few values.",
                "Most of these parts are checked early, as they wear.",
            ),
            (
                ToOpen(DIGEST, "RO-1001", "its reading is 14.9 at a limit of 15"),
                ToOpen(OTHER_DIGEST, "RO-1007", "the same, an hour later"),
            ),
            chart=strip(),
        ),
        AskedOfShop(
            "last digits",
            "Shop 3",
            "Readings end in 5 more often than in other shops. Which gauge is used?",
            {"readings": 80, "end in 5": 22},
            {"readings of other shops": 3000, "end in 5": 330},
            "50 readings",
            ("A gauge with marks at each half.",),
            (),
            is_to_watch=True,
            answer="2026-05-02: our gauge has marks at each half.",
            chart=digits(),
        ),
    )


def audit(count=24, questions=None):
    """Return the whole audit of so many shops."""
    made = [
        Section(
            "summary",
            "What stands out",
            (
                (
                    "Of 18,204 repairs that could be followed, 94.9 in 100 held for "
                    "180 days (between 94.5 and 95.2)."
                ),
                (
                    "Shop 7: 54 comebacks where 22 were to be expected for its kind of "
                    "work; far outside what differs between shops."
                ),
                "Shop 12 has 18 repairs. That is too few to say anything.",
                (
                    "Shop 31 delivered 61 of 100 of its log's entries. Its numbers "
                    "cannot be compared until the rest is here."
                ),
            ),
        ),
        Section(
            "delivered",
            "What was delivered, and what was not",
            ("26,001 packets of 24 shops were read; 3 were refused.",),
        ),
        Section(
            "holds",
            "How well repairs hold",
            ("Vehicles that left unseen make this look better than it is.",),
            charts=(survival(),),
        ),
        Section(
            "shops",
            "Shops",
            ("Two ratios are not comparable with each other, only with all shops.",),
            (rates(count),),
            (funnel(count),) if count else (),
        ),
        Section(
            "evidence",
            "What the answers rest on",
            ("This is no quality of repair: it is one of evidence.",),
            charts=(strength(), *lateness()),
        ),
        Section(
            "own",
            "Its numbers",
            ("Shop 3 has 412 repairs, of which 95.1 in 100 held for 180 days.",),
            shop="Shop 3",
        ),
        Section(
            "method",
            "How this was computed",
            ("One fault of one order, judged here, is counted once.",),
        ),
    ]
    return Audit(
        "Audit of an invented fleet, first half of 2026",
        tuple(made),
        asked() if questions is None else questions,
        {"program": "auditkit 0.1.0", "rules": "ab" * 32, "orders": 26000},
    )


def named_all(name):
    """Return an audit with this name for a shop, wherever one stands."""
    chart = strip(3)
    chart = replace(
        chart,
        title=name,
        sentence=f"{name}.",
        up=replace(chart.up, members=(name, "Shop 2", name)),
        beside=(name, name, name),
    )
    far = funnel(6, name=name.replace("{", "(").replace("}", ")"))
    question = AskedOfShop(
        name,
        name,
        name,
        {name: name},
        {name: 3},
        name,
        (name,),
        (ToOpen(DIGEST, name, name),),
        answer=name,
        chart=chart,
    )
    table = replace(rates(1), title=name, note=name, rows=((name, 1, 2.0, 1, 3, 0),))
    section = Section(name, name, (name,), (table,), (far,))
    return Audit(name, (section, section, replace(section, shop=name)), (question,))
