"""Did a corrective action work? After over before, and three answers: better, not better, cannot tell yet.

The windows are fixed before anybody looks, and nothing is claimed before the second one is over: whoever looks
every week and stops at the first good one finds an improvement where there is none. Worse counts as not better.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Literal

from qc.stats.answers import TooLittle
from qc.stats.change.stratified_ratio import RateRatio, Strata, exact_rate_ratio, mantel_haenszel_ratio
from qc.stats.refusals import demand_count, demand_kind, demand_level, demand_number, demand_positive

Verdict = Literal["better", "not better", "cannot tell yet"]


@dataclass(frozen=True, slots=True)
class FixedWindows:
    """The two windows in production days, first included, end not, and the day on which they were fixed.

    Between them may lie days that count in neither: work in progress that holds both. ValueError where they
    overlap or are empty.
    """

    before_first: date
    before_end: date
    after_first: date
    after_end: date
    fixed_on: date

    def __post_init__(self) -> None:
        if not self.before_first < self.before_end <= self.after_first < self.after_end:
            raise ValueError(
                "windows must follow each other, each with a day in it, got "
                f"{self.before_first} to {self.before_end} and {self.after_first} to {self.after_end}"
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class BeforeAfter:
    """The answer with all that it rests on.

    ratio: after over before by stratum, at the joint level. is_worse: the whole interval lies above 1. aim_met:
    the whole interval lies at or below the aimed ratio. reason: why this is the answer, in words. level: joint for
    all that were looked at together; each ratio's own interval has level_each.
    """

    answer: Verdict
    reason: str
    ratio: RateRatio | TooLittle
    is_worse: bool
    aim_met: bool
    windows: FixedWindows
    seen_until: date
    aimed_ratio: float
    looked_at: int
    level: float
    level_each: float


@dataclass(frozen=True, slots=True)
class UnitsNeeded:
    """Units that the after window needs before the aimed improvement would show with this chance."""

    units: float
    before_defects: int
    before_units: float
    aimed_ratio: float
    level: float
    chance: float
    method: str


def exact_before_after(
    two: Strata, windows: FixedWindows, seen_until: date, aimed_ratio: float, looked_at: int, level: float
) -> BeforeAfter:
    """Return the answer from the exact conditional ratio; for Poisson counts (station by type).

    two: counts and units in the two windows, by model or as one stratum. seen_until: the first day not yet seen.
    aimed_ratio: the ratio that the action was meant to reach, in (0, 1]; where the interval lies above it, the
    answer is not better even though some improvement is not excluded. looked_at: how many comparisons are looked
    at together, at least 1; each gets an error of (1 - level) / looked_at (Bonferroni).
    With no true change "better" is answered in at most (1 - level) / 2 of all looks together.
    Source: the interval, see exact_rate_ratio; the three answers are common practice, no source.
    """

    def ratio_at(level_each: float) -> RateRatio | TooLittle:
        return exact_rate_ratio(two, level_each)

    return _judged(ratio_at, windows, seen_until, aimed_ratio, looked_at, level)


def scattered_before_after(
    two: Strata,
    windows: FixedWindows,
    seen_until: date,
    aimed_ratio: float,
    looked_at: int,
    level: float,
    dispersion: float,
    degrees: float = math.inf,
) -> BeforeAfter:
    """Return the answer from the Mantel-Haenszel ratio widened for dispersion (at least 1); for plant totals.

    degrees: of freedom that the dispersion was measured on.

    Arguments as exact_before_after. Source: see mantel_haenszel_ratio.
    """

    def ratio_at(level_each: float) -> RateRatio | TooLittle:
        return mantel_haenszel_ratio(two, level_each, dispersion, degrees)

    return _judged(ratio_at, windows, seen_until, aimed_ratio, looked_at, level)


def units_needed(
    before_defects: int, before_units: float, aimed_ratio: float, level: float, chance: float
) -> UnitsNeeded | TooLittle:
    """Return how many units the after window needs so that the aimed improvement shows with the given chance.

    aimed_ratio in (0, 1) without the ends. Where the before window holds too few defects, no number of units
    after it will do: TooLittle says how many it needs.
    Source: normal approximation on the log ratio, variance 1/c1 + 1/c2 (Breslow & Day 1987, sec. 7.3).
    """
    from scipy.special import ndtri

    before_defects = demand_count(before_defects, "before_defects")
    before_units = demand_positive(before_units, "before_units")
    aimed, level, chance = demand_level(aimed_ratio, "aimed_ratio"), demand_level(level), demand_level(chance, "chance")
    room = (math.log(aimed) / float(ndtri((1 + level) / 2) + ndtri(chance))) ** 2
    if before_defects * room <= 1:
        need = math.floor(1 / room) + 1
        return TooLittle("units needed", "the before window holds too few defects", before_defects, need)
    after = 1 / (room - 1 / before_defects)
    needed = after / aimed * before_units / before_defects
    return UnitsNeeded(
        needed, before_defects, before_units, aimed, level, chance, "normal approximation on the log ratio"
    )


def _judged(
    ratio_at: Callable[[float], RateRatio | TooLittle],
    windows: FixedWindows,
    seen_until: date,
    aimed_ratio: float,
    looked_at: int,
    level: float,
) -> BeforeAfter:
    level, looked_at = demand_level(level), demand_count(looked_at, "looked_at", 1)
    aimed_ratio = demand_number(aimed_ratio, "aimed_ratio")
    if not 0 < aimed_ratio <= 1:
        raise ValueError(f"aimed_ratio must be more than 0 and at most 1, got {aimed_ratio!r}")
    level_each = 1 - (1 - level) / looked_at
    demand_kind(windows, FixedWindows, "windows")
    demand_kind(seen_until, date, "seen_until")
    ratio = ratio_at(level_each)
    answer, reason = _verdict(ratio, windows, seen_until, aimed_ratio)
    is_worse = not isinstance(ratio, TooLittle) and ratio.low > 1
    aim_met = not isinstance(ratio, TooLittle) and ratio.high <= aimed_ratio
    return BeforeAfter(
        answer=answer,
        reason=reason,
        ratio=ratio,
        is_worse=is_worse,
        aim_met=aim_met,
        windows=windows,
        seen_until=seen_until,
        aimed_ratio=float(aimed_ratio),
        looked_at=looked_at,
        level=level,
        level_each=level_each,
    )


def _verdict(
    ratio: RateRatio | TooLittle, windows: FixedWindows, seen_until: date, aimed_ratio: float
) -> tuple[Verdict, str]:
    if windows.fixed_on > windows.after_first:
        return "cannot tell yet", (
            f"The windows were fixed on {windows.fixed_on}, after the second had begun on {windows.after_first}: "
            "fix a new window and wait for it."
        )
    if seen_until < windows.after_end:
        return "cannot tell yet", f"The second window runs to {windows.after_end}; it is seen up to {seen_until}."
    if isinstance(ratio, TooLittle):
        return "cannot tell yet", f"There is nothing to compare: {ratio.reason}."
    if ratio.high < 1:
        return "better", "The whole interval lies below 1."
    if ratio.low > 1:
        return "not better", "It is worse: the whole interval lies above 1."
    if ratio.low > aimed_ratio:
        return "not better", f"The improvement that was aimed at (ratio {aimed_ratio:g}) is ruled out."
    return "cannot tell yet", "The interval holds both no change and the improvement aimed at."
