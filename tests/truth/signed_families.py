"""Families of lies outside the record: in a plugin, a policy, or what was signed.

All but the first are signed and read as packets: the shop judges as it likes, and the
reader judges again. ``Family.where`` says which of them no packet alone can show.
"""

from dataclasses import replace

from auditkit.order.findings import Shown
from auditkit.order.policy import parse_policy
from auditkit.order.questions import Question
from auditkit.order.rule import Rule
from truth.bogus import (
    AT_FAULT,
    ELSE,
    EXPLAINS,
    FAMILIES,
    GONE,
    HAZARDS,
    KNOWN,
    PASSED,
    SAME,
    Draft,
    family,
    move,
)
from truth.packets import PERSON, Signing


def _fits_one_log(d):
    """Return whether one person did it all, and no picture lies beside the log."""
    return {e["by"] for e in d.events} == {PERSON} and not d.of("attachment")


def _also(d, name, variant):
    """Tell the lie of another family in the record."""
    return FAMILIES[name].change(d, variant)


PLUGIN = "plugin that shows"


def _shows_all(order, parameters):
    """Finds nothing, and shows whatever is asked.

    What it checks
    Nothing.

    Why it matters
    It does not.

    Example
    Any.

    What to do
    Leave it out.
    """
    for question in Question:
        yield Shown("all is well", (0,), question=str(question))


SHOWS_ALL = Rule("all-is-well", _shows_all, questions=tuple(map(str, Question)))
UNSHOWN = {
    "never_reported": KNOWN,
    "no_test": AT_FAULT,
    "no_readout_after": GONE,
    "vin_left_out": SAME,
    "other_code_before": ELSE,
}
"""Families in which something is not shown, and nothing speaks against it."""


def _with_plugin(catalogue):
    makers = {**catalogue.makers, SHOWS_ALL.name: "a shop's own"}
    return replace(catalogue, rules=(*catalogue.rules, SHOWS_ALL), makers=makers)


@family(PLUGIN, *UNSHOWN.values(), variants=tuple(UNSHOWN))
def plugin_shows_it(d, name):
    """The reader has the shop's plugin too, and no policy that names its rule."""
    d.catalogue = _with_plugin(d.catalogue)
    return _also(d, name, FAMILIES[name].variants[0])


def _policy(text):
    return parse_policy(f'format = "auditkit/policy@1"\n{text}\n')


@family(PLUGIN, *UNSHOWN.values(), variants=tuple(UNSHOWN), few=True)
def signed_by_a_plugin(d, name):
    """The shop's policy names its rule, which is so heard, and the shop signs that."""
    heard = _policy(f"[rules.{SHOWS_ALL.name}]")
    d.signing = Signing(heard, _with_plugin(d.catalogue))
    return _fits_one_log(d) and _also(d, name, FAMILIES[name].variants[0])


LAX = "lax policy or parameter"
UNASKED = {
    "never_reported": KNOWN,
    "another_system": EXPLAINS,
    "good_then_faulty": AT_FAULT,
    "cautions_after_the_step": HAZARDS,
}
"""Families of plain lies, each with the question that a policy may leave unasked."""


@family(LAX, *UNASKED.values(), variants=tuple(UNASKED), few=True)
def signed_without_asking(d, name):
    d.signing = Signing(_policy(f'not_asked = ["{UNASKED[name]}"]'))
    return _fits_one_log(d) and _also(d, name, FAMILIES[name].variants[0])


OFF = {
    "vehicle-marks-differ": ("built_otherwise", "011C"),
    "count-went-back": ("counters_back", None),
    "answers-differ": ("answered_twice", "07"),
    "vin-differs": ("result_of_a_twin", "0ZZTB1A1XCA000124"),
    "caution-lapsed": ("caution_long_before", "in the morning"),
}
"""Rule that a shop leaves out -> the lie that it then signs as proven."""


@family(LAX, SAME, GONE, HAZARDS, variants=tuple(OFF), few=True)
def signed_without_a_rule(d, rule):
    d.signing = Signing(_policy(f"[rules.{rule}]\nrun = false"))
    return _fits_one_log(d) and _also(d, *OFF[rule])


@family(LAX, SAME, GONE, HAZARDS, variants=tuple(OFF), few=True)
def signed_with_a_rule_as_advice(d, rule):
    d.signing = Signing(_policy(f'[rules.{rule}]\nseverity = "advisory"'))
    return _fits_one_log(d) and _also(d, *OFF[rule])


