"""The week in a few lines, one a section: what a manager reads first, each line leading to its numbers."""

from dataclasses import dataclass

from qc.domain.plant.naming import with_name
from qc.domain.plant.plant import UNKNOWN
from qc.domain.words.said_weeks import week_words
from qc.domain.words.speaking import ENGLISH, marked, say, say_many, tongue
from qc.reports.watch.signals import Signal, Signals
from qc.reports.week.data_quality import DataQuality
from qc.reports.week.escape_follow_up import EscapeFollowUp
from qc.reports.week.pareto_tables import OTHERS, ParetoTables
from qc.reports.week.review import Review
from qc.reports.wording import listed, percent
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
    got = GlanceLine(section="origin", head=say("Got through"), sentence=through.sentence, reading=_through(through))
    return (*(_rates(review) if review.has_rates else ()), got, *_lines(review, signals))


def _rates(review: Review) -> tuple[GlanceLine, ...]:
    per_unit, line = review.level.defects_per_unit, review.first_pass.lines[0]
    apart = say("Plain and mix-adjusted rates disagree.") if per_unit.disagree else ""
    return (
        GlanceLine(
            section="level",
            head=say("Level"),
            sentence=" ".join(filter(None, (per_unit.level_sentence, apart))),
            reading=_level(review),
            heed=per_unit.disagree or _is_out(review),
        ),
        GlanceLine(
            section="first-pass",
            head=say("First-pass"),
            sentence=line.sentence,
            reading=_first_pass(review),
            heed=line.is_low,
        ),
        GlanceLine(
            section="pareto-origin-count-head",
            head=say("Where from"),
            sentence=_where_from(review.pareto_by_origin, review.week.code),
            reading=_first_of(review.pareto_by_origin),
        ),
        GlanceLine(
            section="pareto",
            head=say("The three types"),
            sentence=most_words(review),
            reading=_three(review.pareto_by_type),
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
            head=say("Signals"),
            sentence=" ".join(
                part
                for part in (signals_words(signals), review.pareto_by_origin.signals if review.has_rates else "")
                if part
            ),
            reading=""
            if isinstance(signals.baseline, TooLittle)
            else say("{new} new, {known} known", new=len(new) or say("none"), known=len(signals.shown) - len(new)),
            heed=bool(new),
        ),
        GlanceLine(
            section="safety",
            head=say("Criticals"),
            sentence=review.safety.sentence,
            reading=say("{number} found", number=own or say("none")),
            heed=bool(own),
        ),
        GlanceLine(
            section="data",
            head=say("Fitness of the data"),
            sentence=fit,
            reading=say(
                "{number} of {judged} beyond the limit", number=len(concerns) or say("none"), judged=len(judged)
            )
            if judged
            else "",
            heed=bool(concerns),
        ),
    )


_STANDING = {"signal_high": marked("above usual"), "signal_low": marked("below usual"), "in": marked("usual")}


def _state(chart: ControlChart | TooLittle, week: str) -> str:
    """Return how a week stands to its limits, "" where none judges it."""
    points = () if isinstance(chart, TooLittle) else chart.points
    state = next((point.state for point in points if point.label == week), "")
    return f", {say(_STANDING[state])}" if state in _STANDING else ""


def _level(review: Review) -> str:
    per_unit, name = review.level.defects_per_unit, review.week.code
    own = next((week for week in per_unit.weeks if week.week == name), None)
    if own is None or not own.units:
        return say("no units")
    if own.partial:
        return say("{rate:.2f} a unit so far", rate=own.defects / own.units)
    return say("{rate:.2f} a unit", rate=own.defects / own.units) + _state(per_unit.chart, name)


def _first_pass(review: Review) -> str:
    line, name = review.first_pass.lines[0], review.week.code
    if isinstance(line.week_major, TooLittle):
        return say("no units")
    return say("{share} clean", share=percent(line.week_major.share)) + _state(line.chart, name)


def _first_of(tables: ParetoTables) -> str:
    rows = [row for row in tables.by("count").rows if row.code not in (OTHERS, UNKNOWN)]
    return say("{code} first", code=rows[0].code) if rows else ""


