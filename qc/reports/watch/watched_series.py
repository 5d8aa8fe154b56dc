"""Which sums of cells are watched, and what each is expected to hold in a week at its baseline's rates by model.

A cell (station × type) that is too rare to watch by itself goes into its type group at the station, if the type is
mostly the station's own, and what is left into the rest of the station, so that nothing escapes the watch and few
series make the false alarms.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from qc.domain.counted.counts import CellWeeks
from qc.domain.words.said_weeks import week_words
from qc.domain.words.speaking import say

if TYPE_CHECKING:
    from numpy.typing import NDArray

OWN = 4.0  # defects expected a week from which a type is watched by itself
POOLED = 2.0  # from which a type group is
MOSTLY = 0.5  # share of a type's defects in the plant from which it is a station's own
NEARLY = 0.85  # share of a group from which a type stands for it
LEAST = 0.25  # from which a rest is
SHRINK = 20.0  # defects that the plant's rates by model weigh against a series' own
LEAST_WEEKS = 8  # whole weeks that a baseline has at least


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """A watched sum of cells. label: a type, a type group, or "rest"; types: all that it sums, in code order.

    defects, expected: by week of the table, expected at the baseline's rates; both run from week ``first`` (place in
    the table) on, the baseline's weeks up to ``end`` (not included). baseline: defects in the baseline. by_model: the
    defects of each model by week, models in the table's order.
    """

    station: str
    label: str
    types: tuple[str, ...]
    first: int
    end: int
    baseline: int
    defects: tuple[int, ...]
    expected: tuple[float, ...]
    by_model: tuple[tuple[int, ...], ...]

    @property
    def usual(self) -> float:
        """Return the defects expected in a week of the baseline's usual size."""
        return sum(self.expected[self.first : self.end]) / (self.end - self.first)


@dataclass(frozen=True, slots=True)
class NotWatched:
    """What is not watched; since: the week in which criteria changed, "" where it is too rare."""

    station: str
    label: str
    types: tuple[str, ...]
    since: str = ""

    @property
    def reason(self) -> str:
        """Return why, in the language spoken."""
        if not self.since:
            return say("too rare to watch by itself")
        since = week_words(self.since)
        return say("criteria changed in {week}: watched again after {weeks} whole weeks", week=since, weeks=LEAST_WEEKS)


def series_of(
    table: CellWeeks,
    groups: Mapping[str, str],
    baseline: tuple[int, int],
    criteria: Mapping[str, int],
    origins: Sequence[str],
) -> tuple[tuple[Series, ...], tuple[NotWatched, ...]]:
    """Return what is watched, and what is not, of the cells of these origins.

    groups: type -> its group; baseline: places of the weeks [first, end) in the table; criteria: type -> place of the
    first week after its limit of acceptance changed: no rule runs across it, so such a type is watched by itself, on
    a baseline of the 8 whole weeks from there on, and not at all until they are over.
    """
    import numpy as np

    units = np.array(table.units, dtype=float)
    counts = {cell: np.array(rows) for cell, rows in zip(table.cells, table.defects, strict=True)}
    plant = _by_model(np.sum([np.zeros_like(units), *counts.values()], axis=0), units, baseline)
    whole, elsewhere = len(table.weeks) - int(table.partial), dict(table.elsewhere)
    made: dict[str, float] = {}  # of each type in the baseline, wherever
    for (_, type_), rows in counts.items():
        made[type_] = made.get(type_, 0.0) + float(rows[slice(*baseline)].sum())
    watched: list[Series] = []
    left: list[NotWatched] = []
    for station in origins:
        away = elsewhere.get(station, ())
        own = {type_: _of_own_units(rows, away) for (origin, type_), rows in counts.items() if origin == station}
        exposed = _of_own_units(units, away)
        for label, types in _pooled(own, made, groups, baseline, criteria):
            since = max((criteria[type_] for type_ in types if type_ in criteria), default=None)
            weeks = baseline if since is None or since <= baseline[0] else (since, since + LEAST_WEEKS)
            rows = np.sum([own[type_] for type_ in types], axis=0)
            if weeks[1] > whole:
                left.append(NotWatched(station, label, types, table.weeks[weeks[0]]))
            elif rows[slice(*weeks)].sum() < LEAST * (weeks[1] - weeks[0]):
                left.append(NotWatched(station, label, types))
            else:
                watched.append(_series(station, label, types, weeks, rows, exposed, plant))
    return tuple(watched), tuple(left)


