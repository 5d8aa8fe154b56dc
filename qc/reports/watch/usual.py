"""What is usual: one answer for every page, from one set of frozen weeks that the answer names.

The weeks are those that signals are watched against, so that a range and a signal never speak of different weeks. They
serve for 26 weeks and are then renewed, on a known date. Weeks in which a signal stood are no measure of what is usual:
they are left out, for the station and the types that the signal is of. Where the counts of these weeks scatter beyond
chance, as the watch tells, ranges are of causes and so the wider.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from math import ceil, floor

from qc.domain.counted.counts import CategoryCounts, DayBasis, StationWeeks
from qc.domain.plant.calendar import ProductionCalendar
from qc.domain.words.said_weeks import day_figures
from qc.domain.words.speaking import say
from qc.reports.asking import LEAST_BASELINE_WEEKS, LEVEL, Asking, judged_week
from qc.reports.periods import ONE_WEEK, SEVERAL_WEEKS, WEEK, Period, monday_of, week_name
from qc.reports.signal_weeks import SignalWeeks, of_station, of_types
from qc.reports.watch.causes import causes_of
from qc.reports.watch.watch_rules import WATCHED_WEEKS
from qc.stats.answers import TooLittle
from qc.stats.charts import usual_range

RENEWED_ON = 13  # whole weeks that a later baseline has
LEAST_WEEKS = 4  # left once those of a signal are out, below which nothing is called usual (common practice, no source)


@dataclass(frozen=True, slots=True, kw_only=True)
class UsualRange:
    """The usual range of a week's defects on its own number of units, and how it was got.

    low, high: defects, both usual; expected: the mean; weeks: whole weeks it rests on, units exposed in them; rests_on:
    those weeks in words.
    """

    low: int
    high: int
    expected: float
    weeks: int
    units: int
    level: float
    method: str
    rests_on: str

    def holds(self, defects: int) -> bool:
        """Return whether a count of defects is usual."""
        return self.low <= defects <= self.high


@dataclass(frozen=True, slots=True)
class UsualWeeks:
    """The weeks that a usual range rests on: the Mondays of the period that no signal takes out.

    changed: days after the period began from which criteria changed, up to the week that is held against it. scatter:
    variance of counts in them over Poisson's, 0 for no more.
    """

    period: Period
    mondays: tuple[date, ...]
    changed: tuple[date, ...] = ()
    scatter: float = 0.0

    @property
    def every(self) -> tuple[date, ...]:
        """Return the Mondays of the period, those left out among them."""
        return tuple(self.period.first + at * WEEK for at in range(self.period.weeks))

    @property
    def names(self) -> frozenset[str]:
        """Return the ISO weeks."""
        return frozenset(map(week_name, self.mondays))

    @property
    def words(self) -> str:
        """Return the weeks in words: how many are left out, whether criteria changed since, how they scatter."""
        kept, out = len(self.mondays), self.period.weeks - len(self.mondays)
        whole = say("the {weeks}", weeks=self.period.name)
        some = say("{kept} of the {weeks} ({out} with a signal left out)", kept=kept, weeks=self.period.name, out=out)
        return (some if out else whole) + changed_words(self.changed) + widened_words(self.scatter)


@dataclass(frozen=True, slots=True)
class UsualBase:
    """Defects and units of the weeks that a range rests on, week by week beside weeks.names in time order."""

    weeks: UsualWeeks
    defects: int
    units: int


def watch_baseline(ask: Asking, week: Period) -> Period | TooLittle:
    """Return the frozen weeks whose rates a week is watched against.

    The first 8 whole weeks of the record serve the 26 weeks after them; every 26 weeks the 13 weeks before take over,
    so that what changed becomes the new usual only then, and on a known date.
    """
    first = ask.counts.first_week()
    have = max(0, (week.first - first).days // 7) if first else 0
    if first is None or have < LEAST_BASELINE_WEEKS:
        least = LEAST_BASELINE_WEEKS
        reason = say(
            "a baseline needs {least} whole weeks before the week judged, the record has {have}", least=least, have=have
        )
        return TooLittle("baseline", reason, have, LEAST_BASELINE_WEEKS)
    renewed = (have - LEAST_BASELINE_WEEKS) // WATCHED_WEEKS
    end = first + (LEAST_BASELINE_WEEKS + renewed * WATCHED_WEEKS) * WEEK
    begin = end - RENEWED_ON * WEEK if renewed else first
    return Period(begin, end, SEVERAL_WEEKS, False)


def usual_weeks(ask: Asking, week: Period, signals: Iterable[SignalWeeks]) -> UsualWeeks | TooLittle:
    """Return the weeks that a range for this week rests on, those of the signals left out."""
    period = watch_baseline(ask, judged_week(week))
    if isinstance(period, TooLittle):
        return period
    return weeks_left(period, signals, changed_since(ask, period, week), ask.scatter)


def changed_since(ask: Asking, period: Period, week: Period) -> tuple[date, ...]:
    """Return the days from which criteria changed after a baseline began and before a week's end.

    Then the two are not counts of the same thing. The range is still told, with that beside it: what changed may be
    one type of many.
    """
    return tuple(day for day in ask.criteria if period.first < day < week.end)


def changed_words(changed: Sequence[date]) -> str:
    """Return for behind the weeks of a baseline that criteria changed since it began, "" where none did."""
    if not changed:
        return ""
    return say(", and criteria changed since ({days})", days=", ".join(map(day_figures, changed)))


def widened_words(scatter: float) -> str:
    """Return for behind the weeks of a baseline by which scatter ranges are widened, "" for none."""
    if not scatter:
        return ""
    return say(", widened as counts scatter {scatter:.1f} times what chance gives", scatter=scatter)


def weeks_left(
    period: Period, signals: Iterable[SignalWeeks], changed: tuple[date, ...] = (), scatter: float = 0.0
) -> UsualWeeks | TooLittle:
    """Return the weeks of a baseline that no signal takes out, too little where fewer than 4 are left."""
    every = tuple(period.first + at * WEEK for at in range(period.weeks))
    taken = tuple(signals)
    kept = tuple(monday for monday in every if not any(one.first <= monday <= one.last for one in taken))
    if len(kept) < LEAST_WEEKS:
        stood = len(every) - len(kept)
        reason = say(
            "a signal stood in {some} of the {weeks}, which leaves too few to say", some=stood, weeks=period.name
        )
        return TooLittle("usual range", reason, len(kept), LEAST_WEEKS)
    return UsualWeeks(period, kept, changed, scatter)


def usual_on(base: UsualBase | TooLittle, units: int) -> UsualRange | TooLittle:
    """Return what is usual on so many units: the one function that answers it."""
    if isinstance(base, TooLittle):
        return base
    (causes,), each = causes_of([base.defects], base.weeks.scatter), base.weeks.scatter or 1.0
    answer = usual_range.usual_range(causes, base.units, units, LEVEL)
    if isinstance(answer, TooLittle):
        return answer
    weeks = base.weeks
    return UsualRange(
        low=floor(answer.low * each),
        high=ceil(answer.high * each),
        expected=answer.expected * each,
        weeks=len(weeks.mondays),
        units=base.units,
        level=answer.level,
        method=answer.method,
        rests_on=weeks.words,
    )


def station_usual_weeks(ask: Asking, station: str, basis: DayBasis, week: Period) -> UsualWeeks | TooLittle:
    """Return the weeks that a station's ranges rest on; by the day of the work a signal's weeks lie earlier."""
    own = of_station(ask.signals, station)
    if basis == "work" and station in ask.plant.stations:
        calendar = ProductionCalendar(ask.plant)
        own = tuple(replace(one, first=monday_of(calendar.work_day(one.first, station))) for one in own)
    return usual_weeks(ask, week, own)


def station_base(counts: StationWeeks, weeks: UsualWeeks) -> UsualBase:
    """Return the defects and units of a station in the weeks that its range rests on."""
    kept = [place for place, name in enumerate(counts.weeks) if name in weeks.names]
    defects = sum(counts.confirmed[place] + counts.suspected[place] for place in kept)
    return UsualBase(weeks, defects, sum(counts.exposed[place] for place in kept))


@dataclass(frozen=True, slots=True)
class UsualCategories:
    """Types or origins of the baseline: as a whole, and each of its weeks in which any signal stood.

    stations: for origins, each station's own weeks and units. A place that is no station's, and several rows together,
    have the units of all. changed: days from which criteria changed since, as of `UsualWeeks`.
    """

    ask: Asking
    what: str
    period: Period
    whole: CategoryCounts
    apart: Mapping[date, CategoryCounts]
    stations: Mapping[str, StationWeeks]
    changed: tuple[date, ...]

    @property
    def words(self) -> str:
        """Return the baseline's weeks in words, and what is left out of them."""
        weeks, widened = self.period.name, widened_words(self.ask.scatter)
        apart = say("the {weeks} (weeks with a signal left out)", weeks=weeks)
        return (apart if self.apart else say("the {weeks}", weeks=weeks)) + changed_words(self.changed) + widened

    def base(self, labels: Sequence[str]) -> UsualBase | TooLittle:
        """Return the defects of these labels together in the weeks that their range rests on."""
        if len(labels) == 1 and labels[0] in self.stations:
            weeks = weeks_left(self.period, of_station(self.ask.signals, labels[0]), self.changed, self.ask.scatter)
            return weeks if isinstance(weeks, TooLittle) else station_base(self.stations[labels[0]], weeks)
        weeks = weeks_left(self.period, self._signals(labels), self.changed, self.ask.scatter)
        if isinstance(weeks, TooLittle):
            return weeks
        out = [counts for monday, counts in self.apart.items() if monday not in weeks.mondays]
        defects = _sum(self.whole, labels) - sum(_sum(one, labels) for one in out)
        return UsualBase(weeks, defects, self.whole.inspected - sum(one.inspected for one in out))

    def _signals(self, labels: Sequence[str]) -> tuple[SignalWeeks, ...]:
        if self.what == "type":
            return of_types(self.ask.signals, labels)
        return tuple(one for label in labels for one in of_station(self.ask.signals, label))


def usual_categories(ask: Asking, what: str, week: Period) -> UsualCategories | TooLittle:
    """Return what the usual ranges of types, or of origins, rest on; majors and minors, or those of them asked for."""
    period = watch_baseline(ask, judged_week(week))
    if isinstance(period, TooLittle):
        return period
    mondays = [period.first + at * WEEK for at in range(period.weeks)]
    taken = [monday for monday in mondays if any(one.first <= monday <= one.last for one in ask.signals)]
    apart = {monday: _counts(ask, what, Period(monday, monday + WEEK, ONE_WEEK, False)) for monday in taken}
    stations = {}
    if what == "origin":
        stations = ask.counts.all_station_weeks(ask.slice(period, ask.counted), "found", ask.now_ms)
    whole = _counts(ask, what, period)
    return UsualCategories(ask, what, period, whole, apart, stations, changed_since(ask, period, week))


def _counts(ask: Asking, what: str, period: Period) -> CategoryCounts:
    return ask.counts.category_counts(ask.slice(period, ask.counted), what)


def _sum(counts: CategoryCounts, labels: Sequence[str]) -> int:
    wanted = set(labels)
    return sum(count for label, count in zip(counts.labels, counts.counts, strict=True) if label in wanted)
