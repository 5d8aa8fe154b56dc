"""The level in pictures: units with a defect by week on their p chart, and defects per unit, plain and adjusted."""

from dataclasses import replace
from math import isinf

from qc.charts.drawing import words
from qc.charts.drawing.picture import Picture
from qc.charts.kinds.run_chart import RunPoint, RunWords, chart_points, run_picture
from qc.charts.kinds.week_lines import Line, LineWords, lines_picture
from qc.domain.counted.counts import PRESENTED, WeekCounts
from qc.domain.words.said_weeks import day_figures
from qc.domain.words.speaking import ENGLISH, say, tongue
from qc.reports.asking import LEVEL
from qc.reports.week.level import ANY, DefectsPerUnitWeeks, Level, MixAdjustedWeek, UnitsWithDefect
from qc.reports.wording import percent
from qc.stats.answers import TooLittle
from qc.stats.change.adjustment import DirectRate
from qc.stats.charts.chart_points import ControlChart


def share_words() -> RunWords:
    """Return what the numbers of units with a defect are called."""
    return RunWords(
        say("Units with a defect"), say("Units with one, of units presented"), words.percent, as_percent=True
    )


def bare_points(counts: WeekCounts) -> tuple[RunPoint, ...]:
    """Return the weeks without any limit, where there is no baseline to judge them by."""
    last = len(counts.weeks) - 1
    return tuple(
        RunPoint(
            label=week,
            events=counts.defectives[place],
            size=counts.inspected[place],
            value=counts.defectives[place] / counts.inspected[place] if counts.inspected[place] else None,
            centre=None,
            lower=None,
            upper=None,
            state="gap" if not counts.inspected[place] else "partial" if counts.partial and place == last else "in",
        )
        for place, week in enumerate(counts.weeks)
    )


def units_picture(part: UnitsWithDefect) -> Picture:
    """Return the p chart of one model, or of all where the model is ""."""
    whose = f"{part.model} {part.model_name}" if part.model else say("All models")
    title = say("{whose}: units with {what}", whose=whose, what=say(part.what))
    slug = f"level-{part.model.lower() or 'all'}-{'any' if part.what == ANY else 'counted'}"
    cautions: tuple[str, ...]
    method: tuple[str, ...] = ()
    if isinstance(part.chart, TooLittle):
        points, cautions = bare_points(part.counts), (no_range(part.chart),)
    else:
        points, cautions, method = (
            chart_points(part.chart, part.runs),
            (*part.cautions, *part.chart.cautions),
            method_words(part.chart, part.why),
        )
    basis = words.sentence(part.counts.denominator)
    drawn = run_picture(slug, title, part.sentence, basis, points, share_words(), cautions)
    return replace(drawn, method=method)


def method_words(chart: ControlChart, why: str) -> tuple[str, ...]:
    """Return how the limits were made: why they are of their kind, then the law and the baseline."""
    base = chart.baseline
    law = say(
        "Limits: {method}; baseline “{baseline}”, frozen on {day}.",
        method=chart.method,
        baseline=base.name,
        day=day_figures(base.frozen_on),
    )
    because, stop, rest = why.partition(". ")
    return tuple(filter(None, (f"{because}{stop}".strip(), rest, law)))


def per_unit_picture(part: DefectsPerUnitWeeks) -> Picture:
    """Return defects per unit by week, plain against its limits and as it would be in one model mix."""
    mix = ", ".join(f"{model} {count}" for model, count in zip(part.models, part.standard, strict=True))
    basis = say(
        "{severities} per unit, of {presented}; criticals stand in their own list. Mix: {mix} units ({period}).",
        severities=part.severities[:1].upper() + part.severities[1:],
        presented=say(PRESENTED),
        mix=mix,
        period=part.standard_name,
    )
    weeks = part.weeks
    plain = Line(
        say("plain"),
        tuple(week.defects / week.units if week.units else None for week in weeks),
        say("defects on units"),
        tuple(_on(week) for week in weeks),
    )
    adjusted = Line(
        say("adjusted"),
        tuple(_adjusted(week) for week in weeks),
        say("{level} interval", level=percent(LEVEL)),
        tuple(_interval(week) for week in weeks),
        bracketed=True,
    )
    partial = bool(weeks) and weeks[-1].partial
    judged, method = ((), ()) if isinstance(part.chart, TooLittle) else _judged(part, part.chart)
    drawn = lines_picture(
        "level-per-unit",
        say("Defects per unit, plain and adjusted for the model mix"),
        part.level_sentence if isinstance(part.chart, TooLittle) else f"{part.level_sentence} {part.sentence}",
        basis,
        [week.week for week in weeks],
        partial,
        (plain, adjusted),
        LineWords(say("Defects per unit"), words.rate),
        _per_unit_cautions(part),
        judged,
    )
    return replace(drawn, method=method)


def _judged(part: DefectsPerUnitWeeks, chart: ControlChart) -> tuple[tuple[RunPoint, ...], tuple[str, ...]]:
    return chart_points(chart, part.runs), method_of(say("the plain rate"), chart, part.why)


def method_of(what: str, chart: ControlChart, why: str) -> tuple[str, ...]:
    """Return how the limits were made, as `method_words`, on a picture that shows another line beside ``what``."""
    because, *rest = method_words(chart, why)
    # English alone has no capital after a colon
    because = because[:1].lower() + because[1:] if tongue() == ENGLISH else because
    return (say("Usual range of {what}: {because}", what=what, because=because), *rest)


def _per_unit_cautions(part: DefectsPerUnitWeeks) -> tuple[str, ...]:
    apart = (say("The two lines disagree: read the adjusted one before blaming a station."),) if part.disagree else ()
    if isinstance(part.chart, TooLittle):
        return (*apart, no_range(part.chart))
    return (*apart, *part.cautions, *part.chart.cautions)


def no_range(chart: TooLittle) -> str:
    """Return why weeks have no limits yet, as a caution."""
    return say("No usual range yet: {reason}.", reason=chart.reason)


def _on(week: MixAdjustedWeek) -> str:
    return say("{defects} on {units}", defects=words.whole(week.defects), units=words.whole(week.units))


def _adjusted(week: MixAdjustedWeek) -> float | None:
    return week.answer.rate if isinstance(week.answer, DirectRate) else None


def _interval(week: MixAdjustedWeek) -> str:
    if isinstance(week.answer, TooLittle):
        return week.answer.reason
    high = None if isinf(week.answer.high) else week.answer.high
    return words.between(week.answer.low, high, words.rate)


def level_pictures(level: Level) -> tuple[Picture, ...]:
    """Return all pictures of the level: the p charts in the report's order."""
    return tuple(units_picture(part) for part in level.units_with_defect)
