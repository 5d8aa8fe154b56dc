"""The rules that one watched series is held to, and the share of the false alarms that each may raise."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import takewhile
from math import ceil, inf
from statistics import NormalDist
from typing import Literal

from qc.reports.watch.watched_series import OWN, Series, outermost
from qc.stats.charts.point_tails import at_least, at_most
from qc.stats.series import rates_of
from qc.stats.watch.drift import chance_of_drift, drift_chance, drift_limits, drift_score
from qc.stats.watch.watch_design import WatchDesign, chance_of_height, watch_design, watched_sums

Direction = Literal["up", "down"]
Rule = Literal["cusum", "limit", "drift"]
WAYS: tuple[Direction, ...] = ("up", "down")
FALSE_ALARMS_A_WEEK = 1 / 13  # one a quarter, over everything watched
# Of the false alarms. A step, a jump in one week and a slow rise are told apart best by a rule of their own each; a
# slow fall hurts nobody while it lasts and is left to the cusum.
SHARES: dict[tuple[Rule, Direction], float] = {
    ("drift", "up"): 0.53,
    ("cusum", "up"): 0.27,
    ("limit", "up"): 0.10,
    ("cusum", "down"): 0.07,
    ("limit", "down"): 0.03,
}
# One cause alarms in a type, in its group and by several rules and is listed once, and counts are whole: rules whose
# shares add up to the rate raise about half of it. Measured on the null plants of seeds 4001 to 4120, and held against
# others, 10001 to 10200, by tests/bench/false_alarms.py.
COUNTED_TWICE = 1.3
WATCHED_WEEKS = 26  # that a baseline serves; then a new one is due
MOST_DRIFTS = 0.5  # false drifts that one series may have in a watch: it is one trend, that does not start again
NEAR = 0.3  # standard deviations by which a trend's score may be off: its exact chance is worked out from there on


@dataclass(frozen=True, slots=True)
class Alarm:
    """One rule's alarm in one week. place: the week's place in the table.

    since: place of the first week of the sum's climb from 0, the week itself for a limit, the first one watched for a
    drift; by_chance: alarms so strong that the whole watch would have raised if nothing had changed, a cusum's being as
    strong as what its sum has climbed to since.
    """

    place: int
    rule: Rule
    since: int
    by_chance: float


@dataclass(frozen=True, slots=True)
class Budget:
    """Over how many series each rule's false alarms are shared out: cusums and limits, and the drift rule."""

    watched: int
    drifting: int

    def share(self, rule: Rule, direction: Direction) -> float:
        """Return the false alarms a week that a rule may raise on one series."""
        over = self.drifting if rule == "drift" else self.watched
        share = COUNTED_TWICE * FALSE_ALARMS_A_WEEK * SHARES[rule, direction] / max(1, over)
        return min(share, MOST_DRIFTS / WATCHED_WEEKS) if rule == "drift" else share

    def by_chance(self, rule: Rule, direction: Direction, tail: float) -> float:
        """Return a series' expected false alarms as those of the whole watch.

        What a rule raises weighs the more against chance, the smaller its part of all false alarms.
        """
        over = self.drifting if rule == "drift" else self.watched
        return tail * over / SHARES[rule, direction] / COUNTED_TWICE


def drifting(series: Sequence[Series]) -> frozenset[Series]:
    """Return the series watched for a slow drift: those with so many defects that it would show, none in another.

    With fewer than 4 a week a rate that doubles over a quarter is missed more often than found at any limit that
    keeps to so few false alarms, and its false alarms would be spent for nothing.
    """
    return frozenset(one for one in outermost(series) if one.usual >= OWN)


def alarms(
    series: Series, direction: Direction, last: int, budget: Budget, units: Sequence[Sequence[int]] | None
) -> list[Alarm]:
    """Return the weeks up to the place ``last`` in which a rule alarms, in time order.

    units: by week and model; None for a series that is not watched for a drift.
    """
    found = [*_cusum(series, direction, last, budget), *_limit(series, direction, last, budget)]
    if direction == "up" and units is not None:
        found += _drift(series, last, budget, units)
    return sorted(found, key=lambda one: (one.place, one.rule))


