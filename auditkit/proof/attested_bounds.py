"""What attestations prove to a reader: bounds in time, and who witnessed.

A reader names the witnesses to believe (C2SP tlog-policy) or the roots of time stamp
authorities (RFC 3161). Attestations by anybody else bound nothing. That an entry came
after one that the log keeps rests on the root that the entry states, checked before.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

from auditkit.errors import VerificationError
from auditkit.proof import timestamp, trust_policy
from auditkit.proof.attestation import AttestedCheckpoint
from auditkit.proof.check_report import CheckReport, LogProblem, Unmet
from auditkit.proof.time_bounds import BelievedBounds, Bound
from auditkit.proof.trust_policy import TrustPolicy

_LAST_SECOND = 253_402_300_798  # 9999-12-31T23:59:58Z: one more fits datetime


def believed_bounds(
    attested: Sequence[AttestedCheckpoint],
    *,
    policy: TrustPolicy | None = None,
    roots: bytes | None = None,
) -> BelievedBounds:
    """Return what attestations prove to a reader of this trust.

    ``roots`` are certificates in PEM. Raises InputError where they cannot be read, or
    where a time stamp is to be checked and the library for it is missing.
    """
    bounds: list[Bound] = []
    problems: list[LogProblem] = []
    passed: list[int | None] = []
    for found in attested:
        try:
            cosigned = None if policy is None else _cosigned(found, policy)
        except VerificationError as error:
            problems.append(LogProblem(found.seq, error.message))
            cosigned = None
        stamped = None
        if roots is not None and found.token is not None:
            try:
                stamped = _stamped(found, found.token, roots)
            except VerificationError:
                passed.append(found.seq)
        bounds += [bound for bound in (cosigned, stamped) if bound is not None]
    notes = [
        f"the time stamp that entry {seq} keeps is of no authority that you trust, "
        "or does not fit"
        for seq in passed
    ]
    return BelievedBounds(tuple(bounds), tuple(problems), tuple(notes))


def _cosigned(found: AttestedCheckpoint, policy: TrustPolicy) -> Bound | None:
    times = trust_policy.quorum_times(policy, found.text)
    if times is None:
        return None
    earliest, latest = (
        datetime.fromtimestamp(min(at, _LAST_SECOND), UTC) for at in times
    )
    latest += timedelta(seconds=1)  # a witness states whole seconds, rounded down
    return Bound(found.checkpoint.size, earliest, latest, "witnesses", found.seq)


def _stamped(found: AttestedCheckpoint, token: bytes, roots: bytes) -> Bound:
    stamp = timestamp.verify(token, found.text, roots)
    return Bound(
        found.checkpoint.size,
        stamp.at - (stamp.before - stamp.at),
        stamp.before,
        f"time stamp of {stamp.authority}",
        found.seq,
    )


def with_witnesses(
    report: CheckReport,
    policy: TrustPolicy,
    attested: Sequence[AttestedCheckpoint],
    trust: str | None = None,
) -> CheckReport:
    """Return the report, with whether the witnesses that a reader wants know it.

    What they have to know is ``trust``, a checkpoint's text, where it is given; else a
    checkpoint among ``attested`` that covers a packet's last event, or any of a log's.
    """
    texts = [trust] if trust is not None else [f.text for f in reversed(attested)]
    standings = [trust_policy.satisfied(policy, text) for text in texts]
    good = [s for s in standings if s.satisfied and s.checkpoint is not None]
    wanted = f"wanted: {policy.wanted()}"
    if not good:
        problems = standings[0].problems if standings else (f"nobody spoke; {wanted}",)
        is_missing = not standings or standings[0].is_missing
        unmet = Unmet.WITNESS if is_missing else None
        found = [LogProblem(None, f"witnesses: {text}", unmet) for text in problems]
        return report.with_more(found, ())
    size, by = max(
        ((s.checkpoint.size, s.by) for s in good if s.checkpoint), key=lambda p: p[0]
    )
    names = ", ".join(name for name, _ in by) or "nobody"
    said = f"the first {size} entries are cosigned by {names}; {wanted}"
    last = report.last_event
    if last is not None and last >= size:
        late = f"witnesses: entry {last} is newer than what they know; {said}"
        if trust is None:
            return report.with_more([LogProblem(None, late, Unmet.WITNESS)], ())
        return report.with_more((), [late])  # the reader named the checkpoint
    return report.with_more((), [said])
