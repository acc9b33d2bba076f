"""A signature over an exhibit's PDF: PAdES (ETSI EN 319 142-1), made and checked.

It seals the file for whoever holds the certificate's key; it is no signature under the
certification, which a person signs by hand. The pages stay as they are: a signature is
appended (ISO 32000-2, 7.5.6), and what stood before it keeps its bytes. Whether a
certificate deserves trust, or was revoked, is not judged here.
"""

from __future__ import annotations

import io
import logging
from contextlib import contextmanager
from typing import TYPE_CHECKING

from auditkit.errors import InputError, KeyProblem, VerificationError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pyhanko.pdf_utils.extensions import DeveloperExtension
    from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
    from pyhanko.sign.validation.pdf_embedded import EmbeddedPdfSignature

FIELD = "Signature"
_MEND = "rely on the attached packet alone, and ask for the exhibit again"


def sign_pdf(
    pdf: bytes, key_file: bytes, passphrase: bytes, *, where: str = ""
) -> bytes:
    """Return ``pdf`` with a PAdES signature (baseline B) appended.

    ``key_file`` is PKCS#12 (RFC 7292) with a key and its certificate; ``where`` names
    it. The time that the signature states is this computer's clock: a claim. Raises
    KeyProblem where the key cannot be opened, InputError where the library is missing.
    """
    try:
        from pyhanko.sign import fields, signers
    except ImportError as error:
        raise _missing() from error
    _open_key(key_file, passphrase, where)
    with quiet():
        signer = signers.SimpleSigner.load_pkcs12_data(
            key_file, other_certs=[], passphrase=passphrase
        )
        if signer is None:
            raise KeyProblem(
                "this key or its certificate cannot sign a PDF",
                where=where,
                what_to_do="use an RSA, EC or Ed25519 key with its X.509 certificate",
            )
        made = signers.PdfSigner(
            signers.PdfSignatureMetadata(
                field_name=FIELD,
                md_algorithm="sha256",
                subfilter=fields.SigSeedSubFilter.PADES,
            ),
            signer,
            new_field_spec=fields.SigFieldSpec(
                FIELD, readable_field_name="Signature over this whole document"
            ),
        ).sign_pdf(_writer(pdf))
    signed = bytes(made.getbuffer())
    if not signed.startswith(pdf):
        raise InputError(
            "the signature would have altered the pages",
            what_to_do="report this: it is a fault of the program",
        )
    return signed


def _writer(pdf: bytes) -> IncrementalPdfFileWriter:
    """Return what appends to ``pdf`` and leaves it PDF 1.7, as PDF/A-3 is."""
    from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter

    class SameVersion(IncrementalPdfFileWriter):
        def ensure_output_version(self, version: tuple[int, int]) -> None:
            """Keep the version."""

        def register_extension(self, ext: DeveloperExtension) -> None:
            """Declare none: a reader knows the algorithm from the signature."""

    return SameVersion(io.BytesIO(pdf))


def _missing() -> InputError:
    message = "a PDF's signature needs pyHanko, which is not installed"
    return InputError(
        message, what_to_do="in the project's folder: pip install '.[sign]'"
    )


def _open_key(key_file: bytes, passphrase: bytes, where: str) -> None:
    """Raise KeyProblem where a PKCS#12 file cannot be opened or lacks a part."""
    from cryptography.hazmat.primitives.serialization import pkcs12

    try:
        key, certificate, _ = pkcs12.load_key_and_certificates(key_file, passphrase)
    except ValueError as error:
        raise KeyProblem(
            "the passphrase is wrong, or this is no PKCS#12 file",
            where=where,
            what_to_do="give the passphrase of this file (--passphrase-file)",
        ) from error
    if key is None or certificate is None:
        raise KeyProblem(
            "this file holds no key with its certificate",
            where=where,
            what_to_do="export key and certificate together (PKCS#12)",
        )


@contextmanager
def quiet() -> Iterator[None]:
    """Keep the library's log lines off the terminal: what matters is returned."""
    before = logging.root.manager.disable
    logging.disable(logging.CRITICAL)
    try:
        yield
    finally:
        logging.disable(before)


def check_signatures(pdf: bytes, length: int, *, where: str = "") -> tuple[str, ...]:
    """Return a line for each signature appended after the first ``length`` bytes.

    Raises VerificationError where anything but signatures was appended, where one does
    not hold, or where the last one does not cover the whole file.
    """
    try:
        from pyhanko.pdf_utils.reader import PdfFileReader

        from auditkit.exhibit.appended import only_signatures
    except ImportError as error:
        raise _missing() from error
    try:
        with quiet():
            reader = PdfFileReader(io.BytesIO(pdf))
            only_signatures(reader, PdfFileReader(io.BytesIO(pdf[:length])))
            found = list(reader.embedded_signatures)
            said = tuple(_holds(s, last=s is found[-1]) for s in found)
    except VerificationError as error:
        raise error.at(where) from error
    except Exception as error:  # a damaged PDF makes the reader raise anything
        raise VerificationError(
            f"what was appended to it cannot be read ({type(error).__name__})",
            where=where,
            what_to_do=_MEND,
        ) from error
    if not said:
        raise VerificationError(
            "something was appended to it that is no signature",
            where=where,
            what_to_do=_MEND,
        )
    return said


def _holds(signature: EmbeddedPdfSignature, *, last: bool) -> str:
    from pyhanko.sign.validation import validate_pdf_signature
    from pyhanko.sign.validation.status import SignatureCoverageLevel
    from pyhanko_certvalidator import ValidationContext

    status = validate_pdf_signature(
        signature, ValidationContext(trust_roots=[], allow_fetching=False)
    )
    who = status.signing_cert.subject.human_friendly
    if not (status.intact and status.valid):
        raise VerificationError(
            f"the signature of {who!r} does not hold: the file was altered",
            what_to_do=_MEND,
        )
    if last and status.coverage is not SignatureCoverageLevel.ENTIRE_FILE:
        raise VerificationError(
            f"something was appended after the signature of {who!r}", what_to_do=_MEND
        )
    return f"signature of {who} holds; whether to trust it was not judged"
