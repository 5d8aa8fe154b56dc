"""The week in a few lines, one a section: what a manager reads first, each line leading to its numbers."""

from dataclasses import dataclass

from qc.domain.naming import with_name
from qc.domain.plant import UNKNOWN
from qc.reports.watch.signals import Signal, Signals
from qc.reports.week.data_quality import DataQuality
from qc.reports.week.escape_follow_up import EscapeFollowUp
from qc.reports.week.pareto_tables import OTHERS, ParetoTables
from qc.reports.week.review import Review
from qc.reports.wording import counted, listed, percent
from qc.stats.answers import TooLittle
from qc.stats.charts.chart_points import ControlChart

MOST_SIGNALS = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class GlanceLine:
    """One line: the section, or the page (with its slash), that it leads to, its head, its reading, the sentence.

    reading: a few words, "" none; said at a glance, with the sentence in full in the section. heed: it asks to be
    looked at.
    """

    section: str
    head: str
    sentence: str
    reading: str = ""
    heed: bool = False


def glance(review: Review, signals: Signals, through: EscapeFollowUp) -> tuple[GlanceLine, ...]:
    """Return the week's lines; rates are left out where criticals alone are asked for.

    through: what got through, in the words of the follow-up, since weeks that still grow are no improvement.
    """
    got = GlanceLine(section="origin", head="Got through", sentence=through.sentence, reading=_through(through))
    return (*(_rates(review) if review.has_rates else ()), got, *_lines(review, signals))


def _rates(review: Review) -> tuple[GlanceLine, ...]:
    per_unit, line = review.level.defects_per_unit, review.first_pass.lines[0]
    apart = " Plain and mix-adjusted rates disagree." if per_unit.disagree else ""
    return (
        GlanceLine(
            section="level",
            head="Level",
            sentence=f"{per_unit.level_sentence}{apart}",
            reading=_level(review),
            heed=per_unit.disagree or _is_out(review),
        ),
        GlanceLine(
            section="first-pass",
            head="First-pass",
            sentence=line.sentence,
            reading=_first_pass(review),
            heed=line.is_low,
        ),
        GlanceLine(
            section="pareto-origin-count-head",
            head="Where from",
            sentence=_where_from(review.pareto_by_origin, review.week.name),
            reading=_first_of(review.pareto_by_origin),
        ),
        GlanceLine(
            section="pareto", head="The three types", sentence=most_words(review), reading=_three(review.pareto_by_type)
        ),
    )


def _lines(review: Review, signals: Signals) -> tuple[GlanceLine, ...]:
    new = [one for one in signals.shown if one.is_new]
    fit = " ".join(filter(None, (data_words(review.data_quality), review.under_way.sentence)))
    concerns = [line for line in review.data_quality.lines if line.concern]
    judged = [line for line in review.data_quality.lines if line.is_judged]
    own = len(review.safety.week)
    return (
        GlanceLine(
            section="signals",
            head="Signals",
            sentence=" ".join(
                part
                for part in (signals_words(signals), review.pareto_by_origin.signals if review.has_rates else "")
                if part
            ),
            reading=""
            if isinstance(signals.baseline, TooLittle)
            else f"{len(new) or 'none'} new, {len(signals.shown) - len(new)} known",
            heed=bool(new),
        ),
        GlanceLine(
            section="safety",
            head="Criticals",
            sentence=review.safety.sentence,
            reading=f"{own or 'none'} found",
            heed=bool(own),
        ),
        GlanceLine(
            section="data",
            head="Fitness of the data",
            sentence=fit,
            reading=f"{len(concerns) or 'none'} of {len(judged)} beyond the limit" if judged else "",
            heed=bool(concerns),
        ),
    )


_STANDING = {"signal_high": ", above usual", "signal_low": ", below usual", "in": ", usual"}


def _state(chart: ControlChart | TooLittle, week: str) -> str:
    """Return how a week stands to its limits, "" where none judges it."""
    points = () if isinstance(chart, TooLittle) else chart.points
    return next((_STANDING.get(point.state, "") for point in points if point.label == week), "")


def _level(review: Review) -> str:
    per_unit, name = review.level.defects_per_unit, review.week.code
    own = next((week for week in per_unit.weeks if week.week == name), None)
    if own is None or not own.units:
        return "no units"
    return f"{own.defects / own.units:.2f} a unit{' so far' if own.partial else _state(per_unit.chart, name)}"


