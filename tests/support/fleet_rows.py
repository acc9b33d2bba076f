"""The rows of an invented fleet: its logs, orders, entries, readouts and answers."""

import numpy as np
import pyarrow as pa
from fleet_columns import DAY, load, random_digests, same, times

from auditkit.fleet import tables

CODES = ("P0401", "P0300", "P0420", "P0455", "P0128")
GROUPS = ("exhaust gas", "ignition", "catalyst", "fuel vapour", "cooling")
QUESTIONS = (
    *("fault-known", "part-explains", "part-at-fault", "test-reran", "test-passed"),
    *("fault-gone", "nothing-else", "same-vehicle", "order-of-time", "hazards-met"),
)
STRENGTHS = ("vehicle", "measured", "photographed", "typed", "word")
EVENTS = ("opening", "readout", "bench_test", "repair", "bench_test", "readout")
"""The entries of each order, in their order."""


def load_shops(connection, plan, names, roles, orders):
    shops = np.arange(plan.shops)
    delivered = np.bincount(orders["shop"][orders["is_here"]], minlength=plan.shops)
    written = np.bincount(orders["shop"], minlength=plan.shops)
    digest = [bytes([7] * 32)]
    load(
        connection,
        "collection",
        pa.table(
            {
                "format": [tables.FORMAT],
                "program": ["0"],
                "is_pseudonymous": [False],
                "rules_sha256": digest,
                "policy_sha256": digest,
                "keys_sha256": digest,
            }
        ),
    )
    load(
        connection,
        "log",
        pa.table(
            {
                "log_id": shops + 1,
                "origin": [f"shop{s + 1}.example" for s in shops],
                "key_id": [f"key-{s + 1}" for s in shops],
                "shop": names,
                "is_trusted": np.ones(plan.shops, bool),
                "opened_at": times(np.full(plan.shops, -DAY)),
                "largest_size": written * len(EVENTS) + 2,
                "entries_delivered": delivered * len(EVENTS) + 2,
                "is_forked": np.isin(shops, roles["forked"]),
            }
        ),
    )


def load_orders(connection, draw, orders):
    here = orders["is_here"]
    number = np.arange(len(here))[here]
    n, at = len(number), orders["at"][here]
    numbers = pa.array([f"RO-{i}" for i in number])
    load(
        connection,
        "packet",
        pa.table(
            {
                "packet_id": number,
                "sha256": random_digests(draw, n),
                "run_id": np.ones(n, np.int64),
                "path": pa.array([f"packets/RO-{i}.json" for i in number]),
                "bytes": np.full(n, 25_000),
                "log_id": orders["shop"][here] + 1,
                "order_id": number,
                "order_no": numbers,
                "is_verified": np.ones(n, bool),
            }
        ),
    )
    load(
        connection,
        "repair_order",
        pa.table(
            {
                "order_id": number,
                "log_id": orders["shop"][here] + 1,
                "order_no": numbers,
                "packet_id": number,
                "vin": orders["vin"][here],
                "vin_state": same("given", n),
                "vin_is_from_vehicle": np.ones(n, bool),
                "odometer_m": orders["odometer"][here],
                "odometer_text": pa.array(
                    [f"{m // 1000} km" for m in orders["odometer"][here]]
                ),
                "opened_at": times(at),
                "offset_min": np.zeros(n, np.int16),
                "first_repair_at": times(at + 3 * 3600),
                "last_repair_at": times(at + 3 * 3600),
                "closed_at": times(at + 6 * 3600),
                "verdict": same("proven", n),
                "signed_verdict": same("proven", n),
                "is_overstated": np.zeros(n, bool),
                "is_waiting": np.zeros(n, bool),
                "is_incomplete": np.zeros(n, bool),
            }
        ),
    )
    load(
        connection,
        "fault",
        pa.table(
            {
                "order_id": number,
                "module": same("7E8", n),
                "code": np.array(CODES)[orders["group"][here]],
                "kind": same("stored", n),
                "fault_group": np.array(GROUPS)[orders["group"][here]],
                "is_addressed": np.ones(n, bool),
                "verdict": same("proven", n),
                "attempts": np.ones(n, np.int32),
                "fixed_first": same("shown", n),
                "came_back_here": np.zeros(n, bool),
            }
        ),
    )


