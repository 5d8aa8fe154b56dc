"""Refuse impossible input: every ValueError names the argument, the value and what would do."""

import math
from collections.abc import Iterable, Mapping, Sequence
from numbers import Integral, Real
from typing import TypeVar

Item = TypeVar("Item")

# Counts up to here are answered in full digits and in bounded time; no plant counts more. Beyond, the terms of exact
# laws no longer differ by one in a computer's numbers, and whole numbers leave the machine's own.
LARGEST_COUNT = 10**9
LARGEST_EXPOSURE = 1e12  # units, hours or metres: a thousand for each count


def demand_level(level: float, name: str = "level") -> float:
    """Return the level as a float; raises ValueError unless it is a share strictly between 0 and 1."""
    if not _is_number(level) or not 0 < level < 1:
        raise ValueError(f"{name} must be a share between 0 and 1, say 0.95, got {level!r}")
    return float(level)


def demand_count(count: int, name: str, at_least: int = 0) -> int:
    """Return the count as an int; raises ValueError unless it is a whole number from ``at_least`` to the largest."""
    if type(count) is int and at_least <= count <= LARGEST_COUNT:  # most are: asking an abstract class costs ten times
        return count
    if isinstance(count, bool) or not isinstance(count, Integral) or count < at_least:
        raise ValueError(f"{name} must be a whole number of at least {at_least}, got {count!r}")
    if count > LARGEST_COUNT:
        raise ValueError(f"{name} must be at most {LARGEST_COUNT}, the largest count that is answered, got {count!r}")
    return int(count)


def demand_list(values: Iterable[Item], name: str) -> tuple[Item, ...]:
    """Return the items as a tuple, a numpy array's as plain numbers; raises ValueError for what is no list."""
    if isinstance(values, (tuple, list)):
        return tuple(values)
    plain = values.tolist() if hasattr(values, "tolist") else values
    if isinstance(plain, (bytes, Mapping)) or not isinstance(plain, Iterable):
        raise ValueError(f"{name} must be a list, got {values!r}")
    return tuple(plain)


def demand_counts(counts: Iterable[int], name: str, at_least: int = 0) -> tuple[int, ...]:
    """Return the counts as a tuple of ints; raises ValueError naming the place of the first that cannot be."""
    plain = demand_list(counts, name)
    if all(
        type(count) is int and at_least <= count <= LARGEST_COUNT for count in plain
    ):  # no name is made for what is as it should be
        return plain
    return tuple(demand_count(count, f"{name}[{i}]", at_least) for i, count in enumerate(plain))


def demand_number(value: float, name: str) -> float:
    """Return the value as a float; raises ValueError unless it is a finite number."""
    if not _is_number(value) or not math.isfinite(value):
        raise ValueError(f"{name} must be a finite number, got {value!r}")
    return float(value)


def demand_numbers(values: Iterable[float], name: str) -> tuple[float, ...]:
    """Return the values as floats; raises ValueError naming the place of the first that is no finite number."""
    return tuple(demand_number(value, f"{name}[{i}]") for i, value in enumerate(demand_list(values, name)))


def demand_share(value: float, name: str) -> float:
    """Return the value as a float; raises ValueError unless it is from 0 to 1."""
    if not _is_number(value) or not 0 <= value <= 1:
        raise ValueError(f"{name} must be between 0 and 1, got {value!r}")
    return float(value)


def demand_inner_share(value: float, name: str) -> float:
    """Return the value as a float; raises ValueError unless it is above 0 and below 1."""
    if not _is_number(value) or not 0 < value < 1:
        raise ValueError(f"{name} must be above 0 and below 1, got {value!r}")
    return float(value)


def demand_flag(value: bool, name: str) -> bool:
    """Return the value; raises ValueError unless it is true or false (a text is not)."""
    if type(value) is not bool and type(value).__name__ not in ("bool_", "bool"):  # numpy's own, not imported for it
        raise ValueError(f"{name} must be True or False, got {value!r}")
    return bool(value)


def demand_choice(value: str, choices: Sequence[str], name: str) -> str:
    """Return the value; raises ValueError unless it is one of the choices."""
    if not isinstance(value, str) or value not in choices:
        raise ValueError(f"{name} must be one of {', '.join(map(repr, choices))}, got {value!r}")
    return value


