"""What judges files, and dies or lies at some: found by processes that are started."""

import os
import signal

from auditkit.fleet.cluster import FromWorker
from auditkit.fleet.judging import judged_files, rules_sha256
from auditkit.fleet.terms import program


def killing(files, policy):
    """Judge files, and die at one that says so, as an out-of-memory killer would do."""
    if any(b"kill" in file.data for file in files):
        os.kill(os.getpid(), signal.SIGKILL)
    return judged_files(files, policy)


def killing_there(files, policy):
    """Do the same on a cluster's worker."""
    return FromWorker(program(), rules_sha256(), killing(files, policy))


def other_rules(files, policy):
    """Answer as a worker of another version."""
    return FromWorker("auditkit 9", b"", [])
