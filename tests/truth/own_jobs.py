"""Sets that bring honest jobs of their own, each with the verdict that it must have.

A lie may be told of such a job, or of one of ``honest.toml``.
"""

import copy

from truth.bogus import Draft
from truth.changes import recorder
from truth.jobs import build
from truth.named_jobs import EGR


class Own(Draft):
    """A draft of a job that stands in no file of jobs."""

    def __init__(self, job: dict, way: str) -> None:
        super().__init__(EGR, way)
        self.name = job["name"]
        self.job = job
        self.record = build(job, way)


def a_fifty() -> tuple:
    """Return lists of lies, of lies that are left and of honest jobs; what writes each.

    A lie is left where it comes out as well as the truth would: why stands beside it.
    An honest job is written as name, job, way, change, verdict, does it wait.
    """
    lies: list[tuple] = []
    left: list[tuple] = []
    jobs: list[tuple] = []

    def honest(job: dict, verdict: str, *, way: str = "raw", waiting: bool = False):
        def added(change):
            jobs.append((change.__name__, job, way, change, verdict, waiting))
            return change

        return added

    return lies, left, jobs, recorder(lies, [])[0], recorder(left, [])[0], honest


def limited(unit: str, low: str = "", high: str = "", **more: str) -> dict:
    """Return the limit of a bench test, open at an end that is not named."""
    ends = {"minimum": low, "maximum": high}
    return {"unit": unit, **{k: v for k, v in ends.items() if v}, **more}


def changed(job: str | dict, way: str, change) -> Draft:
    """Return the draft of a lie or of an honest job, changed."""
    made = Own(job, way) if isinstance(job, dict) else Draft(job, way)
    whole = copy.deepcopy(made.record)
    change(made)
    assert (made.record, made.recorded) != (whole, []), change.__name__
    return made
