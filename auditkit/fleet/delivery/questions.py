"""Questions about what a shop delivered, each with what honest shops answer. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta

from auditkit.fleet.audited import AskedOfShop, ToOpen
from auditkit.fleet.delivery.logs import LogHere, of_shop
from auditkit.fleet.settings import Settings

_A_YEAR = timedelta(days=366)


def little_delivered(logs: Sequence[LogHere], settings: Settings) -> list[AskedOfShop]:
    """Ask shops of whose logs too little is here to compare them."""
    asked = []
    for shop, own in of_shop(logs).items():
        if not own.lacks_much:
            continue
        asked.append(
            AskedOfShop(
                screen="delivered",
                shop=shop,
                question="A part of its log is not here. Where are the other packets?",
                measured={
                    "entries here": own.here,
                    "of": own.size,
                    "missing": "; ".join(
                        f"{log.origin}: {log.stretches}"
                        for log in own.logs
                        if log.missing
                    ),
                },
                peers={"asked of every shop": f"{100 * settings.least_coverage:g} %"},
                at_least="one checkpoint of the log",
                honest_reasons=(
                    "jobs that are not done yet, or that no packet was asked of",
                    (
                        "other customers' or other fleets' repairs, which are not for "
                        "this reader"
                    ),
                ),
                to_open=(),
            )
        )
    return asked


def begun_anew(logs: Sequence[LogHere]) -> list[AskedOfShop]:
    """Ask where a shop opened three logs within a year."""
    asked = []
    for shop, own in of_shop(logs).items():
        opened = sorted(log.opened_at for log in own.logs if log.opened_at)
        if not any(
            third - first <= _A_YEAR
            for first, third in zip(opened, opened[2:], strict=False)
        ):
            continue
        asked.append(
            AskedOfShop(
                screen="logs begun anew",
                shop=shop,
                question="It began a new log several times within a year. Why?",
                measured={
                    "logs": len(own.logs),
                    "opened": ", ".join(str(at.date()) for at in opened),
                    "that continue another": sum(
                        bool(log.predecessor) for log in own.logs
                    ),
                },
                peers={},
                at_least="three logs within a year",
                honest_reasons=(
                    "several places of work under one name, each with its own log",
                    "a lost key or a damaged computer",
                ),
                to_open=(),
            )
        )
    return asked


def conflicting(conflicts: Sequence[tuple[str, ...]]) -> list[AskedOfShop]:
    """Ask about two histories, and about numbers and keys that were used twice."""
    found: dict[tuple[str, str], list[tuple[str, ...]]] = {}
    for row in conflicts:
        if row[0] != "entries missing":
            found.setdefault((row[1], row[0]), []).append(row)
    asked = []
    for (shop, kind), rows in found.items():
        packets = {
            (sha256, order): sentence
            for _, _, _, sentence, one, its, other, its_other in rows
            for sha256, order in ((one, its), (other, its_other))
            if sha256
        }
        asked.append(
            AskedOfShop(
                screen=_SCREENS[kind],
                shop=shop,
                question=_QUESTIONS[kind],
                measured={"pairs of packets": len(rows)},
                peers={},
                at_least="two packets",
                honest_reasons=_REASONS[kind],
                to_open=tuple(
                    ToOpen(sha256, order, because)
                    for (sha256, order), because in packets.items()
                ),
            )
        )
    return asked


_SCREENS = {
    "fork": "two histories",
    "order number reused": "order number reused",
    "shared key": "shared key",
}
_QUESTIONS = {
    "fork": "Two packets cannot both be of one log. Which history is the true one?",
    "order number reused": "One number stands for two repair orders. Which is which?",
    "shared key": "Two logs are signed with one key. Who holds it?",
}
_REASONS = {
    "fork": ("a log that was restored from a backup and written to again",),
    "order number reused": (
        "a typing mistake in the number",
        "numbers that begin anew each year",
    ),
    "shared key": ("one person who works in two shops and copied the key",),
}
