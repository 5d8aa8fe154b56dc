"""Operations: the immutable facts of which the record is made, their envelope and the shape of each body.

This module knows shapes only. Whether a code exists in the plant is `references`; whether the record allows the
operation is the store's to answer in the transaction that appends it.
"""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from qc.domain.rule_set import RULES, SINCE

SCHEMA = 1
PROTOCOL = 1

LIGHTS = ("bright", "overcast", "low_sun", "wet", "lamps")
WEATHERS = ("dry", "rain", "wind", "frost", "indoors")
PURPOSES = ("presentation", "relook", "containment")
NOT_LOOKED_REASONS = ("no_safe_access", "weather", "blocked", "dark", "no_time", "other")
WITHDRAWALS = ("not_a_defect", "duplicate")
REPAIR_METHODS = ("rework", "repair")
CHANGE_KINDS = ("person", "tool", "part_batch", "method", "criteria", "other")
AGAIN_REASONS = ("repair", "instrument", "method", "reading_error")  # why a failed test was done again
BEYOND = ("above", "below")  # a reading past the end of the instrument's range, as >200
PHOTO_VIEWS = ("far", "near")
DIRECTIONS = ("up", "down")

VERDICTS = (
    "applied",
    "refused",
    "parked",
    "quarantined",
    "duplicate",
    "id_reused",
    "gap",
    "too_new",
)

Check = Callable[[Any], str | None]  # returns what is wrong, None when nothing is


# Control characters other than what a person types into a note (line break, tab), and the halves of a character that
# a cut through an emoji leaves behind.
_UNPRINTABLE = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\ud800-\udfff]")


def text(most: int = 500, least: int = 1) -> Check:
    """Accept a string of least..most characters; of the control characters only line break and tab."""

    def check(value: Any) -> str | None:
        if not isinstance(value, str):
            return "must be text"
        if not least <= len(value) <= most:
            return f"must have {least} to {most} characters, has {len(value)}"
        if _UNPRINTABLE.search(value):
            return "must not hold control characters or half a character"
        return None

    return check


def code(most: int = 40) -> Check:
    """Accept a short code of letters, figures, dot, dash and underscore."""
    shape = re.compile(rf"[A-Za-z0-9._-]{{1,{most}}}\Z")

    def check(value: Any) -> str | None:
        ok = isinstance(value, str) and shape.match(value)
        return None if ok else f"must be a code of 1 to {most} letters, figures, '.', '-' or '_'"

    return check


def choice(*allowed: str) -> Check:
    """Accept one of the given words."""
    return lambda value: None if value in allowed else f"must be one of {', '.join(allowed)}"


def whole(least: int, most: int) -> Check:
    """Accept an integer of least..most; a boolean is not an integer."""

    def check(value: Any) -> str | None:
        ok = isinstance(value, int) and not isinstance(value, bool) and least <= value <= most
        return None if ok else f"must be a whole number from {least} to {most}"

    return check


def number(value: Any) -> str | None:
    """Accept a finite number of magnitude up to 1e9."""
    ok = isinstance(value, int | float) and not isinstance(value, bool) and abs(value) <= 1e9
    return None if ok else "must be a number of at most 1e9 in size"


def boolean(value: Any) -> str | None:
    """Accept true or false."""
    return None if isinstance(value, bool) else "must be true or false"


_UUID7 = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}\Z")


def uuid7(value: Any) -> str | None:
    """Accept a version 7 UUID in lower case (RFC 9562)."""
    ok = isinstance(value, str) and _UUID7.match(value)
    return None if ok else "must be a version 7 UUID in lower case"


def digest(value: Any) -> str | None:
    """Accept a SHA-256 in lower-case hexadecimal."""
    ok = isinstance(value, str) and re.match(r"[0-9a-f]{64}\Z", value)
    return None if ok else "must be a SHA-256 in lower-case hexadecimal"


def day(value: Any) -> str | None:
    """Accept a date as YYYY-MM-DD."""
    if not isinstance(value, str) or not re.match(r"\d{4}-\d\d-\d\d\Z", value):
        return "must be a date as YYYY-MM-DD"
    try:
        date.fromisoformat(value)
    except ValueError:
        return "is not a day of the calendar"
    return None


def nullable(check: Check) -> Check:
    """Accept null, else what ``check`` accepts."""
    return lambda value: None if value is None else check(value)


