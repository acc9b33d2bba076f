"""Who is signed in, until when, and how often somebody may guess."""

import traceback
from threading import Barrier, Thread

import pytest
from conftest import PASSPHRASE

from auditkit.bay.signed_in import IDLE, LONGEST, SignIns, WaitFirst
from auditkit.bay.unlocked import DoesNotOpen, KeyOpener
from auditkit.proof.role import Role


class Clock:
    now = 1000.0

    def __call__(self):
        return self.now


class Here:
    """Opens as ``KeyOpener`` does, without a process."""

    def __init__(self, ledger):
        self.ledger, self.tried = ledger, 0

    def open(self, person, passphrase, enrolled):
        self.tried += 1
        if enrolled is None or passphrase != PASSPHRASE:
            raise DoesNotOpen
        return self.ledger.own_key(person, passphrase)


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def opener(ledger):
    ledger.enrol("tech-a", passphrase=PASSPHRASE)
    ledger.enrol("eyes-1", passphrase=PASSPHRASE, role=Role.ONLOOKER)
    return Here(ledger)


@pytest.fixture
def signs(opener, clock):
    return SignIns(opener, opener.ledger.ring.enrolment, clock=clock)


def wrong(signs, person="tech-a", address="a", **how):
    with pytest.raises(DoesNotOpen):
        signs.sign_in(person, b"wrong", address=address, **how)


def right(signs, person="tech-a", address="a", **how):
    return signs.sign_in(person, PASSPHRASE, address=address, **how)


def test_a_person_signs_in_by_a_process_of_its_own(ledger):
    signs = SignIns(KeyOpener(ledger.keys), ledger.ring.enrolment)
    found = signs.find(right(signs, "mechanic-1"))
    assert (found.person, found.role, found.is_locked) == (
        "mechanic-1",
        Role.MANAGER,
        False,
    )
    ledger.ring.enrolment("mechanic-1").key.verify(found.key.sign(b"x"), b"x")


def test_who_signs_nothing_has_no_key_here(signs):
    found = signs.find(right(signs, "eyes-1"))
    assert (found.role, found.key) == (Role.ONLOOKER, None)


def test_a_session_locks_itself_and_a_poll_is_no_touch(signs, clock):
    token = right(signs)
    clock.now += IDLE - 1
    assert signs.find(token).key
    clock.now += IDLE - 1
    assert signs.find(token, is_touch=False).key
    clock.now += 1
    found = signs.find(token)
    assert (found.person, found.is_locked, found.key) == ("tech-a", True, None)
    assert signs.find(token).is_locked, "to look at it does not unlock it"
    with pytest.raises(DoesNotOpen):
        signs.unlock(token, b"wrong", address="a")
    assert signs.unlock(token, PASSPHRASE, address="a").key
    assert signs.find(token).key
    signs.lock(token)
    assert signs.find(token).key is None


def test_a_tablet_that_was_put_away_leaves_no_key_behind(signs, clock):
    tokens = [right(signs) for _ in range(2)]
    clock.now += IDLE / 2
    signs.find(tokens[1])
    clock.now += IDLE / 2
    signs.lock_idle()
    kept = [session.key is not None for session in signs._sessions.values()]
    assert kept == [False, True]


def test_a_session_ends_by_itself_by_sign_out_and_with_its_key(signs, clock, ledger):
    token = right(signs)
    for _ in range(int(LONGEST / IDLE) + 2):
        clock.now += IDLE - 1
        signs.find(token)
    assert signs.find(token) is None
    assert signs.unlock(token, PASSPHRASE, address="a") is None
    token = right(signs)
    signs.sign_out(token)
    assert signs.find(token) is None
    token = right(signs)
    ledger.revoke("tech-a", reason="left", passphrase=PASSPHRASE)
    signs._enrolment = ledger.ring.enrolment
    assert signs.find(token) is None
    wrong(signs)


def test_no_token_but_the_one_given_is_anybody(signs):
    token = right(signs)
    for other in ("", token[:-1], f"{token}x", token.lower()):
        assert signs.find(other) is None
    assert right(signs) != token


def test_five_wrong_in_a_minute_wait_by_person(signs, clock, opener):
    for number in range(5):
        clock.now += 2
        wrong(signs, address=f"a{number}")
    with pytest.raises(WaitFirst) as told:
        right(signs, address="a9")
    assert told.value.seconds == 52  # the first of them was 8 seconds ago
    assert "wait 52 seconds" in str(told.value)
    assert opener.tried == 5, "the sixth is not tried"
    clock.now += 52
    assert right(signs, address="a9")


def test_five_wrong_in_a_minute_wait_by_address_known_name_or_not(signs, opener):
    for number in range(5):
        wrong(signs, person=f"nobody-{number}")
    for person in ("tech-a", "nobody-7"):
        with pytest.raises(WaitFirst):
            right(signs, person=person)
    assert right(signs, address="b")
    assert opener.tried == 6


def test_right_ones_are_not_counted(signs):
    for _ in range(20):
        right(signs)
    for _ in range(4):
        wrong(signs)
    right(signs)
    wrong(signs)
    with pytest.raises(WaitFirst):  # five wrong from that address, none of it forgiven
        right(signs, "mechanic-1")


def test_nobody_else_locks_a_person_out_of_the_tablet_they_use(signs):
    right(signs, address="a", tablet="secret of the tablet")
    for number in range(5):
        wrong(signs, address=f"b{number}")
    with pytest.raises(WaitFirst):
        right(signs, address="c")
    assert right(signs, address="a", tablet="secret of the tablet")
    for number in range(5):  # that tablet has its own count
        wrong(signs, address=f"d{number}", tablet="secret of the tablet")
    with pytest.raises(WaitFirst):
        right(signs, address="e", tablet="secret of the tablet")


def test_many_at_once_are_no_way_around_the_count(signs, opener):
    barrier, ends = Barrier(20), []

    def guess():
        barrier.wait()
        try:
            signs.sign_in("tech-a", b"wrong", address="a")
        except (DoesNotOpen, WaitFirst) as error:
            ends.append(type(error))

    threads = [Thread(target=guess) for _ in range(20)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert (ends.count(DoesNotOpen), ends.count(WaitFirst)) == (5, 15)
    assert opener.tried == 5


def test_nothing_secret_stands_in_what_is_printed(signs):
    token = right(signs)
    found = signs.find(token)
    seed = found.key.to_seed()
    texts = [repr(found), str(found), repr(signs), repr(vars(signs)), repr(found.key)]
    for word in (b"a wrong secret", b"another wrong secret"):
        try:
            signs.sign_in("tech-a", word, address="a")
        except DoesNotOpen:
            texts.append(traceback.format_exc())
    for secret in (seed.hex(), str(seed), token, "wrong secret", PASSPHRASE.decode()):
        assert not any(secret in text for text in texts), secret


def test_sessions_are_bounded(signs, clock):
    first = right(signs)
    for _ in range(200):
        clock.now += 1
        last = right(signs)
    assert (signs.find(first), signs.find(last).person) == (None, "tech-a")
