"""Every argument of every public statistic, damaged one at a time: refused by name and value, or answered whole.

A refusal is a ValueError that names the argument and shows the value. An answer holds no nan anywhere, infinity only
where the docstring says so, and plain Python numbers only.
"""

import ast
import inspect
import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import fields, is_dataclass
from datetime import date
from pathlib import Path
from types import NoneType
from typing import Any, Literal, get_args, get_origin

import numpy as np
import pytest

from qc.stats.answers import TooLittle
from qc.stats.series import Counts, Rates, Shares, counts_of, rates_of, shares_of
from tests.stats.valid_calls import CALLS

# Modules that take arrays or callables from within the room, or are themselves the refusals.
WITHIN = {"likelihood_climb", "refusals", "segments", "first_passage", "tail_sums", "chart_points",
          "watch_chain", "stated_chances", "pairs_in_time", "cost_bounds"}  # fmt: skip
WITHIN_FUNCTIONS = {
    "date_chances", "mean_date_chances", "likely_range", "limits_on_tails", "least_count", "demand_tail",
    "demand_baseline", "baseline_cautions", "limits_without_error", "claim", "is_beyond", "completes",
    "between", "limit_around", "demand_same_labels",
}  # fmt: skip
NAN = math.nan
EMPTY_HANDED = TooLittle("baseline", "nothing was inspected", 0, 1)


def public_functions() -> set[str]:
    found = set()
    for path in (Path(__file__).parents[2] / "qc" / "stats").rglob("[!_]*.py"):
        if path.stem not in WITHIN:
            body = ast.parse(path.read_text(encoding="utf-8")).body
            names = [node.name for node in body if isinstance(node, ast.FunctionDef) and node.name[0] != "_"]
            found |= {f"{path.stem}.{name}" for name in names if name not in WITHIN_FUNCTIONS}
    return found


def test_every_public_statistic_has_a_valid_call():
    assert public_functions() - CALLS.keys() == set()
    assert CALLS.keys() - public_functions() == set()


def numbers_in(answer: object) -> Iterator[Any]:
    """Yield every number in an answer, however deep."""
    if is_dataclass(answer) and not isinstance(answer, type):
        for field in fields(answer):
            yield from numbers_in(getattr(answer, field.name))
    elif isinstance(answer, Mapping):
        for value in answer.values():
            yield from numbers_in(value)
    elif isinstance(answer, (list, tuple, set, frozenset)):
        for value in answer:
            yield from numbers_in(value)
    elif not isinstance(answer, (str, date, type(None))) and not callable(answer):
        yield answer


def records_in(answer: object) -> Iterator[type]:
    """Yield the kinds of record in an answer, however deep."""
    if is_dataclass(answer) and not isinstance(answer, type):
        yield type(answer)
        for field in fields(answer):
            yield from records_in(getattr(answer, field.name))
    elif isinstance(answer, (list, tuple)):
        for one in answer:
            yield from records_in(one)


def speaks_of_infinity(ask: Callable[..., object], answer: object) -> bool:
    """Return whether the docstring of the function, of its answer or of a record in it says where infinity stands."""
    return any("inf" in (inspect.getdoc(one) or "") for one in [ask, *records_in(answer)])


def faults(answer: object, ask: Callable[..., object]) -> list[str]:
    """Return what is wrong with an answer's numbers."""
    found = []
    for number in numbers_in(answer):
        if type(number) not in (int, float, bool):
            found.append(f"{number!r} is a {type(number).__name__}")
        elif number != number:
            found.append("nan")
        elif math.isinf(number) and not speaks_of_infinity(ask, answer):
            found.append("an infinity that no docstring speaks of")
    return found


@pytest.mark.parametrize("name", CALLS)
def test_a_valid_call_is_answered_with_plain_numbers(name):
    ask, given = CALLS[name]
    answer = ask(**given)

    assert not isinstance(answer, TooLittle)
    assert faults(answer, ask) == []


def in_numpy(value: Any) -> Any:
    """Return the same as numpy would hand it over: arrays of numbers, numpy's own scalars."""
    if type(value) is int:
        return np.int64(value)
    if type(value) is float:
        return np.float64(value)
    if isinstance(value, list) and value and all(type(one) in (int, float) for one in value):
        return np.array(value)
    if isinstance(value, list) and value and all(isinstance(one, list) and in_numpy(one) is not one for one in value):
        return np.array(value) if len({len(one) for one in value}) == 1 and None not in value[0] else value
    if isinstance(value, dict):
        return {key: in_numpy(one) for key, one in value.items()}
    return value


def narrow(value: Any) -> Any:
    """Return arrays of small whole numbers in one byte each, where sums and products overflow."""
    if isinstance(value, np.ndarray) and value.dtype.kind == "i" and value.size and value.max() < 128:
        return value.astype(np.int8)
    return value


def of_scalars(value: Any) -> Any:
    """Return lists of numpy's own scalars instead of arrays, as a data frame's rows give them."""
    return [of_scalars(one) for one in value] if isinstance(value, np.ndarray) else value


def equal(one: object, other: object) -> bool:
    if is_dataclass(one) and not isinstance(one, type):
        return type(one) is type(other) and all(
            equal(getattr(one, field.name), getattr(other, field.name)) for field in fields(one)
        )
    if isinstance(one, (list, tuple)):
        return isinstance(other, (list, tuple)) and len(one) == len(other) and all(map(equal, one, other))
    if isinstance(one, Mapping):
        return isinstance(other, Mapping) and list(one) == list(other) and all(equal(one[k], other[k]) for k in one)
    return one == other or (isinstance(one, float) and one == pytest.approx(other, rel=1e-9, abs=1e-12))


