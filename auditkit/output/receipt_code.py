"""The code on a receipt: coarse enough for any phone, however long the order is."""

from __future__ import annotations

from contextlib import suppress
from typing import TYPE_CHECKING

from auditkit.errors import InputError
from auditkit.output.typeset import missing
from auditkit.proof.receipt import format_receipt, receipt_address

if TYPE_CHECKING:
    import segno

    from auditkit.proof.receipt import Receipt

_SIDE = 109
"""Most modules of a code's side: those of version 23 (ISO/IEC 18004, table 1), which
hold 857 bytes at level M (table 7)."""


def receipt_code(receipt: Receipt, page: str = "") -> segno.QRCode:
    """Return the QR code of a receipt, at level M or better.

    It holds the receipt's text or, with the address of a checker ``page``, that address
    with the receipt in its fragment. Raises InputError where it would be too fine.
    """
    try:
        import segno
    except ImportError as error:
        raise missing(error) from error
    text = receipt_address(page, receipt) if page else format_receipt(receipt)
    plain = text.isascii()
    with suppress(segno.DataOverflowError):
        code = segno.make_qr(
            text, error="m", mode="byte", encoding="utf-8", eci=not plain
        )
        if len(code.matrix) <= _SIDE:
            return code
    raise InputError(
        f"the receipt's code would hold {len(text.encode())} bytes, and be too fine "
        "for a phone",
        what_to_do="give the checker page a shorter address (checker_url of the "
        "policy), or hand over the receipt's text instead: --text FILE",
    )
