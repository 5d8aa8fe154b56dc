"""The one door for JSON: what is let in is UTF-8, bounded, unambiguous and of the asked shape.

Python's own parser takes duplicate keys, NaN, 1e400 as infinity, integers of any length, lone surrogates and control
characters; each of them is a fault or a silently wrong value further in. Source of the rules: RFC 8259 sections 4, 6,
8 (what is unpredictable between programs) and RFC 7493 (I-JSON) section 2.
"""

import json
import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any, NoReturn

import orjson

from qc.domain.facts.operations import Check
from qc.domain.words.problems import Problem, Refused

DEPTH = 12  # an envelope's body nests four deep; the rest is room
LARGEST = 2**53 - 1  # integers above are not told apart by a phone's numbers (RFC 7493 section 2.2)

_NOT_BRACKETS = bytes(set(range(256)) - set(b"[]{}"))
_UNPRINTABLE = re.compile(r"[\x00-\x1f\x7f-\x9f\ud800-\udfff]")
_SPACE = re.compile(r"[ \t\n\r]*")

Part = tuple[bytes, Any]  # an element of a list: its bytes as received, and what they say


class _Unclear(ValueError):
    """Raised inside the careful parser with the words for what it met."""


def refuse(code: str, message: str, field: str = "", status: int = 400) -> NoReturn:
    """Raise Refused with a problem made of the given words."""
    raise Refused(Problem(code, message, field), status)


def read_object(body: bytes, most_bytes: int) -> dict[str, Any]:
    """Return the JSON object that ``body`` holds, parsed with every care.

    Raises Refused: 413 ``too_large``; 400 ``not_utf8``, ``too_deep``, ``not_json``, ``unclear_json``.
    """
    text = _bounded_text(body, most_bytes)
    with _json_faults():
        value = _CAREFUL.decode(text)
        _demand_plain_text(value)
    if not isinstance(value, dict):
        refuse("not_an_object", "The body must be a JSON object.")
    return value


def read_object_with_parts(body: bytes, most_bytes: int, list_name: str) -> tuple[dict[str, Any], list[Part]]:
    """Return the object without its list ``list_name``, and that list's elements each with its bytes as received.

    Raises Refused as `read_object` does, with one difference: long integers, control characters and half characters
    inside the elements are let through, since the shape of an element refuses them one by one and spares the others.
    An absent list is refused as a missing field.
    """
    text = _bounded_text(body, most_bytes)
    with _json_faults():
        rest, places = _object_and_places(text, list_name)
    if places is None:
        refuse("malformed", f"{list_name} is missing.", list_name)
    ascii_only = len(text) == len(body)  # then places in the text are places in the body
    parts = []
    for index, (first, end, value) in enumerate(places):
        raw = body[first:end] if ascii_only else text[first:end].encode()
        # Written again byte for byte the same, an element has each name once and numbers that read one way only.
        if not _same_again(value, raw):
            with _json_faults(f"{list_name}.{index}"):
                _UNIQUE.decode(text[first:end])
        parts.append((raw, value))
    return rest, parts


def fields_of(
    raw: Mapping[str, Any], required: Mapping[str, Check], optional: Mapping[str, Check] | None = None
) -> dict[str, Any]:
    """Return ``raw`` once each field is of its shape; optional fields that are absent become None.

    Raises Refused 400 ``malformed`` naming the field; the value is never echoed. Unknown fields are refused.
    """
    optional = optional or {}
    for name, check in required.items():
        if name not in raw:
            refuse("malformed", f"{name} is missing.", name)
        if why := check(raw[name]):
            refuse("malformed", f"{name} {why}.", name)
    for name, check in optional.items():
        if name in raw and (why := check(raw[name])):
            refuse("malformed", f"{name} {why}.", name)
    if any(name not in required and name not in optional for name in raw):
        known = ", ".join([*required, *optional])
        refuse("malformed", f"The object holds a field that this server does not know; it knows {known}.")
    return {name: raw.get(name) for name in [*required, *optional]}


def _bounded_text(body: bytes, most_bytes: int) -> str:
    if len(body) > most_bytes:
        refuse("too_large", f"The body may have at most {most_bytes} bytes.", status=413)
    try:
        text = body.decode("utf-8")
    except UnicodeDecodeError:
        refuse("not_utf8", "The body must be UTF-8.")
    if _depth(body) > DEPTH:
        refuse("too_deep", f"The JSON may nest at most {DEPTH} deep.")
    return text


