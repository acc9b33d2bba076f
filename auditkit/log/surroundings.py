"""What around a log may harm it, told before anything is written: clock and disk."""

from __future__ import annotations

import os
from datetime import UTC, datetime
from pathlib import Path

_MOUNTS = Path("/proc/self/mountinfo")
# File systems on which the locks and the shared memory that SQLite needs are not
# those of one machine (https://www.sqlite.org/wal.html: not over a network).
_SHARED = frozenset(
    [
        "afs",
        "ceph",
        "cifs",
        "coda",
        "fuse.glusterfs",
        "fuse.sshfs",
        "glusterfs",
        "lustre",
        "ncpfs",
        "nfs",
        "nfs4",
        "smb3",
        "smbfs",
    ]
)
_PLACE, _DASH = 4, "-"  # where a line of mountinfo has the mount point; see proc(5)


class Surroundings(UserWarning):
    """Something around a log can harm it; what is written is written all the same."""


def clock_back(now: datetime, recorded_at: str) -> str:
    """Return what is wrong with the clock, empty where it goes on.

    ``recorded_at`` is what the log's last entry states (RFC 3339).
    """
    try:
        last = datetime.fromisoformat(recorded_at)
    except ValueError:
        return ""
    if last.tzinfo is None or now >= last:
        return ""
    return (
        f"the clock says {now.astimezone(UTC):%Y-%m-%d %H:%M} UTC, and the last entry "
        f"was recorded at {last.astimezone(UTC):%Y-%m-%d %H:%M} UTC: set the clock "
        "right; 'auditkit verify' names the entries before which it went back"
    )


def on_share(path: Path) -> str:
    """Return what is wrong with where a file lies, empty where nothing is known."""
    try:
        mounts = _MOUNTS.read_text("utf-8", "replace")
    except OSError:
        return ""
    kind = file_system(path.absolute(), mounts)
    if kind not in _SHARED:
        return ""
    return (
        f"{path} lies on a network share ({kind}), where two machines that write at "
        "once can destroy it: keep it on a disk of the machine that writes, and copy "
        "it to the share with 'auditkit backup'"
    )


def file_system(path: Path, mounts: str) -> str:
    """Return the type of the file system of a path, as ``mountinfo`` has it (proc(5)).

    Empty where no line is of it.
    """
    longest, found = -1, ""
    for line in mounts.splitlines():
        words = line.split(" ")
        if _DASH not in words[_PLACE + 1 :]:
            continue
        # A space in a path stands there as \040, and so on.
        point = words[_PLACE].encode().decode("unicode_escape")
        is_above = os.path.commonpath([str(path), point]) == point
        if is_above and len(point) >= longest:
            longest, found = len(point), words[words.index(_DASH, _PLACE) + 1]
    return found
