"""Is a PDF the exhibit of the packet that it carries? Made anew, and compared.

The pages are not read: they are made again from the attached packet, and the file must
begin with exactly those bytes. What follows them may only be signatures, which
``auditkit.exhibit.pades`` looks at.
"""

from __future__ import annotations

import hashlib
import io
from dataclasses import dataclass
from typing import TYPE_CHECKING

from auditkit.errors import AuditkitError, InputError, VerificationError
from auditkit.exhibit import exhibit_of
from auditkit.exhibit.pades import check_signatures, quiet
from auditkit.exhibit.pdf import ATTACHED, exhibit_pdf
from auditkit.output.typeset import makers, missing

if TYPE_CHECKING:
    from auditkit.order.catalogue import Catalogue

_DIFFERS = (
    "rely on the attached packet alone ('auditkit verify'), and ask for the exhibit "
    "again"
)


@dataclass(frozen=True, slots=True)
class CheckedExhibit:
    """An exhibit that is what its packet makes.

    ``sha256`` is the packet's, in hex; ``signatures`` has a line for each.
    """

    packet: bytes
    sha256: str
    signatures: tuple[str, ...]


def attached_packet(pdf: bytes, *, where: str = "") -> bytes:
    """Return the packet that a PDF carries; raise InputError where it carries none."""
    try:
        import pypdf
    except ImportError as error:
        raise missing(error) from error
    try:
        with quiet():
            reader = pypdf.PdfReader(io.BytesIO(pdf))
            found = [
                data
                for name, files in reader.attachments.items()
                if name == ATTACHED
                for data in files
            ]
    except Exception as error:  # a damaged PDF makes the reader raise anything
        raise InputError(
            f"this is not a PDF that can be read ({type(error).__name__})",
            where=where,
            what_to_do="name a file that 'auditkit exhibit --out' wrote",
        ) from error
    if not found:
        raise InputError(
            "no packet is attached: printing or converting an exhibit drops it",
            where=where,
            what_to_do="ask for the file as 'auditkit exhibit' wrote it",
        )
    if len(found) != 1:
        raise InputError(
            f"{len(found)} packets are attached to it, not one",
            where=where,
            what_to_do="name a file that 'auditkit exhibit --out' wrote",
        )
    return bytes(found[0])


def check_exhibit(
    pdf: bytes, catalogue: Catalogue, *, where: str = ""
) -> CheckedExhibit:
    """Return what holds of an exhibit.

    Raises InputError where the file carries no packet that can be read, and
    VerificationError where the packet does not verify or the pages are not those that
    it makes.
    """
    packet = attached_packet(pdf, where=where)
    try:
        anew = exhibit_pdf(
            packet, catalogue, where=f"{where} (the attached packet)".strip()
        )
    except VerificationError:
        raise
    except AuditkitError as error:
        raise VerificationError(
            f"the attached packet cannot be used: {error.message}",
            where=where,
            what_to_do=_DIFFERS,
        ) from error
    if not pdf.startswith(anew):
        raise VerificationError(
            _difference(pdf, packet, catalogue), where=where, what_to_do=_DIFFERS
        )
    signatures: tuple[str, ...] = ()
    if len(pdf) != len(anew):
        signatures = check_signatures(pdf, len(anew), where=where)
    return CheckedExhibit(packet, hashlib.sha256(packet).hexdigest(), signatures)


def _difference(pdf: bytes, packet: bytes, catalogue: Catalogue) -> str:
    message = "this is not, byte for byte, the exhibit that its attached packet makes"
    if unknown := exhibit_of(packet, catalogue, version="").unknown:
        return (
            f"{message} here, where no plugin brings the kind of bench test "
            f"{', '.join(unknown)}: with that it can be told whether it was altered"
        )
    ours, setter = makers()
    here = f"auditkit {ours}, typst {setter}"
    said = _says(pdf)
    if said == here:
        return f"{message}: it was altered, though its packet verifies"
    return (
        f"{message}, as it is made here by {here}; the file says of itself "
        f"{said or 'nothing'}: with that version it can be told whether it was altered"
    )


def _says(pdf: bytes) -> str:
    """Return the versions that a PDF says it was made with: a claim, to be tried."""
    import pypdf

    try:
        with quiet():
            information = pypdf.PdfReader(io.BytesIO(pdf)).metadata
        return str(information.get("/Keywords", ""))[:200] if information else ""
    except Exception:  # noqa: BLE001  as above; then it says nothing that can be read
        return ""
