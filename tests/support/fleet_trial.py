"""What an audit's questions find of the shops that were planted in invented fleets."""

from collections import Counter
from dataclasses import dataclass

from fleets import Plan, invented

from auditkit.fleet.evidence.copied_readouts import copied_readouts
from auditkit.fleet.evidence.digits import last_digits
from auditkit.fleet.evidence.equal_records import equal_records
from auditkit.fleet.evidence.late_tests import late_tests
from auditkit.fleet.evidence.near_limit import near_limits
from auditkit.fleet.evidence.repeats_alike import repeats_alike
from auditkit.fleet.outcomes.shops import shops
from auditkit.fleet.settings import Settings

TWO_OF_THREE = "two unlike screens of three"
SCREENS = {
    "just beyond a limit": (near_limits, "invented"),
    "last digits": (last_digits, "invented"),
    "written down late": (late_tests, "invented"),
    "equal records": (equal_records, "copied"),
    "equal repeats": (repeats_alike, "smooth"),
    "copied readouts": (copied_readouts, "stolen"),
}
"""By its name the measure, and which planted shops it is for."""

OF_INVENTED = tuple(list(SCREENS)[:3])


@dataclass(frozen=True)
class Told:
    """Of one fleet: planted shops that were found, and how many honest ones were asked.

    A shop that was planted for another screen is neither: copies have digits of their
    own, and are rightly asked about.
    """

    found: int
    planted: int
    others: int


def plan(share, copied=0.1, **values):
    """Return a fleet with one shop of each kind; ``share`` of readings invented."""
    asked = {
        "invented": share,
        "copied": copied,
        "stolen": 3,
        "smooth": True,
        "late": 1,
    }
    return Plan(**asked | values)


def trial(seed, planned, settings=None, *, with_outcomes=False):
    """Return what each screen tells of one fleet, by the screen's name."""
    settings = settings or Settings()
    fleet = invented(seed, planned)
    ask = fleet.ask(settings)
    asked = {}
    for name, (measure, _) in SCREENS.items():
        asked[name] = {one.shop for one in measure(ask, settings).asked}
    told = {}
    honest = set(fleet.factors)
    for _, kind in SCREENS.values():
        honest -= fleet.planted[kind]
    honest -= fleet.planted["late"]
    for name, (_, kind) in SCREENS.items():
        told[name] = _told(asked[name], fleet.planted[kind], honest)
    late = fleet.planted["late"]
    told["late shop"] = Told(len(late & asked["written down late"]), len(late), 0)
    votes = Counter(shop for name in OF_INVENTED for shop in asked[name])
    twice = {shop for shop, number in votes.items() if number >= 2}
    told[TWO_OF_THREE] = _told(twice, fleet.planted["invented"], honest)
    if with_outcomes:
        questions = shops(ask, settings).asked
        more = [q for q in questions if _has_more(q)]
        look = {q.shop for q in more if not q.is_to_watch}
        fair = set(fleet.factors) - fleet.planted["bad"]
        told["more comebacks, look"] = _told(look, fleet.planted["bad"], fair)
        watch = {q.shop for q in more}
        told["more comebacks, watch"] = _told(watch, fleet.planted["bad"], fair)
    return told


def _has_more(question):
    """Say whether a question about comebacks is about more of them, not fewer."""
    measured = dict(question.measured)
    return measured["came back"] > measured["expected for its work"]


def _told(asked, planted, honest):
    return Told(len(asked & planted), len(planted), len(asked & honest))
