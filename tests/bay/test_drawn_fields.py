"""A field looks as it was answered, whatever was drawn before it."""

import pytest
from truth.jobs import CATALOGUE

from auditkit.bay.field import FieldKind
from auditkit.bay.fields import fields_of, kinds_asked
from auditkit.bay.pages.draw import _Drawn, _templates

METHODS = sorted(CATALOGUE.bench_tests)
ASKED = [(kind, {}) for kind in kinds_asked(CATALOGUE)]
ASKED += [("bench_test", {"method": method}) for method in METHODS]


@pytest.fixture(scope="module")
def draw():
    """Return what draws a field, with answers, problems and what empty ones mean."""
    template = _templates().get_template("fields.html")

    def drawn(field, values=(), problems=(), left=()):
        made = template.make_module({"left_empty": dict(left)})
        return str(made.field(field, dict(values), dict(problems)))

    return drawn


@pytest.mark.parametrize(("kind", "steering"), ASKED)
def test_each_field_shows_its_own_answers_after_it_was_drawn_empty(
    kind, steering, draw
):
    for field in fields_of(kind, CATALOGUE, steering):
        key = field.key
        empty = draw(field)
        assert "A slip" in draw(field, problems={key: "A slip: mend it"}), key
        if field.units and field.kind is FieldKind.QUANTITY:
            answer = {f"{key}.value": "17.25", f"{key}.unit": field.units[-1][0]}
            shown = draw(field, answer)
            assert 'value="17.25"' in shown, key
            assert f'value="{field.units[-1][0]}" selected' in shown, key
        elif field.choices or field.units:
            last = (field.choices or field.units)[-1][0]
            shown = draw(field, {key: last})
            assert f'value="{last}" checked' in shown or (
                f'value="{last}" selected' in shown
            ), key
        elif field.kind in {FieldKind.TEXT, FieldKind.AREA, FieldKind.NUMBER}:
            assert "19 typed" in draw(field, {key: "19 typed"}), key
        if field.kind is FieldKind.LIST and field.fields[0].path:
            assert f'name="{key}.0.' in draw(field, values={"more": key}), key
        assert draw(field, {"another": "answer"}, {"another": "slip"}) == empty, key


def test_what_an_empty_answer_stands_for_is_told_each_time(draw):
    field = next(f for f in fields_of("repair", CATALOGUE) if f.key == "part_number")
    for said in ("12 km", "13 km"):
        assert f"(left empty: {said})" in draw(field, left={field.key: said})
    assert "left empty" not in draw(field)


@pytest.mark.parametrize("method", ["", *METHODS])
def test_a_bench_test_says_what_it_lacks_where_a_field_is_left_empty(method, draw):
    fields = {f.key: f for f in fields_of("bench_test", CATALOGUE, {"method": method})}
    for key in {
        *("of", "setup", "method", "instruments", "result.value"),
        *(f"limit.{name}" for name in ("minimum", "maximum", "unit", "source")),
    } & {*fields}:
        assert "(optional)" not in draw(fields[key]), key
    measured = "needed to count as measured" in draw(fields["instruments"])
    assert measured == bool(method)
    assert "needed to count as measured" in draw(fields["method"])


def test_what_somebody_typed_is_not_remembered(draw):
    drawn = _templates().globals["as_drawn"]
    assert isinstance(drawn, _Drawn)
    field = next(f for f in fields_of("diagnosis", CATALOGUE) if f.key == "reasoning")
    draw(field, {"reasoning": "words of a customer"})
    assert "words of a customer" not in repr(drawn._known)


def test_no_more_fields_are_remembered_than_fit(draw, monkeypatch):
    monkeypatch.setattr("auditkit.bay.pages.draw._REMEMBERED", 3)
    drawn = _templates().globals["as_drawn"]
    drawn._known.clear()
    fields = fields_of("opening", CATALOGUE)
    for field in fields:
        draw(field)
        assert 0 < len(drawn._known) <= 3
    assert len(fields) > 3