def load_events(connection, draw, roles, orders, tests):
    """Insert six entries of each order, with when they were written down."""
    here = orders["is_here"]
    number = np.arange(len(here))[here]
    shop, at = orders["shop"][here], orders["at"][here]
    late_share = draw.beta(2, 98, len(orders["factor"]))
    late_share[roles["late"]] = 0.5
    handed_over = at + 2 * DAY + draw.integers(0, 3600, len(number))
    for place, kind in enumerate(EVENTS):
        n = len(number)
        happened = at + 3600.0 * place
        if kind == "bench_test":
            happened = at + 3600.0 * (2 if place == 2 else 1)
        lag = draw.exponential(240, n)
        late = draw.random(n) < late_share[shop]
        lag = np.where(late, draw.uniform(1.05, 3, n) * DAY, lag)
        evening = np.isin(shop, roles["evening"]) & ~late
        until = np.ceil(happened / DAY) * DAY - draw.uniform(0, 2 * 3600, n)
        lag = np.where(evening, np.maximum(lag, until - happened), lag)
        at_once = np.isin(shop, roles["handed over"])
        lag = np.where(at_once, handed_over - happened, lag)
        if place == 2:
            made_up = tests.is_invented[here]
            lag = np.where(made_up, draw.uniform(1.05, 1.5, n) * DAY, lag)
        load(
            connection,
            "event",
            pa.table(
                {
                    "log_id": shop + 1,
                    "seq": number * len(EVENTS) + place,
                    "order_id": number,
                    "kind": same(kind, n),
                    "by_person": same("person-1", n),
                    "happened_at": times(happened),
                    "offset_min": np.zeros(n, np.int16),
                    "recorded_at": times(happened + lag),
                    "leaf": random_digests(draw, n),
                    "root": random_digests(draw, n),
                    "packet_id": number,
                }
            ),
        )


def load_readouts(connection, draw, plan, roles, orders):
    here = orders["is_here"]
    number = np.arange(len(here))[here]
    n = len(number)
    for place, bits in ((1, 400.0), (5, 40.0)):
        answers = [draw.bytes(32) for _ in range(n)]
        if place == 5:  # freshly cleared modules answer alike
            answers = [bytes([int(g)] * 32) for g in draw.integers(0, 6, n)]
        else:
            for shop in roles["stolen"]:
                own = np.flatnonzero(orders["shop"][here] == shop)
                taken = draw.choice(own, 2 * plan.stolen, replace=False)
                for to, source in taken.reshape(-1, 2):
                    answers[to] = answers[source]
        load(
            connection,
            "readout",
            pa.table(
                {
                    "order_id": number,
                    "log_id": orders["shop"][here] + 1,
                    "seq": number * len(EVENTS) + place,
                    "captured": times(orders["at"][here] + 3600.0 * place),
                    "tool": same("tool", n),
                    "is_typed": np.zeros(n, bool),
                    "vin_read": orders["vin"][here],
                    "answered_sha256": random_digests(draw, n),
                    "less_marks_sha256": pa.array(answers, pa.binary()),
                    "varying_bits": np.full(n, bits),
                }
            ),
        )


def load_answers(connection, draw, orders):
    number = np.flatnonzero(orders["is_here"])
    n = len(number)
    for question in QUESTIONS:
        strength = draw.choice(STRENGTHS, n, p=[0.4, 0.25, 0.1, 0.15, 0.1])
        load(
            connection,
            "answer",
            pa.table(
                {
                    "order_id": number,
                    "question": same(question, n),
                    "subject": same("order", n),
                    "answer": same("shown", n),
                    "strength": strength,
                    "because": same("", n),
                }
            ),
        )
