"""A picture counts where it can be seen here, is large enough, and shows one thing."""

import hashlib
import io

import pytest
from conftest import small_record
from photo import DIGEST, OTHER, OTHER_DIGEST, PICTURE, attachment, kept, shown

from auditkit.order.event_strength import strengths
from auditkit.order.events import RepairOrder
from auditkit.order.photographs import (
    LEAST_PIXELS,
    RULE,
    looked_at,
    not_counted,
    photographed,
)
from auditkit.order.policy import DEFAULT
from auditkit.plugin.loading import load_catalogue

NO_ROWS = bytes.fromhex(  # header of 800 x 600 pixels; IDAT "no picture 1"
    "89504e470d0a1a0a0000000d4948445200000320000002580802000000151415270000000c494441"
    "546e6f20706963747572652031680673260000000049454e44ae426082"
)
CATALOGUE = load_catalogue()
SELF_TEST = {
    "kind": "self_test",
    "at": "2026-03-02T10:00:00+01:00",
    "by": "mechanic-1",
    "monitor": "EGR",
    "mid": "31",
    "outcome": "passed",
    "seen_on": "a display (invented)",
}
PLACE = len(small_record().events)


def order(*pictures, files=None, elsewhere=None):
    """Return an order with a typed self-test and these pictures of it."""
    events = [*small_record().events, SELF_TEST]
    events += [{"of": PLACE, **picture} for picture in pictures]
    given = {DIGEST: PICTURE, OTHER_DIGEST: OTHER} if files is None else files
    return RepairOrder.fold("RO-1", events, elsewhere, pictures=looked_at(given))


def strength(found):
    return strengths(found, CATALOGUE, DEFAULT)[PLACE]


def told(found):
    return [(one.rule, one.message.partition(": ")[2]) for one in not_counted(found)]


def image(kind, width, height):
    out = io.BytesIO()
    shown(80, (width, height)).save(out, kind)
    data = out.getvalue()
    return hashlib.sha256(data).hexdigest(), data


def test_a_picture_whose_bytes_are_here_makes_it_photographed():
    found = order(kept())
    assert photographed(found) == {PLACE}
    assert (strength(found), told(found)) == ("photographed", [])
    assert strength(order(kept(), kept(OTHER))) == "photographed"


@pytest.mark.parametrize("kind", ["JPEG", "PNG"])
@pytest.mark.parametrize(
    ("width", "height", "counts"),
    [(640, 480, True), (600, 500, True), (599, 500, False), (2000, 149, False)],
)
def test_width_and_height_as_pillow_writes_them(kind, width, height, counts):
    """0.3 megapixel: 600 x 500 is just enough. Pillow is the outside reference."""
    digest, data = image(kind, width, height)
    assert (looked_at({digest: data})[digest] == "") is counts
    assert counts is (width * height >= LEAST_PIXELS)
    event = {**kept(data), "media_type": f"image/{kind.lower()}"}
    found = order(event, files={digest: data})
    assert strength(found) == ("photographed" if counts else "typed")
    if not counts:
        pixels = f"it has {width} x {height} pixels, fewer than 300000 in all"
        assert told(found) == [(RULE, pixels)]


@pytest.mark.parametrize(
    ("pictures", "options", "why"),
    [
        ([kept()], {"files": {}}, "its bytes are not here"),
        (
            [kept()],
            {"files": {DIGEST: OTHER}},
            "its bytes here are others than those that were named",
        ),
        (
            [kept()],
            {"elsewhere": {DIGEST: "RO-7"}},
            "repair order RO-7 names the same picture",
        ),
        ([kept(), kept()], {}, f"event {PLACE + 2} names the same picture"),
        (
            [kept(), {**kept(), "of": 0}],
            {},
            f"event {PLACE + 2} names the same picture",
        ),
        (
            [{**kept(), "at": "2026-03-01T09:59:00+01:00"}],
            {},
            "it is older than the step that it belongs to",
        ),
    ],
)
def test_a_picture_that_shows_nothing_leaves_it_typed_and_says_so(
    pictures, options, why
):
    found = order(*pictures, **options)
    assert strength(found) == "typed"
    assert (RULE, why) in told(found)
    advice = [f for f in CATALOGUE.judge(found).findings if f.rule == RULE]
    assert [f.message for f in advice]
    assert all(f.severity == "advisory" and f.what_to_do for f in advice)


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"\xff\xd8\xff",
        PICTURE[:-400],
        b"\x89PNG\r\n\x1a\n" + bytes(99),
        NO_ROWS,
    ],
)
def test_a_picture_that_cannot_be_read_leaves_it_typed(data):
    digest = hashlib.sha256(data).hexdigest()
    found = order(kept(data), files={digest: data})
    assert strength(found) == "typed"
    ((_, why),) = told(found)
    assert why.startswith("it cannot be read: ")


def test_the_reason_says_what_is_wrong_with_the_image_data():
    digest = hashlib.sha256(NO_ROWS).hexdigest()
    found = order(kept(NO_ROWS), files={digest: NO_ROWS})
    why = "it cannot be read: the picture is damaged: its image data cannot be unpacked"
    assert (strength(found), told(found)) == ("typed", [(RULE, why)])


def test_a_file_that_is_no_picture_of_anything_is_no_matter():
    found = order(
        attachment(sha256="0" * 64, media_type="application/pdf", size=7), files={}
    )
    assert (strength(found), told(found)) == ("typed", [])
