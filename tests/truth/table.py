"""The truth table of the checks that count tables answer: one line a check, over all seeds."""

from collections.abc import Sequence
from statistics import mean, median

from qc.reports.watching import FALSE_ALARMS_A_WEEK
from tests.truth.counted import LONG_BEFORE, Seed
from tests.truth.measured import Measured

WATCHED = 50  # sums watched in the invented plant, in round figures
CHANGES_LOOKED_AT = 0.05  # error over all noted changes together


def lines(seeds: Sequence[Seed]) -> list[Measured]:
    """Return the lines for checks 2, 3, 4, 5, 6, 7 and 10."""
    return [*_batch(seeds), *_jig(seeds), *_drift(seeds), *_mix(seeds), *_inspector(seeds), *_quiet(seeds)]


def _of(seeds: Sequence[Seed], check: str, planted: str, found: str, hits: Sequence[bool], need: float, most=False):
    return Measured(check, planted, found, sum(hits), len(seeds), need, most)


def _batch(seeds):
    right = [(one.batch.first, one.batch.last) == (9, 11) for one in seeds]
    return [
        _of(seeds, "2 batch named", "FU1 up", "listed in week 14", [one.batch.named for one in seeds], 0.95),
        _of(seeds, "2 batch dated by work", "weeks 9-11", "exactly 9-11, not 8, not 12", right, 0.9),
        _of(seeds, "2 batch by sequence", "units worked in 9-11", "range lies in them",
            [one.batch.sequences_right for one in seeds], 0.9),
    ]  # fmt: skip


def _jig(seeds):
    holds = [one.jig.low <= 0.40 <= one.jig.high for one in seeds]
    told = [one.jig_station.low <= 0.40 for one in seeds]
    middle = mean(one.jig.ratio for one in seeds)
    whole = mean(one.jig_station.ratio for one in seeds)
    still = [one.other_pan.low <= 1 <= one.other_pan.high for one in seeds]
    return [
        _of(seeds, "3 jig, mix-adjusted 95 % interval", "0.40", f"holds it; mean ratio {middle:.2f}", holds, 0.90),
        _of(seeds, "3 S07 as a whole told as 60 % better", "0.58", f"mean ratio {whole:.2f}", told, 0.05, True),
        _of(seeds, "3 RP2's PAN-05 unmoved", "1", "interval holds 1", still, 0.90),
    ]


def _drift(seeds):
    weeks = [one.first_named for one in seeds if one.first_named < 99]
    long = [one.long_named for one in seeds if one.long_named < 99]
    design = 1 - (1 - FALSE_ALARMS_A_WEEK / WATCHED * 3) ** 6  # S08 has about three of the sums
    return [
        _of(seeds, "4 drift at S08, baseline of 8 weeks", "1.0 to 2.6 in weeks 6-20",
            f"named by week 18; median week {median(weeks) if weeks else '-'}",
            [one.first_named <= 18 for one in seeds], 0.95),
        _of(seeds, f"4 the same on {LONG_BEFORE} weeks before", "the same",
            f"named by week 18; median week {median(long) if long else '-'}",
            [one.long_named <= 18 for one in seeds], 0.95),
        _of(seeds, f"4 S08 before week 7, {LONG_BEFORE} weeks before", "nothing before week 6", "named",
            [one.long_early for one in seeds], design, True),
    ]  # fmt: skip


def _mix(seeds):
    claims = [not one.mix.low <= 1 <= one.mix.high for one in seeds]
    plain = [not one.mix_plain.low <= 1 <= one.mix_plain.high for one in seeds]
    told = f"a change claimed; mean ratio {mean(one.mix.ratio for one in seeds):.2f}"
    of_plain = f"(plain would claim in {sum(plain)}: mean {mean(one.mix_plain.ratio for one in seeds):.2f})"
    return [_of(seeds, "5 mix from week 18, no event", "1, adjusted", f"{told} {of_plain}", claims, 0.05, True)]


def _inspector(seeds):
    share = mean(one.share_i4 for one in seeds)
    late = mean(one.late_per_unit for one in seeds)
    return [
        _of(seeds, "6 I4 by paired re-looks", "finds 0.62 of others' finds", f"flagged; mean share {share:.2f}",
            [one.i4_flagged for one in seeds], 0.95),
        _of(seeds, "6 another inspector flagged", "none", f"flagged (lates over earlies, plain: {late:.2f})",
            [one.other_flagged for one in seeds], 0.05, True),
    ]  # fmt: skip


def _quiet(seeds):
    watch = 1 - (1 - FALSE_ALARMS_A_WEEK / WATCHED * 5) ** 15  # S10 has about five of the sums
    week = FALSE_ALARMS_A_WEEK
    return [
        _of(seeds, "7 S10's new lead judged", "nothing", "better or worse claimed",
            [one.placebo_claimed for one in seeds], CHANGES_LOOKED_AT, True),
        _of(seeds, "7 S10 in the watch, weeks 12-26", "nothing", "named as up",
            [one.placebo_watch for one in seeds], watch, True),
        _of(seeds, "10 shutdown week 22", "nothing new", "first alarm in it",
            [one.short_week_alarm for one in seeds], week, True),
        _of(seeds, "10 the current week", "not over", "first alarm in it",
            [one.current_week_alarm for one in seeds], 0.0, True),
    ]  # fmt: skip
