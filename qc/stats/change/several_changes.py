"""Several lasting changes in one series: how many, when each (a range), and the stretch between them.

Changes are added one or two at a time (a bad batch comes and goes, which one change alone hardly shows), each step
tested by simulation under the stretches found so far.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from qc.stats.answers import TooLittle
from qc.stats.change.change_points import FEWEST, FEWEST_RUNS, TIE, date_chances, likely_range, mean_date_chances
from qc.stats.change.cost_bounds import poisson_cost_bounds, poisson_least_costs
from qc.stats.change.segments import (
    best_costs,
    best_cuts,
    mean_costs,
    poisson_best_costs,
    poisson_costs,
)
from qc.stats.refusals import (
    demand_count,
    demand_kind,
    demand_labels,
    demand_level,
    demand_numbers,
)
from qc.stats.series import Rates

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Between = tuple[NDArray[np.float64], NDArray[np.float64]]
    Many = NDArray[Any]  # series of values or of whole counts, one a row

LONG = 60  # periods from which bounds take less than the search that they spare
CHUNK = 100  # simulated series drawn at a time; of a mean each is held with a cost for every stretch


@dataclass(frozen=True, slots=True)
class Stretch:
    """Periods of one regime, first to last by label, with its rate or mean."""

    first: str
    last: str
    periods: int
    value: float


@dataclass(frozen=True, slots=True)
class DatedChange:
    """One change: the last period of the regime before it, and the range of that which holds the level."""

    last_before: str
    earliest: str
    latest: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SeveralChanges:
    """The changes in time order with the stretches between; none is an answer too.

    p_values: of each step that was tried, the last one being the step that was not taken (unless most was reached).
    gaps: labels without exposure, left out.
    """

    changes: tuple[DatedChange, ...]
    stretches: tuple[Stretch, ...]
    p_values: tuple[float, ...]
    labels: tuple[str, ...]
    gaps: tuple[str, ...]
    most: int
    shortest: int
    level: float
    runs: int
    seed: int
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Series:
    """What the steps need of a series: its costs, the least ones of many like it, how to draw one under given cuts.

    least: of many, what none costs less than, as cost_bounds.poisson_least_costs; bounds: dearer and closer, as
    cost_bounds.poisson_cost_bounds. So most need no search. together: simulated series looked at together.
    """

    length: int
    costs: "Callable[[Many], NDArray[np.float64]]"
    best: "Callable[[Many, int], NDArray[np.float64]]"
    gain: "Callable[[NDArray[np.float64], int, int], NDArray[np.float64]]"
    seen: "Many"
    draw: "Callable[[np.random.Generator, tuple[int, ...], int], Many]"
    least: "Callable[[Many, tuple[int, ...], int], NDArray[np.float64]] | None" = None
    bounds: "Callable[[Many, tuple[int, ...], int], Between] | None" = None
    together: int = CHUNK


def poisson_changes(
    rates: Rates,
    level: float,
    most: int,
    shortest: int,
    runs: int,
    seed: int,
) -> SeveralChanges | TooLittle:
    """Return the changes in a Poisson rate, in time order.

    most: changes looked for; shortest: periods that a stretch has at least; runs (at least 99) and seed of the
    simulations, which share each stretch's total out by units. Each step is tested at 1 - level, so with no
    change at all a change is claimed in at most that share of series. Periods without units are gaps. Too few
    periods, or no defect, is TooLittle. For counts more scattered than Poisson the test claims too much.
    Source: optimal division, Auger & Lawrence (1989), Bull. Math. Biology 51, 39-54; number of changes by
    sequential likelihood ratio tests, their null by parametric bootstrap (Davison & Hinkley 1997, ch. 4).
    """
    import numpy as np

    demand_kind(rates, Rates, "rates")
    level, most, shortest, runs, seed = _settings(level, most, shortest, runs, seed)
    kept = [i for i, units in enumerate(rates.units) if units > 0]
    names = tuple(rates.labels[i] for i in kept)
    gaps = tuple(label for label in rates.labels if label not in set(names))
    if sum(rates.defects) == 0:
        return TooLittle("change points", "no defect in any period", 0, 1)
    x, t = np.array([rates.defects[i] for i in kept]), np.array([rates.units[i] for i in kept], dtype=float)

    def costs(series: "Many") -> "NDArray[np.float64]":
        return poisson_costs(series.astype(np.int64, copy=False), t[None], shortest)

    def best(series: "Many", cuts: int) -> "NDArray[np.float64]":
        return poisson_best_costs(series.astype(np.int64, copy=False), t[None], shortest, cuts)

    def draw(source: "np.random.Generator", cuts: tuple[int, ...], size: int) -> "Many":
        spans = _spans(cuts, len(x))
        parts = [source.multinomial(int(x[a:b].sum()), t[a:b] / t[a:b].sum(), size=size) for a, b in spans]
        return np.concatenate(parts, axis=1)

    def least(series: "Many", cuts: tuple[int, ...], more: int) -> "NDArray[np.float64]":
        return poisson_least_costs(series.astype(np.int64, copy=False), t[None], cuts, more)

    def bounds(series: "Many", cuts: tuple[int, ...], more: int) -> "Between":
        return poisson_cost_bounds(series.astype(np.int64, copy=False), t[None], cuts, shortest, more)

    def gain(best: "NDArray[np.float64]", m: int, j: int) -> "NDArray[np.float64]":
        return np.asarray(best[:, m] - best[:, m + j])

    series = _Series(
        length=len(x),
        costs=costs,
        best=best,
        gain=gain,
        seen=x,
        draw=draw,
        least=least,
        bounds=bounds if len(x) >= LONG else None,
        together=10 * CHUNK,
    )
    found = _steps(series, level, most, shortest, runs, seed)
    if isinstance(found, TooLittle):
        return found
    cuts, p_values = found
    spans = _spans(cuts, len(x))
    stretches = tuple(Stretch(names[a], names[b - 1], b - a, float(x[a:b].sum() / t[a:b].sum())) for a, b in spans)
    changes = tuple(_dated(date_chances(x[a:c], t[a:c]), a, b, names, level) for a, b, c in _around(cuts, len(x)))
    method = "Poisson stretches, steps by simulation"
    return SeveralChanges(
        changes=changes,
        stretches=stretches,
        p_values=p_values,
        labels=names,
        gaps=gaps,
        most=most,
        shortest=shortest,
        level=level,
        runs=runs,
        seed=seed,
        method=method,
    )


def mean_changes(
    values: Sequence[float], labels: Sequence[str], level: float, most: int, shortest: int, runs: int, seed: int
) -> SeveralChanges | TooLittle:
    """Return the changes in a mean with constant scatter, values in time order.

    As poisson_changes, with runs that shuffle what is left when each stretch's mean is taken off. All values
    equal is TooLittle. Source: as poisson_changes.
    """
    import numpy as np

    y = np.array(demand_numbers(values, "values"))
    labels = demand_labels(labels, "values", values)
    level, most, shortest, runs, seed = _settings(level, most, shortest, runs, seed)
    if len(y) and np.ptp(y) == 0:
        return TooLittle("change points", "all values are equal", 1, 2)

    def draw(source: "np.random.Generator", cuts: tuple[int, ...], size: int) -> "Many":
        means = np.concatenate([np.full(b - a, y[a:b].mean()) for a, b in _spans(cuts, len(y))])
        return np.asarray(means + source.permuted(np.broadcast_to(y - means, (size, len(y))), axis=1))

    def gain(best: "NDArray[np.float64]", m: int, j: int) -> "NDArray[np.float64]":
        floor = 1e-12 * float(((y - y.mean()) ** 2).sum())
        return np.asarray(len(y) * np.log(np.maximum(best[:, m], floor) / np.maximum(best[:, m + j], floor)))

    series = _Series(
        length=len(y),
        costs=lambda many: mean_costs(many, shortest),
        best=lambda many, cuts: best_costs(mean_costs(many, shortest), cuts),
        gain=gain,
        seen=y,
        draw=draw,
    )
    found = _steps(series, level, most, shortest, runs, seed)
    if isinstance(found, TooLittle):
        return found
    cuts, p_values = found
    stretches = tuple(Stretch(labels[a], labels[b - 1], b - a, float(y[a:b].mean())) for a, b in _spans(cuts, len(y)))
    changes = tuple(_dated(mean_date_chances(y[a:c]), a, b, labels, level) for a, b, c in _around(cuts, len(y)))
    method = "stretches of one mean, steps by shuffling"
    return SeveralChanges(
        changes=changes,
        stretches=stretches,
        p_values=p_values,
        labels=labels,
        gaps=(),
        most=most,
        shortest=shortest,
        level=level,
        runs=runs,
        seed=seed,
        method=method,
    )


def _settings(level: float, most: int, shortest: int, runs: int, seed: int) -> tuple[float, int, int, int, int]:
    return (
        demand_level(level), demand_count(most, "most", 1), demand_count(shortest, "shortest", 1),
        demand_count(runs, "runs", FEWEST_RUNS), demand_count(seed, "seed"),
    )  # fmt: skip


def _steps(
    series: _Series, level: float, most: int, shortest: int, runs: int, seed: int
) -> tuple[tuple[int, ...], tuple[float, ...]] | TooLittle:
    """Return the cuts and the p-values of the steps that led to them."""
    import numpy as np

    source = np.random.default_rng(seed)
    need = max(FEWEST, 2 * shortest)
    if series.length < need:
        return TooLittle("change points", "too few periods have exposure", series.length, need)
    most = min(most, series.length // shortest - 1)
    costs = series.costs(series.seen[None])
    best = best_costs(costs, most)
    cuts: tuple[int, ...] = ()
    p_values: list[float] = []
    while len(cuts) < most:
        add, p_value = _next_step(series, best, cuts, most, runs, source)
        p_values.append(p_value)
        if p_value > (1 - level) * (1 + 1e-7):
            break
        cuts = best_cuts(costs[0], len(cuts) + add)
    return cuts, tuple(p_values)


def _next_step(
    series: _Series,
    best: "NDArray[np.float64]",
    cuts: tuple[int, ...],
    most: int,
    runs: int,
    source: "np.random.Generator",
) -> tuple[int, float]:
    """Return whether one or two more cuts gain more than chance would, and the p-value for both tries together."""
    import numpy as np

    m = len(cuts)
    tries = [j for j in (1, 2) if m + j <= most]
    seen = {j: float(series.gain(best, m, j)[0]) for j in tries}
    reached = dict.fromkeys(tries, 0)
    for drawn in _drawn(series, cuts, {m + j: seen[j] * TIE for j in tries}, runs, source):
        left = drawn
        if series.bounds is not None and len(drawn):
            low, high = series.bounds(drawn, cuts, m + tries[-1])
            surely = {j: low[:, m] - high[:, m + j] >= seen[j] * TIE for j in tries}
            hardly = {j: high[:, m] - low[:, m + j] < seen[j] * TIE for j in tries}
            told = np.all([surely[j] | hardly[j] for j in tries], axis=0)
            for j in tries:
                reached[j] += int((surely[j] & told).sum())
            left = drawn[~told]
        drawn_best = series.best(left, m + tries[-1])
        for j in tries:
            reached[j] += int((series.gain(drawn_best, m, j) >= seen[j] * TIE).sum())
    p_values = {j: (1 + reached[j]) / (runs + 1) for j in tries}
    add = min(tries, key=lambda j: (p_values[j], j))
    return add, min(1.0, p_values[add] * len(tries))


def _drawn(
    series: _Series, cuts: tuple[int, ...], sought: dict[int, float], runs: int, source: "np.random.Generator"
) -> "Iterator[Many]":
    """Yield the simulated series, without those that can gain what is sought with none of its numbers of cuts."""
    import numpy as np

    held: list[Many] = []
    for start in range(0, runs, CHUNK):
        drawn = series.draw(source, cuts, min(CHUNK, runs - start))
        if series.least is not None:
            least = series.least(drawn, cuts, max(sought))
            drawn = drawn[np.any([least[:, 0] - least[:, k] >= gain for k, gain in sought.items()], axis=0)]
        held.append(drawn)
        if sum(map(len, held)) >= (series.together if start + CHUNK < runs else 1):
            yield np.concatenate(held)
            held = []


def _spans(cuts: tuple[int, ...], length: int) -> list[tuple[int, int]]:
    ends = (0, *cuts, length)
    return list(pairwise(ends))


def _around(cuts: tuple[int, ...], length: int) -> list[tuple[int, int, int]]:
    """Return for each cut the start of the stretch before it, the cut, and the end of the stretch after it."""
    ends = (0, *cuts, length)
    return list(zip(ends[:-2], ends[1:-1], ends[2:], strict=True))


def _dated(chances: "NDArray[np.float64]", start: int, cut: int, labels: tuple[str, ...], level: float) -> DatedChange:
    first, last = likely_range(chances, level)
    last_before = cut - 1
    earliest, latest = min(start + first, last_before), max(start + last, last_before)
    return DatedChange(labels[last_before], labels[earliest], labels[latest])
