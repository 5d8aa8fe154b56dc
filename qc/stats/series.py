"""The door of series: counts beside the names of their periods, stations or types, made once and refused once.

``shares_of``, ``rates_of`` and ``counts_of`` alone make the three values; a statistic that takes one asks nothing more
of it. What cannot be is refused with the name of its row, before anything is worked out.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from qc.stats.refusals import (
    demand_as_many,
    demand_counts,
    demand_found,
    demand_labels,
    demand_list,
    demand_part,
)


@dataclass(frozen=True, slots=True)
class Shares:
    """Defective units of the units inspected, 0 <= defectives <= inspected, beside labels that differ.

    In time order where the labels are periods. inspected 0 is a gap: nobody looked. Made by shares_of.
    """

    defectives: tuple[int, ...]
    inspected: tuple[int, ...]
    labels: tuple[str, ...]

    @property
    def events(self) -> tuple[int, ...]:
        """Return what was counted, for whoever serves shares and rates alike."""
        return self.defectives

    @property
    def sizes(self) -> tuple[int, ...]:
        """Return what it was counted on."""
        return self.inspected

    def rows(self, which: slice | Sequence[int]) -> "Shares":
        """Return some of the rows: a slice of them, or those at these places."""
        if isinstance(which, slice):
            return Shares(self.defectives[which], self.inspected[which], self.labels[which])
        first, second, names = self.defectives, self.inspected, self.labels
        return Shares(tuple(first[i] for i in which), tuple(second[i] for i in which), tuple(names[i] for i in which))


@dataclass(frozen=True, slots=True)
class Rates:
    """Defects and the units that they were found on, beside labels that differ.

    defects at least 0; units (or hours, metres) at least 0, 0 being a gap, on which nothing can have been found.
    Made by rates_of.
    """

    defects: tuple[int, ...]
    units: tuple[float, ...]
    labels: tuple[str, ...]

    @property
    def events(self) -> tuple[int, ...]:
        """Return what was counted, for whoever serves shares and rates alike."""
        return self.defects

    @property
    def sizes(self) -> tuple[float, ...]:
        """Return what it was counted on."""
        return self.units

    def rows(self, which: slice | Sequence[int]) -> "Rates":
        """Return some of the rows: a slice of them, or those at these places."""
        if isinstance(which, slice):
            return Rates(self.defects[which], self.units[which], self.labels[which])
        first, second, names = self.defects, self.units, self.labels
        return Rates(tuple(first[i] for i in which), tuple(second[i] for i in which), tuple(names[i] for i in which))


@dataclass(frozen=True, slots=True)
class Counts:
    """Counts at least 0 beside labels that differ: periods of one size, or the parts of one whole (types, origins).

    Made by counts_of.
    """

    counts: tuple[int, ...]
    labels: tuple[str, ...]


def shares_of(
    defectives: Sequence[int],
    inspected: Sequence[int],
    labels: Sequence[str],
    *,
    names: tuple[str, str] = ("defectives", "inspected"),
) -> Shares:
    """Return defective units of units inspected as one value; names: what a refusal calls the two.

    Raises ValueError naming argument, value and row where a count is none, a part is more than its whole, lengths
    differ or a label stands twice.
    """
    part_name, whole_name = names
    demand_as_many(whole_name, inspected, part_name, defectives)
    labels = demand_labels(labels, part_name, defectives)
    rows = zip(demand_list(defectives, part_name), demand_list(inspected, whole_name), labels, strict=True)
    found = [demand_part(part, part_name, whole, whole_name, label) for part, whole, label in rows]
    return Shares(tuple(part for part, _ in found), tuple(whole for _, whole in found), labels)


def rates_of(
    defects: Sequence[int],
    units: Sequence[float],
    labels: Sequence[str],
    *,
    names: tuple[str, str] = ("defects", "units"),
) -> Rates:
    """Return defects on units as one value; names: what a refusal calls the two.

    Raises ValueError naming argument, value and row where a count is none, something was found on no unit, lengths
    differ or a label stands twice.
    """
    found_name, unit_name = names
    demand_as_many(unit_name, units, found_name, defects)
    labels = demand_labels(labels, found_name, defects)
    rows = zip(demand_list(defects, found_name), demand_list(units, unit_name), labels, strict=True)
    found = [demand_found(count, found_name, size, unit_name, label) for count, size, label in rows]
    return Rates(tuple(count for count, _ in found), tuple(size for _, size in found), labels)


def counts_of(counts: Sequence[int], labels: Sequence[str], *, name: str = "counts") -> Counts:
    """Return the counts of one whole's parts as one value; name: what a refusal calls them. Raises ValueError."""
    labels = demand_labels(labels, name, counts)
    return Counts(demand_counts(counts, name), labels)


def demand_same_labels(series: Rates | Counts, name: str, beside: Rates | Counts, beside_name: str) -> None:
    """Raise ValueError unless two series stand beside the same labels in the same order."""
    if series.labels != beside.labels:
        differ = next((pair for pair in zip(series.labels, beside.labels, strict=False) if pair[0] != pair[1]), None)
        told = f"{differ[0]!r} beside {differ[1]!r}" if differ else f"{len(series.labels)} beside {len(beside.labels)}"
        raise ValueError(f"{name} must have the labels of {beside_name} in their order, got {told}")