@family(LAX, AT_FAULT, typed=True, few=True)
def signed_with_a_lax_parameter(d, _):
    """An instrument that nobody checks for a hundred years is good enough for them."""
    lax = "[rules.instrument-out-of-calibration.parameters]\ndays = 99999"
    d.signing = Signing(_policy(lax))
    return _fits_one_log(d) and _also(d, "interval_without_end", None)


LIES = {
    "no_test": AT_FAULT,
    "fault_back": GONE,
    "twin_vehicle": SAME,
    "no_readout_after": PASSED,
}
"""Families of plain lies, to be signed as if they were none, and what falls."""
BETTER = "signed verdict or statement that the evidence does not bear out"


def _proven(verdict):
    faults = [{**one, "verdict": "proven"} for one in verdict["faults"]]
    return {**verdict, "verdict": "proven", "findings": [], "faults": faults}


def _without_rules(verdict):
    return {**_proven(verdict), "rules": []}


def _faults_alone(verdict):
    return {**verdict, "faults": _proven(verdict)["faults"]}


def _statement_alone(verdict):
    first, *rest = verdict["statement"]
    order = first.partition(" is ")[0]
    return {**verdict, "statement": [f"{order} is proven: all is well.", *rest]}


def _line_of_the_fault(verdict):
    first, *rest = verdict["statement"]
    return {
        **verdict,
        "statement": [
            first,
            *(
                f"{line.rpartition(': ')[0]}: proven."
                if line.startswith("Repair of ")
                else line
                for line in rest
            ),
        ],
    }


def signs(kind, patch):
    """Add a family in which plain lies are signed with a verdict event of their own."""

    def change(d, name):
        d.signing = Signing(patch=patch)
        return _fits_one_log(d) and _also(d, name, FAMILIES[name].variants[0])

    change.__name__ = f"signed{patch.__name__}"
    family(kind, *LIES.values(), variants=tuple(LIES), few=True)(change)


for each in (_proven, _faults_alone, _statement_alone, _line_of_the_fault):
    signs(BETTER, each)
signs("empty list of rules", _without_rules)


@family("adverse event in a form no schema accepts", *LIES.values(), few=True)
def in_no_form(d, _):
    """It stalled, and a road test says so by a member that no reader knows."""
    drive = d.of("road_test")[-1]
    d.put({**drive, "stalled": "twice, on the hill"}, after=drive)
    d.signing = Signing()
    return _fits_one_log(d)


# What the shop keeps to itself: the record is honest, and its reader cannot know.
READ = (
    "readout.raw",
    "bench_test.readings",
    "bench_test.limit",
    "diagnosis.codes",
    "repair.part",
    "caution.preconditions",
    "opening.vehicle",
)


@family("evidence withheld", KNOWN, GONE, AT_FAULT, HAZARDS, variants=READ, few=True)
def withheld(d, path):
    d.signing = Signing(_policy(f'withhold = ["{path}"]'))
    return _fits_one_log(d)


@family("evidence erased", KNOWN, GONE, AT_FAULT, HAZARDS, variants=READ, few=True)
def erased(d, path):
    member = path.partition(".")[2]
    d.signing = Signing(_policy(f'withhold = ["{path}"]'), erase=(member,))
    return _fits_one_log(d)


# What no packet can show alone.


@family(
    "contradicted on Monday, proven on Tuesday under another number",
    where="log",
    few=True,
)
def proven_on_tuesday(d, _):
    """The first order of this vehicle and code came to nothing, and is not shown."""
    monday = Draft(d.name)
    _also(monday, "fault_back", "03")
    for one in monday.events:
        move(one, days=-7)
    d.signing = Signing(earlier=tuple(monday.events))
    return _fits_one_log(d)


@family("adverse event in another order", where="log", few=True)
def failed_readout_in_another_order(d, _):
    """The readout that held the fault still was put where nobody looks."""
    failed = {**d.before, "at": d.of("code_clear")[-1]["at"]}
    opening = dict(d.of("opening")[0])
    d.signing = Signing(earlier=(opening, {**failed, "captured": failed["at"]}))
    return _fits_one_log(d)


@family("two histories of one log", where="collection", few=True)
def in_a_second_history(d, _):
    """A log that was begun, and went on from its beginning twice."""
    d.signing = Signing()
    return _fits_one_log(d)
