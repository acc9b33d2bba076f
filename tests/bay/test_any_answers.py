"""Whatever is answered, an event comes of it or it is said what is wrong, and where."""

from functools import cache

from hypothesis import given
from hypothesis import strategies as st

from auditkit.bay.fields import every_field, kinds_asked
from auditkit.bay.filled import event_of, problems_of
from auditkit.order.schema import validate_event
from auditkit.plugin.loading import load_canon

CATALOGUE = load_canon()
NOW = {"at": "2026-03-02T10:30:00+01:00", "by": "tech-a"}
TEXTS = st.sampled_from(
    [
        *("", " ", "none", "yes", "no", "maybe", "0", "-1", "7", "2012", "9" * 40),
        *(
            "18.0 inHg",
            "over 40 MΩ",
            "under 0.1 ohm",
            "OL",
            "6,5 V",
            ".5 V",
            "5",
            "5 %",
        ),
        *("1e5 V", "- V", "over", "over V", "19 °C", "19 C", "27 km", "27 miles"),
        *("09:55", "25:99", "2026-02-30 10:00", "2026-03-02T09:30:00+01:00", "noon"),
        *("P0401", "p0401, P0420", "0ZZTB1A18CA000123", "egr-valve", "EGR valve", "\n"),
        *("replaced", "typed", "raw", "spark", "declined", "winding", "hot-exhaust"),
        *("egr", "\u202etxet", "\x00", "a" * 5000, "½", "١٢", '{"value": "1"}'),
    ]
)
ROWS = st.sampled_from(
    ["", ".0", ".1", ".007", ".99999999999999999999", ".x", "..", "."]
)


def keys(fields, base=""):
    """Yield the keys of fields and of their rows, and some that are near them."""
    for field in fields:
        key = f"{base}{field.key}"
        yield key
        for row in ("0", "3") if field.fields else ():
            yield from keys(field.fields, f"{key}.{row}.")
        yield from (f"{key}.value", f"{key}.unit")


@cache
def all_keys(kind, method, caution, inner):
    steering = {"method": method, "caution": caution, "event.kind": inner}
    return list(keys(every_field(kind, CATALOGUE, steering)))


@given(st.sampled_from(kinds_asked(CATALOGUE)), st.data())
def test_whatever_is_answered(kind, data):
    steering = {
        "method": data.draw(st.sampled_from(["", *CATALOGUE.bench_tests])),
        "caution": data.draw(st.sampled_from(["", *CATALOGUE.cautions])),
        "event.kind": data.draw(st.sampled_from(["", *kinds_asked(CATALOGUE)])),
    }
    asked = all_keys(kind, *steering.values())
    near = st.builds("".join, st.tuples(st.sampled_from(asked), ROWS))
    answers = data.draw(st.dictionaries(near | st.text(max_size=5), TEXTS, max_size=12))
    answers |= {name: value for name, value in steering.items() if value}
    event = event_of(kind, answers, CATALOGUE, **NOW)
    problems = problems_of(kind, answers, CATALOGUE, **NOW)
    assert {name: event[name] for name in NOW} == NOW
    assert event["kind"] == kind
    assert all(p.message and p.what_to_do for p in problems), problems
    if not problems:
        assert validate_event(event, CATALOGUE.events) == []
