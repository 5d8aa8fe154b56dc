"""The production calendar: which day and shift an instant belongs to, and which day a station's work was done."""

from collections.abc import Iterable
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from qc.domain.plant.plant import Plant, Shift
from qc.domain.plant.working_days import WorkingDays, plant_days, station_days

BLOCK_WEEKS = 13
_DAY = timedelta(days=1)
BLOCK_ORIGIN = date(2001, 1, 1)  # a Monday; blocks of 13 weeks are counted from it


def iso_week(day: date) -> str:
    """Return the ISO 8601 week of a day, such as "2026-W10"; its year may differ from the calendar's."""
    year, week, _ = day.isocalendar()
    return f"{year:04d}-W{week:02d}"


def week_start(week: str) -> date:
    """Return the Monday of an ISO week. Raises ValueError naming the week where there is none."""
    try:
        year, number = week.split("-W")
        return date.fromisocalendar(int(year), int(number), 1)
    except ValueError as error:
        raise ValueError(f"week must be like 2026-W10 and exist, got {week!r}") from error


def block_of(week: str) -> str:
    """Return the first week of the block of 13 ISO weeks that holds this week.

    Blocks run on without regard to years, counted from 2001-W01, so that each has exactly 13 weeks.
    """
    start = week_start(week)
    into_block = (start - BLOCK_ORIGIN).days // 7 % BLOCK_WEEKS
    return iso_week(start - timedelta(weeks=into_block))


class ProductionCalendar:
    """Days and shifts of a plant in its own time zone. Instants are milliseconds since 1970 UTC.

    A station may work in some of the shifts alone, and be closed on days of its own; where no station is asked for, or
    one that the plant does not have (found after dispatch), the plant's own days stand.
    """

    def __init__(self, plant: Plant) -> None:
        self._zone = ZoneInfo(plant.time_zone)
        self._shifts = tuple(plant.shifts.values())
        # Of each weekday the shifts that begin on it, the last first: start, whether its day is the next, id.
        self._beginning = {
            weekday: [
                (one.hours(weekday)[0], one.belongs_later(weekday), one.id)
                for one in sorted(self._shifts, key=lambda one: one.hours(weekday)[0])[::-1]
                if weekday in one.days
            ]
            for weekday in range(1, 8)
        }
        self._lead = {station.id: station.lead_days for station in plant.stations.values()}
        self._days, self._own_days = plant_days(plant), station_days(plant)
        self._own_shifts = {one.id: plant.shifts_of(one.id) for one in plant.stations.values() if one.shifts}

    def local(self, ms: int) -> datetime:
        """Return an instant in the plant's time zone."""
        return datetime.fromtimestamp(ms / 1000, UTC).astimezone(self._zone)

    def instant(self, day: date, shift: str, minutes: float = 0.0) -> int:
        """Return the instant ``minutes`` of real time after a shift of a day begins. Raises KeyError without it."""
        one = {one.id: one for one in self._shifts}[shift]
        begins = next((on for on in (day, day - _DAY) if _belongs(one, on) == day), day)
        return self._ms(begins, one.hours(begins.isoweekday())[0]) + round(minutes * 60_000)

    def midnight(self, day: date) -> int:
        """Return the instant at which a day of the calendar begins."""
        return self._ms(day, time())

    def _ms(self, day: date, at: object) -> int:
        # A wall clock time that the spring change leaves out is read as the later one, as zoneinfo does (PEP 495).
        local = datetime.combine(day, at, self._zone)  # type: ignore[arg-type]
        return round(local.timestamp() * 1000)

    def days_of(self, station: str = "") -> WorkingDays:
        """Return a station's own working days, the plant's where none is asked for."""
        return self._own_days.get(station, self._days)

    @property
    def own_stations(self) -> Iterable[str]:
        """The stations whose working days are not the plant's."""
        return self._own_days

    def is_working(self, day: date, station: str = "") -> bool:
        """Return whether any shift works on the day, at the station, and neither it nor the plant is closed."""
        return self.days_of(station).works(day)

    def days_worked_since(self, found: date, today: date, station: str = "") -> int:
        """Return how many of a station's working days lie after the day found, up to and with today.

        0 where today is not later. A day on which no shift works there ages nothing, today no more than another.
        """
        return self.days_of(station).since(found, today)

    def more_than(self, days: int, today: date, station: str = "") -> date:
        """Return the day before which something was found more than so many of a station's working days ago.

        ``day < more_than(n, today)`` holds just where ``days_worked_since(day, today) > n``. Where nobody has worked
        so much there in the last year, it is the day a year ago.
        """
        return self.days_of(station).more_than(days, today)

    def day_and_shift(self, ms: int, station: str = "") -> tuple[date, str]:
        """Return the production day and shift of an instant, at a station.

        A shift belongs to the day it begins, or ends where the plant says so, so that an instant after midnight counts
        to the night shift's day. Outside every shift (a break, a weekend, a holiday) it is the latest shift that began
        before: work done late belongs to the shift that stayed on, and its day may then be days back. The day is that
        shift's. Overlapping shifts: the one that began last.

        A station with shifts of its own: the one of them that runs; else the plant's day, and of that day the
        station's shift that began last, or the plant's where the station works in none.
        """
        own = self._own_shifts.get(station, ())
        if own and (runs := self._running(ms, own, station)):
            return runs
        day, shift = self._of_plant(ms)
        begun = [(began, one.id) for one in own for began, of in self._around(one, day) if of == day and began <= ms]
        return day, max(begun)[1] if begun and self.is_working(day, station) else shift

    def _running(self, ms: int, shifts: tuple[Shift, ...], station: str) -> tuple[date, str] | None:
        today = self.local(ms).date()
        run = [
            (began, of, one.id)
            for one in shifts
            for began, of in self._around(one, today)
            if began <= ms and self.is_working(of, station) and ms < self._ends(one, began)
        ]
        return max(run)[1:] if run else None

    def _of_plant(self, ms: int) -> tuple[date, str]:
        today = self.local(ms).date()
        for back in range(15):
            on = today - timedelta(days=back)
            for start, later, shift in self._beginning[on.isoweekday()]:
                day = on + _DAY if later else on
                if self._days.works(day) and self._ms(on, start) <= ms:
                    return day, shift
        # Two weeks without a shift: no shift can claim it, the calendar day stands with the day's first shift.
        return today, min(self._shifts, key=lambda one: one.start).id

    def _around(self, shift: Shift, day: date) -> list[tuple[int, date]]:
        """Return the instants at which a shift begins on a day and on the day before, each with its own day."""
        return [
            (self._ms(on, shift.hours(on.isoweekday())[0]), _belongs(shift, on))
            for on in (day - _DAY, day)
            if on.isoweekday() in shift.days
        ]

    def _ends(self, shift: Shift, began: int) -> int:
        on = self.local(began).date()
        return self._ms(on + shift.crosses(on.isoweekday()) * _DAY, shift.hours(on.isoweekday())[1])

    def work_day(self, day: date, station: str) -> date:
        """Return the day a station's work was done on a unit that came to daylight on ``day``.

        The plant's lead-time rule: lead_days of the station's own working days before; a day on which it does not work
        counts as its working day before that. A station that the plant does not have (found after dispatch) has no
        lead.
        """
        return self.days_of(station).back(day, self._lead.get(station, 0))


def _belongs(shift: Shift, begins: date) -> date:
    return begins + timedelta(days=shift.belongs_later(begins.isoweekday()))
