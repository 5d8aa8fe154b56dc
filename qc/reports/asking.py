"""What a report is asked for, and the baseline that its limits rest on."""

from dataclasses import dataclass
from datetime import date

from qc.domain.counted.counts import Slice
from qc.domain.plant.naming import SaidNames
from qc.domain.plant.plant import DESIGN, FIELD, UNKNOWN, Plant, Severity
from qc.domain.words.speaking import marked, say
from qc.reports.chosen_baseline import ChosenBaseline
from qc.reports.periods import ONE_WEEK, WEEK, Period, weeks_before, weeks_up_to
from qc.reports.signal_weeks import SignalWeeks
from qc.stats.answers import TooLittle
from qc.store.counts import LINE, Counts

LEVEL = 0.95
SCATTER_LEVEL = 0.99  # at which the scatter of baseline weeks is called more than chance
BASELINE_WEEKS = 20  # 20 to 25 periods are usual (Montgomery, ch. 7)
FIRST_WEEKS = marked("first {weeks} weeks of the record, {first} to {last}")
TOO_FEW = marked("limits need {least} whole weeks before this one, the record has {have}")
LEAST_BASELINE_WEEKS = 8  # a first guess, said to be one (common practice, no source)
COUNTED: tuple[Severity, ...] = ("major", "minor")  # criticals are listed, never in a rate


@dataclass(frozen=True, slots=True, kw_only=True)
class Asking:
    """Counts, the plant and the instant of one report, narrowed to models, lines, shifts, severities (() for all).

    chosen: the baseline that a manager set, None for the record's own. criteria: days from which criteria changed.
    signals: weeks in which signals stood, which no usual range rests on; scatter: variance of what is watched over
    Poisson's in its baseline, by which usual ranges are widened, 0 for no more than chance.
    """

    counts: Counts
    plant: Plant
    now_ms: int
    models: tuple[str, ...] = ()
    lines: tuple[str, ...] = ()
    shifts: tuple[str, ...] = ()
    severities: tuple[Severity, ...] = ()
    chosen: ChosenBaseline | None = None
    criteria: tuple[date, ...] = ()
    signals: tuple[SignalWeeks, ...] = ()
    scatter: float = 0.0

    @property
    def left_out(self) -> dict[str, str]:
        """Return the weeks that the limits' baseline leaves out, each with its reason."""
        return self.chosen.reasons() if self.chosen else {}

    @property
    def today(self) -> date:
        """Return the production day of the report."""
        return self.counts.today(self.now_ms)

    @property
    def counted(self) -> tuple[Severity, ...]:
        """Return the severities that a rate counts of those asked for, never criticals.

        Where criticals alone are asked for there is nothing to count in a rate: majors and minors stand in their
        place, and the page shows none of it (`has_rates`).
        """
        return tuple(one for one in COUNTED if one in self.severities) or COUNTED

    @property
    def has_rates(self) -> bool:
        """Return whether anything is asked for that may stand in a rate."""
        return not self.severities or any(one in self.severities for one in COUNTED)

    def slice(self, period: Period, severities: tuple[str, ...] = ()) -> Slice:
        """Return the slice of a period, narrowed as asked."""
        return Slice(period.first, period.end, self.models, self.shifts, severities, self.builds)

    @property
    def builds(self) -> tuple[tuple[str, str], ...]:
        """Return the builds, (model, line as told of the unit), of the lines asked for; () for all."""
        if not self.lines:
            return ()
        found = tuple(one for one in self.plant.builds() if self.plant.line_of(*one) in self.lines)
        return found or tuple(("", line) for line in self.lines)  # of lines that build nothing, no unit

    @property
    def names(self) -> SaidNames:
        """How this plant's codes are written with their names."""
        return SaidNames(self.plant)

    def place_name(self, code: str) -> str:
        """Return the name of a station, an origin or a detection point; the code where the plant has none."""
        station = self.plant.stations.get(code)
        if station is not None:
            return station.name
        return say(_NAMES[code]) if code in _NAMES else code

    def type_name(self, code: str) -> str:
        """Return the name of a type, the code where the plant has none."""
        known = self.plant.types.get(code)
        return known.name if known else code

    def zone_name(self, model: str, key: str) -> str:
        """Return the name of a zone of a model, the key where the plant has none."""
        zone = self.plant.zones.get((model, key))
        return zone.name if zone else key


_NAMES = {
    LINE: marked("The line, every end point"),
    FIELD: marked("After dispatch"),
    UNKNOWN: marked("Not known"),
    DESIGN: marked("As designed or as instructed"),
}


def record_baseline(ask: Asking, week: Period) -> Period | TooLittle:
    """Return the weeks that limits rest on: the first 20 of the record, once there are so many before the week.

    Before that all whole weeks so far, at least 8. They do not move with the week asked for, so limits stay as they
    were once the 20 weeks are over, until a manager sets another baseline.
    """
    if ask.chosen is not None:
        return ask.chosen.period(LEAST_BASELINE_WEEKS)
    first = ask.counts.first_week()
    have = max(0, (week.first - first).days // 7) if first else 0
    if first is None or have < LEAST_BASELINE_WEEKS:
        reason = say(TOO_FEW, least=LEAST_BASELINE_WEEKS, have=have)
        return TooLittle("baseline", reason, have, LEAST_BASELINE_WEEKS)
    return Period(first, first + min(have, BASELINE_WEEKS) * WEEK, FIRST_WEEKS, False)


def judged_week(week: Period) -> Period:
    """Return the last whole week: the week itself, or the one before where it is not over."""
    if not week.partial:
        return week
    before = weeks_before(week, 1)
    return Period(before.first, before.end, ONE_WEEK, False)


def known_weeks(ask: Asking, week: Period, how_many: int) -> Period:
    """Return the weeks up to this one, at most so many, none from before the record's first; at least this one."""
    return _up_to(week, how_many, ask.counts.first_week())


def looked_weeks(ask: Asking, week: Period, how_many: int) -> Period:
    """Return the same of what counts by the day of a look: from the first week in which anybody looked."""
    return _up_to(week, how_many, ask.counts.first_look_week())


def _up_to(week: Period, how_many: int, first: date | None) -> Period:
    known = (week.end - first).days // 7 if first else how_many
    return weeks_up_to(week, max(1, min(how_many, known)) if how_many > 0 else how_many)


def known_before(ask: Asking, week: Period, how_many: int) -> Period:
    """Return the whole weeks before this one, at most so many, none from before the record's first; at least one."""
    first = ask.counts.first_week()
    known = (week.first - first).days // 7 if first else how_many
    return weeks_before(week, max(1, min(how_many, known)) if how_many > 0 else how_many)
