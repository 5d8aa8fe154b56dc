"""Why an operation on a unit is refused, one rule a kind; a rule that returns has nothing against it.

Rules change nothing. They are asked with the unit as it stands; what an operation then does is `unit_steps`.
"""

import re
from collections.abc import Sequence

from qc.domain.facts.refusals import Refusal
from qc.domain.facts.rule_set import FAILURES_STAND, PLACES_IN_ONE_LINE, ROLES_TOGETHER
from qc.domain.line.proposal import Proposal
from qc.domain.plant.chassis import chassis_fault, number_fault, numbers_of
from qc.domain.plant.judging import implausible, is_lower, result_fault, tells_failure, told_reading
from qc.domain.plant.naming import Names
from qc.domain.plant.plant import Test
from qc.domain.unit.folding import Folding
from qc.domain.unit.origins import objection
from qc.domain.unit.own_cause import DISPUTE, own_cause
from qc.domain.unit.release import Blocker, blockers, cancelled_words, open_digest, unseen, unseen_words
from qc.domain.unit.retests import stands_failed
from qc.domain.unit.unit_record import DefectRecord, Event, InspectionRecord, TestRecord, UnitRecord

_BREAKS = re.compile(r"[\t\n\v\f\r\x85\u2028\u2029]")
_SHOWN = 12  # blockers told in the refusal; the unit's page lists all
_INSPECTIONS = ("inspection_begun",)
_DEFECTS = ("defect_recorded", "field_finding")
_RESULTS = ("test_recorded",)
_PASSINGS = ("station_passed",)


def planned(state: Folding, p: Proposal) -> None:
    """Refuse a number that cannot be, or one that is taken."""
    chassis, body = p.event.operation.unit or "", p.body
    if fault := chassis_fault(p.event.plant, chassis):
        raise Refusal("wrong_chassis", fault)
    if fault := number_fault(p.event.plant, chassis, body["model"], body["sequence"], body["shop_number"]):
        raise Refusal("wrong_chassis", fault)
    if state.is_planned and state.unit.is_unplanned:
        if state.unit.model != body["model"]:
            words = f"{chassis} was met as {state.unit.model}, the plan says {body['model']}"
            raise Refusal("model_differs", f"{words}; read the plate, and plan it as what it is")
        return
    taken = p.record.planned_as(chassis, body["shop_number"])
    if taken is not None:
        raise Refusal("unit_exists", f"{taken[0]} ({taken[1]}) is already planned")


def met(state: Folding, p: Proposal) -> None:
    """Refuse a number that cannot be, and another model than the record has; whoever else meets it changes nothing."""
    chassis, model = p.event.operation.unit or "", p.body["model"]
    if state.is_planned:
        if state.unit.model != model:
            words = f"{state.unit.shop_number} is a {state.unit.model} on record, not a {model}"
            raise Refusal("model_differs", f"{words}; read the number and the plate again")
        return
    try:
        _, shop = numbers_of(p.event.plant, chassis, model)
    except ValueError as fault:
        raise Refusal("wrong_chassis", str(fault)) from None
    if (taken := p.record.planned_as(chassis, shop)) is not None:
        raise Refusal("unit_exists", f"{shop} is the shop number of {taken[0]}; read the number again")


def plan_changed(state: Folding, p: Proposal) -> None:
    """Refuse to change the plan of a unit that was released against it, and a change that changes nothing."""
    unit, changes = state.unit, p.body["changes"]
    if unit.is_unplanned:
        raise Refusal("not_planned", f"no plan holds {unit.shop_number} yet; plan it, then change its plan")
    if unit.state == "released":
        raise Refusal("already_released", f"{unit.shop_number} is released; its plan changes no more")
    if unit.cancelled is not None:
        raise Refusal("unit_cancelled", f"{cancelled_words(unit.shop_number, unit.cancelled)}; take it up again first")
    if all(told == _as_written(getattr(unit, name)) for name, told in changes.items()):
        raise Refusal("nothing_changed", f"{unit.shop_number} is planned so already")


