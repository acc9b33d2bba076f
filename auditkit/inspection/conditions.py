"""What a jurisdiction looks at beside readiness: connector, lamp, codes, VIN. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from auditkit.inspection.heard import CODE_SERVICES, Heard, counted, heard, listed
from auditkit.inspection.jurisdiction import Condition, Jurisdiction, PermanentRule
from auditkit.inspection.reasons import A, Case, Connector, Lamp, Reason, undecided
from auditkit.inspection.vehicle import vin_differs
from auditkit.obd.parameters import DISTANCE, WARM_UPS
from auditkit.obd.responders import module_in_words

_LAMP_AND_CODES = "read engine lamp and stored codes (PID 01, service 03)"
_BROKEN = {Connector.MISSING, Connector.TAMPERED, Connector.INOPERABLE}


def condition_reasons(case: Case, rules: Jurisdiction) -> Iterator[Reason]:
    """Yield what each condition of the rules says, readiness left out."""
    yield from _connector(case, rules)
    yield from _lamp(case, rules)
    if rules.bulb is not None:
        yield _bulb(case.seen.bulb, rules.bulb)
    if rules.lamp_running is not None:
        yield _running(case.seen.running, rules.lamp_running)
    if rules.codes is not None:
        yield from _codes(case, rules.codes)
    if rules.vin is not None:
        yield from _vin(case, rules.vin)
    if rules.permanent is not None:
        yield from _permanent(case, rules.permanent)


def _connector(case: Case, rules: Jurisdiction) -> Iterator[Reason]:
    found = case.seen.connector
    if rules.connector is not None and found in _BROKEN:
        source = rules.connector.source
        yield Reason(rules.connector.answer, f"the connector is {found}", source)
    if case.modules or not case.readout.requests or not rules.reads_vehicle:
        return
    text = "no module answered anything"
    if rules.communication is not None:
        source = rules.communication.source
        yield Reason(rules.communication.answer, text, source)
    else:
        again, option = "ask again with the ignition on", ""
        if found is Connector.NOT_LOOKED:
            again, option = f"look at the connector, and {again}", "--connector"
        yield undecided(text, again, None, option)


def _lamp(case: Case, rules: Jurisdiction) -> Iterator[Reason]:
    rule, readout = rules.lamp, case.readout
    if rule is None:
        return
    if not readout.mil:
        text = "whether the lamp is commanded on was not read (PID 01)"
        yield undecided(text, "read lamp and readiness (PID 01)", rule.source)
        return
    on = [who for who, is_on in readout.mil if is_on]
    if not on:
        yield Reason(A.ACCEPT, "the lamp is not commanded on", rule.source)
        return
    by = " and ".join(module_in_words(who) for who in on)
    text = f"the lamp is commanded on by {by}"
    has_code = any(counted(readout, w) for w in on) or listed(readout, "confirmed")
    if rule.needs_code and not has_code:
        text += ", and no stored code is counted or listed: the rule asks for one"
        yield undecided(text, f"{_LAMP_AND_CODES} again", rule.source)
    else:
        yield Reason(rule.answer, text, rule.source)
    if rules.lamp_dark is not None and case.seen.running is Lamp.DARK:
        text = "the lamp is commanded on, and was seen dark with the engine running"
        yield Reason(rules.lamp_dark.answer, text, rules.lamp_dark.source)


def _bulb(seen: Lamp, rule: Condition) -> Reason:
    where = "with key on and engine off"
    if seen is Lamp.NOT_LOOKED:
        text = f"nobody looked whether the lamp lights {where}"
        what_to_do = f"look at the lamp {where}"
        return undecided(text, what_to_do, rule.source, "--lamp")
    if seen is Lamp.DARK:
        text = f"the lamp stayed dark {where}"
        what_to_do = "ask the station" if rule.answer is A.UNDECIDED else ""
        return Reason(rule.answer, text, rule.source, what_to_do)
    return Reason(A.ACCEPT, f"the lamp lit {where}", rule.source)


def _running(seen: Lamp, rule: Condition) -> Reason:
    where = "with the engine running"
    if seen is Lamp.NOT_LOOKED:
        text = f"nobody looked at the lamp {where}"
        what_to_do = f"look at the lamp {where}"
        return undecided(text, what_to_do, rule.source, "--lamp-running")
    answer = A.ACCEPT if seen is Lamp.DARK else rule.answer
    return Reason(answer, f"the lamp was {seen} {where}", rule.source)


def _lost(case: Case, kind: str) -> Iterator[tuple[str, str]]:
    """Yield in words whose codes of a kind were not read, and what to do."""
    service = CODE_SERVICES[kind]
    for who in case.modules:
        state = heard(case.readout, who, service, is_typed=case.is_typed)
        if state is not Heard.READ:
            again = f"read the {kind} codes again (service {service})"
            if kind == "permanent" and state is not Heard.UNREADABLE:
                again += "; a module of 2010 to 2012 may not know them: ask the station"
            if case.is_typed:
                again = f"type the {kind} codes as displayed, an empty list for none"
            yield f"{kind} codes of {module_in_words(who)}: {state}", again


def _codes(case: Case, rule: Condition) -> Iterator[Reason]:
    readout = case.readout
    if found := listed(readout, "confirmed"):
        text = f"stored codes are reported: {', '.join(found)}"
        yield Reason(rule.answer, text, rule.source)
        return
    missing = list(_lost(case, "stored"))
    for text, what_to_do in missing:
        yield undecided(text, what_to_do, rule.source)
    for who in case.modules:
        if count := counted(readout, who):
            text = f"{module_in_words(who)} counts {count} stored, and lists none"
            again = f"{_LAMP_AND_CODES} again, until they agree"
            yield undecided(text, again, rule.source)
            missing.append((text, again))
    if not missing and case.modules:
        yield Reason(A.ACCEPT, "no stored code is reported", rule.source)


def _vin(case: Case, rule: Condition) -> Iterator[Reason]:
    year, vin = case.vehicle.model_year, case.vehicle.vin
    if year is None or year < rule.first_year:
        return
    if vin_differs(case.readout, vin):
        text = f"the VIN in the data, {case.readout.vin}, is not the vehicle's, {vin}"
        yield Reason(rule.answer, text, rule.source, "find out why, then read it again")
    elif case.readout.vin is None and rule.answer is A.FAIL:
        text = "the VIN in the data was not read"
        yield undecided(text, "read the VIN (02 of service 09)", rule.source)


def _permanent(case: Case, rule: PermanentRule) -> Iterator[Reason]:
    year = case.vehicle.model_year
    if year is None or year < rule.first_year:
        return
    missing = list(_lost(case, "permanent"))
    for text, what_to_do in missing:
        yield undecided(text, what_to_do, rule.source)
    holders = [w for w in case.modules if listed(case.readout, "permanent", w)]
    for who in holders:
        yield _kept(case, rule, who)
    if not holders and not missing and case.modules:
        yield Reason(A.ACCEPT, "no permanent code", rule.source)


def _kept(case: Case, rule: PermanentRule, who: str) -> Reason:
    """Return what a module's permanent codes lead to, by its own counts."""
    codes = ", ".join(listed(case.readout, "permanent", who))
    text = f"permanent {codes} of {module_in_words(who)}"
    need = f"{rule.warm_ups} warm-ups and {rule.distance_km} km since the clear"
    warm, far = (_own_or_least(case, who, pid) for pid in (WARM_UPS, DISTANCE))
    if any(on for _, on in case.readout.mil):
        return Reason(A.FAIL, f"{text}, not exempt while the lamp is on", rule.source)
    if warm is None or far is None:
        lacks = " and ".join(
            f"{name} since the clear (PID {pid})"
            for name, pid, count in (
                ("warm-ups", WARM_UPS, warm),
                ("distance", DISTANCE, far),
            )
            if count is None
        )
        text += f": exempt only after {need}, and that was not read"
        return undecided(text, f"read {lacks} of {who}", rule.source)
    have = f"{warm:f} warm-ups and {far:f} km; needed: {need}"
    if warm >= rule.warm_ups and far >= rule.distance_km:
        return Reason(A.ACCEPT, f"{text}, exempt: {have}", rule.source)
    return Reason(A.FAIL, f"{text}, not exempt: {have}", rule.source)


def _own_or_least(case: Case, who: str, pid: str) -> Decimal | None:
    """Return a module's own count, else the least that any module gives."""
    found = {
        v.responder: v.value
        for v in case.readout.values
        if (v.service, v.id) == ("01", pid) and v.value is not None
    }
    return found.get(who, min(found.values(), default=None))
