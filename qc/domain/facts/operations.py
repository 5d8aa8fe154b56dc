"""Operations: the immutable facts of which the record is made, their envelope, and the shapes of which bodies are made.

What each kind of operation is, asks for and does stands in `kinds`.
"""

import re
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from operator import itemgetter
from typing import Any

from qc.domain.numbers.number_form import MOST as LONGEST_NUMBER

SCHEMA = 1
PROTOCOL = 2  # 2: runs of operations under their author's signature

LIGHTS = ("bright", "overcast", "low_sun", "wet", "lamps")
WEATHERS = ("dry", "rain", "wind", "frost", "indoors")
# Only a presentation is counted. relook: blind, by another person; zones: single zones again, as after a repair.
PURPOSES = ("presentation", "relook", "containment", "zones")
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


def new_code(most: int = 40) -> Check:
    """Accept a code that somebody chooses now: its first sign is a letter or a figure.

    One such as "-5" reads as an option of a command, as a number in a sheet, and hides as a file's name. What is on
    record under one goes on being read by `code`.
    """
    accept = code(most)

    def check(value: Any) -> str | None:
        if why := accept(value):
            return why
        return "must begin with a letter or a figure" if value[0] in "._-" else None

    return check


def label(most: int = 40) -> Check:
    """Accept a code in any letters: no comma, semicolon or upright stroke, which divide such codes, in one spelling."""
    accept = text(most)

    def check(value: Any) -> str | None:
        if why := accept(value):
            return why
        if value != value.strip() or any(sign in value for sign in ",;|\n\t"):
            return "must be a code without commas, semicolons, upright strokes and spaces at its ends"
        return None if unicodedata.is_normalized("NFC", value) else "must write each letter as one character (NFC)"

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
        if not value:
            return None
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


def circle(value: Any) -> str | None:
    """Accept [left, top, right, bottom] of the box that an ellipse fills, as shares of a photo's width and height."""
    parts = value if isinstance(value, list) and len(value) == 4 else ()
    shares = [part for part in parts if not isinstance(part, bool) and isinstance(part, int | float) and 0 <= part <= 1]
    if len(shares) != 4 or any(round(part, 3) != part for part in shares):
        return "must be [left, top, right, bottom] as shares of the photo, each from 0 to 1 with at most three decimals"
    left, top, right, bottom = shares
    return (
        None if left < right and top < bottom else "must have its left before its right and its top before its bottom"
    )


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


