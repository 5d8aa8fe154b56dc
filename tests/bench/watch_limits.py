"""The watch's cusum limits against simulation of the same cusum, over the whole grid of what the signals page can ask.

Draws each cell's true rate from the gamma law that its baseline leaves and its weeks from Poisson laws, with numpy's
generators, apart from the chain that makes the limits. Stated must be what comes, or more: in the whole watch, and in
each week at most the share that was asked. Weeks that are not all of one size (1.05, 1.05, 0.9 and 1 in turn), for
which the limits are not made, stand beside it. Simulated chances of a height are held against chance_of_height in
the same way.

    python -m tests.bench.watch_limits [runs of a cell, 200000 unless told]
"""

import sys
from collections.abc import Iterator
from dataclasses import dataclass
from math import log, sqrt

import numpy as np

from qc.reports.watch.watch_rules import WATCHED_WEEKS, WAYS, Budget, ratio_for
from qc.stats.watch.watch_design import WatchDesign, chance_of_height, watch_design

USUAL = (0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 20.0, 60.0, 200.0)  # defects a week
BASELINES = (4, 8, 13, 26)  # weeks
SERIES = (10, 50, 200)  # watched together
UNEQUAL = (1.05, 1.05, 0.9, 1.0)
HEIGHTS = (0.6, 1.0, 1.4)  # times the last decision
ERRORS = 5.0  # standard errors of the simulation that are put down to it: some 6000 comparisons


@dataclass(frozen=True)
class Asked:
    """One design that the page can ask for."""

    defects: int
    periods: int
    ratio: float
    share: float
    watched: int = WATCHED_WEEKS

    @property
    def design(self) -> WatchDesign:
        """Return the limits."""
        return watch_design(self.defects, self.periods, self.ratio, self.share, self.watched)


@dataclass(frozen=True)
class Simulated:
    """What came: alarms a watch with the error of that, alarms by week, each run's greatest sum without restarts."""

    alarms: float
    error: float
    by_week: "np.ndarray"
    greatest: "np.ndarray"


def simulated(
    asked: Asked, runs: int, seed: int, sizes: tuple[float, ...] = (1.0,), design: WatchDesign | None = None
) -> Simulated:
    """Return what comes of limits (the asked ones) where nothing has changed.

    sizes of the weeks in turn, 1 as in the baseline.
    """
    source = np.random.default_rng(seed)
    rates = source.gamma(asked.defects + 0.5, 1 / asked.periods, runs)
    allowance = asked.defects / asked.periods * (asked.ratio - 1) / log(asked.ratio)
    sums, going_on, greatest, alarms = (np.zeros(runs) for _ in range(4))
    by_week = []
    for week, decision in enumerate((design or asked.design).decisions):
        size = sizes[week % len(sizes)]
        steps = (source.poisson(rates * size) - allowance * size) * (1 if asked.ratio > 1 else -1)
        going_on = np.maximum(0.0, going_on + steps)
        greatest = np.maximum(greatest, going_on)
        sums = np.maximum(0.0, sums + steps)
        signals = sums > decision
        alarms += signals
        by_week.append(float(signals.mean()))
        sums[signals] = 0.0
    return Simulated(float(alarms.mean()), float(alarms.std()) / sqrt(runs), np.array(by_week), greatest)


def broken(asked: Asked, came: Simulated) -> list[str]:
    """Return the promises that the simulation does not bear out, as sentences; none where all hold."""
    runs, design = len(came.greatest), asked.design
    found = []
    if came.alarms > design.alarms + ERRORS * came.error:
        found.append(f"{came.alarms:.5f} alarms came, {design.alarms:.5f} are stated")
    if design.alarms > asked.watched * asked.share * (1 + 1e-9):
        found.append(f"{design.alarms:.5f} alarms are stated, {asked.watched * asked.share:.5f} were asked")
    most = asked.share + ERRORS * sqrt(asked.share / runs)
    found += [f"{one:.6f} in week {week}, at most {asked.share:.6f} were asked"
              for week, one in enumerate(came.by_week, 1) if one > most]  # fmt: skip
    for times in HEIGHTS:
        height = design.decisions[-1] * times
        reached = float((came.greatest >= height).mean())
        stated = chance_of_height(asked.defects, asked.periods, asked.ratio, height, asked.watched)
        if reached > stated + ERRORS * sqrt(reached / runs):
            found.append(f"{reached:.5f} reach {height:.1f}, {stated:.5f} are stated")
    return found


def grid() -> Iterator[Asked]:
    """Return every design of the grid, up and down."""
    for usual in USUAL:
        for periods in BASELINES:
            for way in WAYS:
                for series in SERIES:
                    share = Budget(series, series).share("cusum", way)
                    yield Asked(round(usual * periods), periods, ratio_for(usual, way), share)


def main(runs: int) -> int:
    """Print a line for each design; return 1 where a promise is broken."""
    print(f"{'defects in weeks':>17} {'ratio':>5} {'share':>8} {'stated':>7} {'came':>7} ± {'error':>7} {'unequal':>7}")
    failed, parts, apart = 0, [], []
    for seed, asked in enumerate(grid(), 1):
        came, unequal = simulated(asked, runs, seed), simulated(asked, runs, seed, UNEQUAL)
        what = broken(asked, came)
        stated = asked.design.alarms
        failed += bool(what)
        parts.append(came.alarms / stated)  # 0 where the sum of so rare defects cannot climb to a limit
        apart.append(unequal.alarms / stated)
        print(
            f"{asked.defects:>11} in {asked.periods:>2} {asked.ratio:>6.1f} {asked.share:>8.6f} {stated:>7.4f} "
            f"{came.alarms:>7.4f} ± {came.error:>7.5f} {unequal.alarms:>7.4f} {'; '.join(what)}",
            flush=True,
        )
    middle = np.median
    print(f"{len(parts)} designs, {failed} break their promise; came of stated: median {middle(parts):.2f}, "
          f"{min(parts):.2f} to {max(parts):.2f}; weeks of unequal size: median {middle(apart):.2f}, "
          f"at most {max(apart):.2f}")  # fmt: skip
    return int(failed > 0)


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 200_000))
