"""Criticals: every one by number and by date, with the units between them; never a rate, never a percentage."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from qc.domain.counted.counts import Critical, Slice
from qc.domain.plant.naming import Names, with_name
from qc.domain.words.said_weeks import day_figures, week_words
from qc.domain.words.speaking import say, say_many
from qc.reports.asking import Asking
from qc.reports.how_many import units
from qc.reports.periods import Period, week_name
from qc.reports.week.critical_gaps import CriticalGaps, critical_gaps
from qc.reports.wording import listed
from qc.stats.answers import TooLittle

ALIKE_DAYS = 14  # two alike in a fortnight ring the bell (common practice, no source)


@dataclass(frozen=True, slots=True, kw_only=True)
class CriticalLine:
    """One critical defect, as the list shows it. what: its type, with the plant's own severity where it says one.

    found_day: production day; point: where it was first recorded ("FIELD" after dispatch); origin: confirmed
    or else suspected station, "" not known; origin_state: "none", "suspected", "confirmed", "disputed", "settled".
    state: "open", "repaired", "closed". units_since_last: units presented since the critical
    before it, whether shown or not, by whole days; None for the first on record. alike: ids of criticals of the same
    type found in the 14 days before it, shown or not.
    """

    defect: str
    unit: str
    shop_number: str
    model: str
    type: str
    type_name: str
    what: str
    zone: str
    zone_name: str
    point: str
    found_day: date
    found_ms: int
    finder: str
    origin: str
    origin_name: str
    origin_state: str
    state: str
    units_since_last: int | None
    alike: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Safety:
    """The criticals of the week, and those of the history before it, latest first.

    before_sentence: how many the record has before the week, since when, and which of them are listed; "" without any.
    units_since: units presented since the last critical up to the week's end, None where the record has none.
    bells: sentences where two criticals of one type stand within 14 days, () where none do.
    gaps: the units between criticals on their chart, or how many criticals that needs. sentence: the week in words.
    """

    week: tuple[CriticalLine, ...]
    before: tuple[CriticalLine, ...]
    before_sentence: str
    units_since: int | None
    bells: tuple[str, ...]
    gaps: CriticalGaps | TooLittle
    sentence: str


def safety(ask: Asking, week: Period, history: Period) -> Safety:
    """Return the criticals of the week and of the history before it."""
    earliest = history.first - timedelta(days=ALIKE_DAYS)  # one alike may stand before the weeks shown
    known = ask.counts.criticals(replace(ask.slice(history), first=earliest))
    alike = _alike(known)
    lines = [_line(ask, row, alike[row.defect]) for row in known]
    own = [line for line in lines if week.first <= line.found_day < week.end]
    before = [line for line in lines if history.first <= line.found_day < week.first]
    rows = [row for row in known if row.found_day >= history.first]
    last = known[-1].found_day if known else ask.counts.last_critical_before(ask.slice(history))
    since = None if last is None else _units_since(ask, last, week)
    gaps = critical_gaps(ask, week, history, rows, since)
    return Safety(
        tuple(own[::-1]),
        tuple(before[::-1]),
        _before_sentence(ask, week, history, before),
        since,
        _bells(own, lines),
        gaps,
        _sentence(own, since, week, ask.names),
    )


def _before_sentence(ask: Asking, week: Period, history: Period, shown: Sequence[CriticalLine]) -> str:
    """Return what the record has before the week: the weeks shown hold the latest of them only."""
    earlier, first = ask.counts.criticals_before(ask.slice(history))
    if first is None:
        first = shown[0].found_day if shown else None
    if first is None:
        return ""
    number, ends = earlier + len(shown), {"week": week.name, "day": day_figures(first)}
    if not number:
        return say("no critical before {week} on record, since {day}, each listed, latest first", **ends)
    if not earlier:
        return say_many(
            "{number} critical before {week} on record, since {day}, each listed, latest first",
            "{number} criticals before {week} on record, since {day}, each listed, latest first",
            number,
            **ends,
        )
    return say_many(
        "{number} critical before {week} on record, since {day}; those of the weeks shown, since {first}, are listed: "
        "{shown}",
        "{number} criticals before {week} on record, since {day}; those of the weeks shown, since {first}, are listed: "
        "{shown}",
        number,
        first=week_words(week_name(history.first)),
        shown=len(shown),
        **ends,
    )


def _alike(rows: Sequence[Critical]) -> dict[str, tuple[str, ...]]:
    """Return for each critical those of its type in the 14 days before it, in the order found."""
    recent: dict[str, list[Critical]] = {}
    alike: dict[str, tuple[str, ...]] = {}
    for row in rows:
        earliest = row.found_day - timedelta(days=ALIKE_DAYS)
        own = [one for one in recent.get(row.type, ()) if one.found_day >= earliest]
        alike[row.defect] = tuple(one.defect for one in own)
        recent[row.type] = [*own, row]
    return alike


def _line(ask: Asking, row: Critical, alike: tuple[str, ...]) -> CriticalLine:
    origin = row.confirmed or row.suspected if row.origin_state != "disputed" else ""
    return CriticalLine(
        defect=row.defect,
        unit=row.unit,
        shop_number=row.shop_number,
        model=row.model,
        type=row.type,
        type_name=ask.type_name(row.type),
        what=ask.names.critical(row.type, row.grade),
        zone=row.zone,
        zone_name=ask.zone_name(row.model, row.zone),
        point=row.point,
        found_day=row.found_day,
        found_ms=row.found_ms,
        finder=row.finder,
        origin=origin,
        origin_name=ask.place_name(origin) if origin else "",
        origin_state=row.origin_state,
        state=row.state,
        units_since_last=row.units_since_last,
        alike=alike,
    )


def _units_since(ask: Asking, day: date, week: Period) -> int:
    after = day + timedelta(days=1)
    rest = Slice(
        after, max(after, min(week.end, ask.today + timedelta(days=1))), ask.models, ask.shifts, builds=ask.builds
    )
    return sum(ask.counts.seen_units(rest).values())


def _bells(own: Sequence[CriticalLine], lines: Sequence[CriticalLine]) -> tuple[str, ...]:
    by_id = {line.defect: line for line in lines}
    bells: dict[str, str] = {}
    for line in own:
        if line.alike:
            all_alike = [*(by_id[one] for one in line.alike), line]
            where = [say("{unit} on {day}", unit=one.shop_number, day=day_figures(one.found_day)) for one in all_alike]
            bells[line.type] = say(
                "{type}: {number} within {days} days ({where}). Look for what they share before more units pass.",
                type=with_name(line.type, line.type_name),
                number=len(all_alike),
                days=ALIKE_DAYS,
                where=listed(where),
            )
    return tuple(bells.values())


def _sentence(own: Sequence[CriticalLine], since: int | None, week: Period, names: Names) -> str:
    if own:
        places = listed([names.found_at(point) for point in sorted({line.point for line in own})])
        return say_many(
            "{number} critical in {week}, found {places}. Each is listed.",
            "{number} criticals in {week}, found {places}. Each is listed.",
            len(own),
            week=week.name,
            places=places,
        )
    if since is None:
        return say("No critical is recorded in {week} nor on any day before it.", week=week.name)
    return say(
        "No critical is recorded in {week}; {units} presented since the last one.", week=week.name, units=units(since)
    )
