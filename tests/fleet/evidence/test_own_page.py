"""What a shop sees of questions that point at two shops: its own side of them."""

from datetime import timedelta

from bench_rows import Benches
from made_collection import day, digest

from auditkit.fleet.asking import Asked, prepared
from auditkit.fleet.audit import Told, audit
from auditkit.fleet.settings import Settings


def _made():
    made = Benches()
    shops = {}
    for shop, number, vin, km, at in (
        ("Shop 1", "SECRET-1", "VIN-OF-BOTH", 150_000, 0),
        ("Shop 2", "OWN-1", "VIN-OF-BOTH", 50_000, 0),
        ("Shop 1", "SECRET-2", "SECRET-VIN", 10_000, 5),
        ("Shop 2", "OWN-2", "OWN-VIN", 20_000, 5),
    ):
        order = made.order(
            shop,
            at=at + 0.01 * len(shops),
            vin=vin,
            order_no=number,
            odometer_m=km * 1000,
            odometer_text=f"{km} km",
        )
        shops[number] = order
        log = 1 if shop == "Shop 1" else 2
        for hours in (0, 3):
            happened = day(at) + timedelta(hours=hours)
            made.recorded(at, log_id=log, order_id=order, happened_at=happened)
        made.insert(
            "readout",
            order_id=order,
            log_id=log,
            seq=order,
            is_typed=False,
            answered_sha256=digest(order),
            less_marks_sha256=digest("same" if number.endswith("2") else order),
            varying_bits=200.0,
        )
        made.insert(
            "instrument",
            order_id=order,
            log_id=log,
            instrument=f"{number} gauge",
            has_specification=True,
            certificate="C-2026",
            used_on="2026-01-01",
        )
    return made


def test_it_sees_its_own_packets_alone():
    ask = prepared(_made().connection, Asked(seen_by="Shop 2"))
    seen = audit(ask, Told(Settings(), seen_by="Shop 2"))
    screens = {one.screen for one in seen.asked}
    assert screens >= {
        "odometers that do not fit",
        "readouts that stand in two records",
        "one vehicle at two shops at once",
        "one certificate at several shops",
    }
    opened = {packet.repair_order for one in seen.asked for packet in one.to_open}
    assert opened == {"OWN-1", "OWN-2"}
    assert "SECRET" not in repr(seen)
    assert "Shop 1" not in repr(seen)


def test_who_audits_sees_both_sides():
    ask = prepared(_made().connection, Asked())
    seen = audit(ask, Told(Settings()))
    opened = {packet.repair_order for one in seen.asked for packet in one.to_open}
    assert opened == {"OWN-1", "OWN-2", "SECRET-1", "SECRET-2"}
    by_name = {t.name: t for section in seen.sections for t in section.tables}
    assert len(by_name["odometers"].rows) == 2
