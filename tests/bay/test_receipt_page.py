"""The customer's receipt as the bay hands it out: the shop's policy, its pictures."""

import io
import json
from dataclasses import replace
from importlib.resources import files

import pytest
from bay_desk import Tablet, new_desk, order_path
from conftest import PASSPHRASE
from photo import PICTURE

from auditkit.order.policy import parse_policy

pypdf = pytest.importorskip("pypdf")
pytest.importorskip("typst")
EVENTS = json.loads((files("auditkit_demo") / "RO-1001.json").read_text())["events"]
POLICY = parse_policy(
    'format = "auditkit/policy@1"\n'
    'checker_url = "https://checker.example/check.html"\n'
    'packet_from = "the desk, 555-0100"\n'
)


def images(data):
    return sum(len(p.images) for p in pypdf.PdfReader(io.BytesIO(data)).pages)


def test_the_receipt_of_a_closed_order_is_handed_out(tmp_path):
    with new_desk(tmp_path, PASSPHRASE) as made:
        desk = replace(made, policy=POLICY)
        tablet = Tablet(desk)
        tablet.sign_in("boss-1", PASSPHRASE.decode())
        opening = {
            "order": "RO-2",
            "raw": next(e["raw"] for e in EVENTS if e["kind"] == "readout"),
            "tool": "text adapter (invented)",
            "vehicle.odometer.value": "184210",
            "vehicle.odometer.unit": "km",
            "vehicle.description": "delivery van, 2.0 litre",
            "complaint": "engine lamp is on",
        }
        assert tablet.fill("/new-order", fields=opening).status_code == 303
        path = order_path("RO-2", "receipt")
        assert tablet.get(path).status_code >= 400, "it is not closed yet"
        picture = {**tablet.hidden(order_path("RO-2", "add", "attachment"))}
        sent = tablet.post(
            order_path("RO-2", "add", "attachment"),
            data={**picture, "shows": "the old valve", "of": "0"},
            files={"sha256": ("valve.jpg", PICTURE)},
        )
        assert sent.status_code == 303, sent.text
        closing = tablet.fill(order_path("RO-2", "close"), reason="a test of the log")
        assert closing.status_code == 303
        answer = tablet.get(path)
        assert answer.status_code == 200
        assert answer.headers["content-type"] == "application/pdf"
        shown = tablet.seen(order_path("RO-2"))
        assert f"{path}?pictures=yes" in shown
        with_pictures = tablet.get(f"{path}?pictures=yes")
        packet = tablet.get(order_path("RO-2", "packet?pictures=yes")).json()
        bare = tablet.get(order_path("RO-2", "packet")).json()
    assert (len(packet["attachments"]), bare["attachments"]) == (1, [])
    assert images(answer.content) == 0
    assert images(with_pictures.content) > 0
    pages = pypdf.PdfReader(io.BytesIO(answer.content)).pages
    said = " ".join(" ".join(page.extract_text() for page in pages).split())
    for told in (
        "Receipt for repair order RO-2",
        "Odometer when it came in: 184210 km",
        "Complaint: engine lamp is on",
        "The code opens https://checker.example/check.html",
        "Ask the desk, 555-0100 for the packet",
    ):
        assert told in said
