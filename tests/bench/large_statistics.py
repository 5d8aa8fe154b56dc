"""The statistics that grow with what they are given, at the largest plausible size, against their plain forms.

    python -m tests.bench.large_statistics

Each is meant to answer within half a second of one core; changes of a rate over 520 periods do with the command's own
number of runs, 999. A step that chance plainly cannot make is told by a bound without a search. One that is not taken
has closer bounds, which decide more than nine in ten runs in one pass over the periods for each line of some fifty; the
others look at every one of the 135,000 stretches. A third of the time and more goes to drawing the runs, whose stream
the answers hang on.

Its plain form says the same the long way: every pair, every stretch, every draw by itself; both answers are compared
before the ratio is printed. Seconds are of the processor,
the best of three; take them on a quiet machine with one thread (OPENBLAS_NUM_THREADS=1).
"""

from collections.abc import Callable
from dataclasses import dataclass
from time import process_time
from typing import Any

import numpy as np

from qc.stats.by_command.agreement.krippendorff import krippendorff_alpha, krippendorff_interval
from qc.stats.by_command.change.trend import mann_kendall_normal
from qc.stats.by_command.intervals.simultaneous import sison_glaz_intervals
from qc.stats.change.segments import best_costs, poisson_best_costs, poisson_costs
from qc.stats.change.several_changes import poisson_changes
from qc.stats.series import counts_of, rates_of

AIM = 0.5  # seconds
RANDOM = np.random.default_rng(5)
VALUES = RANDOM.normal(size=5000)
PERIODS = [str(period) for period in range(520)]
COUNTS = RANDOM.poisson([40] * 200 + [55] * 200 + [40] * 120)
SERIES = RANDOM.poisson(40, size=(30, 520))
TYPES = [int(count) for count in RANDOM.poisson(30, 50)]
TRUTH = RANDOM.integers(1, 6, 200)
ROWS = [np.clip(TRUTH + RANDOM.integers(-1, 2, 200), 1, 5).tolist() for _ in range(3)]
DRAWS = 20_000


@dataclass(frozen=True)
class Case:
    """A name, our call, and a pair that answers alike: how we do it and the plain form of that."""

    name: str
    ours: Callable[[], Any]
    quick: Callable[[], Any]
    plain: Callable[[], Any]


def every_pair() -> Any:
    first, second = np.triu_indices(len(VALUES), 1)
    rise = VALUES[second] - VALUES[first]
    return int(np.sign(rise).sum()), float(np.median(rise / (second - first)))


def every_draw() -> Any:
    units, source, alphas = list(zip(*ROWS, strict=True)), np.random.default_rng(1), []
    for _ in range(1000):
        drawn = [units[place] for place in source.integers(len(units), size=len(units))]
        alpha: Any = krippendorff_alpha(list(zip(*drawn, strict=True)), "ordinal")
        alphas.append(alpha.alpha)
    return np.quantile(alphas, [0.025, 0.975])


def our_draws() -> Any:
    answer: Any = krippendorff_interval(ROWS, "ordinal", 0.95, 1000, 1)
    return answer.low, answer.high


def our_trend() -> Any:
    answer: Any = mann_kendall_normal(VALUES.tolist())
    return answer.s, answer.slope


CASES = (
    Case("Mann-Kendall, 5000 values", our_trend, our_trend, every_pair),
    Case("changes of a rate, 520 periods, 99 runs",
         lambda: poisson_changes(rates_of(COUNTS.tolist(), [50] * 520, PERIODS), 0.95, 3, 4, 99, 1),
         lambda: poisson_best_costs(SERIES, np.full((1, 520), 50.0), 4, 2),
         lambda: best_costs(poisson_costs(SERIES, np.full((1, 520), 50.0), 4), 2)),
    Case("the same, 999 runs",
         lambda: poisson_changes(rates_of(COUNTS.tolist(), [50] * 520, PERIODS), 0.95, 3, 4, 999, 1), lambda: None,
         lambda: None),
    Case("alpha of 200 units, 20000 draws, ordinal",
         lambda: krippendorff_interval(ROWS, "ordinal", 0.95, DRAWS, 1),  # type: ignore[arg-type]
         our_draws, every_draw),
    Case("Sison and Glaz, 50 types", lambda: sison_glaz_intervals(counts_of(TYPES, PERIODS[:50]), 0.95), lambda: None,
         lambda: None),
)  # fmt: skip


def best(call: Callable[[], Any], times: int = 3) -> float:
    took = []
    for _ in range(times):
        start = process_time()
        call()
        took.append(process_time() - start)
    return min(took)


def main() -> None:
    print(f"{'':44}{'seconds':>8}{'of the aim':>12}{'of the plain form':>19}")
    for case in CASES:
        assert case.quick() is None or np.allclose(case.quick(), case.plain(), rtol=1e-9, atol=1e-6), case.name
        took = best(case.ours)
        ratio = f"{best(case.quick) / best(case.plain):19.2f}" if case.quick() is not None else ""
        print(f"{case.name:44}{took:8.3f}{took / AIM:12.2f}{ratio}")


if __name__ == "__main__":
    main()
