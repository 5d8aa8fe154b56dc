"""The small drawings beside the week's few lines: each of the weeks that the charts show, on one axis."""

from datetime import date, timedelta

from qc.charts.drawing.sparkline import SparkWeek, spark_bars, spark_line
from qc.reports.periods import WEEK
from qc.reports.watch.signals import Signals
from qc.reports.week.escape_follow_up import EscapeFollowUp
from qc.reports.week.pareto_tables import UNKNOWN_LIMIT
from qc.reports.week.review import Review
from qc.reports.week.week_parts import WeekParts
from qc.stats.answers import TooLittle
from qc.stats.charts.chart_points import ControlChart


def glance_sparks(review: Review, signals: Signals, through: EscapeFollowUp, parts: WeekParts) -> dict[str, str]:
    """Return the drawing of each line, by the section that the line leads to."""
    per_unit, line = review.level.defects_per_unit, review.first_pass.lines[0]
    rates = [week.defects / week.units if week.units else None for week in per_unit.weeks]
    clean = [c / n if n else None for c, n in zip(line.weeks.clean_major, line.weeks.presented, strict=True)]
    partial = review.week.partial
    return {
        "level": spark_line(_judged(rates, per_unit.chart, partial)),
        "first-pass": spark_line(_judged(clean, line.chart, partial)),
        "pareto-origin-count-head": spark_bars(_parts(parts.wholes, parts.origins, partial)),
        "pareto": spark_bars(_parts(parts.wholes, parts.types, partial)),
        "origin": spark_bars(_through(through)),
        "signals": spark_bars(_standing(review, signals)),
        "safety": spark_bars(_criticals(review)),
        "data": spark_bars(_unknown(parts, partial), UNKNOWN_LIMIT),
    }


def _judged(values: list[float | None], chart: ControlChart | TooLittle, partial: bool) -> list[SparkWeek]:
    """Return the weeks with their limits, where a chart has any; it has a point for each week."""
    last = len(values) - 1
    if isinstance(chart, TooLittle):
        return [SparkWeek(value, partial=partial and place == last) for place, value in enumerate(values)]
    return [
        SparkWeek(value, point.lower, point.upper, point.state.startswith("signal"), partial and place == last)
        for place, (value, point) in enumerate(zip(values, chart.points, strict=True))
    ]


def _parts(wholes: tuple[int, ...], parts: tuple[int, ...], partial: bool) -> list[SparkWeek]:
    last = len(wholes) - 1
    pairs = enumerate(zip(wholes, parts, strict=True))
    return [SparkWeek(whole, part=part, partial=partial and place == last) for place, (whole, part) in pairs]


def _through(through: EscapeFollowUp) -> list[SparkWeek]:
    """Return what was found after dispatch on a unit of each build week; one that still grows is hollow."""
    rates = [week.after_dispatch / week.units if week.units else 0.0 for week in through.weeks]
    return [
        SparkWeek(rate, part=rate, partial=not week.is_complete)
        for rate, week in zip(rates, through.weeks, strict=True)
    ]


def _mondays(review: Review) -> list[date]:
    return [review.history.first + n * WEEK for n in range(review.history.weeks)]


def _standing(review: Review, signals: Signals) -> list[SparkWeek]:
    """Return how many signals stood in each week; the rises solid."""
    stood = [[one for one in signals.weeks if one.first <= day <= one.last] for day in _mondays(review)]
    return [SparkWeek(len(week), part=sum(one.is_rise for one in week)) for week in stood]


def _criticals(review: Review) -> list[SparkWeek]:
    days = [line.found_day for line in (*review.safety.week, *review.safety.before)]
    counts = [sum(day <= found < day + timedelta(days=7) for found in days) for day in _mondays(review)]
    return [SparkWeek(count, part=count) for count in counts]


def _unknown(parts: WeekParts, partial: bool) -> list[SparkWeek]:
    """Return the share of each week's defects whose origin nobody has named, against what a plant lives with."""
    shares = [part / whole if whole else 0.0 for part, whole in zip(parts.unknown, parts.wholes, strict=True)]
    last = len(shares) - 1
    return [SparkWeek(one, part=one, partial=partial and place == last) for place, one in enumerate(shares)]