@dataclass(frozen=True, kw_only=True)
class Operation:
    """One fact as it was made. It has no slots, so that `operation_of` can set all its fields at once.

    id: UUIDv7 made where it happened. device, install_epoch: which installation made it. seq: 1, 2, 3… dense in
    that installation. unit: full chassis number or None. deps: ids that must be in effect first.
    seen_through: highest server number that the device had pulled. wall_ms: the device's clock, milliseconds
    since 1970 UTC, as claimed. tz_min: its offset from UTC in minutes. session: id of the sign-in. mono_ms:
    milliseconds on the device's monotonic clock since that session's page began. plant: the revision of the plant's
    tables that it was made under, "" where it does not say.
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
    plant: str = ""


_MOST = 2**53 - 1
_NUMBERS: Mapping[str, tuple[int, int]] = {  # an envelope's whole numbers, least and most
    "seq": (1, _MOST),
    "schema": (1, 1000),
    "seen_through": (0, _MOST),
    "wall_ms": (0, _MOST),
    "tz_min": (-14 * 60, 14 * 60),
    "mono_ms": (0, _MOST),
}
_ENVELOPE: Mapping[str, Check] = {
    "id": uuid7,
    "device": code(32),
    "install_epoch": code(40),
    "seq": whole(*_NUMBERS["seq"]),
    "kind": code(40),
    "schema": whole(*_NUMBERS["schema"]),
    "unit": nullable(code(LONGEST_NUMBER)),
    "body": lambda value: None if isinstance(value, dict) else "must be an object",
    "author": code(32),
    "deps": many(uuid7, 0, 20),
    "seen_through": whole(*_NUMBERS["seen_through"]),
    "wall_ms": whole(*_NUMBERS["wall_ms"]),
    "tz_min": whole(*_NUMBERS["tz_min"]),
    "session": code(64),
    "mono_ms": whole(*_NUMBERS["mono_ms"]),
}
ENVELOPE_FIELDS: tuple[str, ...] = tuple(_ENVELOPE)
LONGEST_BEFORE = 17  # characters of a unit's number, before plants had numbers of their own form
PLANT_NAMED = "plant"  # the one field that an envelope may lack: a digest, since the rule set of revised tables
_FIELDS_BEFORE = frozenset(_ENVELOPE)
_FIELDS = _FIELDS_BEFORE | {PLANT_NAMED}

# What the operations of a batch have in common, all of it text, or None for no unit: once found right it is known again
# as a whole. Only text equals text, so nothing else is ever taken for it.
_COMMON = ("device", "install_epoch", "kind", "unit", "author", "session")
_common_of = itemgetter(*_COMMON)
_RANGES = tuple((name, least, most) for name, (least, most) in _NUMBERS.items())
_MOST_KNOWN = 4096
_known_common: set[tuple[str | None, ...]] = set()


def _is_right(raw: Mapping[str, Any]) -> bool:
    """Tell quickly that every check finds an envelope right; False also where that takes a closer look."""
    try:
        if _common_of(raw) not in _known_common:
            return False
        for name, least, most in _RANGES:
            if type(raw[name]) is not int or not least <= raw[name] <= most:
                return False
        deps = raw["deps"]
        return uuid7(raw["id"]) is None and isinstance(raw["body"], dict) and isinstance(deps, list) and not deps
    except (KeyError, TypeError):  # a field is missing, or is a list or an object
        return False


def _know_common(raw: Mapping[str, Any]) -> None:
    if len(_known_common) >= _MOST_KNOWN:
        _known_common.clear()
    _known_common.add(_common_of(raw))


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong with an operation's shape: the dotted field and the words; the value is never echoed."""

    field: str
    message: str


def envelope_fault(raw: Mapping[str, Any], *, names_plant: bool = True, own_numbers: bool = True) -> Fault | None:
    """Return the first fault of an operation's envelope, None when its shape is right. Unknown fields are faults.

    names_plant: whether it may name the tables that it was made under, which an earlier program did not know.
    own_numbers: whether a unit's number may be longer than 17 characters.
    """
    if not _is_right(raw):
        for name, check in _ENVELOPE.items():
            if name not in raw:
                return Fault(name, "is missing")
            if why := check(raw[name]):
                return Fault(name, why)
        _know_common(raw)
    if not own_numbers and (why := nullable(code(LONGEST_BEFORE))(raw["unit"])):
        return Fault("unit", why)
    if names_plant and PLANT_NAMED in raw and (why := digest(raw[PLANT_NAMED])):
        return Fault(PLANT_NAMED, why)
    if raw.keys() <= (_FIELDS if names_plant else _FIELDS_BEFORE):
        return None
    return Fault("", "holds a field that this server does not know")


def operation_of(raw: Mapping[str, Any]) -> Operation:
    """Return the operation that an envelope tells in which `envelope_fault` found nothing.

    As ``Operation(**raw)``, which sets each field by itself and takes five times as long.
    """
    op = object.__new__(Operation)
    op.__dict__.update(raw, deps=tuple(raw["deps"]))
    return op


def operation(raw: Mapping[str, Any]) -> Operation:
    """Return the operation that a well-shaped envelope tells. Raises ValueError naming the field otherwise."""
    if fault := envelope_fault(raw):
        raise ValueError(f"{fault.field or 'operation'} {fault.message}")
    return operation_of(raw)
