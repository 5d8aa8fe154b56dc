"""First-pass both ways, by end point and at the line: first presentations only, the severity always said."""

from dataclasses import dataclass, replace

from qc.domain.counted.counts import FirstPassWeeks, WeekCounts
from qc.domain.words.speaking import marked, say
from qc.reports.asking import LEVEL, Asking, record_baseline
from qc.reports.periods import Period
from qc.reports.week.chosen_chart import ChosenChart, share_chart
from qc.reports.week.level_runs import led_in, level_cautions, run_words, runs_shown
from qc.reports.week.limit_words import against_limits
from qc.reports.wording import percent
from qc.stats.answers import TooLittle
from qc.stats.charts.chart_points import ControlChart
from qc.stats.charts.run_rules import Finding
from qc.stats.looks.yields import FirstPass, first_pass
from qc.store.counts import LINE

NO_MAJOR = marked("no critical or major")
NOTHING = marked("nothing at all")


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstPassLine:
    """One point (or "line": every end point, counted unit by unit).

    weeks: the trend's counts. week_*: the week; before_*: the weeks before it, both as shares with intervals
    (.share .low .high .inspected .clean) or TooLittle. Suffix major: no critical or major and no test failed; all:
    nothing at all and no test failed. sentence in words. chart: the share with no critical or major by week on its
    p chart, where high is better, or why there is none yet; why, runs, cautions as those of the level's charts.
    """

    point: str
    name: str
    weeks: FirstPassWeeks
    week_major: FirstPass | TooLittle
    before_major: FirstPass | TooLittle
    week_all: FirstPass | TooLittle
    before_all: FirstPass | TooLittle
    sentence: str
    chart: ControlChart | TooLittle
    why: str = ""
    runs: tuple[Finding, ...] = ()
    cautions: tuple[str, ...] = ()

    @property
    def is_low(self) -> bool:
        """Return whether the last week that is over lies below its limits."""
        last = None if isinstance(self.chart, TooLittle) else self.chart.last_judged
        return last is not None and last.state == "signal_low"


@dataclass(frozen=True, slots=True)
class FirstPassBoth:
    """First-pass of the week: the line first, then the end points in flow order; denominator in words."""

    lines: tuple[FirstPassLine, ...]
    denominator: str


DENOMINATOR = marked(
    "Units whose first presentation at the point ended in the week; at the line, units that every end point has "
    "presented, in the week of the last. A failed test counts as not first-pass. Re-presentations never count."
)


def first_pass_both(ask: Asking, week: Period, window: Period, history: Period) -> FirstPassBoth:
    """Return first-pass of the week and of the window before it, with the trend over the history."""
    points, baseline = (LINE, *ask.plant.end_points()), record_baseline(ask, week)
    return FirstPassBoth(
        tuple(_line(ask, point, week, window, history, baseline) for point in points), say(DENOMINATOR)
    )


def _line(
    ask: Asking, point: str, week: Period, window: Period, history: Period, baseline: Period | TooLittle
) -> FirstPassLine:
    weeks = ask.counts.first_pass_weeks(ask.slice(history), point, ask.now_ms)
    own = _sums(weeks, [week.code])
    before = _sums(weeks, [name for name in weeks.weeks if name < week.code][-window.weeks :])
    major, everything = _answer(own, 1, NO_MAJOR), _answer(own, 2, NOTHING)
    chosen = _chosen(ask, weeks, baseline)
    chart = chosen.chart
    period = led_in(ask, history)
    led = weeks if period == history else ask.counts.first_pass_weeks(ask.slice(period), point, ask.now_ms)
    of_led = chart if led is weeks else _chosen(ask, led, baseline).chart
    runs = runs_shown(chart, of_led, ask.criteria)
    return FirstPassLine(
        point=point,
        name=ask.place_name(point),
        weeks=weeks,
        week_major=major,
        before_major=_answer(before, 1, NO_MAJOR),
        week_all=everything,
        before_all=_answer(before, 2, NOTHING),
        sentence=_sentence(major, everything, week, _against_limits(chart, week)) + run_words(runs, week.code),
        chart=chart,
        why=chosen.why,
        runs=runs,
        cautions=() if isinstance(chart, TooLittle) else level_cautions(chart, ask.criteria, week.code),
    )


def _chosen(ask: Asking, weeks: FirstPassWeeks, baseline: Period | TooLittle) -> ChosenChart:
    """Return the chart of units with no critical or major: their share is high where all is well."""
    before = None
    if not isinstance(baseline, TooLittle):
        before = ask.counts.first_pass_weeks(ask.slice(baseline), weeks.point, ask.now_ms)
    named = marked("units first-pass"), marked("units not first-pass")
    chosen = share_chart(baseline, _as_counts(weeks), _as_counts(before) if before else None, ask.left_out, named)
    if isinstance(chosen.chart, TooLittle):
        return chosen
    return ChosenChart(replace(chosen.chart, high_is="better"), chosen.why)


def _as_counts(weeks: FirstPassWeeks) -> WeekCounts:
    """Return the clean units in the place of those that a p chart counts; defects on them there are none."""
    none = (0,) * len(weeks.weeks)
    return WeekCounts(weeks.point, weeks.weeks, weeks.presented, weeks.clean_major, none, weeks.partial, DENOMINATOR)


def _against_limits(chart: ControlChart | TooLittle, week: Period) -> str:
    point = None if isinstance(chart, TooLittle) else next((p for p in chart.points if p.label == week.code), None)
    if point is None or point.upper is None or point.state in ("partial", "gap"):
        return ""
    return against_limits(point.state, percent(point.lower_drawn), percent(point.upper))


def _sums(weeks: FirstPassWeeks, names: list[str]) -> tuple[int, int, int]:
    rows = zip(weeks.weeks, weeks.presented, weeks.clean_major, weeks.clean_all, strict=True)
    wanted = [row[1:] for row in rows if row[0] in names]
    return sum(row[0] for row in wanted), sum(row[1] for row in wanted), sum(row[2] for row in wanted)


def _answer(sums: tuple[int, int, int], column: int, severity: str) -> FirstPass | TooLittle:
    return first_pass(sums[0] - sums[column], sums[0], severity, LEVEL)


def _sentence(major: FirstPass | TooLittle, everything: FirstPass | TooLittle, week: Period, limits: str) -> str:
    if isinstance(major, TooLittle) or isinstance(everything, TooLittle):
        return say("No unit was first presented in {week}.", week=week.name)
    values = {
        "clean": major.clean,
        "units": major.inspected,
        "week": week.name,
        "share": f"({percent(major.share)}), {limits}" if limits else f"({percent(major.share)})",
        "all_clean": everything.clean,
        "all_share": percent(everything.share),
    }
    if week.partial:
        return say(
            "{clean} of {units} units in {week} so far first-pass with no critical or major {share}, {all_clean} with "
            "nothing at all ({all_share}).",
            **values,
        )
    return say(
        "{clean} of {units} units in {week} first-pass with no critical or major {share}, {all_clean} with nothing at "
        "all ({all_share}).",
        **values,
    )
