"""The watch as of one week of a record, and the weeks in which a signal stood."""

import json
from collections.abc import Collection
from datetime import date

from qc.domain.plant.plant import DESIGN, UNKNOWN, Plant
from qc.reports.asking import COUNTED, Asking
from qc.reports.periods import WEEK, Period, week_of
from qc.reports.signal_weeks import SignalWeeks
from qc.reports.table_revisions import criteria_revisions
from qc.reports.watch.usual import watch_baseline
from qc.reports.watch.watching import STILL, Watch, watch
from qc.stats.answers import TooLittle
from qc.store.reading.reads import Reads


def watched_as_of(ask: Asking, reads: Reads, judged: Period, baseline: Period) -> tuple[Watch, Period]:
    """Return the watch as of a week, and the weeks from its baseline's first to that one."""
    plant = ask.plant
    span = Period(baseline.first, judged.end, "", False)
    table = ask.counts.cell_weeks(ask.slice(span, COUNTED), ask.now_ms)
    origins = [place for place in plant.stations if place not in (UNKNOWN, DESIGN)]
    groups = {type_.code: type_.group for type_ in plant.types.values()}
    groups |= {type_: groups.get(type_, type_) for _, type_ in table.cells}
    return watch(table, groups, (0, baseline.weeks), _criteria(reads, plant, span), origins), span


def weeks_of(found: Watch, span: Period, ended_only: bool = False) -> tuple[SignalWeeks, ...]:
    """Return the weeks in which each sum that moved may have been in its signal; of those that ended, or of all."""
    return tuple(
        SignalWeeks(
            one.series.station,
            one.series.types,
            span.first + one.since[0] * WEEK,
            span.first + (found.judged if one.over is None else one.over) * WEEK,
            one.direction == "up",
        )
        for lead, others in found.moved
        for one in (lead, *others)
        if one.over is not None or not ended_only
    )


def weeks_before_renewal(ask: Asking, reads: Reads, baseline: Period) -> tuple[SignalWeeks, ...]:
    """Return the weeks of signals that came and went in a renewed baseline, as the watch before it told them.

    One that lasted is the new usual from the renewal on. An episode is listed for six weeks after its last alarm, so
    that two lists hold every one of the last twelve weeks.
    """
    if baseline.first == ask.counts.first_week():
        return ()
    weeks: dict[SignalWeeks, None] = {}
    for back in (1, STILL + 1):
        judged = week_of(baseline.end - back * WEEK, ask.today)
        before = watch_baseline(ask, judged)
        if not isinstance(before, TooLittle):
            weeks |= dict.fromkeys(weeks_of(*watched_as_of(ask, reads, judged, before), ended_only=True))
    return tuple(weeks)


def _criteria(reads: Reads, plant: Plant, span: Period) -> dict[str, int]:
    """Return for each type the place of the first whole week after its criteria last changed in the span."""
    since: dict[str, int] = {}
    for day, types in (*_noted(reads, plant), *_revised(reads)):
        place = -(-(day - span.first).days // 7)
        for type_ in types:
            if place > 0:
                since[type_] = max(place, since.get(type_, 0))
    return {type_: place for type_, place in since.items() if place < span.weeks}


def _noted(reads: Reads, plant: Plant) -> list[tuple[date, Collection[str]]]:
    notes = [note for station in plant.stations for note in reads.change_notes(station)]
    return [
        (date.fromisoformat(note["from_day"]), _types_of(note, plant)) for note in notes if note["change"] == "criteria"
    ]


def _revised(reads: Reads) -> list[tuple[date, Collection[str]]]:
    return [(one.from_day, one.types) for one in criteria_revisions(reads)]


def _types_of(note: dict[str, object], plant: Plant) -> list[str]:
    """Return the types that a note names; one that names none is about every type."""
    named = note["types"]
    types = json.loads(named) if isinstance(named, str) else named
    return list(types) if isinstance(types, list) and types else list(plant.types)
