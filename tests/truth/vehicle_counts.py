"""What a vehicle counts, as a lie or an honest job has it."""

from truth.bogus import with_bytes
from truth.jobs import COUNTERS, IGNITION
from truth.said import word

ODOMETER = 1203450
"""What it is before the repair, in tenths of a kilometre."""
CATALYST_RAN, CATALYST_MET = 2, 3
EGR_RAN, EGR_MET = 10, 11
EVAP_RAN, EVAP_MET = 14, 15
"""Places in service 09, info type 08 (ISO 15031-5): completed, and could have been."""


def with_counts(
    said,
    *,
    warm_ups: int | None = None,
    distance: int | None = None,
    minutes: int | None = None,
    went: int | None = None,
) -> None:
    """Let it count this since the clear, and so many km on the odometer since before.

    What is not named stays as it is; all are of the engine module, of service 01.
    """
    for request, size, number in (
        ("0130", 1, warm_ups),
        ("0131", 2, distance),
        ("014E", 2, minutes),
        ("01A6", 4, None if went is None else ODOMETER + 10 * went + 5),
    ):
        if number is not None:
            with_bytes(said, request, word(number, size))


def with_rises(said, each: int, starts: int, others: dict | None = None) -> None:
    """Let the counters of service 09 be as far above those of before.

    ``starts`` is how far that of ignition cycles is; ``others`` are by their place.
    """
    own = {IGNITION: starts, **(others or {})}
    new = (count + own.get(place, each) for place, count in enumerate(COUNTERS))
    with_bytes(said, "0908", b"\x10" + b"".join(map(word, new)))
