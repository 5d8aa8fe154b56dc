"""The level in pictures: units with a defect by week on their p chart, and defects per unit, plain and adjusted."""

from qc.charts import words
from qc.charts.picture import Picture
from qc.charts.run_chart import RunPoint, RunWords, run_picture
from qc.charts.week_lines import Line, LineWords, lines_picture
from qc.domain.counts import WeekCounts
from qc.reports.level import DefectsPerUnitWeeks, Level, MixAdjustedWeek, UnitsWithDefect
from qc.stats.adjustment import DirectRate
from qc.stats.answers import TooLittle
from qc.stats.chart_points import ControlChart

SHARE_WORDS = RunWords("Units with a defect", "Units with one, of units presented", words.percent, as_percent=True)


def chart_points(chart: ControlChart) -> tuple[RunPoint, ...]:
    """Return a control chart's points as a run chart draws them."""
    return tuple(
        RunPoint(p.label, p.events, p.size, p.value, p.centre, p.lower, p.upper, p.state) for p in chart.points
    )


def bare_points(counts: WeekCounts) -> tuple[RunPoint, ...]:
    """Return the weeks without any limit, where there is no baseline to judge them by."""
    last = len(counts.weeks) - 1
    return tuple(
        RunPoint(
            week,
            counts.defectives[place],
            counts.inspected[place],
            counts.defectives[place] / counts.inspected[place] if counts.inspected[place] else None,
            None,
            None,
            None,
            "gap" if not counts.inspected[place] else "partial" if counts.partial and place == last else "in",
        )
        for place, week in enumerate(counts.weeks)
    )


def units_picture(part: UnitsWithDefect) -> Picture:
    """Return the p chart of one model, or of all where the model is ""."""
    whose = f"{part.model} {part.model_name}" if part.model else "All models"
    title = f"{whose}: units with {part.what}"
    slug = f"level-{part.model.lower() or 'all'}-{'any' if 'any' in part.what else 'counted'}"
    cautions: tuple[str, ...]
    if isinstance(part.chart, TooLittle):
        points, cautions = bare_points(part.counts), (f"No usual range yet: {part.chart.reason}.",)
    else:
        points, cautions = chart_points(part.chart), (_baseline_words(part.chart), *part.chart.cautions)
    return run_picture(
        slug, title, part.sentence, words.sentence(part.counts.denominator), points, SHARE_WORDS, cautions
    )


def _baseline_words(chart: ControlChart) -> str:
    base = chart.baseline
    return f"Limits: {chart.method}; baseline “{base.name}”, frozen on {base.frozen_on.isoformat()}."


def per_unit_picture(part: DefectsPerUnitWeeks) -> Picture:
    """Return defects per unit by week, plain and as it would be in one model mix."""
    mix = ", ".join(f"{model} {count}" for model, count in zip(part.models, part.standard, strict=True))
    basis = f"Majors and minors per unit first presented; criticals stand in their own list. Mix: {mix} units"
    weeks = part.weeks
    plain = Line(
        "plain",
        tuple(week.defects / week.units if week.units else None for week in weeks),
        "defects on units presented",
        tuple(f"{words.whole(week.defects)} on {words.whole(week.units)}" for week in weeks),
    )
    adjusted = Line(
        "adjusted for model mix",
        tuple(_adjusted(week) for week in weeks),
        "interval of the adjusted",
        tuple(_interval(week) for week in weeks),
    )
    partial = bool(weeks) and weeks[-1].partial
    return lines_picture(
        "level-per-unit",
        "Defects per unit, plain and adjusted for the model mix",
        part.sentence,
        f"{basis} ({part.standard_name}).",
        [week.week for week in weeks],
        partial,
        (plain, adjusted),
        LineWords("Defects per unit", words.rate),
        ("The two lines disagree: read the adjusted one before blaming a station.",) if part.disagree else (),
    )


def _adjusted(week: MixAdjustedWeek) -> float | None:
    return week.answer.rate if isinstance(week.answer, DirectRate) else None


def _interval(week: MixAdjustedWeek) -> str:
    if isinstance(week.answer, TooLittle):
        return week.answer.reason
    return f"{words.between(week.answer.low, week.answer.high, words.rate)} ({words.percent(week.answer.level)})"


def level_pictures(level: Level) -> tuple[Picture, ...]:
    """Return all pictures of the level: the p charts in the report's order."""
    return tuple(units_picture(part) for part in level.units_with_defect)