def demand_kind(value: object, kinds: type | tuple[type, ...], name: str) -> None:
    """Raise ValueError unless the value is a record of one of these kinds; "too little data" is none."""
    if not isinstance(value, kinds):
        named = " or ".join(kind.__name__ for kind in (kinds if isinstance(kinds, tuple) else (kinds,)))
        raise ValueError(f"{name} must be a {named}, got {value!r}")


def demand_positive(value: float, name: str) -> float:
    """Return the value as a float; raises ValueError unless it is finite and more than 0."""
    if demand_number(value, name) <= 0:
        raise ValueError(f"{name} must be more than 0, got {value!r}")
    return float(value)


def demand_exposures(exposures: Sequence[float], name: str) -> tuple[float, ...]:
    """Return exposures (units, hours) as floats; raises ValueError unless each is finite and at least 0."""
    plain = demand_list(exposures, name)
    for i, value in enumerate(plain):
        if type(value) in (float, int) and 0 <= value <= LARGEST_EXPOSURE:
            continue
        demand_exposure(value, f"{name}[{i}]")
    return tuple(map(float, plain))


def demand_exposure(value: float, name: str) -> None:
    """Raise ValueError unless the exposure is a finite number from 0 to the largest that is answered."""
    if demand_number(value, name) < 0:
        raise ValueError(f"{name} must be at least 0, got {value!r}")
    if value > LARGEST_EXPOSURE:
        raise ValueError(f"{name} must be at most {LARGEST_EXPOSURE:g}, the largest that is answered, got {value!r}")


def demand_as_many(name: str, things: Sequence[object], beside: str, others: Sequence[object]) -> None:
    """Raise ValueError unless there are as many of the first as of the second."""
    many, wanted = count_of(things, name), count_of(others, beside)
    if many != wanted:
        raise ValueError(f"{name} must be as many as {beside} ({wanted}), got {many}")


def count_of(things: Sequence[object], name: str) -> int:
    """Return how many things there are; raises ValueError for what is no list."""
    if not hasattr(things, "__len__"):
        raise ValueError(f"{name} must be a list, got {things!r}")
    return len(things)


def demand_labels(
    labels: Sequence[str], beside: str, others: Sequence[object], name: str = "labels"
) -> tuple[str, ...]:
    """Return the labels; raises ValueError unless they are as many as the others and no label stands twice."""
    demand_as_many(name, labels, beside, others)
    plain = demand_list(labels, name)
    if len(set(plain)) != len(plain):
        twice = next(label for label in plain if plain.count(label) > 1)
        raise ValueError(f"{name} must differ, got {twice!r} twice")
    return plain


def demand_no_more(parts: Sequence[int], name: str, wholes: Sequence[int], whole_name: str) -> None:
    """Raise ValueError where a part (defectives) is more than its whole (inspected)."""
    demand_as_many(name, parts, whole_name, wholes)
    for i, (part, whole) in enumerate(zip(parts, wholes, strict=True)):
        if part > whole:
            raise ValueError(f"{whole_name}[{i}] must be at least {name}[{i}] ({part}), got {whole}")


def demand_exposed(counts: Sequence[int], name: str, exposures: Sequence[float], exposure_name: str) -> None:
    """Raise ValueError where something was counted on no exposure at all."""
    demand_as_many(name, counts, exposure_name, exposures)
    for i, (count, exposure) in enumerate(zip(counts, exposures, strict=True)):
        if count > 0 and exposure <= 0:
            raise ValueError(f"{exposure_name}[{i}] must be more than 0 where {name}[{i}] is {count}, got {exposure}")


def demand_table(table: Sequence[Sequence[int]], name: str) -> tuple[tuple[int, ...], ...]:
    """Return a table of counts, at least one row and column; raises ValueError where rows differ in length."""
    rows = tuple(demand_counts(row, f"{name}[{i}]") for i, row in enumerate(demand_list(table, name)))
    if not rows or not rows[0]:
        raise ValueError(f"{name} must have at least one row and one column, got {table!r}")
    for i, row in enumerate(rows):
        demand_as_many(f"{name}[{i}]", row, f"{name}[0]", rows[0])
    return rows


def _is_number(value: object) -> bool:
    return type(value) in (float, int) or (isinstance(value, Real) and not isinstance(value, bool))