def designed(series: Series, budget: Budget, is_drifting: bool) -> float:
    """Return the false alarms a week that a series' rules are designed for."""
    cusums = sum(_design(series, way, budget).alarms / WATCHED_WEEKS for way in WAYS)
    limits = sum(budget.share("limit", way) for way in WAYS)
    return (cusums + limits + (budget.share("drift", "up") if is_drifting else 0.0)) / COUNTED_TWICE


def ratio_for(usual: float, direction: Direction) -> float:
    """Return the shift that a series of so many defects a week is watched for: small ones show large shifts only."""
    if direction == "down":
        return 0.5
    return 1.7 if usual >= 4 else 2.0 if usual >= 1.5 else 3.0


def _design(series: Series, direction: Direction, budget: Budget) -> WatchDesign:
    # How many are watched is rounded up, so that few designs serve all weeks.
    share = Budget(5 * ceil(budget.watched / 5), budget.drifting).share("cusum", direction)
    ratio = ratio_for(series.usual, direction)
    return watch_design(series.baseline, series.end - series.first, ratio, share, WATCHED_WEEKS)


def _cusum(series: Series, direction: Direction, last: int, budget: Budget) -> list[Alarm]:
    design = _design(series, direction, budget)
    span = slice(series.end, max(series.end, last + 1))
    counts = series.defects[span], series.expected[span]
    # How sure it is, the sum that goes on says: the one that starts again after each alarm never climbs far.
    going_on = [height for height, _ in watched_sums(*counts, replace(design, decisions=(inf,)))]
    found, since = [], 1
    for weeks, (height, alarms_) in enumerate(watched_sums(*counts, design), 1):
        if alarms_:
            top, by = _top(going_on, weeks)
            tail = chance_of_height(design.defects, design.periods, design.ratio, top, by)
            by_chance = budget.by_chance("cusum", direction, tail)
            found.append(Alarm(series.end + weeks - 1, "cusum", series.end + since - 1, by_chance))
        if alarms_ or height == 0:
            since = weeks + 1
    return found


def _top(heights: Sequence[float], week: int) -> tuple[float, int]:
    """Return how high a sum climbs from a week on, before it is at 0 again, and in which week; weeks from 1."""
    climb = takewhile(lambda one: one[0] > 0, zip(heights[week - 1 :], range(week, len(heights) + 1), strict=True))
    return max(climb, key=lambda one: one[0])


def _limit(series: Series, direction: Direction, last: int, budget: Budget) -> list[Alarm]:
    """Return the weeks whose count the baseline hardly leads one to expect, its own doubt allowed for."""
    share = budget.share("limit", direction)
    whole = sum(series.expected[series.first : series.end])
    found = []
    for place in range(series.end, last + 1):
        count, size = series.defects[place], series.expected[place] / whole
        if size > 0:
            tail = (at_least if direction == "up" else at_most)(count, series.baseline, size)
            if tail <= share:
                by_chance = budget.by_chance("limit", direction, tail * (place + 1 - series.end))
                found.append(Alarm(place, "limit", place, by_chance))
    return found


def _drift(series: Series, last: int, budget: Budget, units: Sequence[Sequence[int]]) -> list[Alarm]:
    """Return the weeks up to which the defects of each model lie later in time than chance would put them.

    Each model's are compared with its own units only, so no model's rate is needed and no change of the mix counts.
    """
    periods = series.end - series.first
    limits = drift_limits(periods, WATCHED_WEEKS, budget.share("drift", "up")).chances
    whole = slice(series.first, last + 1)
    places = [str(place) for place in range(len(units[whole]))]
    columns = zip(series.by_model, zip(*units[whole], strict=True), strict=True)
    strata = [rates_of(defects[whole], exposed, places) for defects, exposed in columns]
    found = []
    for place in range(series.end, last + 1):
        weeks = place + 1 - series.end
        so_far = [rates.rows(slice(place + 1 - series.first)) for rates in strata]
        limit = limits[min(weeks, WATCHED_WEEKS) - 1]
        if drift_score(so_far) > NormalDist().inv_cdf(1 - limit) - NEAR:
            chance = drift_chance(so_far)
            if chance <= limit:
                tail = chance_of_drift(periods, weeks, chance)
                found.append(Alarm(place, "drift", series.end, budget.by_chance("drift", "up", tail)))
    return found
