"""Counts beside the labels of their periods: what cannot be is refused with the period's name."""

from collections.abc import Sequence
from numbers import Integral

from qc.stats.refusals import (
    LARGEST_COUNT,
    LARGEST_EXPOSURE,
    count_of,
    demand_count,
    demand_exposure,
    demand_list,
    demand_number,
)

ShareCounts = tuple[tuple[str, ...], tuple[int, ...], tuple[int, ...]]
RateCounts = tuple[tuple[str, ...], tuple[int, ...], tuple[float, ...]]


def check_part(part_name: str, part: int, whole_name: str, whole: int, label: str | None = None) -> tuple[int, int]:
    """Return two counts; refuse them where the first is not a part of the second, or either is no count."""
    part, whole = _count(part_name, part, label), _count(whole_name, whole, label)
    if part > whole:
        raise ValueError(f"{whole_name} must be at least {part_name} ({part}), got {whole}{_where(label)}")
    return part, whole


def check_defects(
    defects: int, exposure: float, label: str | None = None, *, names: tuple[str, str] = ("defects", "exposure")
) -> tuple[int, float]:
    """Return defects and exposure; refuse defects that are no count, or were found where nothing was exposed."""
    counted, exposed = names
    defects = _count(counted, defects, label)
    if type(exposure) is not int:
        demand_number(exposure, f"{exposed}{_where(label)}")
    if not 0 <= exposure <= LARGEST_EXPOSURE:
        demand_exposure(exposure, f"{exposed}{_where(label)}")
    if exposure == 0 and defects > 0:
        raise ValueError(f"{exposed} must be above 0 where there are defects ({defects}), got 0{_where(label)}")
    return defects, plain_number(exposure)


def check_same_length(**named: Sequence[object]) -> None:
    """Refuse sequences that should stand beside each other and have different lengths."""
    lengths = {name: count_of(values, name) for name, values in named.items()}
    if len(set(lengths.values())) > 1:
        told = ", ".join(f"{name} has {length}" for name, length in lengths.items())
        raise ValueError(f"each must have as many values as the others: {told}")


def check_labels(labels: Sequence[str]) -> None:
    """Refuse labels of which two are the same: exclusions and signals name their point by its label."""
    plain = demand_list(labels, "labels")
    if len(set(plain)) < len(plain):
        twice = next(label for place, label in enumerate(plain) if label in plain[:place])
        raise ValueError(f"labels must differ from each other, got {twice!r} twice")


def check_share_counts(labels: Sequence[str], defectives: Sequence[int], inspected: Sequence[int]) -> ShareCounts:
    """Return the periods as plain tuples; refuse defective units that cannot be a part of the units inspected."""
    check_same_length(labels=labels, defectives=defectives, inspected=inspected)
    check_labels(labels)
    names, parts, wholes = (demand_list(labels, "labels"), demand_list(defectives, "defectives"),
                            demand_list(inspected, "inspected"))  # fmt: skip
    for label, part, whole in zip(names, parts, wholes, strict=True):
        check_part("defectives", part, "inspected", whole, label)
    return names, tuple(map(int, parts)), tuple(map(int, wholes))


def check_rate_counts(labels: Sequence[str], defects: Sequence[int], exposure: Sequence[float]) -> RateCounts:
    """Return the periods as plain tuples; refuse defects that cannot be, or stand on no exposure."""
    check_same_length(labels=labels, defects=defects, exposure=exposure)
    check_labels(labels)
    names, counts, sizes = (demand_list(labels, "labels"), demand_list(defects, "defects"),
                            demand_list(exposure, "exposure"))  # fmt: skip
    for label, count, size in zip(names, counts, sizes, strict=True):
        check_defects(count, size, label)
    return names, tuple(map(int, counts)), tuple(map(plain_number, sizes))


def plain_number(value: float) -> float:
    """Return Python's own number: an int stays an int, numpy's become what they stand for."""
    if type(value) is int or type(value) is float:
        return value
    return int(value) if isinstance(value, Integral) else float(value)


def _count(name: str, value: int, label: str | None) -> int:
    # A plain int passes without a name being built for each of a thousand periods.
    return (
        value if type(value) is int and 0 <= value <= LARGEST_COUNT else demand_count(value, f"{name}{_where(label)}")
    )


def _where(label: str | None) -> str:
    return "" if label is None else f" for {label!r}"
