"""Lies that the log tells of: what other repair orders of the same vehicle hold.

A packet alone cannot show them (``signed_families``); who judges beside the log can.
"""

from auditkit.order.events import RepairOrder
from truth.bogus import GONE, PASSED, Draft, family, move
from truth.families import failed_after, fault_back

BESIDE = "in another order of the vehicle, judged beside the log"


def _other(draft, number="RO-0"):
    return RepairOrder.fold(number, draft.events)


def _holds_code_again(draft):
    """Put the fault into the last readout; False where that is no lie."""
    return not draft.job.get("uds") and fault_back(draft, "07") is not False


@family(BESIDE, GONE, contradicted=True)
def adverse_readout_elsewhere(d, _):
    """The readout in which the fault was pending again was put under another number."""
    other = Draft(d.name)
    if not _holds_code_again(other):
        return False
    move(other.after, minutes=1)
    other.record["events"] = [*other.of("opening"), other.after]
    d.others = (_other(other),)
    return None


@family(BESIDE, PASSED, contradicted=True)
def failed_result_elsewhere(d, _):
    """The readout with the failed self-test was put under another number."""
    other = Draft(d.name)
    if not d.of("code_clear") or failed_after(other, "same") is False:
        return False
    move(other.after, minutes=1)
    other.record["events"] = [*other.of("opening"), other.after]
    d.others = (_other(other),)
    return None


@family(BESIDE, GONE)
def failed_attempt_elsewhere(d, _):
    """Contradicted under one number, proven a week later under another."""
    monday = Draft(d.name)
    if not _holds_code_again(monday):
        return False
    for one in monday.events:
        move(one, days=-70)
    d.others = (_other(monday),)
    return None