def cancelled(state: Folding, p: Proposal) -> None:
    """Refuse to cancel what is cancelled, and what was ever released: that has left, or was signed as fit to."""
    unit = state.unit
    if unit.cancelled is not None:
        raise Refusal("already_cancelled", f"{cancelled_words(unit.shop_number, unit.cancelled)} already")
    if state.releases:
        signed = state.releases[-1].signed_by
        words = f"{unit.shop_number} was released by {signed}; what was released is not cancelled"
        raise Refusal("already_released", f"{words}. Record what is found on it")


def taken_up(state: Folding, p: Proposal) -> None:
    """Refuse to take up again what is not cancelled."""
    if state.unit.cancelled is None:
        raise Refusal("not_cancelled", f"{state.unit.shop_number} is not cancelled; nothing has to be taken up again")


def _as_written(value: object) -> object:
    return list(value) if isinstance(value, tuple) else value


def free(state: Folding, p: Proposal) -> None:
    """Refuse nothing: what is seen is taken down."""


def moved(state: Folding, p: Proposal) -> None:
    """Refuse a place that says nothing; wherever else a unit is seen, it is taken down."""
    if not p.body["place"].strip():
        raise Refusal("malformed", "body.place holds blanks only; say where the unit stands, such as Bay 4")
    if p.rules >= PLACES_IN_ONE_LINE and _BREAKS.search(p.body["place"]):
        raise Refusal("malformed", "body.place holds a line break or a tab; say in one line where the unit stands")


def passing_withdrawn(state: Folding, p: Proposal) -> None:
    """Let a passing be taken back by who told it, the station's lead or the manager, until the unit is released."""
    id_ = p.body["passing"]
    passing = state.passings.get(id_)
    if passing is None:
        if (unit := p.record.unit_of(_PASSINGS, id_)) is not None:
            raise Refusal("wrong_chassis", f"that passing is of unit {unit}; this names {p.event.operation.unit}")
        raise Refusal("unknown_code", f"body.passing: {id_} is no passing of a station")
    station = Names(p.event.plant, p.rules).place(passing.station)
    may = p.event.operation.author == passing.by or p.standing.leads(passing.station)
    if not may and not p.standing.has("quality_manager"):
        who = f"{passing.by}, who entered it, the lead of {station} or the quality manager"
        raise Refusal("not_your_role", f"only {who} takes this passing back")
    if passing.withdrawn:
        raise Refusal("already_withdrawn", f"this passing of {station} was taken back already")
    if state.unit.state == "released":
        raise Refusal("already_released", f"{state.unit.shop_number} is released; where it was passed stays as it is")


def in_inspection(state: Folding, p: Proposal) -> None:
    """Refuse what names no inspection of this unit."""
    _inspection(state, p)


def _inspection(state: Folding, p: Proposal) -> InspectionRecord:
    id_ = p.body["inspection"]
    if id_ in state.inspections:
        return state.inspections[id_]
    if (unit := p.record.unit_of(_INSPECTIONS, id_)) is not None:
        raise Refusal("wrong_chassis", f"that inspection is of unit {unit}; this names {p.event.operation.unit}")
    raise Refusal("unknown_code", f"body.inspection: {id_} is no inspection")


def inspection_ended(state: Folding, p: Proposal) -> None:
    """Refuse to end an inspection twice."""
    if _inspection(state, p).ended_ms is not None:
        raise Refusal("inspection_ended", "this inspection has ended already")


def _defect(state: Folding, p: Proposal, id_: str, *, withdrawn: bool = False) -> DefectRecord:
    """Return a defect of the unit. Refuses one of another unit and, unless asked for, a withdrawn one."""
    defect = state.defects.get(id_)
    if defect is None:
        if (unit := p.record.unit_of(_DEFECTS, id_)) is not None:
            raise Refusal("wrong_chassis", f"that defect is on unit {unit}; this names {p.event.operation.unit}")
        raise Refusal("unknown_code", f"{id_} is no defect")
    if defect.state == "withdrawn" and not withdrawn:
        raise Refusal("already_withdrawn", "this defect was withdrawn; record it anew if it is there")
    return defect


