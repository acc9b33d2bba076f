"""Copies of a log in its life: backed up, put back, forked, gone on elsewhere."""

import pytest
from conftest import PASSPHRASE
from life.checks import check
from life.model import (
    CLOSED,
    CONTINUED,
    Enrolled,
    Keys,
    Log,
    Site,
    copy_keys,
    copy_log,
    copy_pictures,
)

from auditkit.errors import LogError, VerificationError
from auditkit.log.succession import next_origin, succeed


def back_up(life, site):
    target = life.place()
    copy_log(site.path, target)
    copy_keys(site.path, target)
    copy_pictures(site.path, target)
    pictures = frozenset(site.pictures)
    life.backups.append((target, site.log.copy(), site.keys.copy(), pictures))


def put_a_backup_back(life, site, which, with_keys):
    same = [
        b
        for b in life.backups
        if (b[1].origin, b[1].key) == (site.log.origin, site.log.key)
    ]
    if not same:
        return
    source, log, keys, pictures = same[which % len(same)]
    site.shut()
    copy_log(source, site.path)
    copy_pictures(source, site.path)
    site.log = log.copy()
    site.pictures |= pictures
    if with_keys:
        copy_keys(source, site.path)
        site.keys = keys.copy()
    life.learn_keys(site)
    life.met(f"put back; behind: {site.is_behind}")


def fork(life, site):
    target = life.place()
    copy_log(site.path, target)
    copy_keys(site.path, target)
    copy_pictures(site.path, target)
    made = Site(target, site.log.copy(), site.keys.copy())
    made.pictures = set(site.pictures)
    life.sites.append(made)
    life.site(len(life.sites) - 1)


def go_on_under_a_new_name(life, site, which, new_key):  # noqa: PLR0915  one story
    target = life.place()
    log = site.log
    beyond = [
        h
        for h in life.held
        if (h.origin, h.key) == (log.origin, log.key) and not site.extends(h)
    ]
    lost = beyond[which % len(beyond)] if beyond and which < 8 else None

    def call(text):
        return succeed(
            site.path,
            target,
            reason="r",
            passphrase=PASSPHRASE,
            new_key=new_key,
            person="mechanic-1",
            lost=text,
        )

    if log.closed:
        with pytest.raises(LogError, match=CLOSED):
            call(None)
        assert not target.exists()
        return
    held_here = [h for h in life.held if site.extends(h)]
    if held_here:
        with pytest.raises(VerificationError, match="not beyond"):
            call(held_here[0].text)
        assert not target.exists()
    signed = [site.keys.newest] if site.is_behind else []
    signed += [lost.ids] if lost else []
    if site.keys.continued and not signed:
        with pytest.raises(LogError, match=CONTINUED):
            call(None)
        assert not target.exists()
        return
    active = {e.person: log.active(e.person).key for e in log.people if not e.revoked}
    for person, key in active.items():  # a rotation that was killed is finished
        if site.keys.waiting.get(person) == key:
            site.keys.files[person] = site.keys.waiting.pop(person)
    keys = {p: k for p, k in active.items() if site.keys.files.get(p) == k}
    without = tuple(p for p in active if p not in keys)
    first = "mechanic-1" if "mechanic-1" in keys or not keys else next(iter(keys))
    done = call(lost.text if lost else None)
    names = [first, *(p for p in keys if p != first)]
    if not keys:
        keys = {first: life.new_id()}
    life.met(f"went on; something lost: {bool(signed)}; new key: {new_key}")
    assert done.origin.startswith(next_origin(log.origin))
    assert (done.origin == next_origin(log.origin)) is not bool(signed)
    assert (done.people, done.held) == (tuple(names), len(log.lines))
    assert done.without_key == without
    assert done.is_same_key is not new_key
    assert (done.log_key == log.key) is not new_key
    if signed:
        longest = max(map(len, signed))
        assert done.lost == max(longest - len(log.lines), 1)
    else:
        assert done.lost == 0
    assert done.closed == (None if signed else len(log.lines))
    after = Site(target, Log(done.origin, done.log_key), Keys())
    for name in names:
        lines = [life.line("person_enrolled")]
        if not after.log.lines:
            lines.insert(0, life.line("log_opened"))
        life.add(after, lines, checkpoint=True)()
        seq = len(after.log.lines) - 1
        after.log.people.append(Enrolled(name, keys[name], seq))
        after.keys.files[name] = keys[name]
    life.remembered(after)()
    if not signed:
        life.add(site, [life.line("log_closed")], checkpoint=True)()
        log.closed = True
        life.remembered(site)()
        site.shut()
    else:
        site.keys.continued = True
    life.sites.append(after)
    life.learn_keys(after)
    life.known(after)
    check(life, site)
    life.touched = after
