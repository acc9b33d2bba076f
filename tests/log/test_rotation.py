"""A person's key is replaced in one turn; a run that was stopped is finished."""

import pytest
from conftest import PASSPHRASE, forced

from auditkit.errors import KeyProblem
from auditkit.log import key_files
from auditkit.proof.role import Role

NOTE = {"kind": "code_clear", "at": "2026-03-02T09:00:00+01:00", "tool": "tool"}


def rotate(ledger, person="mechanic-1", **how):
    return ledger.rotate(person, reason="a new year", passphrase=PASSPHRASE, **how)


def works(ledger, signer):
    ledger.append(
        "RO-9", [{**NOTE, "by": "mechanic-1"}], person="mechanic-1", signer=signer
    )


def test_the_new_key_signs_and_the_old_one_no_more(closed):
    old = closed.signer("mechanic-1", PASSPHRASE)
    before, size = closed.checkpoint(), closed.store.head()[0]
    made = rotate(closed)
    assert made.enrolled_seq == size + 1, "revoked and enrolled, one after the other"
    new = closed.signer("mechanic-1", PASSPHRASE)
    assert new.public.thumbprint == made.thumbprint != old.public.thumbprint
    works(closed, new)
    report = closed.verify(trust=before)
    assert report.verified, report.problems
    with pytest.raises(KeyProblem, match="no active key of 'mechanic-1'"):
        works(closed, old)  # a program that kept the old key open
    forced(closed, "RO-9", [{**NOTE, "by": "mechanic-1"}], "mechanic-1", old)
    (problem,) = closed.verify().problems
    assert "was revoked by entry" in problem.problem


def test_the_role_stays_unless_another_is_given(closed):
    closed.enrol("tech-a", passphrase=PASSPHRASE, role=Role.ONLOOKER)
    assert rotate(closed, "tech-a").role is Role.ONLOOKER
    with pytest.raises(KeyProblem, match="signs nothing"):
        closed.signer("tech-a", PASSPHRASE)
    assert rotate(closed, "tech-a", role=Role.MANAGER).role is Role.MANAGER
    assert closed.signer("tech-a", PASSPHRASE)


@pytest.mark.parametrize("stopped", ["write_own", "promote"])
def test_a_stopped_run_is_finished_by_the_same_call(closed, monkeypatch, stopped):
    def stop(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(closed if stopped == "write_own" else key_files, stopped, stop)
        with pytest.raises(KeyboardInterrupt):
            rotate(closed)
    waiting = key_files.waiting(closed.keys, "mechanic-1", PASSPHRASE)
    assert rotate(closed).thumbprint == waiting.thumbprint
    works(closed, closed.signer("mechanic-1", PASSPHRASE))
    assert closed.verify().verified
    revoked = [p for p in closed.people() if p.revoked_seq is not None]
    assert len(revoked) == 1, "one key was replaced, once"


def test_nobody_and_a_wrong_passphrase_change_nothing(closed):
    size = closed.store.head()[0]
    with pytest.raises(KeyProblem, match="no active key"):
        rotate(closed, "nobody")
    with pytest.raises(KeyProblem):
        closed.rotate("mechanic-1", reason="x", passphrase=b"another")
    assert closed.store.head()[0] == size
    assert not key_files.has(closed.keys, "mechanic-1~next")