def many(check: Check, least: int, most: int) -> Check:
    """Accept a list of least..most distinct values, each accepted by ``check``."""

    def check_list(value: Any) -> str | None:
        if not isinstance(value, list) or not least <= len(value) <= most:
            return f"must be a list of {least} to {most}"
        wrong = next((why for why in map(check, value) if why), None)
        if wrong:
            return f"each {wrong}"
        return None if len(set(value)) == len(value) else "must not hold the same value twice"

    return check_list


def mark(value: Any) -> str | None:
    """Accept a point [x, y] on a view, whole millimetres."""
    near = whole(-20_000, 40_000)
    ok = isinstance(value, list) and len(value) == 2 and not any(near(part) for part in value)
    return None if ok else "must be [x, y] in whole millimetres on the view"


def group(fields: Mapping[str, Check]) -> Check:
    """Accept an object with at least one of the given fields and no others."""

    def check(value: Any) -> str | None:
        if not isinstance(value, dict) or not value:
            return f"must be an object with at least one of {', '.join(fields)}"
        wrong = next((name for name in value if name not in fields), None)
        if wrong is not None:
            return f"may only hold {', '.join(fields)}"
        return next((f"{name} {why}" for name, part in value.items() if (why := fields[name](part))), None)

    return check


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of operation.

    fields: required body fields; optional: fields that may be absent; on_unit: whether the envelope names a
    unit; roles: who may author it (station leads only for their own stations, see the store's rules);
    effective: False while its rules are not built, then the answer is ``refused`` with ``later`` as reason.
    """

    name: str
    fields: Mapping[str, Check]
    optional: Mapping[str, Check]
    on_unit: bool
    roles: frozenset[str]
    effective: bool = True
    later: str = ""


FINDERS = frozenset({"inspector", "tester", "quality_manager", "station_lead", "repairer"})
MANAGER = frozenset({"quality_manager"})
ORIGIN = frozenset({"station_lead", "quality_manager"})
ADMINISTRATOR = frozenset({"administrator"})

SEVERITY = choice("critical", "major", "minor")
NOTE = text(1000)
REASON = text(500, 3)
ZONE = code(60)

_LATER = "the plant's server cannot settle this kind yet; it comes with a later version"


def _kind(
    name: str,
    roles: frozenset[str],
    fields: Mapping[str, Check],
    optional: Mapping[str, Check] | None = None,
    *,
    on_unit: bool = True,
    effective: bool = True,
) -> Kind:
    return Kind(name, fields, optional or {}, on_unit, roles, effective, "" if effective else _LATER)


_KINDS = (
    # the unit on the line
    _kind(
        "unit_planned",
        frozenset({"planner", "quality_manager"}),
        {"model": code(), "shop_number": code(20), "sequence": whole(1, 10**9), "planned_day": day},
        {"options": many(code(), 0, 40), "build_sheet": code()},
    ),
    _kind("station_passed", FINDERS | {"planner"}, {"station": code()}),
    _kind("unit_moved", FINDERS | {"dispatch"}, {"place": text(60)}, effective=False),
    # looking
    _kind(
        "inspection_begun",
        FINDERS,
        {"point": code(), "purpose": choice(*PURPOSES), "light": choice(*LIGHTS)},
        {"weather": choice(*WEATHERS)},
    ),
    _kind("inspection_ended", FINDERS, {"inspection": uuid7}),
    _kind("zone_looked_at", FINDERS, {"inspection": uuid7, "zones": many(ZONE, 1, 100)}),
    _kind(
        "zone_not_looked_at",
        FINDERS,
        {"inspection": uuid7, "zone": ZONE, "reason": choice(*NOT_LOOKED_REASONS)},
        {"note": NOTE},
    ),
    # defects
    _kind(
        "defect_recorded",
        FINDERS,
        {"point": code(), "zone": ZONE, "type": code(), "severity": SEVERITY},
        {
            "inspection": uuid7,
            "note": NOTE,
            "mark": mark,
            "severity_reason": REASON,
            "linked_to": uuid7,
            "result": uuid7,
        },
    ),
    _kind(
        "defect_corrected",
        FINDERS,
        {
            "defect": uuid7,
            "changes": group(
                {"zone": ZONE, "type": code(), "severity": SEVERITY, "note": NOTE, "mark": nullable(mark)}
            ),
            "reason": REASON,
        },
    ),
    _kind(
        "defect_withdrawn",
        FINDERS,
        {"defect": uuid7, "why": choice(*WITHDRAWALS), "reason": REASON},
        {"duplicate_of": uuid7},
    ),
    _kind(
        "photo_attached",
        FINDERS,
        {"defect": uuid7, "sha256": digest, "bytes": whole(1, 8_000_000)},
        {"width": whole(1, 20_000), "height": whole(1, 20_000), "view": choice(*PHOTO_VIEWS)},
    ),
    _kind("photo_withdrawn", FINDERS, {"defect": uuid7, "sha256": digest, "reason": REASON}),
    # tests
    _kind(
        "test_recorded",
        FINDERS,
        {"test": code(), "instrument": code()},
        {
            "value": number,
            "beyond": choice(*BEYOND),
            "passed": boolean,
            "confirmed": boolean,
            "again": choice(*AGAIN_REASONS),
            "inspection": uuid7,
            "calibrated_until": day,
            "note": NOTE,
        },
    ),
    _kind("test_withdrawn", FINDERS, {"result": uuid7, "reason": REASON}),
    # origin
    _kind("origin_suspected", FINDERS, {"defect": uuid7, "station": code()}),
    _kind("origin_confirmed", ORIGIN, {"defect": uuid7, "station": code()}),
    _kind("origin_passed_on", ORIGIN, {"defect": uuid7, "station": code(), "reason": REASON}),
    _kind("origin_disputed", ORIGIN, {"defect": uuid7, "reason": REASON}),
    _kind("origin_settled", MANAGER, {"defect": uuid7, "station": code(), "reason": REASON}),
    # repair
    _kind(
        "repair_done",
        frozenset({"repairer", "tester", "inspector", "station_lead"}),
        {"defects": many(uuid7, 1, 50), "method": choice(*REPAIR_METHODS), "minutes": whole(0, 6000)},
        {"place": code(), "note": NOTE},
    ),
    _kind("recheck_accepted", FINDERS, {"defect": uuid7}),
    _kind("recheck_failed", FINDERS, {"defect": uuid7, "reason": REASON}),
    # holds, concessions, release
    _kind("hold_placed", FINDERS | {"dispatch"}, {"scope": code(), "reason": REASON}, on_unit=False, effective=False),
    _kind("hold_lifted", MANAGER, {"hold": uuid7, "reason": REASON}, on_unit=False, effective=False),
    _kind("concession_granted", MANAGER, {"defect": uuid7, "departure": REASON, "until": day}, effective=False),
    _kind(
        "unit_released",
        frozenset({"inspector", "quality_manager"}),
        {"open_digest": digest, "against": text(200)},
    ),
    _kind("release_taken_back", MANAGER, {"release": uuid7, "reason": REASON}, effective=False),
    # after dispatch
    _kind(
        "field_finding",
        frozenset({"quality_manager", "dispatch"}),
        {"zone": ZONE, "type": code(), "severity": SEVERITY, "found_day": day},
        {"note": NOTE, "linked_to": uuid7},
    ),
    # the line
    _kind(
        "change_noted",
        ORIGIN,
        {"station": code(), "change": choice(*CHANGE_KINDS), "what": text(300, 3), "from_day": day},
        {"types": many(code(), 0, 20)},
        on_unit=False,
    ),
    # type: the label of the watched sum, a type, a type group or "rest"; until: the last day of silence
    _kind(
        "signal_muted",
        MANAGER,
        {"station": code(), "type": code(), "direction": choice(*DIRECTIONS), "reason": text(500, 0), "until": day},
        on_unit=False,
    ),
    _kind("signal_unmuted", MANAGER, {"mute": uuid7}, on_unit=False),
    _kind(
        "action_opened",
        MANAGER,
        {"station": code(), "type": code(), "expected": REASON},
        on_unit=False,
        effective=False,
    ),
    _kind("action_checked", MANAGER, {"action": uuid7, "answer": REASON}, on_unit=False, effective=False),
    _kind("action_closed", MANAGER, {"action": uuid7, "reason": REASON}, on_unit=False, effective=False),
    # people, devices, plant
    _kind("person_added", ADMINISTRATOR, {"person": code()}, on_unit=False, effective=False),
    _kind("person_ended", ADMINISTRATOR, {"person": code(), "reason": REASON}, on_unit=False, effective=False),
    _kind("device_enrolled", ADMINISTRATOR, {"enrolled": code()}, on_unit=False, effective=False),
    _kind("device_revoked", ADMINISTRATOR, {"revoked": code(), "reason": REASON}, on_unit=False, effective=False),
    _kind("plant_revised", ADMINISTRATOR, {"revision": digest}, on_unit=False, effective=False),
)

KINDS: Mapping[str, Kind] = {kind.name: kind for kind in _KINDS}


@dataclass(frozen=True, slots=True)
class Operation:
    """One fact as it was made.

    id: UUIDv7 made where it happened. device, install_epoch: which installation made it. seq: 1, 2, 3… dense in
    that installation. unit: full chassis number (17 characters) or None. deps: ids that must be in effect first.
    seen_through: highest server number that the device had pulled. wall_ms: the device's clock, milliseconds
    since 1970 UTC, as claimed. tz_min: its offset from UTC in minutes. session: id of the sign-in. mono_ms:
    milliseconds on the device's monotonic clock since that session's page began.
    """

    id: str
    device: str
    install_epoch: str
    seq: int
    kind: str
    schema: int
    unit: str | None
    body: Mapping[str, Any]
    author: str
    deps: tuple[str, ...]
    seen_through: int
    wall_ms: int
    tz_min: int
    session: str
    mono_ms: int


_ENVELOPE: Mapping[str, Check] = {
    "id": uuid7,
    "device": code(32),
    "install_epoch": code(40),
    "seq": whole(1, 2**53 - 1),
    "kind": code(40),
    "schema": whole(1, 1000),
    "unit": nullable(code(17)),
    "body": lambda value: None if isinstance(value, dict) else "must be an object",
    "author": code(32),
    "deps": many(uuid7, 0, 20),
    "seen_through": whole(0, 2**53 - 1),
    "wall_ms": whole(0, 2**53 - 1),
    "tz_min": whole(-14 * 60, 14 * 60),
    "session": code(64),
    "mono_ms": whole(0, 2**53 - 1),
}
ENVELOPE_FIELDS: tuple[str, ...] = tuple(_ENVELOPE)


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong with an operation's shape: the dotted field and the words; the value is never echoed."""

    field: str
    message: str


def envelope_fault(raw: Mapping[str, Any]) -> Fault | None:
    """Return the first fault of an operation's envelope, None when its shape is right. Unknown fields are faults."""
    for name, check in _ENVELOPE.items():
        if name not in raw:
            return Fault(name, "is missing")
        if why := check(raw[name]):
            return Fault(name, why)
    unknown = next((name for name in raw if name not in _ENVELOPE), None)
    return Fault("", "holds a field that this server does not know") if unknown is not None else None


def operation(raw: Mapping[str, Any]) -> Operation:
    """Return the operation that a well-shaped envelope tells. Raises ValueError naming the field otherwise."""
    if fault := envelope_fault(raw):
        raise ValueError(f"{fault.field or 'operation'} {fault.message}")
    return Operation(**{**raw, "deps": tuple(raw["deps"])})


def body_fault(kind: Kind, unit: str | None, body: Mapping[str, Any], rules: int = RULES) -> Fault | None:
    """Return the first fault of a body against its kind under a rule set, None when its shape is right."""
    if kind.on_unit and unit is None:
        return Fault("unit", "is missing; this kind of operation names a unit")
    for name, check in kind.fields.items():
        if name not in body:
            return Fault(f"body.{name}", "is missing")
        if why := check(body[name]):
            return Fault(f"body.{name}", why)
    for name, value in body.items():
        if name in kind.fields:
            continue
        if name not in kind.optional or SINCE.get((kind.name, name), 0) > rules:
            return Fault("body", f"holds a field that {kind.name} does not know")
        if why := kind.optional[name](value):
            return Fault(f"body.{name}", why)
    return None


_REFERENCES = ("inspection", "defect", "result", "duplicate_of", "linked_to", "mute")


def referred_ids(op: Operation) -> tuple[str, ...]:
    """Return the ids of operations that must be in effect before this one: its deps and those its body names."""
    named = [op.body[name] for name in _REFERENCES if op.body.get(name)]
    named += op.body.get("defects", [])
    return tuple(dict.fromkeys([*op.deps, *named]))
