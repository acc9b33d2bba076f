"""People of a life: enrolled, revoked, rotated, and what they sign after."""

from conftest import PASSPHRASE
from life.model import Call, Enrolled

from auditkit.errors import KeyProblem
from auditkit.log import key_files
from auditkit.proof.keys import PrivateKey
from auditkit.proof.role import Role

MANAGER = Role.MANAGER  # of everybody: which roles may go is tested elsewhere


def enrol(life, site, person, move, how):
    if move and person in site.keys.files and not site.may_use(person):
        (key_files.folder_of(site.path) / f"{person}.p12").unlink()
        del site.keys.files[person]
    errors = life.refused(site)
    active = site.log.active(person)
    in_the_way = active and person in site.keys.files
    if in_the_way and site.keys.waiting.get(person) != active.key:
        errors.append((KeyProblem, "lies here already"))
    key, first, last = put_in_place(life, site, person)

    def so(at):
        site.log.people.append(Enrolled(person, key, at))

    def do(ledger):
        return ledger.enrol(person, passphrase=PASSPHRASE, role=MANAGER)

    if key in {e.key for e in site.log.people}:  # a run that was stopped
        call = Call("finish enrolment", do, last, errors)
    else:
        lines = [life.line("person_enrolled")]
        call = life.log_call(site, do, lines, so, first=first, last=last, errors=errors)
    life.perform(site, call, how)


def put_in_place(life, site, person):
    """Return the key that waits to become a person's, and what is done around it."""
    keys = site.keys
    revoked = {e.key for e in site.log.people if e.revoked is not None}
    waiting = keys.waiting.get(person)
    first = []
    if waiting is None or waiting in revoked:
        waiting = life.new_id()
        first = [("save", lambda: keys.waiting.update({person: waiting}))]

    def promoted():
        keys.files[person] = keys.waiting.pop(person)

    return waiting, first, [("promote", promoted)]


def enrol_own(life, site, person, again, how):
    if again < 4 and life.outside:
        key = sorted(life.outside)[again % len(life.outside)]
        person, private = life.outside[key]
    else:
        key, private = life.new_id(), PrivateKey.generate()
        life.outside[key] = person, private
    errors = life.refused(site)
    if key in {e.key for e in site.log.people}:
        errors.append((KeyProblem, "is enrolled already"))

    def so(at):
        site.log.people.append(Enrolled(person, key, at))

    call = life.log_call(
        site,
        lambda ledger: ledger.enrol(
            person, passphrase=PASSPHRASE, role=MANAGER, key=private.public
        ),
        [life.line("person_enrolled")],
        so,
        errors=errors,
    )
    life.perform(site, call, how)


def keep_signer(life, site, person):
    if site.may_use(person) and len(life.old_signers) < 12:
        key = site.log.active(person).key
        life.old_signers.append((person, key, site.open().signer(person, PASSPHRASE)))


def revoke(life, site, person, how):
    keep_signer(life, site, person)
    active = site.log.active(person)
    errors = life.refused(site)
    if active is None:
        errors.append((KeyProblem, "has no active key"))

    def so(at):
        site.log.active(person).revoked = at

    call = life.log_call(
        site,
        lambda ledger: ledger.revoke(
            person, reason="r", passphrase=PASSPHRASE, is_last=True
        ),
        [life.line("key_revoked")],
        so,
        errors=errors,
    )
    life.perform(site, call, how)


def rotate(life, site, person, how):
    keep_signer(life, site, person)
    active = site.log.active(person)
    errors = life.refused(site)
    if active is None:
        errors.append((KeyProblem, "has no active key"))
    waiting, first, last = put_in_place(life, site, person)

    def do(ledger):
        return ledger.rotate(person, reason="r", passphrase=PASSPHRASE)

    def so(at):
        site.log.active(person).revoked = at
        site.log.people.append(Enrolled(person, waiting, at + 1))

    lines = [life.line("key_revoked"), life.line("person_enrolled")]
    if waiting in {e.key for e in site.log.people}:  # a run that was stopped
        call = Call("finish rotation", do, last, errors)
    else:
        call = life.log_call(site, do, lines, so, first=first, last=last, errors=errors)
    life.perform(site, call, how)
