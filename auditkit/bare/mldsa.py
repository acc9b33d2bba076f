"""What stands where ``auditkit.mldsa`` does in the one-file verifier: a refusal.

ML-DSA-44 (FIPS 204) takes a library. A trust policy that lists such a witness is
refused with its line, so that no reader takes half a quorum for the whole.
"""

from __future__ import annotations

from typing import NoReturn

from auditkit.errors import InputError

COSIGNATURE = b"\x06"  # the signature type of C2SP tlog-cosignature v1.1.0-rc.1


class Cosigner:
    """A name that ``auditkit.cosign`` imports: there is none of this kind here."""

    def __init__(self) -> None:
        _refuse()


def parse_vkey(text: str) -> NoReturn:
    """Refuse the verifier key of an ML-DSA-44 witness: InputError."""
    del text
    _refuse()


def _refuse() -> NoReturn:
    message = "the key of this witness is of ML-DSA-44, which needs auditkit itself"
    raise InputError(message, mend="verify the packet with 'auditkit verify'")
