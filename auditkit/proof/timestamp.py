"""A time stamp over a checkpoint (RFC 3161, with RFC 5816's SHA-2 certificate ids).

An authority outside the shop signs a hash and its own time. What a stamp proves: the
stamped bytes existed before that time. It covers the whole text of the checkpoint
note, signature lines and all: a cosignature added later makes another text.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, TypeVar

from auditkit.errors import InputError, VerificationError

if TYPE_CHECKING:
    from types import ModuleType

    from cryptography.x509 import Certificate
    from rfc3161_client import Accuracy, TimeStampResponse
    from rfc3161_client.tsp import TimeStampTokenInfo

MAX_TOKEN = 64 * 1024
_GRANTED = 0  # RFC 3161 section 2.4.2, PKIStatus
_ABSURD = "the time stamp's accuracy is longer than any calendar"
_ASK_AGAIN = "get a time stamp from another authority"
_LATER = "check against the checkpoint file as it was when it was stamped"

_T = TypeVar("_T")


@dataclass(frozen=True, slots=True)
class TimeStamp:
    """Who stamped, when, and under which policy.

    ``at`` is the authority's time (UTC); ``accuracy`` how far off it may be by its
    own word, None where it gives none. ``policy`` is a dotted OID.
    """

    at: datetime
    policy: str
    authority: str
    accuracy: timedelta | None = None

    @property
    def before(self) -> datetime:
        """Return the latest time that the stamp allows for.

        Raises VerificationError where the time lies beyond the calendar.
        """
        return self._off(self.accuracy or timedelta())

    @property
    def after(self) -> datetime:
        """Return the earliest time that the stamp allows for; errors as ``before``."""
        return self._off(-(self.accuracy or timedelta()))

    def _off(self, by: timedelta) -> datetime:
        try:
            return self.at + by
        except OverflowError as error:
            raise VerificationError(_ABSURD, what_to_do=_ASK_AGAIN) from error


def request(text: str) -> tuple[bytes, int]:
    """Return a TimeStampReq over SHA-256 of a text, in DER, and its nonce.

    RFC 3161 section 2.4.1. The nonce is drawn anew each time, 64 bits; the answer must
    repeat it. The authority's certificate is asked for, so that the answer can be
    verified alone. Raises InputError where the text is empty or the library is missing.
    """
    rfc3161 = _library()
    if not text:
        raise InputError(
            "an empty text cannot be stamped", what_to_do="name a checkpoint"
        )
    builder = rfc3161.TimestampRequestBuilder().data(text.encode())
    made = builder.hash_algorithm(rfc3161.HashAlgorithm.SHA256).build()
    return made.as_bytes(), made.nonce


def check_answer(token: bytes, text: str, nonce: int) -> datetime:
    """Return the time in an answer to a request of this nonce, its signer unknown.

    Raises VerificationError for what is no answer, for a refusal, and for an answer
    over another text or nonce. The signature is checked by ``verify``.
    """
    answer = _granted(token)
    info = _guarded(lambda: answer.tst_info)
    _refuse_other(info, text)
    if info.nonce != nonce:
        raise VerificationError(
            "the time stamp answers another question: its nonce differs",
            what_to_do="ask again",
        )
    return _utc(info.gen_time)


def _refuse_other(info: TimeStampTokenInfo, text: str) -> None:
    if info.message_imprint.message != hashlib.sha256(text.encode()).digest():
        raise VerificationError(
            "the time stamp is over another text", what_to_do=_LATER
        )


def check_imprint(token: bytes, text: str) -> None:
    """Raise VerificationError unless a stamp, its signer unknown, is over this text."""
    answer = _granted(token)
    _refuse_other(_guarded(lambda: answer.tst_info), text)


def verify(
    token: bytes, text: str, roots: bytes, *, nonce: int | None = None
) -> TimeStamp:
    """Return what a time stamp proves of a text; raise VerificationError if nothing.

    ``token`` is a TimeStampResp (DER), ``roots`` the certificates trusted to vouch
    for authorities (PEM). Checked: status, signature, the chain at the stamped time,
    the critical key usage timeStamping (RFC 3161 section 2.3), the imprint, and
    ``nonce`` where one is given. Revocation lists are not looked at. Raises
    InputError where ``roots`` holds no certificate or the library is missing.
    """
    from cryptography import x509

    answer = _granted(token)
    from rfc3161_client import VerifierBuilder

    try:
        trusted = x509.load_pem_x509_certificates(roots)
    except ValueError as error:
        raise InputError(
            "this file holds no certificate that can be read",
            what_to_do="name a PEM file of the authority's root certificate",
        ) from error
    verifier = VerifierBuilder(roots=trusted, nonce=nonce).build()
    info = _guarded(lambda: answer.tst_info)
    _refuse_other(info, text)
    _guarded(lambda: verifier.verify_message(answer, text.encode()))
    signer = _guarded(lambda: _signer(answer))
    found = TimeStamp(
        _utc(info.gen_time),
        info.policy.dotted_string,
        _name(signer),
        _accuracy(info.accuracy),
    )
    # Neither bound may fail a caller later.
    _ = found.before, found.after
    return found


def _library() -> ModuleType:
    try:
        import rfc3161_client
    except ImportError as error:
        raise InputError(
            "time stamps need the library rfc3161-client",
            what_to_do="in the project's folder: pip install '.[stamp]'",
        ) from error
    return rfc3161_client


def _granted(token: bytes) -> TimeStampResponse:
    rfc3161 = _library()
    if len(token) > MAX_TOKEN:
        raise VerificationError(
            f"the time stamp is longer than {MAX_TOKEN} bytes",
            what_to_do="check that this is a time stamp",
        )
    try:
        answer: TimeStampResponse = rfc3161.decode_timestamp_response(token)
    except ValueError as error:
        raise VerificationError(
            "this is not a time stamp in strict DER (RFC 3161)",
            what_to_do="name the .tsr file; 'openssl ts -verify' may accept "
            "one of looser form",
        ) from error
    if answer.status != _GRANTED:
        said = ascii(" ".join(answer.status_string))[:200]
        raise VerificationError(
            f"the authority granted no time stamp: status {answer.status}, {said}",
            what_to_do="ask it again, or another one",
        )
    return answer


def _guarded(get: Callable[[], _T]) -> _T:
    """Return the library's answer; its errors become one VerificationError."""
    from rfc3161_client import VerificationError as Refused

    try:
        return get()
    except (Refused, ValueError) as error:
        said = str(error).rstrip(".")[:200]
        raise VerificationError(
            f"the time stamp does not verify ({said})",
            what_to_do="get it again from the authority, and its root "
            "from its own people",
        ) from error


def _signer(answer: TimeStampResponse) -> Certificate:
    """Return the certificate that the token's one signer names."""
    from cryptography import x509

    (signer,) = answer.signed_data.signer_infos
    for data in answer.signed_data.certificates:
        found = x509.load_der_x509_certificate(data)
        if (found.issuer, found.serial_number) == (signer.issuer, signer.serial_number):
            return found
    raise ValueError("the signer's certificate is missing")


def _name(certificate: Certificate) -> str:
    name = certificate.subject.rfc4514_string()
    return name if name.isprintable() else ascii(name)


def _accuracy(found: Accuracy | None) -> timedelta | None:
    if found is None:
        return None
    try:
        return timedelta(
            seconds=found.seconds or 0,
            milliseconds=found.millis or 0,
            microseconds=found.micros or 0,
        )
    except OverflowError as error:
        raise VerificationError(_ABSURD, what_to_do=_ASK_AGAIN) from error


def _utc(time: datetime) -> datetime:
    return time.replace(tzinfo=UTC) if time.tzinfo is None else time.astimezone(UTC)
