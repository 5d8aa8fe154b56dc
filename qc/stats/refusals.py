"""Refuse impossible input: every ValueError names the argument, the value and what would do."""

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from numbers import Integral, Real
from typing import TypeVar

Item = TypeVar("Item")

# Counts up to here are answered in full digits and in bounded time; no plant counts more. Beyond, the terms of exact
# laws no longer differ by one in a computer's numbers, and whole numbers leave the machine's own.
LARGEST_COUNT = 10**9
LARGEST_SIZE = 1e12  # units, hours or metres: a thousand for each count


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


def demand_ratio(value: float, name: str = "ratio") -> float:
    """Return the ratio of a shift as a float; raises ValueError unless it is above 0 and not 1, which is no shift."""
    if demand_positive(value, name) == 1:
        raise ValueError(f"{name} must differ from 1, which is no shift, got {value!r}")
    return float(value)


def demand_shifted_share(share: float, ratio: float) -> tuple[float, float]:
    """Return a share and the share times a ratio, both above 0 and below 1 and not the same; raises ValueError."""
    share = demand_inner_share(share, "share")
    shifted = share * demand_ratio(ratio)
    if not 0 < shifted < 1 or shifted == share:
        raise ValueError(f"ratio must leave share times ratio below 1 and change it, got {ratio!r} for {share!r}")
    return share, shifted


def demand_sizes(sizes: Sequence[float], name: str) -> tuple[float, ...]:
    """Return what was counted on (units, hours) as floats; raises ValueError unless each is finite and at least 0."""
    plain = demand_list(sizes, name)
    for i, value in enumerate(plain):
        if type(value) in (float, int) and 0 <= value <= LARGEST_SIZE:
            continue
        demand_size(value, f"{name}[{i}]")
    return tuple(map(float, plain))


def demand_size(value: float, name: str) -> None:
    """Raise ValueError unless the size is a finite number from 0 to the largest that is answered."""
    if demand_number(value, name) < 0:
        raise ValueError(f"{name} must be at least 0, got {value!r}")
    if value > LARGEST_SIZE:
        raise ValueError(f"{name} must be at most {LARGEST_SIZE:g}, the largest that is answered, got {value!r}")


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
        many = Counter(plain)
        twice = next(label for label in plain if many[label] > 1)
        raise ValueError(f"{name} must differ, got {twice!r} twice")
    return plain


def demand_no_more(parts: Sequence[int], name: str, wholes: Sequence[int], whole_name: str) -> None:
    """Raise ValueError where a part (defectives) is more than its whole (inspected)."""
    demand_as_many(name, parts, whole_name, wholes)
    for i, (part, whole) in enumerate(zip(parts, wholes, strict=True)):
        if part > whole:
            raise ValueError(f"{whole_name}[{i}] must be at least {name}[{i}] ({part}), got {whole}")


def demand_part(part: int, name: str, whole: int, whole_name: str, label: str | None = None) -> tuple[int, int]:
    """Return two counts; raises ValueError where the first is not a part of the second; label: whose they are."""
    if type(part) is int and type(whole) is int and 0 <= part <= whole <= LARGEST_COUNT:
        return part, whole  # most are: no name is made for what is as it should be
    where = _whose(label)
    part, whole = demand_count(part, f"{name}{where}"), demand_count(whole, f"{whole_name}{where}")
    if part > whole:
        raise ValueError(f"{whole_name} must be at least {name} ({part}), got {whole}{where}")
    return part, whole


def demand_found(defects: int, name: str, units: float, unit_name: str, label: str | None = None) -> tuple[int, float]:
    """Return defects and their units; raises ValueError for defects that are no count, or were found on no unit."""
    plain = type(defects) is int and type(units) in (float, int)
    if plain and 0 <= defects <= LARGEST_COUNT and 0 < units <= LARGEST_SIZE:
        return defects, units
    where = _whose(label)
    defects = demand_count(defects, f"{name}{where}")
    if type(units) is not int:
        demand_number(units, f"{unit_name}{where}")
    if not 0 <= units <= LARGEST_SIZE:
        demand_size(units, f"{unit_name}{where}")
    if units == 0 and defects > 0:
        raise ValueError(f"{unit_name} must be above 0 where there are defects ({defects}), got 0{where}")
    return defects, plain_number(units)


def plain_number(value: float) -> float:
    """Return Python's own number: an int stays an int, numpy's become what they stand for."""
    if type(value) is int or type(value) is float:
        return value
    return int(value) if isinstance(value, Integral) else float(value)


def demand_counted_on(counts: Sequence[int], name: str, sizes: Sequence[float], size_name: str) -> None:
    """Raise ValueError where something was counted on nothing at all."""
    demand_as_many(name, counts, size_name, sizes)
    for i, (count, size) in enumerate(zip(counts, sizes, strict=True)):
        if count > 0 and size <= 0:
            raise ValueError(f"{size_name}[{i}] must be more than 0 where {name}[{i}] is {count}, got {size}")


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


def _whose(label: str | None) -> str:
    return "" if label is None else f" for {label!r}"
