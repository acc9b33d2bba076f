"""A tenth fifty, each with its expectation; not judged yet: only its form is held."""

import pytest

from auditkit.order.schema import validate_record
from truth.jobs import CATALOGUE
from truth.tenth_fifty import CLEVER, HONEST, LIES, changed


def test_there_are_forty_lies_and_ten_honest_jobs():
    names = {name for name, *_ in (*LIES, *HONEST)}
    assert len(names) == 50
    assert (len(LIES), len(HONEST)) == (40, 10)
    assert sum(kind == CLEVER for _, _, _, _, kind, *_ in LIES) >= 20
    assert all(change.__doc__ for *_, change in LIES)
    assert all(falls for _, _, falls, *_ in LIES)


WRITTEN = [(name, job, way, change) for name, job, *_, way, change in LIES]
WRITTEN += [(name, job, way, change) for name, job, way, change, *_ in HONEST]


@pytest.mark.parametrize("one", WRITTEN, ids=lambda one: one[0])
def test_record_is_one_that_can_be_read(one):
    _, job, way, change = one
    assert validate_record(changed(job, way, change).record, CATALOGUE.events) == []
