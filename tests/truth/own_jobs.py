"""Sets that bring honest jobs of their own, each with the verdict that it must have.

A lie may be told of such a job, or of one of ``honest.toml``.
"""

import copy

from truth.bogus import Draft
from truth.jobs import build
from truth.named_jobs import EGR


class Own(Draft):
    """A draft of a job that stands in no file of jobs."""

    def __init__(self, job: dict, way: str) -> None:
        super().__init__(EGR, way)
        self.name = job["name"]
        self.job = job
        self.record = build(job, way)


def honest_recorder(into: list):
    """Return what writes honest jobs: name, job, way, change, verdict, does it wait."""

    def honest(job: dict, verdict: str, *, way: str = "raw", waiting: bool = False):
        def added(change):
            into.append((change.__name__, job, way, change, verdict, waiting))
            return change

        return added

    return honest


def changed(job: str | dict, way: str, change) -> Draft:
    """Return the draft of a lie or of an honest job, changed."""
    made = Own(job, way) if isinstance(job, dict) else Draft(job, way)
    whole = copy.deepcopy(made.record)
    change(made)
    assert made.record != whole, change.__name__
    return made
