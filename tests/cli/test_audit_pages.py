"""``audit --orders``: a page of each packet to open lies beside the report."""

import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from auditkit.cli.demo import demo_command
from auditkit.fleet.collecting import collect

pytest.importorskip("duckdb")


@pytest.fixture(scope="module")
def week(tmp_path_factory):
    """Return the demo's packets, and a collection of them."""
    folder = tmp_path_factory.mktemp("week") / "demo"
    assert CliRunner().invoke(demo_command, ["--into", str(folder)]).exit_code == 0
    packets = folder.with_name("packets")
    packets.mkdir()
    for packet in folder.glob("*.packet.json"):
        (packets / packet.name).write_bytes(packet.read_bytes())
    into = folder.with_name("fleet.duckdb")
    collect([packets], into)
    return packets, into


def linked(page):
    """Return the files beside a page that it links."""
    found = re.findall(r'href="([^"#]+)"', page.read_text())
    return [page.parent / name for name in dict.fromkeys(found)]


def test_each_packet_to_open_has_its_page(week, run, tmp_path):
    _, collection = week
    page = tmp_path / "a b.html"
    status, _, err = run("audit", collection, "--html", page, "--orders")
    assert status == 0, err
    (story,) = (Path(str(one).replace("%20", " ")) for one in linked(page))
    assert story.parent == tmp_path / "a b-orders"
    text = story.read_text()
    assert "RO-1003" in text  # the demo's contradicted order
    assert "<script>" not in text
    assert "the packet was taken out of a page" in run("verify", story)[1]


def test_a_vehicle_s_visits_lead_to_their_packets(week, run, tmp_path):
    packets, collection = week
    text = (packets / "RO-1003.packet.json").read_text()
    vin = re.search(r'\\?"vin\\?":\\?"([0-9A-Z]{17})', text)[1]
    page = tmp_path / "vehicle.html"
    status, _, err = run(
        "audit", collection, "--vehicle", vin, "--html", page, "--orders"
    )
    assert status == 0, err
    (story,) = linked(page)
    assert "RO-1003" in story.read_text()


def test_a_packet_that_is_gone_has_no_page_and_is_told(week, run, tmp_path):
    packets, collection = week
    page, packet = tmp_path / "audit.html", packets / "RO-1003.packet.json"
    kept = packet.read_bytes()
    packet.unlink()
    try:
        status, _, err = run("audit", collection, "--html", page, "--orders")
    finally:
        packet.write_bytes(kept)
    assert status == 0, err
    assert "1 packets are not where" in err
    assert linked(page) == []
    assert not page.with_name("audit-orders").exists()


def test_orders_without_a_page_is_refused(week, run):
    _, collection = week
    status, _, err = run("audit", collection, "--orders")
    assert status == 2
    assert "--html" in err


def test_a_full_folder_is_left_alone(week, run, tmp_path):
    _, collection = week
    (tmp_path / "audit-orders").mkdir()
    (tmp_path / "audit-orders" / "mine.txt").write_text("mine")
    status, _, _ = run(
        "audit", collection, "--html", tmp_path / "audit.html", "--orders"
    )
    assert status == 2
    assert not (tmp_path / "audit.html").exists()
    assert (tmp_path / "audit-orders" / "mine.txt").read_text() == "mine"
