"""The quality manager's week: safety, fitness of the data, level, first-pass, Pareto, escapes, in that order."""

from dataclasses import dataclass
from datetime import date

from qc.domain.plant.plant import Plant, Severity
from qc.domain.words.speaking import marked, say
from qc.reports.asking import Asking, known_before, known_weeks
from qc.reports.chosen_baseline import ChosenBaseline
from qc.reports.periods import Period, week_of
from qc.reports.signal_weeks import SignalWeeks
from qc.reports.week.data_quality import DataQuality, data_quality
from qc.reports.week.first_pass import FirstPassBoth, first_pass_both
from qc.reports.week.level import Level, level
from qc.reports.week.origin_table import OriginTable, origin_table
from qc.reports.week.own_severities import own_severities
from qc.reports.week.pareto_tables import ParetoTables, pareto_tables
from qc.reports.week.rework import ReworkMinutes, rework_minutes
from qc.reports.week.safety import Safety, safety
from qc.reports.week.under_way import UnderWay, units_under_way
from qc.store.counts import Counts

WINDOW_WEEKS = 8
HISTORY_WEEKS = 26
ESCAPE_WEEKS = 13
CAUTIONS = (
    marked("Defects found are as much about who looked as about who built: compare people only on the same units."),
    marked("Nothing here says that a unit is safe. Local codes, the makers' sheets and licensed practice govern."),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Review:
    """One week's review. window: the weeks before it (8) of the Pareto; history: the weeks of the charts, this one
    included; escape_window: the weeks of the origin × detection table. models, lines, shifts, severities: what it is
    narrowed to, () all. made_ms: the instant for which it was made. has_rates: False where criticals alone are asked
    for, which never stand in a rate or an order; level, first-pass, rework and Pareto then count majors and minors
    and are not to be shown. own_severities: the week's defects in the plant's own words, "" for a plant without such.
    cautions: sentences that close the page.
    """

    week: Period
    window: Period
    history: Period
    escape_window: Period
    models: tuple[str, ...]
    lines: tuple[str, ...]
    shifts: tuple[str, ...]
    severities: tuple[Severity, ...]
    made_ms: int
    safety: Safety
    data_quality: DataQuality
    under_way: UnderWay
    own_severities: str
    level: Level
    first_pass: FirstPassBoth
    rework: ReworkMinutes
    pareto_by_type: ParetoTables
    pareto_by_origin: ParetoTables
    origin_table: OriginTable
    has_rates: bool
    cautions: tuple[str, ...]


def weekly_review(
    counts: Counts,
    plant: Plant,
    day: date,
    now_ms: int,
    *,
    models: tuple[str, ...] = (),
    lines: tuple[str, ...] = (),
    shifts: tuple[str, ...] = (),
    severities: tuple[Severity, ...] = (),
    chosen: ChosenBaseline | None = None,
    criteria: tuple[date, ...] = (),
    signals: tuple[SignalWeeks, ...] = (),
    scatter: float = 0.0,
    history_weeks: int = HISTORY_WEEKS,
    window_weeks: int = WINDOW_WEEKS,
) -> Review:
    """Return the review of the ISO week that holds the day, as of now (ms since 1970 UTC).

    models, lines, shifts narrow everything in it, severities what is counted; () is all. First-pass says its
    severity itself and is told both ways whatever they are; fitness of the data is about every defect. chosen: the
    baseline of the level's limits in place of the record's own; criteria: days from which criteria changed, across
    which no run of weeks is counted; signals: weeks in which signals stood, which no usual range rests on; scatter: of
    the counts watched, by which usual ranges are widened. A week in the future has no units and says so. Raises
    ValueError where fewer than one week is asked for.
    """
    ask = Asking(
        counts=counts,
        plant=plant,
        now_ms=now_ms,
        models=models,
        lines=lines,
        shifts=shifts,
        severities=severities,
        chosen=chosen,
        criteria=criteria,
        signals=signals,
        scatter=scatter,
    )
    week = week_of(day, ask.today)
    window, history = known_before(ask, week, window_weeks), known_weeks(ask, week, history_weeks)
    escapes = known_weeks(ask, week, ESCAPE_WEEKS)
    return Review(
        week=week,
        window=window,
        history=history,
        escape_window=escapes,
        models=models,
        lines=lines,
        shifts=shifts,
        severities=severities,
        made_ms=now_ms,
        safety=safety(ask, week, history),
        data_quality=data_quality(ask, week, window),
        under_way=units_under_way(ask, week),
        own_severities=own_severities(ask, week),
        level=level(ask, week, history),
        first_pass=first_pass_both(ask, week, window, history),
        rework=rework_minutes(ask, week, window, history),
        pareto_by_type=pareto_tables(ask, "type", week, window),
        pareto_by_origin=pareto_tables(ask, "origin", week, window),
        origin_table=origin_table(ask, escapes),
        has_rates=ask.has_rates,
        cautions=tuple(map(say, CAUTIONS)),
    )
