"""Ed25519 in the checker page: the browser looks, and can be asked only in between.

A signature that nobody has looked at yet is taken to fit, and is asked for; the check
runs again where one of those does not. The browser's own engine decides only after it
gave the published answers to published edge cases; where it does not, or refuses a key,
the plain arithmetic of the page's script does. What is misspelled never fits.
"""

from __future__ import annotations

import hashlib

from auditkit.proof.odd_points import LOW_ORDER, is_misspelled

_L = 2**252 + 27742317777372353535851937790883648493
_SIGNATURE, _HALF = 64, 32
_BY_ENGINE, _BY_ARITHMETIC = b"\x00", b"\x01"
_FITS, _UNFIT = 1, 0

# RFC 8032 7.1 TEST 2; ed25519-speccheck cases 3 and 4 (key and R of mixed order; the
# second fits only with the cofactor); TEST 2 for another text.
_TEST_2 = (
    "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
    (
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da"
        "085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00"
    ),
)
_MIXED = "cdb267ce40c5cd45306fa5d2f29731459387dbf9eb933b7bd5aed9a765b88d4d"
_PROBES = (
    (*_TEST_2, "72", _FITS),
    (
        _MIXED,
        (
            "9046a64750444938de19f227bb80485e92b83fdb4b6506c160484c016cc1852f"
            "87909e14428a7a1d62e9f22f3d3ad7802db02eb2e688b6c52fcd6648a98bd009"
        ),
        "9bd9f44f4dcc75bd531b56b2cd280b0bb38fc1cd6d1230e14861d861de092e79",
        _FITS,
    ),
    (
        _MIXED,
        (
            "160a1cb0dc9c0258cd0a7d23e94d8fa878bcb1925f2c64246b2dee1796bed512"
            "5ec6bc982a269b723e0668e540911a9a6a58921d6925e434ab10aa7940551a09"
        ),
        "e47d62c63f830dc7a6851a0b1f33ae4bb2f507fb6cffec4011eaccd55b53f56c",
        _UNFIT,
    ),
    (*_TEST_2, "73", _UNFIT),
)

_Asked = tuple[bytes, bytes, bytes]
"""A key, a signature, a message."""


class SignatureQuestions:
    """What was asked of the browser, and what it told."""

    def __init__(self) -> None:
        self.known: dict[_Asked, bool] = {}
        self.waiting: dict[_Asked, bool] = {}  # True: by arithmetic only
        self.engine: bool | None = None  # whether the browser's own is to be believed
        self._sent: list[tuple[_Asked, bool]] = []

    def fits(self, asked: _Asked) -> bool:
        """Return what is known of a signature; ask where nothing is, and hope."""
        if asked not in self.known:
            self.waiting.setdefault(asked, asked[1][:_HALF] in LOW_ORDER)
        return self.known.get(asked, True)

    def asked(self) -> bytes:
        """Return the questions as the page's script reads them; none is no bytes."""
        if not self.waiting:
            return b""
        records = [] if self.engine is not None else [_probe(*p[:3]) for p in _PROBES]
        self._sent = [(a, p or self.engine is False) for a, p in self.waiting.items()]
        for (key, signature, message), is_plain in self._sent:
            if is_plain:
                digest = hashlib.sha512(signature[:_HALF] + key + message).digest()
                k = int.from_bytes(digest, "little") % _L
                text = k.to_bytes(_HALF, "little")
                records.append(_record(_BY_ARITHMETIC, key, signature, text))
            else:
                records.append(_record(_BY_ENGINE, key, signature, message))
        return b"".join(records)

    def told(self, answers: bytes) -> bool:
        """Take in one answer for every question; return whether a hope was false."""
        if self.engine is None:
            probes, answers = answers[: len(_PROBES)], answers[len(_PROBES) :]
            self.engine = [*probes] == [expected for *_, expected in _PROBES]
        was_wrong = False
        again: dict[_Asked, bool] = {}
        for (asked, is_plain), answer in zip(self._sent, answers, strict=True):
            if answer in (_FITS, _UNFIT) and (self.engine or is_plain):
                self.known[asked] = answer == _FITS
                was_wrong = was_wrong or answer == _UNFIT
            else:
                again[asked] = True
        self.waiting = again
        return was_wrong


def _probe(key: str, signature: str, message: str) -> bytes:
    return _record(_BY_ENGINE, *map(bytes.fromhex, (key, signature, message)))


def _record(how: bytes, key: bytes, signature: bytes, message: bytes) -> bytes:
    return how + key + signature + len(message).to_bytes(4, "big") + message


questions = SignatureQuestions()
"""Those of the page: it does one thing at a time."""


def fits(key: bytes, signature: bytes, message: bytes, *, again: bool = False) -> bool:
    """Return whether a signature fits, as far as the browser has told.

    ``again`` makes no difference: all that was told is kept in mind.
    """
    del again
    if len(signature) != _SIGNATURE or is_misspelled(signature[:_HALF]):
        return False
    if int.from_bytes(signature[_HALF:], "little") >= _L:
        return False
    return questions.fits((key, signature, message))
