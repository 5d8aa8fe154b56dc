"""The week in a few lines, one a section: what a manager reads first, each line leading to its numbers."""

from dataclasses import dataclass

from qc.reports.watch.signals import Signal, Signals
from qc.reports.week.data_quality import DataQuality
from qc.reports.week.pareto_tables import OTHERS
from qc.reports.week.review import Review
from qc.reports.wording import counted, listed, percent
from qc.stats.answers import TooLittle

MOST_SIGNALS = 3


@dataclass(frozen=True, slots=True)
class GlanceLine:
    """One line: the section, or the page (with its slash), that it leads to, its head, the sentence.

    heed: it asks to be looked at.
    """

    section: str
    head: str
    sentence: str
    heed: bool


def glance(review: Review, signals: Signals, through: str, waits: str, is_urgent: bool) -> tuple[GlanceLine, ...]:
    """Return the week's lines, those first that cannot wait; rates are left out where criticals alone are asked for.

    through: what got through, in the words of the follow-up, since weeks that still grow are no improvement.
    waits: what waits for somebody, in the words of the backlog; is_urgent: it cannot wait.
    """
    new = [one for one in signals.shown if one.is_new]
    fit = " ".join(filter(None, (data_words(review.data_quality), review.under_way.sentence)))
    lines = [
        GlanceLine("safety", "Safety", review.safety.sentence, bool(review.safety.week)),
        GlanceLine("/backlog", "Waits", waits, is_urgent),
        GlanceLine("data", "Data", fit, any(q.concern for q in review.data_quality.lines)),
        GlanceLine("signals", "Signals", signals_words(signals), bool(new)),
    ]
    if review.has_rates:
        per_unit = review.level.defects_per_unit
        apart = " Plain and mix-adjusted rates disagree." if per_unit.disagree else ""
        lines += [
            GlanceLine("level", "Level", f"{per_unit.level_sentence}{apart}", per_unit.disagree or _is_out(review)),
            GlanceLine(
                "first-pass", "First-pass", review.first_pass.lines[0].sentence, review.first_pass.lines[0].is_low
            ),
            GlanceLine("rework", "Rework", review.rework.sentence, False),
            GlanceLine("pareto", "Most", most_words(review), False),
        ]
    return (*lines, GlanceLine("origin", "Got through", through, False))


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
    return f"{signal.station} {signal.type_name} ({'more' if signal.direction == 'up' else 'fewer'})"


def most_words(review: Review) -> str:
    """Return the first three types by number, then which types and which origins are beyond their usual range."""
    tables, week = review.pareto_by_type, review.week.name
    rows = [row for row in tables.by("count").rows if row.code != OTHERS]
    if not rows:
        return tables.sentence
    first = listed([f"{row.code} {row.name} ({row.count})" for row in rows[:3]])
    share = percent(sum(row.count for row in rows[:3]) / tables.total)
    told = f"{first}, {share} of {counted(tables.total, 'defect')} in {week}."
    origins = review.pareto_by_origin
    return " ".join(dict.fromkeys(part for part in (told, tables.moved, origins.moved, origins.signals) if part))


def _is_out(review: Review) -> bool:
    """Return whether the last judged week of any chart of all models is beyond its limits."""
    parts = [part.chart for part in review.level.units_with_defect if not part.model]
    charts = [chart for chart in (*parts, review.level.defects_per_unit.chart) if not isinstance(chart, TooLittle)]
    return any(last.is_signal for chart in charts if (last := chart.last_judged))
