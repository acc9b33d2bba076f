"""Invented fleets: 60 shops as rows of a collection, some of them planted to be found.

Nothing here is of a real shop, vehicle or person. What is drawn: 120 to 1,200 repairs a
shop over two years, five kinds of fault, comebacks of about 5 % within 180 days times
the kind's factor and the shop's own (honest spread: log-sd .25), vehicles that leave
(900 days on average), two bench tests a repair, their entries. Honest oddities, so that
a screen has something to be wrong about: gauges in steps of .5 in place of .1, shops
that write everything down in the evening, shops that hand whole orders over at once,
zeros, and readings that differ between shops by 15 %.

``invented(seed, Plan(...))`` gives a ``Fleet``: the same seed, the same rows.
"""

from dataclasses import dataclass, field

import duckdb
import numpy as np
from fleet_columns import DAY, START, YEARS, times
from fleet_rows import load_answers, load_events, load_orders, load_readouts, load_shops
from fleet_tests import BenchTests

from auditkit.fleet import tables
from auditkit.fleet.asking import Asked, prepared
from auditkit.fleet.settings import Settings
from auditkit.fleet.vehicles import InView

FACTORS = (0.6, 0.8, 1.0, 1.3, 2.0)
"""How often each kind of fault comes back, times the common 5 %."""


@dataclass(frozen=True)
class Plan:
    """What is planted; a share of 0, or a number of 0, plants nothing of it."""

    shops: int = 60
    bad: int = 2
    bad_factor: float = 2.5
    honest_spread: float = 0.25
    invented: float = 0.25
    """Share of one shop's readings that are invented, and written down a day late."""
    copied: float = 0.0
    """Share of another shop's bench tests that are older ones, word for word."""
    stolen: int = 0
    """Readouts of another shop that are those of another vehicle."""
    smooth: bool = False
    """Whether one more shop repeats its readings without any spread."""
    late: int = 0
    """Shops that write half of all down more than a day later."""
    forked: int = 0
    undelivered: int = 0
    """Shops that send three fifths of their packets."""
    coarse: int = 15
    evening: int = 8
    handed_over: int = 3
    answers: bool = False


@dataclass
class Fleet:
    """A collection in memory; ``planted`` names the shops of each kind."""

    connection: duckdb.DuckDBPyConnection
    planted: dict[str, set[str]]
    vehicles: list[InView]
    factors: dict[str, float] = field(default_factory=dict)

    def ask(self, settings=None):
        """Return an Ask of it, with the register of its vehicles."""
        asked = Asked(settings or Settings(), self.vehicles)
        return prepared(self.connection.cursor(), asked)


def invented(seed, plan=None):
    """Draw a fleet; the parts of ``plan`` share their draws as far as they can."""
    plan = plan or Plan()
    draw = np.random.default_rng([20_260_301, seed])
    connection = duckdb.connect(":memory:")
    connection.execute("SET threads = 2")
    for statement in tables.statements():
        connection.execute(statement)
    names = np.array([f"Shop {n + 1}" for n in range(plan.shops)])
    sizes = np.exp(draw.uniform(np.log(120), np.log(1200), plan.shops)).astype(int)
    roles = _roles(draw, plan, sizes)
    orders = _orders(draw, plan, sizes, roles)
    tests = BenchTests(draw, plan, sizes, roles, orders)
    load_shops(connection, plan, names, roles, orders)
    load_orders(connection, draw, orders)
    tests.load(connection)
    load_events(connection, draw, roles, orders, tests)
    load_readouts(connection, draw, plan, roles, orders)
    if plan.answers:
        load_answers(connection, draw, orders)
    vins = orders["vin"][: orders["first"]].tolist()
    ends = times(orders["leaves"]).to_pylist()
    vehicles = [InView(vin, START, end) for vin, end in zip(vins, ends, strict=True)]
    planted = {kind: {str(names[s]) for s in shops} for kind, shops in roles.items()}
    factors = {str(n): float(f) for n, f in zip(names, orders["factor"], strict=True)}
    return Fleet(connection, planted, vehicles, factors)


def _roles(draw, plan, sizes):
    """Return the shops of each kind; those that are planted do not overlap."""
    order = [int(s) for s in draw.permutation(plan.shops)]
    wanted = {
        "invented": bool(plan.invented),
        "copied": bool(plan.copied),
        "stolen": bool(plan.stolen),
        "smooth": plan.smooth,
        "late": plan.late,
        "bad": plan.bad,
        "forked": plan.forked,
        "undelivered": plan.undelivered,
    }
    roles = {}
    for kind, number in wanted.items():
        roles[kind] = []
        for shop in [s for s in order if sizes[s] >= 250][: int(number)]:
            roles[kind].append(shop)
            order.remove(shop)
    roles["coarse"] = order[: plan.coarse]
    after = draw.permutation(order)
    roles["evening"] = [int(s) for s in after[: plan.evening]]
    handed = after[plan.evening : plan.evening + plan.handed_over]
    roles["handed over"] = [int(s) for s in handed]
    return roles


def _orders(draw, plan, sizes, roles):
    """Return the columns of all orders: first the repairs, then what came back."""
    shop = np.repeat(np.arange(plan.shops), sizes)
    first = len(shop)
    mix = draw.dirichlet(np.array([3, 3, 2, 2, 1.5]), plan.shops)
    edges = np.cumsum(mix, axis=1)[shop][:, :-1]
    group = (draw.random(first)[:, None] > edges).sum(axis=1)
    factor = np.exp(draw.normal(0, plan.honest_spread, plan.shops))
    factor[roles["bad"]] *= plan.bad_factor
    at = draw.uniform(0, YEARS, first)
    at = at[np.lexsort((at, shop))]  # each shop over both years, in order
    chance = np.clip(0.05 * np.array(FACTORS)[group] * factor[shop], 0, 0.9)
    back = at + np.maximum(DAY, draw.exponential(-180 * DAY / np.log1p(-chance)))
    leaves = at + draw.exponential(900 * DAY, first)
    seen = np.flatnonzero((back < leaves) & (back < YEARS))
    elsewhere = draw.random(len(seen)) < 0.2
    back_shop = np.where(elsewhere, draw.integers(0, plan.shops, len(seen)), shop[seen])
    vin = np.array([f"INVENTED{n:09d}" for n in range(first)])
    found = {
        "shop": np.concatenate([shop, back_shop]),
        "at": np.floor(np.concatenate([at, back[seen]])),
        "group": np.concatenate([group, group[seen]]),
        "vin": np.concatenate([vin, vin[seen]]),
        "first": first,
        "leaves": leaves,
        "factor": factor,
    }
    number = np.arange(len(found["shop"]))
    km = draw.integers(20_000, 200_000, first)
    drives = (40 * (back[seen] - at[seen]) / DAY).astype(int)
    found["odometer"] = np.concatenate([km, km[seen] + drives]) * 1000
    gone = np.isin(found["shop"], roles["undelivered"]) & (number % 5 < 2)
    found["is_here"] = ~gone
    return found
