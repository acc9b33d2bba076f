"""When a repaired fault came back, and for how long it was followed."""

import pytest
from made_collection import Made, day

from auditkit.fleet.settings import Settings

ASKED = """SELECT code, state, came_back, days FROM followed_fault
    ORDER BY order_id, module, code"""


@pytest.fixture
def made():
    """A repair of day 0; all is known until day 100."""
    made = Made()
    made.fault(made.order("Shop 1", at=0))
    made.recorded(100)
    return made


def first(made, *, settings=None, vehicles=()):
    return made.ask(settings, vehicles)(ASKED)[0]


def test_it_is_followed_until_the_cut_off_at_most_for_the_horizon(made):
    assert first(made) == ("P0401", "followed", False, 100)
    assert first(made, settings=Settings(horizon_days=90))[3] == 90


def test_the_same_code_comes_back_at_any_shop(made):
    made.fault(made.order("Shop 2", at=41.5))
    assert first(made) == ("P0401", "followed", True, 41)


def test_a_code_of_its_group_and_module_is_related(made):
    made.fault(made.order("Shop 1", at=40), code="P0402")
    assert first(made)[2:] == (True, 40)


@pytest.mark.parametrize(
    "other",
    [
        {"code": "P0402", "module": "7E9"},
        {"code": "P0300", "fault_group": "ignition"},
        {"kind": "permanent", "is_addressed": False},
        {"kind": "other", "is_addressed": False},
    ],
)
def test_what_is_no_comeback(made, other):
    made.fault(made.order("Shop 1", at=40), **other)
    assert first(made)[2:] == (False, 100)


def test_a_code_that_is_not_repaired_again_comes_back_too(made):
    order = made.order("Shop 1", at=40)
    made.fault(order, is_addressed=False, set_aside_because="declined")
    assert first(made)[2:] == (True, 40)


@pytest.mark.parametrize(("shop", "is_back"), [("Shop 1", True), ("Shop 2", False)])
def test_made_by_a_test_is_believed_of_another_shop_alone(made, shop, is_back):
    order = made.order(shop, at=40)
    made.fault(order, is_addressed=False, set_aside_because="made-by-a-test")
    assert first(made)[2] is is_back


def test_a_code_of_no_group_is_related_to_itself_alone():
    made = Made()
    made.fault(made.order(at=0), code="B1000", fault_group="")
    made.fault(made.order(at=20), code="B1001", fault_group="")
    made.fault(made.order(at=30), code="B1000", fault_group="")
    made.recorded(100)
    assert first(made)[2:] == (True, 30)


@pytest.mark.parametrize("at", [-40, 0, 190])
def test_earlier_equal_and_too_late_visits_are_none(at):
    made = Made()
    made.fault(made.order(at=0))
    made.fault(made.order(at=at))
    made.recorded(300)
    assert made.ask()(ASKED)[0][2:] == (False, 180)


def test_a_visit_without_any_code_ends_nothing(made):
    made.order("Shop 1", at=30)
    assert first(made)[2:] == (False, 100)


def test_a_withheld_vin_cannot_be_followed():
    made = Made()
    made.fault(made.order(vin=None, vin_state="withheld"))
    made.recorded(100)
    assert first(made)[1] == "no VIN"


@pytest.mark.parametrize("at", [101, 4000])
def test_a_repair_after_the_cut_off_has_no_time(at):
    made = Made()
    made.fault(made.order(at=at))
    made.recorded(100)
    assert first(made)[1] == "no time"


def test_without_any_entry_there_is_no_time():
    made = Made()
    made.fault(made.order())
    assert first(made)[1] == "no time"


class TestRegister:
    ASKED = "SELECT state, came_back, days, left_view FROM followed_fault"

    def asked(self, made, *vehicles):
        return made.ask(vehicles=vehicles)(f"{self.ASKED} ORDER BY order_id")[0]

    def test_it_ends_where_the_vehicle_left(self, made):
        found = self.asked(made, ("VIN1", day(-9), day(50)))
        assert found == ("followed", False, 50, True)

    def test_a_comeback_after_that_is_not_seen(self, made):
        made.fault(made.order("Shop 2", at=60))
        assert self.asked(made, ("VIN1", day(-9), day(50))) == (
            *("followed", False, 50, True),
        )

    def test_a_vehicle_without_an_end_stays_in_view(self, made):
        found = self.asked(made, ("VIN1", None, None))
        assert found == ("followed", False, 100, False)

    @pytest.mark.parametrize(
        "vehicle",
        [("VIN2", None, None), ("VIN1", day(5), None), ("VIN1", None, day(-1))],
    )
    def test_others_are_not_of_this_register(self, made, vehicle):
        assert self.asked(made, vehicle)[0] == "not in the register"

    def test_the_period_of_the_repair_counts(self, made):
        found = self.asked(
            made, ("VIN1", day(-90), day(-50)), ("VIN1", day(-9), day(50))
        )
        assert found[2] == 50


