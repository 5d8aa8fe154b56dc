"""The truth table of the checks that count tables answer: one line a check, over all seeds.

What is asked is what the story's own checks ask, with the method's own stated level where they give no share; no line
is drawn where the results happen to lie.
"""

from collections.abc import Sequence
from statistics import mean, median

from qc.reports.watch.watch_rules import FALSE_ALARMS_A_WEEK
from tests.truth.counted import LEVEL, LONG_BEFORE, Seed
from tests.truth.measured import Measured

CHANGES_LOOKED_AT = 0.05  # error over all noted changes together
NINETEEN = 0.95  # in how many of twenty seeds something planted is to be named
SO = "planted: 19 in 20 seeds, as the drift's check asks"
STATED = "the method's level"
SPENT = "false alarms that the watch gives it, rule by rule"


def lines(seeds: Sequence[Seed]) -> list[Measured]:
    """Return the lines for checks 2, 3, 4, 5, 6, 7 and 10."""
    return [*_batch(seeds), *_jig(seeds), *_drift(seeds), *_mix(seeds), *_inspector(seeds), *_quiet(seeds)]


def _found(check: str, planted: str, found: str, hits: Sequence[bool], need: float, reason: str) -> Measured:
    return Measured(check, planted, found, sum(hits), len(hits), need, reason=reason)


def _holds(check: str, planted: str, found: str, hits: Sequence[bool]) -> Measured:
    return Measured(check, planted, found, sum(hits), len(hits), LEVEL, is_stated=True, reason=STATED)


def _claims(check: str, planted: str, found: str, hits: Sequence[bool], need: float, reason: str) -> Measured:
    return Measured(check, planted, found, sum(hits), len(hits), need, is_most=True, reason=reason)


def _batch(seeds: Sequence[Seed]) -> list[Measured]:
    right = [(one.batch.first, one.batch.last) == (9, 11) for one in seeds]
    both = "begin and end, each in 19 of 20"
    return [
        _found("2 batch named", "FU1 up", "listed in week 14", [one.batch.named for one in seeds], NINETEEN, SO),
        _found("2 batch dated by work", "weeks 9-11", "exactly 9-11, not 8, not 12", right, NINETEEN**2, both),
        _found("2 batch by sequence", "units worked in 9-11", "range lies in them",
               [one.batch.sequences_right for one in seeds], NINETEEN**2, both),
    ]  # fmt: skip


def _jig(seeds: Sequence[Seed]) -> list[Measured]:
    holds = [one.jig.low <= 0.40 <= one.jig.high for one in seeds]
    told = [one.jig_station.low <= 0.40 for one in seeds]
    middle = mean(one.jig.ratio for one in seeds)
    whole = mean(one.jig_station.ratio for one in seeds)
    still = [one.other_pan.low <= 1 <= one.other_pan.high for one in seeds]
    return [
        _holds("3 jig, mix-adjusted 95 % interval", "0.40", f"holds it; mean ratio {middle:.2f}", holds),
        _claims("3 S07 as a whole told as 60 % better", "0.58", f"mean ratio {whole:.2f}", told, 1 - LEVEL, STATED),
        _holds("3 RP2's PAN-05 unmoved", "1", "interval holds 1", still),
    ]


def _drift(seeds: Sequence[Seed]) -> list[Measured]:
    weeks = [one.first_named for one in seeds if one.first_named < 99]
    long = [one.long_named for one in seeds if one.long_named < 99]
    ideal = mean(one.ideal <= one.s08_stated for one in seeds)
    told = f"named by week 18; median week {median(weeks) if weeks else '-'}; told all but the rate, a test finds"
    return [
        _found("4 drift at S08, baseline of 8 weeks", "1.0 to 2.6 in weeks 6-20", f"{told} {ideal:.2f}",
               [one.first_named <= 18 for one in seeds], NINETEEN, "19 in 20 seeds"),
        _found(f"4 the same on {LONG_BEFORE} weeks before", "the same",
               f"named by week 18; median week {median(long) if long else '-'}",
               [one.long_named <= 18 for one in seeds], NINETEEN, "19 in 20 seeds"),
        _claims(f"4 S08 before week 7, {LONG_BEFORE} weeks before", "nothing before week 6", "named",
                [one.long_early for one in seeds], mean(one.s08_early for one in seeds), SPENT),
    ]  # fmt: skip


def _mix(seeds: Sequence[Seed]) -> list[Measured]:
    claims = [not one.mix.low <= 1 <= one.mix.high for one in seeds]
    plain = [not one.mix_plain.low <= 1 <= one.mix_plain.high for one in seeds]
    told = f"a change claimed; mean ratio {mean(one.mix.ratio for one in seeds):.2f}"
    of_plain = f"(plain would claim in {sum(plain)}: mean {mean(one.mix_plain.ratio for one in seeds):.2f})"
    return [_claims("5 mix from week 18, no event", "1, adjusted", f"{told} {of_plain}", claims, 1 - LEVEL, STATED)]


def _inspector(seeds: Sequence[Seed]) -> list[Measured]:
    share = mean(one.share_i4 for one in seeds)
    late = mean(one.late_per_unit for one in seeds)
    return [
        _found("6 I4 by paired re-looks", "finds 0.62 of others' finds", f"flagged; mean share {share:.2f}",
               [one.i4_flagged for one in seeds], NINETEEN, SO),
        _claims("6 another inspector flagged", "none", f"flagged (lates over earlies, plain: {late:.2f})",
                [one.other_flagged for one in seeds], 1 - LEVEL, STATED),
    ]  # fmt: skip


def _quiet(seeds: Sequence[Seed]) -> list[Measured]:
    return [
        _claims("7 S10's new lead judged", "nothing", "better or worse claimed",
                [one.placebo_claimed for one in seeds], CHANGES_LOOKED_AT, "level over all changes noted"),
        _claims("7 S10 in the watch, weeks 12-26", "nothing", "named as up",
                [one.placebo_watch for one in seeds], mean(one.s10_stated for one in seeds), SPENT),
        _claims("10 shutdown week 22", "nothing new", "first alarm in it",
                [one.short_week_alarm for one in seeds], FALSE_ALARMS_A_WEEK, "the watch's rate for a week"),
        _claims("10 the current week", "not over", "first alarm in it",
                [one.current_week_alarm for one in seeds], 0.0, "no rule may read it"),
    ]  # fmt: skip