@pytest.mark.parametrize("name", CALLS)
def test_numpy_arrays_and_tuples_are_answered_like_lists(name):
    ask, given = CALLS[name]
    plain = ask(**given)
    arrays = {argument: in_numpy(value) for argument, value in given.items()}
    tuples = {argument: tuple(value) if isinstance(value, list) else value for argument, value in given.items()}

    changed = [{argument: change(value) for argument, value in arrays.items()} for change in (narrow, of_scalars)]
    for other in (arrays, *changed, tuples):
        answer = ask(**other)
        assert equal(plain, answer)
        assert faults(answer, ask) == []


# (damaged value, whether it can only be refused)
Damage = tuple[Any, bool]
NUMBERS: list[Damage] = [(NAN, True), ("3", True), (True, True), (math.inf, False), (-math.inf, False), (-1, False)]


def damaged(value: Any, may_lack: bool, choice: bool) -> Iterator[Damage]:
    """Yield an argument's value with one fault each."""
    if not may_lack:
        yield None, not isinstance(value, (str, date)) or choice  # a name is printed, not calculated with
    if isinstance(value, bool):
        yield from [("yes", True), (2, True)]
    elif isinstance(value, (int, float)):
        yield from NUMBERS
    elif isinstance(value, str):
        yield from [("no such", choice), (3, choice)]
    elif isinstance(value, (list, tuple)):
        yield from damaged_list(value)
    elif isinstance(value, dict):
        yield from [(7, True), ("abc", True)]
        for key, one in value.items():
            for other, only in damaged(one, False, False):
                yield {**value, key: other}, only
    elif is_dataclass(value):
        yield from [("no such", True), (3, True), (EMPTY_HANDED, True)]
        yield from ((thin, False) for thin in thin_series(value))


def thin_series(value: Any) -> Iterator[Shares | Rates | Counts]:
    """Yield series that can be and say little: none, one row, a row more, nothing found, nothing to find it on."""
    if not isinstance(value, (Shares, Rates, Counts)):
        return
    none = [0] * len(value.labels)
    if isinstance(value, Counts):
        yield from (counts_of(value.counts[:n], value.labels[:n]) for n in (0, 1, len(none) - 1))
        yield counts_of(none, value.labels)
        yield counts_of([*value.counts, 2], [*value.labels, "one more"])
        return
    yield from (value.rows(slice(0, n)) for n in (0, 1, len(none) - 1))
    make = shares_of if isinstance(value, Shares) else rates_of
    yield make(none, value.sizes, value.labels)
    yield make(none, none, value.labels)
    yield make([0, *value.events[1:]], [0, *value.sizes[1:]], value.labels)
    yield make(value.events, [size or 1 for size in value.events], value.labels)
    yield make([*value.events, 2], [*value.sizes, 5], [*value.labels, "one more"])


def damaged_list(value: Any) -> Iterator[Damage]:
    yield from [(5, True), ([], False)]
    if not value:
        return
    yield from [(value[:-1], False), ([*value, value[-1]], False)]
    if not isinstance(value[0], str):
        yield "abcdef"[: len(value)], True
    first = value[0]
    if type(first) in (int, float):
        for other, only in [(None, None not in value), *NUMBERS]:
            yield [other, *value[1:]], only
    elif isinstance(first, bool):
        yield from [(["yes", *value[1:]], True), ([2, *value[1:]], True), ([NAN, *value[1:]], True)]
    elif isinstance(first, list):
        for other, only in damaged_list(first):
            yield [other, *value[1:]], only


def told(refusal: Exception, argument: str, value: object, others: Mapping[str, object]) -> bool:
    """Return whether a refusal names the argument and shows what it got (or how many, or which has none).

    A series is refused by what is in it, or by an argument that does not fit it.
    """
    within = [field.name for field in fields(value)] if isinstance(value, (Shares, Rates, Counts)) else []
    names = [argument, *within, *(others if within else ())]
    return any(name in str(refusal) for name in names) and any(
        word in str(refusal) for word in ("got ", "needs", "names", " has ")
    )


CASES = [
    pytest.param(ask, given, argument, id=f"{name}-{argument}")
    for name, (ask, given) in CALLS.items()
    for argument in given
]


@pytest.mark.parametrize(("ask", "given", "argument"), CASES)
def test_a_damaged_argument_is_refused_by_name_or_answered_whole(ask, given, argument):
    annotation = inspect.signature(ask).parameters[argument].annotation
    may_lack, choice = NoneType in get_args(annotation), get_origin(annotation) is Literal
    wrong = []
    for value, only_refused in damaged(given[argument], may_lack, choice):
        try:
            answer = ask(**{**given, argument: value})
        except ValueError as refusal:
            if not told(refusal, argument, value, given):
                wrong.append(f"{value!r}: refused without name or value: {refusal}")
        except Exception as failure:  # anything else is a crash: it tells nobody what to change
            wrong.append(f"{value!r}: {type(failure).__name__}: {failure}")
        else:
            if only_refused:
                wrong.append(f"{value!r}: answered")
            wrong += [f"{value!r}: {fault} in the answer" for fault in faults(answer, ask)[:1]]

    assert wrong == []