def _where_from(tables: ParetoTables, week: str) -> str:
    """Return the first three origins by number with those nobody named, which are beyond usual."""
    rows = [row for row in tables.by("count").rows if row.code not in (OTHERS, UNKNOWN)][:3]
    if not rows:
        return tables.sentence
    first, share = (
        listed([f"{with_name(row.code, row.name)} ({row.count})" for row in rows]),
        sum(row.count for row in rows),
    )
    values = {"first": first, "share": percent(share / tables.total), "week": week_words(week)}
    if not tables.unknown:
        told = _first_three(tables.total, **values)
    else:
        told = say_many(
            "{first}, {share} of {number} defect in {week}; {unknown} of unknown or disputed origin.",
            "{first}, {share} of {number} defects in {week}; {unknown} of unknown or disputed origin.",
            tables.total,
            unknown=tables.unknown,
            **values,
        )
    return " ".join(part for part in (told, tables.moved) if part)


def _first_three(total: int, **values: str) -> str:
    return say_many(
        "{first}, {share} of {number} defect in {week}.",
        "{first}, {share} of {number} defects in {week}.",
        total,
        **values,
    )


def _three(tables: ParetoTables) -> str:
    rows = [row for row in tables.by("count").rows if row.code != OTHERS][:3]
    return say("{share} of all", share=percent(sum(row.count for row in rows) / tables.total)) if rows else ""


def _through(through: EscapeFollowUp) -> str:
    answer = through.units_with
    return "" if isinstance(answer, TooLittle) else say("{share} of units", share=percent(answer.share))


def _within(title: str) -> str:
    """Return a title as it stands within a sentence: German keeps its capitals there."""
    return title.lower() if tongue() == ENGLISH else title


def data_words(quality: DataQuality) -> str:
    """Return which questions of fitness are beyond what the plant lives with."""
    beyond = [
        say("{question} ({have} of {whole})", question=_within(line.title), have=line.have, whole=line.whole)
        for line in quality.lines
        if line.concern
    ]
    mixes = [mix.point for mix in quality.inspector_mix if mix.moved]
    who = say("Who looked has changed at {points}.", points=listed(mixes)) if mixes else ""
    judged = [line for line in quality.lines if line.is_judged]
    if not judged:
        return say("Nothing has been recorded in this week yet that could be judged.")
    if not beyond:
        told = say_many(
            "{number} question of fitness judged, none beyond its limit.",
            "{number} questions of fitness judged, none beyond its limit.",
            len(judged),
        )
        return " ".join(filter(None, (told, who)))
    told = say(
        "{number} of {judged} questions of fitness are beyond the limit: {named}.",
        number=len(beyond),
        judged=len(judged),
        named=listed(beyond),
    )
    return " ".join(filter(None, (told, who)))


def signals_words(signals: Signals) -> str:
    """Return the new signals of the week by name, and how many older ones stand."""
    if isinstance(signals.baseline, TooLittle):
        return signals.sentence
    new = [one for one in signals.shown if one.is_new]
    older = len(signals.shown) - len(new)
    before = (
        say("{older} known before, {muted} muted.", older=older, muted=len(signals.muted))
        if signals.muted
        else say("{older} known before.", older=older)
    )
    if not new:
        return say("No new signal in {week}; {before}", week=signals.judged.name, before=before)
    named = listed([_signal_words(one) for one in new], MOST_SIGNALS)
    return say_many(
        "{number} new signal in {week}: {named}; {before}",
        "{number} new signals in {week}: {named}; {before}",
        len(new),
        week=signals.judged.name,
        named=named,
        before=before,
    )


def _signal_words(signal: Signal) -> str:
    place = with_name(signal.station, signal.station_name)
    way = say("more") if signal.direction == "up" else say("fewer")
    return f"{place}: {signal.type_name} ({way})"


def most_words(review: Review) -> str:
    """Return the first three types by number, then which types are beyond their usual range."""
    tables, week = review.pareto_by_type, review.week.code
    rows = [row for row in tables.by("count").rows if row.code != OTHERS]
    if not rows:
        return tables.sentence
    first = listed([f"{with_name(row.code, row.name)} ({row.count})" for row in rows[:3]])
    share = percent(sum(row.count for row in rows[:3]) / tables.total)
    told = _first_three(tables.total, first=first, share=share, week=week_words(week))
    return " ".join(part for part in (told, tables.moved) if part)


def _is_out(review: Review) -> bool:
    """Return whether the last judged week of any chart of all models is beyond its limits."""
    parts = [part.chart for part in review.level.units_with_defect if not part.model]
    charts = [chart for chart in (*parts, review.level.defects_per_unit.chart) if not isinstance(chart, TooLittle)]
    return any(last.is_signal for chart in charts if (last := chart.last_judged))
