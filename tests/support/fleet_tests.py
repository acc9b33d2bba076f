"""The bench tests of an invented fleet, honest and planted."""

import numpy as np
import pyarrow as pa
from fleet_columns import INHG, load, same, times
from fleet_rows import EVENTS

LIMIT = 15.0


class BenchTests:
    """Two of each order: a vacuum that is held, a resistance that is read thrice."""

    def __init__(self, draw, plan, sizes, roles, orders):
        n = len(orders["shop"])
        shop = orders["shop"]
        self.orders, self.shop = orders, shop
        step = np.where(np.isin(np.arange(plan.shops), roles["coarse"]), 0.5, 0.1)
        self.step = step[shop]
        own = np.exp(draw.normal(0, 0.15, plan.shops))[shop]
        beyond = np.minimum(LIMIT, LIMIT * own * draw.beta(1, 1.5, n))
        self.end = self._shown(LIMIT - beyond - 0.5 * self.step)
        self.end[draw.random(n) < 0.07] = 0
        self.start = self._shown(draw.uniform(17, 22, n))
        self.hold = draw.choice([60, 120, 180], n).astype(float)
        self.temperature = np.round(draw.normal(20, 4, n), 1)
        self.barometer = np.round(draw.normal(98, 1.2, n), 1)
        true = draw.normal(12, 3, n)
        spread = draw.normal(0, 0.8, (3, n)) * self.step
        self.repeats = [self._shown(true + one) for one in spread]
        self.is_invented = np.zeros(n, bool)
        self._plant(draw, plan, roles)

    def _shown(self, values):
        """Return what a display of this shop's steps shows, nothing below 0."""
        return np.maximum(0, np.round(np.round(values / self.step) * self.step, 1))

    def _plant(self, draw, plan, roles):
        n = len(self.shop)
        at = np.isin(self.shop, roles["invented"])
        self.is_invented = at & (draw.random(n) < plan.invented)
        just = LIMIT - draw.choice([0.2, 0.3, 0.7, 0.8], n, p=[0.2, 0.3, 0.3, 0.2])
        self.end = np.where(self.is_invented, np.round(just, 1), self.end)
        for shop in roles["copied"]:
            here = np.flatnonzero(self.shop == shop)
            older, younger = here[: len(here) // 3], here[len(here) // 3 :]
            to = draw.choice(younger, int(plan.copied * len(here)), replace=False)
            source = draw.choice(older[:25], len(to))
            for values in (self.end, self.start, self.hold, self.temperature):
                values[to] = values[source]
            self.barometer[to] = self.barometer[source]
        for shop in roles["smooth"]:
            here = self.shop == shop
            for one in self.repeats[1:]:
                one[here] = self.repeats[0][here]

    def load(self, connection):
        """Insert the readings, five for the vacuum and three for the resistance."""
        self.conditions = pa.array(
            [
                f'{{"barometer":{{"unit":"kPa","value":"{b:.1f}"}},'
                f'"temperature":{{"unit":"degC","value":"{t:.1f}"}}}}'
                for b, t in np.stack([self.barometer, self.temperature], 1)[
                    self.orders["is_here"]
                ]
            ]
        )
        vacuum = {"unit": "inHg", "scale": INHG, "test": "vacuum hold", "event": 2}
        self._insert(connection, "start pressure", self.start, 0, vacuum)
        limited = vacuum | {"low": LIMIT * INHG}
        self._insert(connection, "end pressure", self.end, 1, limited)
        winding = {"unit": "ohm", "scale": 1.0, "test": "winding", "event": 4}
        for place, values in enumerate(self.repeats):
            self._insert(connection, "resistance", values, place, winding)

    def _insert(self, connection, quantity, values, place, kind):
        here, n = self.orders["is_here"], int(self.orders["is_here"].sum())
        order_id = np.arange(len(self.shop))[here]
        event = kind["event"]
        of_vacuum = event == 2
        ends = self.orders["at"] + 3600.0 * (1 + of_vacuum)
        starts = ends - (self.hold + 30 if of_vacuum else 60)
        rows = {
            "order_id": order_id,
            "log_id": self.shop[here] + 1,
            "seq": order_id * len(EVENTS) + event,
            "place": np.full(n, place, np.int32),
            "test_kind": same(kind["test"], n),
            "part_id": same("valve", n),
            "of_part": same("old", n),
            "quantity": same(quantity, n),
            "is_computed": np.zeros(n, bool),
            "value_text": pa.array([f"{v:.1f}" for v in values[here]]),
            "unit": same(kind["unit"], n),
            "value": values[here],
            "value_si": values[here] * kind["scale"],
            "resolution": self.step[here],
            "instrument": same("gauge", n),
            "hold_s": self.hold[here] if of_vacuum else pa.nulls(n, pa.float64()),
            "starts_at": times(starts[here]),
            "ends_at": times(ends[here]),
            "by_person": same("person-1", n),
            "conditions": self.conditions if of_vacuum else same("{}", n),
        }
        if "low" in kind:
            rows["low_si"] = np.full(n, kind["low"])
            rows["outcome"] = pa.array(
                ["against" if v < LIMIT else "good" for v in values[here]]
            )
        load(connection, "bench_reading", pa.table(rows))