@pytest.mark.parametrize(("repaired_again", "back"), [(20, True), (-3, False)])
def test_an_opening_that_is_dated_back_hides_no_second_repair(repaired_again, back):
    made = Made()
    made.fault(made.order(at=0))
    made.fault(made.order(at=-5, first_repair_at=day(repaired_again)))
    made.recorded(100)
    found = made.ask()("SELECT came_back, days FROM followed_fault ORDER BY order_id")
    assert found[0] == ((True, 20) if back else (False, 100))


class TestRepairedAgain:
    """An order to which more was written after its fault had come back."""

    def asked(self, *repaired_at, at=0, last=50, settings=None, back=((40, {}),)):
        made = Made()
        order = made.order(at=at, last_repair_at=day(last))
        made.fault(order, repaired_at=[day(one) for one in repaired_at])
        for opened, values in back:
            made.fault(made.order("Shop 2", at=opened), **values)
        made.recorded(400)
        return made.ask(settings)("""SELECT came_back, days, CAST(done_at AS DATE)
            FROM followed_fault WHERE order_id = 1""")[0]

    def test_a_repair_for_something_else_starts_no_new_time(self):
        assert self.asked(0) == (True, 40, day(0).date())

    def test_a_repair_that_is_appended_hides_no_comeback(self):
        assert self.asked(0, 50) == (True, 40, day(0).date())

    def test_the_time_starts_at_the_last_repair_before_it(self):
        assert self.asked(0, 20, 50) == (True, 20, day(20).date())

    def test_what_never_came_back_is_followed_from_the_last_repair(self):
        assert self.asked(0, 20, back=()) == (False, 180, day(20).date())

    def test_a_sign_beyond_the_horizon_hides_none_within_it(self):
        found = self.asked(0, 210, last=210, back=((200, {}), (220, {})))
        assert found == (True, 10, day(210).date())

    def test_it_is_seen_where_a_readout_holds_it(self):
        """An opening is dated back, and nothing is repaired: the readout stands."""
        seen = {"is_addressed": False, "attempts": 0, "seen_at": [day(-5), day(40)]}
        assert self.asked(0, back=((-5, seen),)) == (True, 40, day(0).date())


class TestDistance:
    ASKED = """SELECT came_back, days, km, came_back_km, km_is_read
        FROM followed_fault ORDER BY order_id"""

    def asked(self, *visits, settings=None):
        made = Made()
        for at, km, code in visits:
            order = made.order(at=at, odometer_m=km and km * 1000)
            if code:
                made.fault(order, code=code)
        made.recorded(100)
        return made.ask(settings)(self.ASKED)[0]

    def test_it_is_read_where_both_visits_have_it(self):
        found = self.asked((0, 50_000, "P0401"), (40, 52_345, "P0401"))
        assert found == (True, 40, 2345, True, True)

    def test_it_is_no_comeback_beyond_the_horizon(self):
        found = self.asked((0, 50_000, "P0401"), (40, 61_000, "P0401"))
        assert found == (False, 100, 10_000, False, True)

    def test_it_is_estimated_by_the_vehicles_own_visits(self):
        # 40 km a day over 50 days, then until the cut-off on day 100.
        found = self.asked((0, 50_000, "P0401"), (50, 52_000, None))
        assert found == (False, 100, 4000, False, False)

    def test_an_odometer_that_could_not_be_driven_hides_no_comeback(self):
        found = self.asked((0, 50_000, "P0401"), (3, 90_000, "P0401"))
        assert (found[0], found[1], found[4]) == (True, 3, False)

    def test_an_odometer_that_went_back_says_nothing(self):
        found = self.asked((0, 50_000, "P0401"), (40, 49_000, "P0401"))
        assert found == (True, 40, None, None, False)

    def test_without_an_odometer_there_is_none(self):
        found = self.asked((0, None, "P0401"), (40, 61_000, "P0401"))
        assert found == (True, 40, None, None, False)


def test_ages_come_in_three_bands():
    made = Made()
    for year in (2027, 2026, 2022, 2021, 2016, 1990, None):
        made.fault(made.order(model_year=year))
    found = made.ask()("SELECT age_band FROM followed_fault ORDER BY order_id")
    assert [band for (band,) in found] == [0, 0, 0, 1, 2, 2, None]
