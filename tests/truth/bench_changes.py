"""What sets of lies and honest jobs do to a bench test."""

from truth.bogus import Draft

MEASURED = ("method", "readings", "conditions", "instruments", "limit", "test")


def bench_test_of(d: Draft, part: str) -> dict:
    """Return the first bench test of a part."""
    return next(one for one in d.of("bench_test") if one["part"] == part)


def read_of(test: dict, name: str, **members: str) -> None:
    """Change the readings of a bench test that have this name."""
    found = [one for one in test["readings"] if one["name"] == name]
    assert found
    for one in found:
        one.update(members)


def told_anew(test: dict, /, **members) -> None:
    """Let a bench test be another one: nothing of what was measured is kept."""
    for name in MEASURED:
        test.pop(name, None)
    test |= members


def counted_times(**counts: str) -> list[dict]:
    """Return readings that are counts; ``_`` in a name stands for a space."""
    return [
        {"name": name.replace("_", " "), "value": value, "unit": "times"}
        for name, value in counts.items()
    ]


def swapped(d: Draft, *, at_new_place: str, at_old_place: str) -> None:
    """Let the coils of cylinders 3 and 2 change places, three tries at each.

    The misfire is seen so often at the new place of the suspected one, and at its old.
    """
    told_anew(
        d.old_test,
        setup="running",
        method="known-good-swap",
        test="coil of cylinder 3 put on cylinder 2, counts of both read",
        readings=counted_times(
            seen_before_swap="3",
            tries_before_swap="3",
            seen_at_new_place_of_part=at_new_place,
            tries_at_new_place_of_part="3",
            seen_at_old_place_of_part=at_old_place,
            tries_at_old_place_of_part="3",
        ),
        instruments=[],
    )
