"""Invented bench readings for a made collection, one test after the other."""

from datetime import timedelta

from fleet_columns import INHG
from made_collection import Made, day


class Benches(Made):
    """A collection whose shops have one order each, unless a test adds more."""

    def __init__(self):
        super().__init__()
        self._tests = 0
        self._of_shop = {}

    def order_of(self, shop):
        if shop not in self._of_shop:
            self._of_shop[shop] = self.order(shop, vin=f"VIN of {shop}")
        return self._of_shop[shop]

    def test(self, shop, *readings, order=None, **values):
        """Add one bench test; each reading is (quantity, text) or a dict."""
        order = order or self.order_of(shop)
        self._tests += 1
        for place, reading in enumerate(readings):
            own = reading
            if isinstance(reading, tuple):
                own = {"quantity": reading[0], "value_text": reading[1]}
            row = {
                "order_id": order,
                "log_id": self._logs[shop],
                "seq": self._tests,
                "place": place,
                "test_kind": "vacuum hold",
                "of_part": "old",
                "is_computed": False,
                "unit": "inHg",
                "value": float(own["value_text"]),
                "value_si": float(own["value_text"]) * INHG,
                "resolution": 0.1,
                "instrument": "gauge",
                "ends_at": day(0) + timedelta(days=self._tests),
                "by_person": "person-1",
                "conditions": "{}",
            }
            self.insert("bench_reading", **row | values | own)


def asks(part, shop):
    """Return the questions to one shop."""
    return [one for one in part.asked if one.shop == shop]


def cells(part, table=0):
    """Return the rows of one table as dictionaries by column."""
    shown = part.section.tables[table]
    names = [column.name for column in shown.columns]
    return [dict(zip(names, row, strict=True)) for row in shown.rows]