def outermost(series: Sequence[Series]) -> tuple[Series, ...]:
    """Return the series that are no part of another one at their station, so that nothing is in two of them."""
    return tuple(one for one in series if not any(_within(one, other) for other in series))


def _within(one: Series, other: Series) -> bool:
    return one.station == other.station and set(one.types) < set(other.types)


def _of_own_units(rows: "NDArray[Any]", away: Sequence[bool]) -> "NDArray[Any]":
    """Return units, or defects on them, by week and build without those of the builds that do not come by a station."""
    if not any(away):
        return rows
    own = rows.copy()
    own[:, list(away)] = 0
    return own


def _pooled(
    own: "Mapping[str, NDArray[Any]]",
    made: Mapping[str, float],
    groups: Mapping[str, str],
    baseline: tuple[int, int],
    criteria: Mapping[str, int],
) -> list[tuple[str, tuple[str, ...]]]:
    """Return (label, types) of a station's series: type groups, types that are many by themselves, the rest.

    A group is summed over the types that are mostly the station's own, where these are enough: of what others mostly
    make, the part that is put down to this station is no process of its own and hides what happens to the others.
    """
    weeks = slice(*baseline)
    span = baseline[1] - baseline[0]
    mean = {type_: float(rows[weeks].sum()) / span for type_, rows in own.items()}
    result: list[tuple[str, tuple[str, ...]]] = [(type_, (type_,)) for type_ in own if type_ in criteria]
    rest: list[str] = []
    for group in sorted({groups[type_] for type_ in own}):
        every = tuple(type_ for type_ in own if groups[type_] == group and type_ not in criteria)
        alone = [type_ for type_ in every if mean[type_] >= OWN]
        result += [(type_, (type_,)) for type_ in alone]
        mostly = tuple(type_ for type_ in every if mean[type_] * span >= MOSTLY * made[type_])
        types = mostly if sum(mean[type_] for type_ in mostly) >= POOLED else every
        whole = sum(mean[type_] for type_ in types)
        # A group that is nearly one type, which is watched already, would be watched twice.
        if whole >= POOLED and not any(mean[type_] > NEARLY * whole for type_ in alone if type_ in types):
            result.append((types[0], types) if len(types) == 1 else (group, types))
            rest += [type_ for type_ in every if type_ not in types and type_ not in alone]
        else:
            rest += [type_ for type_ in every if type_ not in alone]
    return result + ([("rest", tuple(sorted(rest)))] if rest else [])


def _series(
    station: str,
    label: str,
    types: tuple[str, ...],
    weeks: tuple[int, int],
    rows: "NDArray[Any]",
    units: "NDArray[Any]",
    plant: "NDArray[Any]",
) -> Series:
    expected = units @ _rates(rows, units, weeks, plant)
    counts = tuple(int(count) for count in rows.sum(axis=1))
    first, end = weeks
    return Series(
        station=station,
        label=label,
        types=types,
        first=first,
        end=end,
        baseline=sum(counts[first:end]),
        defects=counts,
        expected=tuple(float(one) for one in expected),
        by_model=tuple(map(tuple, rows.T.tolist())),
    )


def _by_model(rows: "NDArray[Any]", units: "NDArray[Any]", weeks: tuple[int, int]) -> "NDArray[Any]":
    """Return the plant's defects per unit by model in the baseline; of a model without units, of all models."""
    defects, exposed = rows[slice(*weeks)].sum(axis=0), units[slice(*weeks)].sum(axis=0)
    over_all = defects.sum() / max(1.0, exposed.sum())
    rates: NDArray[Any] = (defects + SHRINK) / (exposed + SHRINK / max(over_all, 1e-9))
    return rates


def _rates(
    rows: "NDArray[Any]", units: "NDArray[Any]", weeks: tuple[int, int], plant: "NDArray[Any]"
) -> "NDArray[Any]":
    """Return the series' defects per unit by model: its own, drawn towards the plant's pattern by SHRINK defects.

    Together they give exactly the baseline's defects on the baseline's units.
    Source: gamma-Poisson shrinkage, Gaver & O'Muircheartaigh (1987), Technometrics 29, 1-15.
    """
    defects, exposed = rows[slice(*weeks)].sum(axis=0), units[slice(*weeks)].sum(axis=0)
    like_plant = plant * exposed * defects.sum() / max(1e-9, float((plant * exposed).sum()))
    rates: NDArray[Any] = plant * (defects + SHRINK) / (like_plant + SHRINK)
    rates *= defects.sum() / max(1e-9, float((rates * exposed).sum()))
    return rates