def defect_recorded(state: Folding, p: Proposal) -> None:
    """Refuse a place other than the inspection's, and a severity below the usual without a reason."""
    if p.body.get("inspection") is not None:
        point = _inspection(state, p).point
        if point != p.body["point"]:
            raise Refusal(
                "malformed", f"body.point is not {Names(p.event.plant, p.rules).place(point)}, where that inspection is"
            )
    found_severity(state, p)
    if p.body.get("result") is not None:
        _tells_failure(state, p)


def _tells_failure(state: Folding, p: Proposal) -> None:
    result, plant = _result(state, p), p.event.plant
    if result.passed:
        raise Refusal("malformed", "body.result names a result that passed; there is no failure to tell")
    failed, type_ = plant.tests.get(result.test), plant.types[p.body["type"]]
    if failed is not None and not tells_failure(failed, type_):
        names = Names(plant, p.rules)
        right = names.type(failed.defect_on_fail)
        words = f"{names.test(failed.id)} failed, which is {right}; {names.type(type_.code)} does not stop the unit"
        raise Refusal("malformed", f"body.type: {words}. Record the failure as {right}")


def found_severity(state: Folding, p: Proposal) -> None:
    """Refuse a severity below the usual one of the type without a reason; below critical is the manager's alone."""
    body = p.body
    _own_severity(p, body.get("grade"), body["severity"])
    default = p.event.plant.types[body["type"]].default_severity
    if not is_lower(body["severity"], default):
        return
    named = Names(p.event.plant, p.rules).type(body["type"])
    if default == "critical" and not p.standing.has("quality_manager"):
        raise Refusal(
            "only_manager_lowers_critical",
            f"{named} is critical; only the quality manager lowers it. Record it as critical",
        )
    if not body.get("severity_reason"):
        raise Refusal("reason_needed", f"{named} is usually {default}; say why it is {body['severity']} here")


def _own_severity(p: Proposal, grade: str | None, severity: str) -> None:
    """Refuse one that is none of the plant's own, and one that counts as another of the three than is said."""
    if grade is None:
        return
    own = p.event.plant.severities
    if grade not in own:
        told = f"it has {', '.join(own)}" if own else "it has none of its own"
        raise Refusal("wrong_severity", f"{grade} is no severity of this plant; {told}")
    if own[grade].counts_as != severity:
        raise Refusal("wrong_severity", f"{grade} counts as {own[grade].counts_as} in this plant, not as {severity}")


def defect_corrected(state: Folding, p: Proposal) -> None:
    """Refuse to lower a critical to anyone but the quality manager."""
    defect, changes = _defect(state, p, p.body["defect"]), p.body["changes"]
    severity = changes.get("severity", defect.severity)
    _own_severity(p, changes.get("grade"), severity)
    default = p.event.plant.types[changes.get("type", defect.type)].default_severity
    lowered = is_lower(severity, defect.severity) and defect.severity == "critical"
    # A type whose usual severity is critical cannot be reached sideways, by correcting the type alone.
    sideways = "type" in changes and default == "critical" and severity != "critical"
    if (lowered or sideways) and not p.standing.has("quality_manager"):
        raise Refusal("only_manager_lowers_critical", "only the quality manager lowers a critical; ask at the line")
    if lowered:
        _demand_another(defect, p)


def defect_withdrawn(state: Folding, p: Proposal) -> None:
    """Refuse to withdraw a critical, or call it another's duplicate, to anyone but the quality manager."""
    defect, twin = _defect(state, p, p.body["defect"]), None
    if p.body["why"] == "duplicate":
        other = p.body.get("duplicate_of")
        if other is None or other == defect.id:
            raise Refusal("malformed", "body.duplicate_of must name the other record of the same defect")
        twin = _defect(state, p, other)
    lowers = defect.severity == "critical" and (twin is None or twin.severity != "critical")
    if lowers and not p.standing.has("quality_manager"):
        raise Refusal("only_manager_lowers_critical", "only the quality manager withdraws a critical; ask at the line")
    if lowers:
        _demand_another(defect, p)


