"""The members of an event in words: what a person reads before each value. Pure."""

from __future__ import annotations

_NAMES = {
    "action": "what was done",
    "attachments": "files that were erased, by their SHA-256",
    "by": "by",
    "codes": "for the fault codes",
    "distance": "distance driven",
    "enabling": "conditions in which the vehicle's tests run",
    "end": "ended",
    "finding": "what was seen",
    "kept": "its bytes are kept beside the log",
    "key": "fingerprint of the person's key",
    "log_key": "fingerprint of the log's key",
    "media_type": "kind of file",
    "mid": "id of the monitor (MID)",
    "old_part": "what became of the old part",
    "orientation": "which way up it is (EXIF orientation)",
    "origin": "name of the log",
    "predecessor": "the log before this one",
    "renewed_with": "renewed with it",
    "seen_on": "seen on",
    "self_tests": "self-tests that belong to a code, as the technician says",
    "set_aside": "set aside",
    "setup": "how the part was tested",
    "sha256": "SHA-256 of the file",
    "shows": "what it shows",
    "size": "size in bytes",
    "start": "began",
    "started": "work began",
    "step": "what was renewed or written, if it is no part",
    "successor": "the log after this one",
    "texts": "texts that were erased",
    "tid": "id of the test (TID)",
    "token": "time stamp (RFC 3161), base64",
    "vin": "VIN",
}


def member_in_words(name: str) -> str:
    """Return a member's name as people read it; of one not known, its own words."""
    return _NAMES.get(name, name.replace("_", " "))
