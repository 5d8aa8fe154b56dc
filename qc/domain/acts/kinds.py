"""Every kind of operation, told once: who may author it, its shape, what it refers to, its rule and its step.

A rule says why an operation is refused and changes nothing; a step changes what is held and asks nothing. To add a
kind is to add a row here, its rule and step in `unit_rules` and `unit_steps` (or `line`, for what is not on a unit),
and golden records of it.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from qc.domain.acts import unit_rules as rules
from qc.domain.acts import unit_steps as steps
from qc.domain.facts.operations import (
    AGAIN_REASONS,
    BEYOND,
    CHANGE_KINDS,
    DIRECTIONS,
    LIGHTS,
    NOT_LOOKED_REASONS,
    PHOTO_VIEWS,
    PURPOSES,
    REPAIR_METHODS,
    WEATHERS,
    WITHDRAWALS,
    Check,
    Fault,
    Operation,
    boolean,
    choice,
    circle,
    code,
    day,
    digest,
    group,
    label,
    many,
    mark,
    nullable,
    number,
    text,
    uuid7,
    whole,
)
from qc.domain.facts.people import PLANNING_ROLES, ROLES, SERVER_ROLE
from qc.domain.facts.rule_set import (
    CANCELLING,
    LINES_TOLD,
    LOTS_TOLD,
    MACHINES_TOLD,
    OWN_NUMBERS,
    OWN_SECRET,
    OWN_SEVERITIES,
    PASSINGS_TAKEN_BACK,
    PEOPLE_TOLD,
    RULES,
    SINCE,
    TABLES_REVISED,
    UNITS_MET,
    UNITS_MOVED,
)
from qc.domain.line import line, machines, revising, roster
from qc.domain.line.proposal import Proposal
from qc.domain.plant import references as refer
from qc.domain.unit.unit_record import Event

Rule = Callable[[Any, Proposal], None]  # of a `Folding`, or of the `Line`; raises Refusal
Step = Callable[[Any, Event, Any], None]  # of the same, with the body


def _no_rule(held: Any, p: Proposal) -> None:
    """Refuse nothing."""


def _no_step(held: Any, event: Event, body: Any) -> None:
    raise AssertionError(f"{event.operation.kind} has no effect yet")


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """A kind of operation.

    roles: who may author it (station leads only for their own stations, which its rule asks). fields: required body
    fields; optional: fields that may be absent. names: those of them that name operations which must be in effect;
    refers: the checks of their codes against the plant; both follow from the fields' shapes. on_unit: whether it
    changes a unit; else it changes the line. effective: False while its rule and step are not built, then the answer
    is ``refused`` with ``later`` as reason; so it is for a row from before the rule set ``since``. widened: the rule
    set that let in more roles than ``roles_before``, 0 where they are the same since the beginning.
    """

    name: str
    roles: frozenset[str]
    fields: Mapping[str, Check]
    optional: Mapping[str, Check]
    names: tuple[str, ...]
    refers: tuple[refer.Reference, ...]
    on_unit: bool
    rule: Rule
    step: Step
    effective: bool = True
    later: str = ""
    since: int = 0
    widened: int = 0
    roles_before: frozenset[str] = frozenset()

    def roles_under(self, rules: int) -> frozenset[str]:
        """Return who may author it by a rule set."""
        return self.roles_before if rules < self.widened else self.roles


FINDERS = frozenset({"inspector", "tester", "quality_manager", "station_lead", "repairer"})
MANAGER = frozenset({"quality_manager"})
PLANNERS = PLANNING_ROLES
PASSERS = FINDERS | {"planner"}
ORIGIN = frozenset({"station_lead", "quality_manager"})
SERVER = frozenset({SERVER_ROLE})
ADMINISTRATOR = frozenset({"administrator"})
HOUSE = ADMINISTRATOR | SERVER  # on a page, or on the server's console
EVERYBODY = frozenset(ROLES) | SERVER

# What a field holds is told by its shape: the id of an operation, a code of the plant, or something of its own.
ID = uuid7
IDS = many(uuid7, 1, 50)
MODEL, POINT, STATION, PASSED, TYPE, TEST, WATCHED = (code() for _ in range(7))
ZONE = code(60)
ZONES = many(ZONE, 1, 100)
TYPES = many(TYPE, 0, 20)
SEVERITY = choice("critical", "major", "minor")
NOTE = text(1000)
PLACE = text(60)
REASON = text(500, 3)
SET_ASIDE = partial(uuid7)  # the id of an operation that need not be in effect: a check of its own, unlike ID
OPTIONS = many(label(), 0, 40)
LINE = label()
_PLAN_CHANGES_BEFORE = {"planned_day": day, "options": OPTIONS, "build_sheet": nullable(code())}
PLAN_CHANGES = group({**_PLAN_CHANGES_BEFORE, "line": LINE})
GRADE, LOT = code(), label()
CHANGEABLE = {"zone": ZONE, "type": TYPE, "severity": SEVERITY, "note": NOTE, "mark": nullable(mark)}
CHANGES = group({**CHANGEABLE, "grade": GRADE, "lot": nullable(LOT)})
PERSON, DEVICE, MACHINE = code(32), code(32), code(32)
LED = many(code(), 0, 50)
ALSO = many(choice(*ROLES), 0, len(ROLES) - 1)  # further roles, absent for none
PERSON_FIELDS: Mapping[str, Check] = {
    "name": text(80),
    "role": choice(*ROLES),
    "stations": LED,
    "secret": nullable(digest),
    "passphrase": boolean,
}

_REFERS: Mapping[Check, refer.Reference] = {
    MODEL: refer.model,
    POINT: refer.point,
    STATION: refer.station,
    PASSED: refer.passed_station,
    ZONE: refer.zone,
    ZONES: refer.zones,
    TYPE: refer.type_,
    TYPES: refer.types,
    CHANGES: refer.changes,
    LINE: refer.line,
    PLAN_CHANGES: refer.plan_changes,
    TEST: refer.test,
    WATCHED: refer.watched,
}
_LATER = "the plant's server cannot settle this kind yet; it comes with a later version"


def _kind(
    name: str,
    roles: frozenset[str],
    fields: Mapping[str, Check],
    rule: Rule,
    step: Step,
    optional: Mapping[str, Check] | None = None,
    *,
    on_unit: bool = True,
) -> Kind:
    every = {**fields, **(optional or {})}
    return Kind(
        name=name,
        roles=roles,
        fields=fields,
        optional=optional or {},
        names=tuple(field for field, check in every.items() if check in (ID, IDS)),
        refers=tuple(_REFERS[check] for check in every.values() if check in _REFERS),
        on_unit=on_unit,
        rule=rule,
        step=step,
    )


def _not_yet(name: str, roles: frozenset[str], fields: Mapping[str, Check], *, on_unit: bool = True) -> Kind:
    kind = _kind(name, roles, fields, _no_rule, _no_step, on_unit=on_unit)
    return replace(kind, effective=False, later=_LATER)


def _of_the_house(
    name: str,
    fields: Mapping[str, Check],
    rule: Rule,
    step: Step,
    optional: Mapping[str, Check] | None = None,
    roles: frozenset[str] = HOUSE,
) -> Kind:
    """Return a kind that tells of people and phones, done on the administrator's page or on the server's console."""
    every = {**(optional or {}), "at_console": text(80)}
    kind = _kind(name, roles, fields, rule, step, every, on_unit=False)
    return replace(_since(kind, PEOPLE_TOLD), roles_before=roles)


def _since(kind: Kind, rules: int) -> Kind:
    """Return a kind that an earlier program did not know; rules: the rule set that brought it."""
    return replace(kind, later=_LATER, since=rules)


def _widened(kind: Kind, roles: frozenset[str], since: int) -> Kind:
    return replace(kind, roles=roles, widened=since)


_KINDS = (
    # the unit on the line
    _kind(
        "unit_planned",
        PLANNERS,
        {"model": MODEL, "shop_number": code(20), "sequence": whole(1, 10**9), "planned_day": day},
        rules.planned,
        steps.planned,
        {"options": OPTIONS, "build_sheet": code(), "line": LINE},
    ),
    _kind(
        "plan_changed",
        PLANNERS,
        {"changes": PLAN_CHANGES},
        rules.plan_changed,
        steps.plan_changed,
    ),
    _since(_kind("unit_met", FINDERS, {"model": MODEL}, rules.met, steps.met, {"line": LINE}), UNITS_MET),
    _since(_kind("unit_cancelled", PLANNERS, {"reason": REASON}, rules.cancelled, steps.cancelled), CANCELLING),
    _since(_kind("unit_taken_up", PLANNERS, {"reason": REASON}, rules.taken_up, steps.taken_up), CANCELLING),
    _kind("station_passed", PASSERS, {"station": PASSED}, rules.free, steps.station_passed),
    _since(
        _kind(
            "passing_withdrawn",
            PASSERS,
            {"passing": ID},
            rules.passing_withdrawn,
            steps.passing_withdrawn,
            {"reason": REASON},
        ),
        PASSINGS_TAKEN_BACK,
    ),
    _since(_kind("unit_moved", FINDERS | {"dispatch"}, {"place": PLACE}, rules.moved, steps.moved), UNITS_MOVED),
    # looking
    _kind(
        "inspection_begun",
        FINDERS,
        {"point": POINT, "purpose": choice(*PURPOSES), "light": choice(*LIGHTS)},
        rules.free,
        steps.inspection_begun,
        {"weather": choice(*WEATHERS)},
    ),
    _kind("inspection_ended", FINDERS, {"inspection": ID}, rules.inspection_ended, steps.inspection_ended),
    _kind("zone_looked_at", FINDERS, {"inspection": ID, "zones": ZONES}, rules.in_inspection, steps.zones_looked_at),
    _kind(
        "zone_not_looked_at",
        FINDERS,
        {"inspection": ID, "zone": ZONE, "reason": choice(*NOT_LOOKED_REASONS)},
        rules.in_inspection,
        steps.zone_not_looked_at,
        {"note": NOTE},
    ),
    # defects
    _kind(
        "defect_recorded",
        FINDERS,
        {"point": POINT, "zone": ZONE, "type": TYPE, "severity": SEVERITY},
        rules.defect_recorded,
        steps.defect_recorded,
        {
            "inspection": ID,
            "note": NOTE,
            "mark": mark,
            "severity_reason": REASON,
            "result": ID,
            "linked_to": ID,
            "grade": GRADE,
            "lot": LOT,
        },
    ),
    _kind(
        "defect_corrected",
        FINDERS,
        {"defect": ID, "changes": CHANGES, "reason": REASON},
        rules.defect_corrected,
        steps.defect_corrected,
    ),
    _kind(
        "defect_withdrawn",
        FINDERS,
        {"defect": ID, "why": choice(*WITHDRAWALS), "reason": REASON},
        rules.defect_withdrawn,
        steps.defect_withdrawn,
        {"duplicate_of": ID},
    ),
    _kind(
        "photo_attached",
        FINDERS,
        {"defect": ID, "sha256": digest, "bytes": whole(1, 8_000_000)},
        rules.photo_named,
        steps.photo_attached,
        {
            "width": whole(1, 20_000),
            "height": whole(1, 20_000),
            "view": choice(*PHOTO_VIEWS),
            "circle": nullable(circle),
        },
    ),
    _kind(
        "photo_withdrawn",
        FINDERS,
        {"defect": ID, "sha256": digest, "reason": REASON},
        rules.photo_named,
        steps.photo_withdrawn,
    ),
    # tests
    _kind(
        "test_recorded",
        FINDERS,
        {"test": TEST, "instrument": code()},
        rules.test_recorded,
        steps.test_recorded,
        {
            "value": number,
            "beyond": choice(*BEYOND),
            "passed": boolean,
            "confirmed": boolean,
            "again": choice(*AGAIN_REASONS),
            "inspection": ID,
            "calibrated_until": day,
            "note": NOTE,
        },
    ),
    _kind("test_withdrawn", FINDERS, {"result": ID, "reason": REASON}, rules.test_withdrawn, steps.test_withdrawn),
    # origin
    _kind("origin_suspected", FINDERS, {"defect": ID, "station": STATION}, rules.origin_spoken, steps.origin_spoken),
    _kind("origin_confirmed", ORIGIN, {"defect": ID, "station": STATION}, rules.origin_spoken, steps.origin_spoken),
    _kind(
        "origin_passed_on",
        ORIGIN,
        {"defect": ID, "station": STATION, "reason": REASON},
        rules.origin_spoken,
        steps.origin_spoken,
    ),
    _kind("origin_disputed", ORIGIN, {"defect": ID, "reason": REASON}, rules.origin_spoken, steps.origin_spoken),
    _kind(
        "origin_settled",
        MANAGER,
        {"defect": ID, "station": STATION, "reason": REASON},
        rules.origin_spoken,
        steps.origin_spoken,
    ),
    # repair
    _kind(
        "repair_done",
        frozenset({"repairer", "tester", "inspector", "station_lead"}),
        {"defects": IDS, "method": choice(*REPAIR_METHODS), "minutes": whole(0, 6000)},
        rules.repair_done,
        steps.repair_done,
        {"place": code(), "note": NOTE},
    ),
    _kind("recheck_accepted", FINDERS, {"defect": ID}, rules.recheck_accepted, steps.recheck_accepted),
    _kind("recheck_failed", FINDERS, {"defect": ID, "reason": REASON}, rules.recheck_failed, steps.recheck_failed),
    # holds, concessions, release
    _not_yet("hold_placed", FINDERS | {"dispatch"}, {"scope": code(), "reason": REASON}, on_unit=False),
    _not_yet("hold_lifted", MANAGER, {"hold": uuid7, "reason": REASON}, on_unit=False),
    _not_yet("concession_granted", MANAGER, {"defect": uuid7, "departure": REASON, "until": day}),
    _kind(
        "unit_released",
        frozenset({"inspector", "quality_manager"}),
        {"open_digest": digest, "against": text(200)},
        rules.unit_released,
        steps.unit_released,
    ),
    _not_yet("release_taken_back", MANAGER, {"release": uuid7, "reason": REASON}),
    # after dispatch
    _kind(
        "field_finding",
        frozenset({"quality_manager", "dispatch"}),
        {"zone": ZONE, "type": TYPE, "severity": SEVERITY, "found_day": day},
        rules.found_severity,
        steps.defect_recorded,
        {"note": NOTE, "linked_to": ID, "grade": GRADE, "lot": LOT},
    ),
    # the line
    _kind(
        "change_noted",
        ORIGIN,
        {"station": STATION, "change": choice(*CHANGE_KINDS), "what": text(300, 3), "from_day": day},
        line.may_note,
        line.change_noted,
        {"types": TYPES},
        on_unit=False,
    ),
    # type: the label of the watched sum, a type, a type group or "rest"; until: the last day of silence
    _kind(
        "signal_muted",
        MANAGER,
        {"station": STATION, "type": WATCHED, "direction": choice(*DIRECTIONS), "reason": text(500, 0), "until": day},
        line.may_mute,
        line.signal_muted,
        on_unit=False,
    ),
    _kind("signal_unmuted", MANAGER, {"mute": ID}, line.may_unmute, line.signal_unmuted, on_unit=False),
    _not_yet(
        "action_opened",
        MANAGER,
        {"station": code(), "type": code(), "expected": REASON},
        on_unit=False,
    ),
    _not_yet("action_checked", MANAGER, {"action": uuid7, "answer": REASON}, on_unit=False),
    _not_yet("action_closed", MANAGER, {"action": uuid7, "reason": REASON}, on_unit=False),
    # what was set aside; operation: of one that has no effect, so none that must be in effect before
    _kind(
        "quarantine_taken",
        MANAGER,
        {"operation": SET_ASIDE, "reason": text(500, 0)},
        line.may_take_in,
        line.told_alone,
        on_unit=False,
    ),
    _kind(
        "quarantine_left",
        MANAGER,
        {"operation": SET_ASIDE, "reason": text(500, 0)},
        line.may_leave,
        line.told_alone,
        on_unit=False,
    ),
    # people, devices, plant
    # public: of Ed25519, in hexadecimal; vouched_by: the key before it, absent where that was lost
    _kind(
        "key_changed",
        SERVER,
        {"key_id": code(), "public": digest, "reason": REASON},
        _no_rule,
        line.told_alone,
        {"vouched_by": code()},
        on_unit=False,
    ),
    # secret: SHA-256 of the form in which it is kept, null for none; at_console: whose account the command ran under
    _of_the_house("person_added", {"person": PERSON, **PERSON_FIELDS}, roster.may_add, roster.added, {"also": ALSO}),
    _of_the_house(
        "person_assigned",
        {"person": PERSON, "role": choice(*ROLES), "stations": LED},
        roster.may_assign,
        roster.assigned,
        {"secret": digest, "passphrase": boolean, "also": ALSO},
    ),
    _of_the_house("person_ended", {"person": PERSON}, roster.may_end, roster.ended, {"reason": text(500)}),
    _of_the_house("person_returned", {"person": PERSON}, roster.may_return, roster.returned, {"reason": text(500)}),
    _widened(
        _of_the_house(
            "secret_changed",
            {"person": PERSON, "secret": nullable(digest), "passphrase": boolean},
            roster.may_change_secret,
            roster.secret_changed,
        ),
        EVERYBODY,  # their own
        OWN_SECRET,
    ),
    _of_the_house("device_enrolled", {"enrolled": DEVICE}, roster.may_enrol, roster.enrolled, {"secret": digest}),
    _of_the_house(
        "device_secret_given",
        {"enrolled": DEVICE, "secret": digest},
        roster.may_give_secret,
        roster.secret_given,
    ),
    _of_the_house("device_revoked", {"revoked": DEVICE}, roster.may_revoke, roster.revoked, {"reason": text(500)}),
    _of_the_house("device_restored", {"restored": DEVICE}, roster.may_restore, roster.restored, {"reason": text(500)}),
    # machine: the name of its token; secret: SHA-256 of that
    _since(
        _of_the_house(
            "token_made",
            {"machine": MACHINE, "may": many(choice(*machines.SCOPES), 1, len(machines.SCOPES)), "secret": digest},
            machines.may_make,
            machines.made,
            {"in_name_of": PERSON},
        ),
        MACHINES_TOLD,
    ),
    _since(
        _of_the_house("token_ended", {"machine": MACHINE}, machines.may_end, machines.ended, {"reason": text(500)}),
        MACHINES_TOLD,
    ),
    # who and what stood in a record when operations began to tell of it
    _of_the_house(
        "person_stood",
        {"person": PERSON, **PERSON_FIELDS, "ended": boolean},
        _no_rule,
        roster.added,
        roles=SERVER,
    ),
    _of_the_house("device_stood", {"enrolled": DEVICE, "out_of_use": boolean}, _no_rule, roster.enrolled, roles=SERVER),
    # revision, previous: digests of tables that the record keeps; at_console as above
    _since(
        _kind(
            "plant_revised",
            HOUSE,
            {"revision": digest, "previous": digest, "reason": REASON, "from_day": day},
            revising.may_revise,
            revising.revised,
            {"at_console": text(80)},
            on_unit=False,
        ),
        TABLES_REVISED,
    ),
)

BEGINS = ("unit_planned", "unit_met")  # with these a unit is on record

KINDS: Mapping[str, Kind] = {kind.name: kind for kind in _KINDS}
assert {kind.name for kind in _KINDS if kind.since in (PEOPLE_TOLD, MACHINES_TOLD)} == line.OF_THE_HOUSE


_OPTIONS_BEFORE = many(code(), 0, 40)
# What a field accepted before the rule sets that widened it, by kind and field, the earliest first.
_BEFORE: Mapping[tuple[str, str], tuple[tuple[int, Check], ...]] = {
    ("defect_corrected", "changes"): (
        (OWN_SEVERITIES, group(CHANGEABLE)),
        (LOTS_TOLD, group({**CHANGEABLE, "grade": GRADE})),
    ),
    ("unit_planned", "options"): ((OWN_NUMBERS, _OPTIONS_BEFORE),),
    ("plan_changed", "changes"): (
        (OWN_NUMBERS, group({"planned_day": day, "options": _OPTIONS_BEFORE, "build_sheet": nullable(code())})),
        (LINES_TOLD, group(_PLAN_CHANGES_BEFORE)),
    ),
}
_WIDENED = frozenset(name for name, _ in _BEFORE)


def _check_under(kind: Kind, name: str, rules: int) -> Check:
    """Return what a field of a kind accepts under a rule set."""
    for since, before in _BEFORE.get((kind.name, name), ()):
        if rules < since:
            return before
    return kind.fields[name] if name in kind.fields else kind.optional[name]


def body_fault(kind: Kind, unit: str | None, body: Mapping[str, Any], rules: int = RULES) -> Fault | None:
    """Return the first fault of a body against its kind under a rule set, None when its shape is right."""
    if kind.on_unit and unit is None:
        return Fault("unit", "is missing; this kind of operation names a unit")
    widened = kind.name in _WIDENED
    for name, check in kind.fields.items():
        if name not in body:
            return Fault(f"body.{name}", "is missing")
        if why := (_check_under(kind, name, rules) if widened else check)(body[name]):
            return Fault(f"body.{name}", why)
    if len(body) == len(kind.fields):
        return None
    for name, value in body.items():
        if name in kind.fields:
            continue
        if name not in kind.optional or SINCE.get((kind.name, name), 0) > rules:
            return Fault("body", f"holds a field that {kind.name} does not know")
        if why := _check_under(kind, name, rules)(value):
            return Fault(f"body.{name}", why)
    return None


def named_ids(kind: Kind, op: Operation) -> tuple[str, ...]:
    """Return the ids of operations that must be in effect before this one: its deps and those its body names."""
    named = list(op.deps)
    for name in kind.names:
        value = op.body.get(name)
        if isinstance(value, list):
            named += value
        elif value:
            named.append(value)
    return tuple(dict.fromkeys(named))
