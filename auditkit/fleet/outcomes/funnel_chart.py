"""The picture of shops against what their work explains: a funnel. Pure."""

from __future__ import annotations

from auditkit.fleet.audited import Chart, Dot, Line, Scale, Shape, Style
from auditkit.fleet.outcomes.standings import Mark, Standings, limits_of
from auditkit.fleet.settings import Settings


def funnel_chart(found: Standings, settings: Settings, sentence: str) -> Chart | None:
    """Return the funnel; None where no shop has a place in it."""
    places = [shop for shop in found.shops if shop.expected >= settings.least_expected]
    if not places:
        return None
    largest = max(shop.expected for shop in places)
    low = min(settings.least_expected, largest / 2)
    steps = [low * (1.05 * largest / low) ** (n / 60) for n in range(61)]
    lines = [Line("as expected", ((low, 1.0), (steps[-1], 1.0)), Style.DOTTED)]
    if found.in_funnel >= settings.least_shops:
        for confidence, style in (
            (settings.watch, Style.DASHED),
            (settings.look, Style.FULL),
        ):
            ends = [limits_of(e, found.between, confidence) for e in steps]
            for side in (0, 1):  # of one style, so drawn alike
                points = tuple(
                    (e, end[side]) for e, end in zip(steps, ends, strict=True)
                )
                lines.append(Line(f"{100 * confidence:g} %", points, style))
    shapes = {
        Mark.LOOK: (Shape.SQUARE, "asks for a look"),
        Mark.WATCH: (Shape.TRIANGLE, "to watch"),
        Mark.WITHIN: (Shape.CIRCLE, "as expected"),
        Mark.FEW_SHOPS: (Shape.CIRCLE, "not marked: too few shops"),
    }
    hollow = (Shape.HOLLOW, "not compared: too little of it is here")
    dots, used = [], {}
    for shop in places:
        shape, meaning = shapes.get(shop.mark, hollow)
        used[shape] = meaning
        is_named = shop.mark in {Mark.LOOK, Mark.WATCH}
        dots.append(
            Dot(shop.expected, shop.ratio or 0.0, shape, shop.shop if is_named else "")
        )
    return Chart(
        name="funnel",
        title="Comebacks of each shop against what its work explains",
        sentence=sentence,
        along=Scale("comebacks expected", 0.9 * low, is_logarithmic=True),
        up=Scale("comebacks seen / expected", 0),
        lines=tuple(lines),
        dots=tuple(dots),
        numbers="shops",
        shapes=tuple(sorted(used.items())),
    )