def _demand_another(defect: DefectRecord, p: Proposal) -> None:
    """Refuse to take a critical out of the way of its re-check to whoever repaired it."""
    author = p.event.operation.author
    if p.rules >= ROLES_TOGETHER and author in {one.repairer for one in defect.repairs}:
        words = f"{author} repaired this critical; another person looks at it again, or another quality manager decides"
        raise Refusal("same_person", words)


def photo_named(state: Folding, p: Proposal) -> None:
    """Refuse what names no defect of this unit; one that was withdrawn may still get or lose its photo."""
    _defect(state, p, p.body["defect"], withdrawn=True)


def test_recorded(state: Folding, p: Proposal) -> None:
    """Refuse a result that says nothing, a value hardly possible without a yes, a further one without a reason."""
    test = p.event.plant.tests[p.body["test"]]
    if p.body.get("inspection") is not None:
        _inspection(state, p)
    name = Names(p.event.plant, p.rules).test(test.id)
    if lack := result_fault(test, p.body, name):
        raise Refusal("malformed", lack)
    if p.rules >= FAILURES_STAND:
        odd = implausible(test, p.body.get("value"), name)
        if odd and p.body.get("confirmed") is not True:
            raise Refusal("implausible_value", f"{odd}. Read it again; if it is right, enter it again and confirm it")
        _reasoned(state, p, test)


def _reasoned(state: Folding, p: Proposal, test: Test) -> None:
    failed = stands_failed(one for one in state.tests.values() if one.test == test.id)
    if failed is None or p.body.get("again"):
        return
    name = Names(p.event.plant, p.rules).test(test.id)
    reading = "" if failed.value is None else f" with {told_reading(failed.value, failed.beyond)} {test.unit}"
    raise Refusal(
        "reason_needed",
        f"{name} failed before{reading}, measured by {failed.tester}; enter the value again and say why it was done"
        " again",
    )


def _result(state: Folding, p: Proposal) -> TestRecord:
    id_ = p.body["result"]
    if id_ in state.tests:
        return state.tests[id_]
    if (unit := p.record.unit_of(_RESULTS, id_)) is not None:
        raise Refusal("wrong_chassis", f"that result is of unit {unit}; this names {p.event.operation.unit}")
    raise Refusal("unknown_code", f"{id_} is no test result")


def test_withdrawn(state: Folding, p: Proposal) -> None:
    """Let a result be taken back by its author alone, while the inspection runs; outside one, on the day it was taken.

    A unit that was released on it needs a new value instead, which takes the release back aloud.
    """
    result, further = _result(state, p), "enter a further value and say why"
    if result.taken_back is not None:
        raise Refusal("already_withdrawn", "this result was taken back already")
    if p.event.operation.author != result.tester:
        raise Refusal("not_your_role", f"only {result.tester}, who entered it, takes it back; {further}")
    if result.inspection is not None and state.inspections[result.inspection].ended_ms is not None:
        raise Refusal("inspection_ended", f"that inspection has ended; {further}")
    if result.inspection is None and p.event.day_and_shift(result.point)[0] != result.production_day:
        raise Refusal("inspection_ended", f"that was on an earlier day; {further}")
    if state.unit.state == "released":
        raise Refusal("already_released", f"the unit was released on this result; {further}")


def origin_spoken(state: Folding, p: Proposal) -> None:
    """Refuse an origin that cannot be, or a word that is not this person's to say."""
    defect, plant, kind = _defect(state, p, p.body["defect"]), p.event.plant, p.event.operation.kind
    possible = p.event.plant_rules.possible_origins(defect.point, state.unit.model, state.unit.line)
    if no := objection(defect.origin, kind, p.body.get("station", ""), p.standing, possible, plant, p.rules):
        raise Refusal(*no)
    if kind == "origin_settled" and p.rules >= ROLES_TOGETHER:
        _demand_no_own_cause(defect, p)