def _first_pass(review: Review) -> str:
    line, name = review.first_pass.lines[0], review.week.code
    if isinstance(line.week_major, TooLittle):
        return "no units"
    return f"{percent(line.week_major.share)} clean{_state(line.chart, name)}"


def _first_of(tables: ParetoTables) -> str:
    rows = [row for row in tables.by("count").rows if row.code not in (OTHERS, UNKNOWN)]
    return f"{rows[0].code} first" if rows else ""


def _where_from(tables: ParetoTables, week: str) -> str:
    """Return the first three origins by number with those nobody named, which are beyond usual."""
    rows = [row for row in tables.by("count").rows if row.code not in (OTHERS, UNKNOWN)][:3]
    if not rows:
        return tables.sentence
    first, share = (
        listed([f"{with_name(row.code, row.name)} ({row.count})" for row in rows]),
        sum(row.count for row in rows),
    )
    told = f"{first}, {percent(share / tables.total)} of {counted(tables.total, 'defect')} in {week}"
    unknown = f"; {tables.unknown} of unknown or disputed origin" if tables.unknown else ""
    return " ".join(part for part in (f"{told}{unknown}.", tables.moved) if part)


def _three(tables: ParetoTables) -> str:
    rows = [row for row in tables.by("count").rows if row.code != OTHERS][:3]
    return f"{percent(sum(row.count for row in rows) / tables.total)} of all" if rows else ""


def _through(through: EscapeFollowUp) -> str:
    return "" if isinstance(through.units_with, TooLittle) else f"{percent(through.units_with.share)} of units"


def data_words(quality: DataQuality) -> str:
    """Return which questions of fitness are beyond what the plant lives with."""
    beyond = [f"{line.title.lower()} ({line.have} of {line.whole})" for line in quality.lines if line.concern]
    mixes = [mix.point for mix in quality.inspector_mix if mix.moved]
    who = f" Who looked has changed at {listed(mixes)}." if mixes else ""
    judged = [line for line in quality.lines if line.is_judged]
    if not judged:
        return "Nothing has been recorded in this week yet that could be judged."
    if not beyond:
        return f"{counted(len(judged), 'question')} of fitness judged, none beyond its limit.{who}"
    return f"{len(beyond)} of {len(judged)} questions of fitness are beyond the limit: {listed(beyond)}.{who}"


def signals_words(signals: Signals) -> str:
    """Return the new signals of the week by name, and how many older ones stand."""
    if isinstance(signals.baseline, TooLittle):
        return signals.sentence
    new = [one for one in signals.shown if one.is_new]
    older = len(signals.shown) - len(new)
    muted = f", {len(signals.muted)} muted" if signals.muted else ""
    before = f"{older} known before{muted}."
    if not new:
        return f"No new signal in {signals.judged.name}; {before}"
    named = listed([_signal_words(one) for one in new], MOST_SIGNALS)
    return f"{counted(len(new), 'new signal')} in {signals.judged.name}: {named}; {before}"


def _signal_words(signal: Signal) -> str:
    place, way = with_name(signal.station, signal.station_name), "more" if signal.direction == "up" else "fewer"
    return f"{place}: {signal.type_name} ({way})"


def most_words(review: Review) -> str:
    """Return the first three types by number, then which types are beyond their usual range."""
    tables, week = review.pareto_by_type, review.week.name
    rows = [row for row in tables.by("count").rows if row.code != OTHERS]
    if not rows:
        return tables.sentence
    first = listed([f"{with_name(row.code, row.name)} ({row.count})" for row in rows[:3]])
    share = percent(sum(row.count for row in rows[:3]) / tables.total)
    told = f"{first}, {share} of {counted(tables.total, 'defect')} in {week}."
    return " ".join(part for part in (told, tables.moved) if part)


def _is_out(review: Review) -> bool:
    """Return whether the last judged week of any chart of all models is beyond its limits."""
    parts = [part.chart for part in review.level.units_with_defect if not part.model]
    charts = [chart for chart in (*parts, review.level.defects_per_unit.chart) if not isinstance(chart, TooLittle)]
    return any(last.is_signal for chart in charts if (last := chart.last_judged))
