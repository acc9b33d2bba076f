"""Twenty more bogus records of the plainer kind, in the form of the second fifty.

The first run: 18 of 20 as expected. One came out proven by a hole, which was mended:
the joint that was ruled out was another car's. One was no lie: what was acknowledged
for the bench test stood when the work began.
"""

from truth.bench_changes import bench_test_of
from truth.bogus import (
    AT_FAULT,
    ELSE,
    EXPLAINS,
    GONE,
    HAZARDS,
    PASSED,
    RERAN,
    SAME,
    TIME,
    edit,
    with_bytes,
    with_codes,
    with_test,
    without,
)
from truth.changes import (
    answered,
    recorder,
    status_is,
)
from truth.jobs import at
from truth.named_jobs import (
    ATTEMPTS,
    BUS,
    CAP,
    CAT,
    COIL,
    EGR,
    HEALED,
    INJECTOR,
    LEAN,
    NEWER,
    PERM,
    THERMO,
)
from truth.said import word

LIES: list[tuple] = []
TWISTS: list[tuple] = []
lie, twist = recorder(LIES, TWISTS)
GAP = "39: repaired by adjustment"


@lie(EGR, GONE)
def permanent_since_the_repair(d):
    edit(d.after, lambda s: with_codes(s, "0A", "7E8", ["P0401"]))


@lie(CAP, AT_FAULT, typed=True)
def limit_from_a_blank_source(d):
    d.old_test["limit"]["source"] = " "


@lie(CAT, AT_FAULT)
def catalyst_was_inside_its_limits(d):
    edit(d.before, lambda s: with_test(s, 0, lambda p: p[:4] + word(12500) + p[6:]))


@lie(CAT, AT_FAULT)
def joint_tested_is_another_car_s(d):
    joint = bench_test_of(d, "exhaust-joint")
    joint["of"] = "known-good"


@lie(THERMO, PASSED)
def limit_read_in_fahrenheit(d):
    d.new_test["limit"]["unit"] = "degF"
    d.new_test["readings"][0]["unit"] = "degF"
    d.new_test["instruments"][0]["specification"]["unit"] = "degF"


@lie(HEALED, PASSED, ELSE)
def lamp_lit_by_two_codes(d):
    edit(d.before, lambda s: with_codes(s, "03", "7E8", ["P0340", "P0113"]))
    edit(d.before, lambda s: with_bytes(s, "0101", b"\x82\x07\xe5\x00"))


@lie(ATTEMPTS, PASSED)
def still_misfires_after_the_valve(d):
    edit(d.after, lambda s: with_test(s, 0, lambda p: p[:4] + word(12) + p[6:]))


@lie(BUS, PASSED, GONE)
def failed_since_the_clear(d):
    edit(d.after, lambda s: status_is(s, "U0100", 0x20))


@lie(GAP, PASSED)
def gap_left_at_its_limit(d):
    d.new_test["readings"][0]["value"] = "1.5"


@lie(EGR, GONE, way="screen")
def display_shows_it_pending(d):
    d.after["typed"]["modules"][0]["pending"] = ["P0401"]


@lie(EGR, HAZARDS)
def another_did_the_work(d):
    d.of("repair")[0]["by"] = "mechanic-2"


@lie(LEAN, RERAN, PASSED)
def read_while_coasting(d):
    edit(d.after, lambda s: with_bytes(s, "0104", b"\x05"))


@lie(INJECTOR, AT_FAULT)
def burette_of_two_hundred_millilitres_a_step(d):
    d.old_test["instruments"][0]["specification"]["resolution"] = "200"


@lie(COIL, AT_FAULT)
def over_range_short_of_the_limit(d):
    d.old_test["limit"]["maximum"] = "50000"


@lie(EGR, EXPLAINS, AT_FAULT, ELSE)
def the_other_valve_was_replaced(d):
    d.of("repair")[0]["part"] = "egr-valve-of-bank-2"


@lie(EGR, SAME)
def calibrations_not_read_again(d):
    edit(d.after, lambda s: without(s, "0904", "0906"))


@lie(PERM, GONE)
def stored_again_with_the_lamp_off(d):
    edit(d.after, lambda s: with_codes(s, "03", "7E8", ["P0128"]))
    edit(d.after, lambda s: with_bytes(s, "0101", b"\x01\x07\xe5\x00"))


@lie(EGR, TIME, PASSED, RERAN)
def six_hundred_kilometres_and_sixty_since_the_clear(d):
    edit(d.after, lambda s: with_bytes(s, "01A6", word(1203450 + 6000, 4)))


@lie(NEWER, SAME)
def vin_refused_by_the_newer_service(d):
    answered(d.after, "22F802", "7E8 03 7F 22 31 AA AA AA AA")


@twist(EGR)
def work_began_once_the_test_was_done(d):
    """At first among the lies: the cautions of the bench test still stood."""
    d.of("repair")[0]["started"] = at("09:16")
