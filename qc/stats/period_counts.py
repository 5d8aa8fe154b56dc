"""Counts beside the labels of their periods: what cannot be is refused with the period's name."""

from collections.abc import Sequence

from qc.stats.refusals import demand_count, demand_number


def check_part(part_name: str, part: int, whole_name: str, whole: int, label: str | None = None) -> None:
    """Refuse two counts of which the first is not a part of the second, or either is no count."""
    _check_count(part_name, part, label)
    _check_count(whole_name, whole, label)
    if part > whole:
        raise ValueError(f"{whole_name} must be at least {part_name} ({part}), got {whole}{_where(label)}")


def check_defects(defects: int, exposure: float, label: str | None = None) -> None:
    """Refuse defects that are no count, or were found where nothing was exposed."""
    _check_count("defects", defects, label)
    if type(exposure) is not int:
        demand_number(exposure, f"exposure{_where(label)}")
    if exposure < 0:
        raise ValueError(f"exposure must be at least 0, got {exposure!r}{_where(label)}")
    if exposure == 0 and defects > 0:
        raise ValueError(f"exposure must be above 0 where there are defects ({defects}), got 0{_where(label)}")


def check_same_length(**named: Sequence[object]) -> None:
    """Refuse sequences that should stand beside each other and have different lengths."""
    lengths = {name: len(values) for name, values in named.items()}
    if len(set(lengths.values())) > 1:
        told = ", ".join(f"{name} has {length}" for name, length in lengths.items())
        raise ValueError(f"each must have as many values as the others: {told}")


def check_labels(labels: Sequence[str]) -> None:
    """Refuse labels of which two are the same: exclusions and signals name their point by its label."""
    if len(set(labels)) < len(labels):
        twice = next(label for place, label in enumerate(labels) if label in labels[:place])
        raise ValueError(f"labels must differ from each other, got {twice!r} twice")


def check_share_counts(labels: Sequence[str], defectives: Sequence[int], inspected: Sequence[int]) -> None:
    """Refuse periods whose defective units cannot be a part of the units inspected."""
    check_same_length(labels=labels, defectives=defectives, inspected=inspected)
    check_labels(labels)
    for label, part, whole in zip(labels, defectives, inspected, strict=True):
        check_part("defectives", part, "inspected", whole, label)


def check_rate_counts(labels: Sequence[str], defects: Sequence[int], exposure: Sequence[float]) -> None:
    """Refuse periods whose defects cannot be, or stand on no exposure."""
    check_same_length(labels=labels, defects=defects, exposure=exposure)
    check_labels(labels)
    for label, count, size in zip(labels, defects, exposure, strict=True):
        check_defects(count, size, label)


def _check_count(name: str, value: int, label: str | None) -> None:
    # A plain int passes without a name being built for each of a thousand periods.
    if type(value) is not int or value < 0:
        demand_count(value, f"{name}{_where(label)}")


def _where(label: str | None) -> str:
    return "" if label is None else f" for {label!r}"
