"""One small invented fleet twice: as packets that are really signed, and as rows.

Six shops, fifteen orders each: the demo's first order, with another vehicle, other
readings, and other times of being written down. What is planted: shop 3 bunches below
the limit, shop 4 has two readouts of shop 2's vehicles, shop 5 writes bench tests down
a day late, shop 6 writes two of its tests again, and puts an odometer back.
"""

from collections import defaultdict
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pyarrow as pa
from fleet_columns import INHG, load
from made_collection import Made, digest
from made_logs import WITHHELD, MadeLog, demo_events

SHOPS, ORDERS = 6, 15
DAY_LATE = 26 * 60
SHOWN = "00 D6"
"""The self-test's value in the demo's first readout, as the vehicle sent it."""


@dataclass(frozen=True)
class Job:
    """One order: what differs from the demo's first."""

    shop: int
    number: int
    vin: str
    start: str
    end: str
    temperature: str
    barometer: str
    value: int
    odometer: int
    late: int
    """Minutes after which its bench test was written down; all else after one."""

    @property
    def order(self):
        return f"RO-{self.number}"

    @property
    def days(self):
        return self.number * 3

    def events(self):
        """Return its events, as a shop writes them."""
        events = demo_events(vin=self.vin, days=self.days)
        events[0]["vehicle"]["odometer"]["value"] = str(self.odometer)
        for event in events:
            if event["kind"] == "bench_test":
                for name, text in self.readings():
                    (reading,) = [r for r in event["readings"] if r["name"] == name]
                    reading["value"] = text
                event["conditions"]["barometer"]["value"] = self.barometer
                event["instruments"][0]["specification"]["resolution"] = "0.1"
            if "raw" in event:
                shown = f"{self.value // 256:02X} {self.value % 256:02X}"
                event["raw"] = event["raw"].replace(SHOWN, shown)
                passed = 0x0200 + self.value
                shown = f"{passed // 256:02X} {passed % 256:02X}"
                event["raw"] = event["raw"].replace("02 64", shown)
        return events

    def readings(self):
        """Return the bench test's readings, in order."""
        return (
            ("start pressure", self.start),
            ("end pressure", self.end),
            ("start temperature", self.temperature),
            ("end temperature", self.temperature),
        )


def jobs(seed=1):
    """Return the fleet's orders."""
    draw = np.random.default_rng(seed)
    values = [int(v) for v in draw.permutation(300)]
    made = []
    for shop in range(1, SHOPS + 1):
        for number in range(1, ORDERS + 1):
            count = len(made)
            ends = draw.choice([14.2, 14.3, 14.7]) if shop == 3 else draw.uniform(3, 14)
            made.append(
                Job(
                    shop=shop,
                    number=number,
                    vin=f"0ZZTB1A18CA{count + 1:06d}",
                    start=f"{draw.uniform(17, 22):.1f}",
                    end=f"{ends:.1f}",
                    temperature=f"{draw.uniform(12, 24):.1f}",
                    barometer=f"{draw.uniform(95, 101):.1f}",
                    value=values[count],
                    odometer=int(draw.integers(20_000, 200_000)),
                    late=DAY_LATE if shop == 5 else int(draw.integers(1, 9)),
                )
            )
    return _planted(made)


def _planted(made):
    def at(shop, number):
        return next(
            i for i, j in enumerate(made) if (j.shop, j.number) == (shop, number)
        )

    def change(shop, number, **values):
        place = at(shop, number)
        made[place] = replace(made[place], **values)

    for number in (3, 9):
        change(4, number, value=made[at(2, number)].value)
    for number in (11, 14):
        old = made[at(6, number - 9)]
        same = ("start", "end", "temperature", "barometer")
        change(6, number, **{name: getattr(old, name) for name in same})
    first = made[at(6, 1)]
    change(6, 12, vin=first.vin, odometer=first.odometer // 3)
    return made


def _written(job, event):
    """Return when an event is written down."""
    minutes = job.late if event["kind"] == "bench_test" else 1
    return datetime.fromisoformat(event["at"]) + timedelta(minutes=minutes)


def as_packets(listed):
    """Return the packets of all orders, each at its log's end."""
    packets = []
    for shop in range(1, SHOPS + 1):
        log, own = MadeLog(shop), [job for job in listed if job.shop == shop]
        for job in own:
            for event in job.events():
                withheld = WITHHELD.get(event["kind"], ())
                log.add(job.order, event, withheld, recorded=_written(job, event))
            log.close(job.order)
        packets += [log.packet(job.order) for job in own]
    return packets


def as_rows(listed):
    """Return a collection of the same, written down by hand."""
    made = Made(keys_given=False)
    for shop in range(1, SHOPS + 1):
        made.log(None, origin=f"shop-{shop}.example/log", is_trusted=False)
    rows = defaultdict(list)
    for order, job in enumerate(listed, 1):
        events = job.events()
        made.order(
            log_id=job.shop,
            vin=job.vin,
            order_no=job.order,
            odometer_m=job.odometer * 1000,
            odometer_text=f"{job.odometer} km",
            opened_at=_utc(events[0]["at"]),
            verdict="unproven",
        )
        for place, event in enumerate(events):
            own = {"order_id": order, "log_id": job.shop}
            for table, row in _rows(job, place, event):
                entry = {} if table == "instrument" else {"seq": 100 * order + place}
                rows[table].append(own | entry | row)
    for table, listed_rows in rows.items():
        load(made.connection, table, pa.Table.from_pylist(listed_rows))
    return made


def _utc(text):
    return datetime.fromisoformat(text).astimezone(UTC).replace(tzinfo=None)


def _rows(job, place, event):
    """Yield the rows of an event, each with its table."""
    written = _written(job, event).astimezone(UTC).replace(tzinfo=None)
    yield (
        "event",
        {
            "kind": event["kind"],
            "happened_at": _utc(event["at"]),
            "recorded_at": written,
            "leaf": digest("leaf", job, place),
            "root": digest("root", job, place),
            "packet_id": 1,
        },
    )
    if "raw" in event:
        yield (
            "readout",
            {
                "is_typed": False,
                "answered_sha256": digest(job, place),
                "less_marks_sha256": digest(job.value, place),
                "varying_bits": 100.0,
            },
        )
    if event["kind"] == "bench_test":
        for number, (name, text) in enumerate(job.readings()):
            yield "bench_reading", _reading(job, event, name, text) | {"place": number}
        for name, certificate in (("gauge-3", "INV-2026-031"), ("thermometer-1", None)):
            yield (
                "instrument",
                {
                    "instrument": name,
                    "has_specification": True,
                    "calibrated_on": date(2026, 1, 12),
                    "due": date(2027, 1, 12),
                    "certificate": certificate,
                    "used_on": _utc(event["at"]).date(),
                },
            )


def _reading(job, event, name, text):
    is_pressure = name.endswith("pressure")
    scale, offset = (INHG, 0.0) if is_pressure else (1.0, 273.15)
    return {
        "test_kind": "vacuum hold",
        "method": "seal-hold",
        "of_part": "old",
        "quantity": name,
        "is_computed": False,
        "value_text": text,
        "unit": "inHg" if is_pressure else "degC",
        "value": float(text),
        "value_si": float(text) * scale + offset,
        "low_si": 15 * INHG if name == "end pressure" else None,
        "resolution": 0.1,
        "instrument": "gauge-3" if is_pressure else "thermometer-1",
        "hold_s": 60.0,
        "ends_at": _utc(event["at"]),
        "by_person": "mechanic-1",
        "conditions": f'{{"barometer":{{"value":"{job.barometer}"}}}}',
    }
