"""A copy of a log is altered, and that is found."""

import sqlite3

from life.model import copy_log
from unguarded import unguarded

from auditkit.log.verify_log import verify_file
from auditkit.proof import disclosure


def tamper(life, s, how, at, byte):
    site = life.site(s)
    path = life.folder / "tampered.auditlog"
    copy_log(site.path, path)
    log = site.log
    size = len(log.lines)
    db = sqlite3.connect(path, isolation_level=None)
    try:
        with unguarded(db):
            altered = alter(db, log, how, at, byte)
    finally:
        db.close()
    report = verify_file(path, anew=True)
    life.met(f"tampered: {how}, {altered}")
    if how == "tail" and altered:
        cut = 1 + at % size
        assert report.verified, "a chain alone cannot show a missing tail"
        newest_text = site.open().checkpoint()
        life.handed_out(site)
        if cut < max(log.sizes):
            assert not verify_file(path, trust=newest_text).verified
    else:
        assert report.verified is not altered, (how, at, byte)


def alter(db, log, how, at, byte):
    """Alter a log, and return whether that is to be found out."""
    size = len(log.lines)
    seq = at % size
    if how == "flip":
        names = ("header", "payload", "signature", "leaf", "kind", "repair_order")
        name = names[at % 6]
        (raw,) = db.execute(
            f"select cast({name} as blob) from entry where seq = ?", (seq,)
        ).fetchone()
        if raw is None:  # an event of the log itself is of no repair order
            name, raw = "repair_order", b"RO-0"
        bad = bytearray(raw)
        bad[byte % len(bad)] ^= 1 << at % 7
        form = "?" if name in {"signature", "leaf"} else "cast(? as text)"
        db.execute(f"update entry set {name} = {form} where seq = ?", (bytes(bad), seq))
    elif how == "swap":
        other = byte % size
        if other == seq:
            return False
        db.execute("update entry set seq = -1 where seq = ?", (seq,))
        db.execute("update entry set seq = ? where seq = ?", (seq, other))
        db.execute("update entry set seq = ? where seq = -1", (other,))
    elif how == "middle":
        if seq == size - 1 and max(log.sizes) < size:
            return False  # this is a tail that no checkpoint covers
        db.execute("delete from entry where seq = ?", (seq,))
    elif how == "tail":
        cut = 1 + at % size
        db.execute("delete from entry where seq >= ?", (cut,))
        db.execute("delete from disclosure where seq >= ?", (cut,))
        db.execute("delete from checkpoint where size > ?", (cut,))
    elif how == "note":
        sizes = sorted(log.sizes)
        chosen = sizes[at % len(sizes)]
        query = "select note from checkpoint where size = ?"
        raw = db.execute(query, (chosen,)).fetchone()[0].encode()
        bad = bytearray(raw)
        bad[byte % len(bad)] ^= 1 << at % 7
        db.execute(
            "update checkpoint set note = cast(? as text) where size = ?",
            (bytes(bad), chosen),
        )
    elif how == "back":
        if not log.gone:
            return False
        text = log.gone[at % len(log.gone)]
        digest = disclosure.digest(text)
        (seq,) = db.execute(
            "select seq from entry where instr(payload, ?)", (f'"{digest}"',)
        ).fetchone()
        db.execute("insert into disclosure values (?, ?, ?)", (seq, digest, text))
    else:
        done = db.execute(
            "update disclosure set disclosure = 'A' || disclosure where rowid ="
            " (select min(rowid) from disclosure where seq >= ?)",
            (seq,),
        )
        return done.rowcount > 0
    return True
