"""A log's file without the triggers that refuse a slip, as a forger would have it."""

from contextlib import contextmanager

from auditkit.log.file_form import GUARDS


@contextmanager
def unguarded(db):
    """Take the triggers of a log's file away, and put them back: it opens as before."""
    for name in GUARDS:
        db.execute(f"drop trigger {name}")
    yield db
    for statement in GUARDS.values():
        db.execute(statement)
