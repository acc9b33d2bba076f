"""The photographs that a packet carries, as elements of a page.

Nothing is drawn but a JPEG or a PNG whose bytes have the digest that was signed; it
goes into the page as a ``data:`` URI (RFC 2397), so that nothing is fetched.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Mapping
from typing import TYPE_CHECKING

from auditkit.errors import InputError
from auditkit.order.picture import stripped
from auditkit.proof.attached import ATTACHMENT, attached_file
from auditkit.reader.page.markup import Element, Node, element

if TYPE_CHECKING:
    from auditkit.order.events import Event

_TURNED = {3: "turned-3", 6: "turned-6", 8: "turned-8"}
"""EXIF's orientation (CIPA DC-008) -> the style that turns the picture upright."""


def picture_nodes(event: Event, carried: Mapping[str, bytes]) -> list[Node]:
    """Return the picture that an event names; nothing where it is not ``carried``.

    ``carried`` are bytes by the SHA-256 (hex) that is said to be theirs.
    """
    named = attached_file(event.data)
    data = None if named is None else carried.get(named.sha256)
    if named is None or data is None:
        return []
    of = event.data if event.kind == ATTACHMENT else event.object("event")
    shows = of.get("shows")
    caption = shows if isinstance(shows, str) and shows else "A picture"
    if hashlib.sha256(data).hexdigest() != named.sha256:
        return [_not_drawn("its bytes here are others than those that were signed")]
    try:
        picture = stripped(data)
    except InputError as error:
        return [_not_drawn(error.message)]
    turned = of.get("orientation", picture.orientation)
    style = _TURNED.get(turned) if isinstance(turned, int) else None
    # Nothing of the file but its picture: what else it holds is of no use here.
    uri = base64.b64encode(picture.data).decode()
    drawn = element(
        "img",
        src=f"data:{picture.media_type};base64,{uri}",
        alt=f"Picture: {caption}",
        width=str(picture.width),
        height=str(picture.height),
    )
    return [_figure(drawn, caption, style)]


def _figure(drawn: Element, caption: str, turned: str | None) -> Element:
    box = drawn if turned is None else element("div", drawn, class_=f"turned {turned}")
    told = f"{caption}. Its bytes have the SHA-256 that was signed."
    return element("figure", box, element("figcaption", told), class_="picture")


def _not_drawn(why: str) -> Element:
    return element("p", f"The picture is not drawn: {why}.", class_="strong")
