"""How long until any set of run rules signals, trends and alternation among them: simulated, with its error.

Rules on zones have an exact chain (qc.stats.by_command.run_lengths.run_length). A trend depends on the values
themselves, and all eight of Nelson's rules together remember more than a chain can hold: they are
answered by simulated series.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from qc.stats.answers import TooLittle
from qc.stats.charts.chart_points import ROUNDING
from qc.stats.charts.run_rules import Rule, RuleSet, Shape
from qc.stats.refusals import demand_count, demand_kind, demand_level, demand_number

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

FEWEST_RUNS = 1_000
MOST_POINTS = 20_000  # of one series; a set of rules that is quieter is not answered


@dataclass(frozen=True, slots=True, kw_only=True)
class SimulatedRunLength:
    """The mean number of points to the first signal, that point counted, over simulated series.

    low, high: normal interval of the mean at the level, what the simulation itself leaves open. longest: the longest
    of the runs. situation: what the points were drawn from, in words.
    """

    mean: float
    low: float
    high: float
    error: float
    longest: int
    rules: str
    situation: str
    level: float
    runs: int
    seed: int
    method: str


def simulated_run_length(
    rules: RuleSet, shift: float, runs: int, level: float, seed: int
) -> SimulatedRunLength | TooLittle:
    """Return the average run length of any set of rules on independent normal points, shifted by so many sigmas.

    runs: simulated series, at least 1000 (the error of the mean falls with their root); the seed makes them
    repeatable. Where a series had no signal in 20000 points the mean is not known: TooLittle.
    Where all series ended at the same point, high is that length over the least share of such series that so many
    leave open (exact limit): what ends later begins anew.
    Source: direct simulation; the rules are those of run_rules, point by point.
    """
    import numpy as np
    from scipy.special import ndtri

    demand_kind(rules, RuleSet, "rules")
    shift, level = demand_number(shift, "shift"), demand_level(level)
    runs, seed = demand_count(runs, "runs", FEWEST_RUNS), demand_count(seed, "seed")
    lengths = _lengths(rules, shift, runs, np.random.default_rng(seed))
    if len(lengths) < runs:
        reason = f"not all series had a signal within {MOST_POINTS} points"
        return TooLittle("simulated run length", reason, len(lengths), runs)
    mean, error = float(lengths.mean()), float(lengths.std(ddof=1)) / runs**0.5
    reach = float(ndtri((1 + level) / 2)) * error
    high = mean + reach if error > 0 else mean / ((1 - level) / 2) ** (1 / runs)
    situation = f"normal, shifted by {shift:g} standard deviations"
    return SimulatedRunLength(
        mean=mean,
        low=max(1.0, mean - reach),
        high=high,
        error=error,
        longest=int(lengths.max()),
        rules=rules.name,
        situation=situation,
        level=level,
        runs=runs,
        seed=seed,
        method="simulated series",
    )


def _lengths(rules: RuleSet, shift: float, runs: int, source: "np.random.Generator") -> "NDArray[np.int64]":
    """Return the run lengths of the series that ended, in the order in which they did."""
    import numpy as np

    longest = max((rule.of for rule in rules.rules), default=1)
    last, ended, point = np.empty((0, runs)), [np.empty(0, dtype=np.int64)], 0
    while last.shape[1] and point < MOST_POINTS:
        point += 1
        drawn = source.standard_normal(last.shape[1]) + shift
        last = np.vstack([last[-(longest - 1) :] if longest > 1 else last[:0], drawn])
        signals = np.zeros(last.shape[1], dtype=bool)
        for rule in rules.rules:
            signals |= completes(rule, last[-rule.of :])
        ended.append(np.full(int(signals.sum()), point))
        last = last[:, ~signals]
    return np.concatenate(ended)


def completes(rule: Rule, last: "NDArray[np.float64]") -> "NDArray[np.bool_]":
    """Return of each series (a column) whether its newest point, in the last row, completes the rule's pattern.

    last: the newest rule.of points or, where there are not yet so many, all of them.
    """
    import numpy as np

    if rule.shape != "beyond" and len(last) < rule.of:
        return np.zeros(last.shape[1], dtype=bool)
    return np.asarray(_PATTERNS[rule.shape](rule, last), dtype=bool)


def _beyond(rule: Rule, last: Any) -> Any:
    high, low = last > rule.zone + ROUNDING, last < -rule.zone - ROUNDING
    return (high[-1] & (high.sum(axis=0) >= rule.need)) | (low[-1] & (low.sum(axis=0) >= rule.need))


def _steps(last: Any) -> Any:
    import numpy as np

    rises = np.diff(last, axis=0)
    return np.asarray((rises > ROUNDING).astype(np.int8) - (rises < -ROUNDING).astype(np.int8))


def _trend(_: Rule, last: Any) -> Any:
    steps = _steps(last)
    return (steps == 1).all(axis=0) | (steps == -1).all(axis=0)


def _alternating(_: Rule, last: Any) -> Any:
    steps = _steps(last)
    return (steps[1:] * steps[:-1] == -1).all(axis=0)


def _within(rule: Rule, last: Any) -> Any:
    return (abs(last) < rule.zone - ROUNDING).all(axis=0)


def _outside(rule: Rule, last: Any) -> Any:
    outside = (abs(last) > rule.zone + ROUNDING).all(axis=0)
    return outside & (last.min(axis=0) < 0) & (last.max(axis=0) > 0)


_PATTERNS: dict[Shape, Callable[[Rule, Any], Any]] = {
    "beyond": _beyond,
    "trend": _trend,
    "alternating": _alternating,
    "within": _within,
    "outside": _outside,
}
