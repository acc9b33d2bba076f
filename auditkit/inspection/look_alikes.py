"""Among many readouts: those that may be another vehicle's, as questions. Pure.

A device in the place of a vehicle says what it was told to say, vehicle after vehicle.
So answers that two vehicles, or two moments, do not share by chance are asked about,
and so are marks that should differ, or agree, and do not. Programmes compare such marks
(the BAR's newsletter of spring 2018 says that they do, not which); which are compared
here, and how, is common practice without a published source, unless one is named.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import partial

from auditkit.inspection.pre_test_marks import ANSWERS, LIVE, VALUES, PreTestMarks

_AGAIN = "read each vehicle again, the plate in view, and compare"
_COMPARED = ("responders", "calibration", "support map 01/00")
"""How the names begin of marks that readouts and records both give."""
_MAKER = 3  # first characters of a VIN: its maker (ISO 3780, from memory)


@dataclass(frozen=True, slots=True)
class LookAlike:
    """A question about several readouts: what is odd, where, and what to do."""

    name: str
    question: str
    places: tuple[str, ...]
    what_to_do: str

    def to_json(self) -> dict[str, object]:
        """Return it as ``readiness --format json`` prints it."""
        return {
            "name": self.name,
            "question": self.question,
            "readouts": list(self.places),
            "what_to_do": self.what_to_do,
        }


def look_alikes(given: Iterable[PreTestMarks]) -> tuple[LookAlike, ...]:
    """Return what is to be asked about these readouts; the gravest first."""
    every = list(given)
    return (
        *_several_vins(every),
        *_equal_answers(every),
        *_other_number(every),
        *_other_maker(every),
        *_changed_marks(every),
    )


def _several_vins(every: list[PreTestMarks]) -> Iterator[LookAlike]:
    """Yield VINs in the data of vehicles that are written as others."""
    for vin, found in _alike(every, lambda one: one.vin_read).items():
        written = sorted({one.vin_written for one in found} - {vin, ""})
        if written:
            yield LookAlike(
                "vin-of-another",
                f"the data give VIN {vin}, and the vehicle is written as "
                f"{', '.join(written)}: is the module, or the readout, another's?",
                _places(found),
                _AGAIN,
            )


def _equal_answers(every: list[PreTestMarks]) -> Iterator[LookAlike]:
    """Yield those of several files whose answers equal each other."""
    told: list[set[str]] = []
    for what in (LIVE, ANSWERS, VALUES):
        for found in _alike(every, partial(_moment, what)).values():
            places = {one.place for one in found}
            is_told = any(places <= before for before in told)
            if len({one.group for one in found}) == 1 or is_told:
                continue
            told.append(places)
            yield _equal(what, found)


def _moment(what: str, one: PreTestMarks) -> str:
    return one.moments.get(what, "")


def _equal(what: str, found: list[PreTestMarks]) -> LookAlike:
    vins = sorted({one.vehicle for one in found} - {""})
    if len(vins) > 1:
        return LookAlike(
            "same-answers",
            f"every {what} is the same under {len(vins)} VINs ({', '.join(vins)}): "
            "which of them did answer?",
            _places(found),
            _AGAIN,
        )
    of = f" of VIN {vins[0]}" if vins else ""
    return LookAlike(
        "same-moment",
        f"every {what} is the same in several files{of}: is one a copy of another?",
        _places(found),
        "keep the one that was read; read the vehicle again for the other",
    )


def _other_number(every: list[PreTestMarks]) -> Iterator[LookAlike]:
    """Yield calibration ids that come with several verification numbers.

    An id is unique to a calibration, from which the number is computed (13 CCR
    1968.2(g)(4.6) and (4.7)).
    """
    numbers: dict[tuple[str, ...], dict[tuple[str, ...], list[PreTestMarks]]]
    numbers = defaultdict(lambda: defaultdict(list))
    for one in every:
        for ids, cvns in one.calibrations:
            if ids and len(ids) == len(cvns):
                numbers[ids][cvns].append(one)
    for ids, by_number in numbers.items():
        if len(by_number) > 1:
            told = " and ".join(" ".join(cvns) for cvns in sorted(by_number))
            yield LookAlike(
                "other-verification-number",
                f"calibration {' '.join(ids)} comes with the verification numbers "
                f"{told}: was one of them changed, or not computed by the module?",
                _places(one for found in by_number.values() for one in found),
                "compare with the maker's number for this calibration",
            )


def _other_maker(every: list[PreTestMarks]) -> Iterator[LookAlike]:
    """Yield marks that are the same in vehicles of several makers."""
    for found in _alike(every, _marks).values():
        makers = sorted({one.vehicle[:_MAKER] for one in found if one.vehicle})
        if len(makers) > 1:
            yield LookAlike(
                "same-marks",
                f"vehicles whose VINs begin {', '.join(makers)}, so of several makers "
                "or plants, give the same calibrations, verification numbers, support "
                "maps and modules: are these the answers of one?",
                _places(found),
                _AGAIN,
            )


def _changed_marks(every: list[PreTestMarks]) -> Iterator[LookAlike]:
    """Yield what one vehicle keeps, and differs between files."""
    for vin, found in _alike(every, lambda one: one.vehicle).items():
        values: dict[str, dict[str, list[PreTestMarks]]] = {}
        for one in found:
            for name, text in one.kept.items():
                values.setdefault(name, {}).setdefault(text, []).append(one)
        differ = {name: by for name, by in values.items() if len(by) > 1}
        if differ and len({one.group for one in found}) > 1:
            told = "; ".join(
                f"{name}: {' or '.join(sorted(by))}" for name, by in differ.items()
            )
            yield LookAlike(
                "changed-marks",
                f"the vehicle of VIN {vin} gives {told}: was a module or its software "
                "changed in between, or did another vehicle answer?",
                _places(found),
                "ask what was done in between; if nothing, read the vehicle again",
            )


def _marks(one: PreTestMarks) -> str:
    """Return what a vehicle keeps, as a text; empty without calibration numbers."""
    if not any(ids and numbers for ids, numbers in one.calibrations):
        return ""
    return repr(sorted(p for p in one.kept.items() if p[0].startswith(_COMPARED)))


def _alike(
    every: Iterable[PreTestMarks], mark: Callable[[PreTestMarks], str]
) -> Mapping[str, list[PreTestMarks]]:
    """Return readouts by a mark, where several have it; none of an empty one."""
    by: dict[str, list[PreTestMarks]] = {}
    for one in every:
        if key := mark(one):
            by.setdefault(key, []).append(one)
    return by


def _places(found: Iterable[PreTestMarks]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(one.place for one in found))