def _demand_no_own_cause(defect: DefectRecord, p: Proposal) -> None:
    author = p.event.operation.author
    _, events = p.record.read_anew(p.event.operation.unit or "")
    own = own_cause(events, defect.id, author, p.standing)
    if own == DISPUTE:
        words = f"{author} disputed this; another quality manager settles it, or {author} passes it on to a place"
        raise Refusal("same_person", words)
    if own:
        place = Names(p.event.plant, p.rules).place(own)
        words = f"this stood against {place}, which {author} leads; another quality manager settles it"
        raise Refusal("same_person", words)


def repair_done(state: Folding, p: Proposal) -> None:
    """Refuse only where every defect named was withdrawn meanwhile."""
    named = [_defect(state, p, id_, withdrawn=True) for id_ in p.body["defects"]]
    if all(one.state == "withdrawn" for one in named):
        raise Refusal("already_withdrawn", "each of these defects was withdrawn; nothing is left to repair")


def _repaired(state: Folding, p: Proposal) -> DefectRecord:
    defect = _defect(state, p, p.body["defect"])
    if defect.state == "open":
        raise Refusal("not_repaired", "no repair of this defect has arrived; it is still open")
    return defect


def recheck_accepted(state: Folding, p: Proposal) -> None:
    """Refuse what was not repaired, and anyone who repaired it in this cycle."""
    author = p.event.operation.author
    if author in _repaired(state, p).repairers():
        raise Refusal("same_person", f"{author} repaired this; another person must look at it again")


def recheck_failed(state: Folding, p: Proposal) -> None:
    """Refuse what was not repaired."""
    _repaired(state, p)


def unit_released(state: Folding, p: Proposal) -> None:
    """Release a unit whose operations leave nothing open and whose signer saw all of them; refuse it otherwise.

    Judged from the operations, read anew, and not from what is held in hand.
    """
    record, events = p.record.read_anew(p.event.operation.unit or "")
    if record is None:
        raise Refusal("release_blocked", "the journal does not tell this unit; nothing can be released from a table")
    _judge(record, events, p)


def _judge(record: UnitRecord, events: Sequence[Event], p: Proposal) -> None:
    if record.state == "released" and not record.alarm:
        raise Refusal("already_released", "this unit is released already")
    signed_under = p.event.operation.plant
    if signed_under and signed_under != p.event.plant.revision:
        words = (
            f"the plant's tables changed after you looked: yours were {signed_under[:12]}, in force are "
            f"{p.event.plant.revision[:12]}. Sync, look at the unit by these, sign anew"
        )
        raise Refusal("sign_off_stale", words)
    blocked = blockers(record, p.event.plant, p.rules)
    new = unseen(events, p.event)
    if new or p.body["open_digest"] != open_digest(record):
        raise Refusal("sign_off_stale", _stale_words(new, blocked, record, Names(p.event.plant, p.rules)))
    if blocked:
        raise Refusal("release_blocked", f"not released, {len(blocked)} open: {_listed(blocked)}")


def _stale_words(new: tuple[Event, ...], blocked: tuple[Blocker, ...], record: UnitRecord, names: Names) -> str:
    arrived = (
        "; ".join(unseen_words(event, record, names) for event in new[:_SHOWN])
        or "the open list is not the one you signed"
    )
    return f"the record changed after you looked: {arrived}. Open now: {_listed(blocked) or 'nothing'}. Look, sign anew"


def _listed(blocked: tuple[Blocker, ...]) -> str:
    more = f"; and {len(blocked) - _SHOWN} more" if len(blocked) > _SHOWN else ""
    return "; ".join(one.what for one in blocked[:_SHOWN]) + more