def _depth(body: bytes) -> int:
    """Return how deep brackets nest outside strings; counted before parsing, so that no parser meets the deep ones."""
    if body.count(b"[") + body.count(b"{") <= DEPTH:
        return 0
    unescaped = body.replace(b"\\\\", b"").replace(b'\\"', b"") if b"\\" in body else body
    outside_strings = b"".join(unescaped.split(b'"')[::2])
    deepest = depth = 0
    for bracket in outside_strings.translate(None, _NOT_BRACKETS):
        depth += 1 if bracket in b"[{" else -1
        deepest = max(deepest, depth)
    return deepest


@contextmanager
def _json_faults(field: str = "") -> Iterator[None]:
    try:
        yield
    except _Unclear as why:
        words = f"The JSON {why}. Send each name once, and numbers and text that every program reads alike."
        refuse("unclear_json", words, field)
    except (ValueError, IndexError, RecursionError):
        refuse("not_json", "The body is not JSON as RFC 8259 has it, or holds a number of thousands of figures.", field)


def _unique(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise _Unclear("names a field twice in one object")
    return found


def _whole(digits: str) -> int:
    if len(digits) > 17 or abs(number := int(digits)) > LARGEST:
        raise _Unclear("holds a whole number beyond 2^53")
    return number


def _finite(digits: str) -> float:
    number = float(digits)
    if number in (float("inf"), float("-inf")):
        raise _Unclear("holds a number too large to keep")
    return number


def _no_constant(name: str) -> NoReturn:
    raise _Unclear("holds NaN or Infinity, which JSON does not have")


_PLAIN = json.JSONDecoder()
_UNIQUE = json.JSONDecoder(object_pairs_hook=_unique, parse_float=_finite, parse_constant=_no_constant)
_CAREFUL = json.JSONDecoder(
    object_pairs_hook=_unique, parse_int=_whole, parse_float=_finite, parse_constant=_no_constant
)


def _demand_plain_text(value: Any) -> None:
    if isinstance(value, str):
        if _UNPRINTABLE.search(value):
            raise _Unclear("holds text with a control character or half a character")
    elif isinstance(value, dict):
        for name, part in value.items():
            _demand_plain_text(name)
            _demand_plain_text(part)
    elif isinstance(value, list):
        for part in value:
            _demand_plain_text(part)


def _object_and_places(text: str, list_name: str) -> tuple[dict[str, Any], list[tuple[int, int, Any]] | None]:
    """Walk the top-level object; decode all but ``list_name`` carefully, and of that list note places and values."""
    rest: dict[str, Any] = {}
    places: list[tuple[int, int, Any]] | None = None
    at = _after(text, _space(text, 0), "{")
    while text[at] != "}":
        name, at = _CAREFUL.raw_decode(text, at)
        if not isinstance(name, str):
            raise ValueError("a name must be text")
        _demand_plain_text(name)
        if name in rest or (name == list_name and places is not None):
            raise _Unclear("names a field twice in one object")
        at = _after(text, _space(text, at), ":")
        if name == list_name:
            places, at = _places(text, at)
        else:
            rest[name], at = _CAREFUL.raw_decode(text, at)
            _demand_plain_text(rest[name])
        at = _next_part(text, at, "}")
    if _space(text, at + 1) != len(text):
        raise ValueError("something follows the object")
    return rest, places


def _places(text: str, at: int) -> tuple[list[tuple[int, int, Any]], int]:
    """Return for each element of the list that begins at ``at`` its first and end place and its value, and the end."""
    at = _after(text, at, "[")
    places = []
    while text[at] != "]":
        value, end = _PLAIN.raw_decode(text, at)
        places.append((at, end, value))
        at = _next_part(text, end, "]")
    return places, at + 1


def _next_part(text: str, at: int, closing: str) -> int:
    """Return the place of the next element, or of the closing bracket; a comma before a bracket is no JSON."""
    at = _space(text, at)
    if text[at] == closing:
        return at
    at = _after(text, at, ",")
    if text[at] == closing:
        raise ValueError("a comma before the end")
    return at


def _space(text: str, at: int) -> int:
    found = _SPACE.match(text, at)
    assert found is not None  # the pattern matches the empty string everywhere
    return found.end()


def _after(text: str, at: int, mark: str) -> int:
    """Return the place after ``mark`` and the space behind it; raises ValueError if something else stands there."""
    if text[at] != mark:
        raise ValueError(f"expected {mark}")
    return _space(text, at + 1)


def _same_again(value: Any, raw: bytes) -> bool:
    try:
        return orjson.dumps(value, option=orjson.OPT_STRICT_INTEGER) == raw
    except (TypeError, ValueError):
        return False
