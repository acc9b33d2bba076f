"""A record names a file; what is judged names the picture in it by its digest."""

import hashlib
import json

import pytest
from conftest import small_record
from photo import attachment, photo

from auditkit.errors import InputError
from auditkit.order.catalogue import CORE
from auditkit.order.picture import stripped
from auditkit.order.policy import parse_policy
from auditkit.order.record import parse_record


def text(*events):
    record = small_record()
    return json.dumps(
        {
            "format": "auditkit/repair-record@1",
            "repair_order": "RO-1",
            "events": [*record.events, *events],
        }
    )


FILES = {"gauge.jpg": photo(), "upright.jpg": photo(1, 90), "log.csv": b"rpm;700"}


def parse(*events):
    return parse_record(
        text(*events), CORE, where="RO-1.json", beside=FILES.__getitem__
    )


def test_a_file_becomes_its_picture_by_digest():
    record = parse(attachment(file="gauge.jpg", of=1))
    picture = stripped(FILES["gauge.jpg"]).data
    digest = hashlib.sha256(picture).hexdigest()
    assert record.events[-1] == attachment(
        of=1,
        sha256=digest,
        media_type="image/jpeg",
        size=len(picture),
        orientation=6,
        kept=True,
    )
    assert record.pictures == {digest: picture}
    assert b"Camera of a test" not in picture
    assert digest != hashlib.sha256(FILES["gauge.jpg"]).hexdigest()


def test_a_picture_that_stands_upright_says_nothing_of_it():
    assert "orientation" not in parse(attachment(file="upright.jpg")).events[-1]


def test_an_amendment_may_correct_to_a_file():
    amendment = {
        "kind": "amendment",
        "at": "2026-03-02T11:00:00+01:00",
        "by": "mechanic-1",
        "corrects": 2,
        "why": "the wrong photograph",
        "event": attachment(file="upright.jpg"),
    }
    record = parse(attachment(file="gauge.jpg"), amendment)
    assert record.events[-1]["event"]["sha256"] in record.pictures
    assert len(record.pictures) == 2


def test_a_digest_alone_stays_as_it_is():
    event = attachment(sha256="0" * 64, media_type="application/pdf", size=7)
    record = parse_record(text(event), CORE)
    assert (record.events[-1], record.pictures) == (event, {})


@pytest.mark.parametrize(
    ("event", "pointer", "said"),
    [
        (attachment(file="log.csv"), "/events/2/file", "log.csv: this is neither"),
        (
            attachment(file="gauge.jpg", size=1),
            "/events/2/file",
            "does not say its size",
        ),
        (attachment(file="../gauge.jpg"), "/events/2/file", "beside the record"),
        (attachment(file="/etc/gauge.jpg"), "/events/2/file", "beside the record"),
        (attachment(file="a\\gauge.jpg"), "/events/2/file", "beside the record"),
        (attachment(file=".."), "/events/2/file", "beside the record"),
        (attachment(file=""), "/events/2/file", "beside the record"),
        (attachment(file=["gauge.jpg"]), "/events/2/file", "beside the record"),
        (attachment(file="gauge.jpg", of=2), "/events/2/of", "an earlier event"),
        (attachment(), "/events/2", "missing"),
    ],
)
def test_what_does_not_fit_is_named_by_its_place(event, pointer, said):
    with pytest.raises(InputError, match=said) as caught:
        parse(event)
    assert caught.value.where == f"RO-1.json#{pointer}"
    assert caught.value.what_to_do


def test_a_record_without_a_folder_has_no_files():
    with pytest.raises(InputError, match=r"gauge\.jpg"):
        parse_record(text(attachment(file="gauge.jpg")), CORE)


def test_a_policy_cannot_withhold_what_the_log_knows_a_picture_by():
    head = 'format = "auditkit/policy@1"\n'
    assert parse_policy(f'{head}withhold = ["attachment.shows"]').withhold
    with pytest.raises(InputError, match=r"attachment\.sha256 cannot be withheld"):
        parse_policy(f'{head}withhold = ["attachment.sha256"]')


def test_an_attachment_without_digest_is_told_of_the_file():
    with pytest.raises(InputError) as caught:
        parse(attachment())
    assert 'beside the record as "file"' in caught.value.what_to_do
