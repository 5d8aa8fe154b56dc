"""The production calendar: which day and shift an instant belongs to, and which day a station's work was done."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from qc.domain.plant import Plant, Shift

BLOCK_WEEKS = 13
BLOCK_ORIGIN = date(2001, 1, 1)  # a Monday; blocks of 13 weeks are counted from it
LONGEST_SHUTDOWN = 366  # days that are looked back for working days


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
    """Days and shifts of a plant in its own time zone. Instants are milliseconds since 1970 UTC."""

    def __init__(self, plant: Plant) -> None:
        self._zone = ZoneInfo(plant.time_zone)
        self._shifts = sorted(plant.shifts.values(), key=lambda shift: shift.start)
        self._holidays = plant.holidays
        self._lead = {station.id: station.lead_days for station in plant.stations.values()}
        self._working = frozenset(day for shift in self._shifts for day in shift.days)

    def local(self, ms: int) -> datetime:
        """Return an instant in the plant's time zone."""
        return datetime.fromtimestamp(ms / 1000, UTC).astimezone(self._zone)

    def instant(self, day: date, shift: str, minutes: float = 0.0) -> int:
        """Return the instant ``minutes`` of real time after a shift of a day begins. Raises KeyError without it."""
        start = {one.id: one for one in self._shifts}[shift].start
        return self._ms(day, start) + round(minutes * 60_000)

    def midnight(self, day: date) -> int:
        """Return the instant at which a day of the calendar begins."""
        return self._ms(day, time())

    def _ms(self, day: date, at: object) -> int:
        # A wall clock time that the spring change leaves out is read as the later one, as zoneinfo does (PEP 495).
        local = datetime.combine(day, at, self._zone)  # type: ignore[arg-type]
        return round(local.timestamp() * 1000)

    def is_working(self, day: date) -> bool:
        """Return whether any shift works on the day and it is no holiday."""
        return day.isoweekday() in self._working and day not in self._holidays

    def days_worked_since(self, found: date, today: date) -> int:
        """Return how many working days lie after the day found, up to and with today; 0 where today is not later.

        A day on which no shift works ages nothing, today no more than another.
        """
        later = (found + timedelta(days=days) for days in range(1, (today - found).days + 1))
        return sum(self.is_working(day) for day in later)

    def more_than(self, days: int, today: date) -> date:
        """Return the day before which something was found more than so many working days ago.

        ``day < more_than(n, today)`` holds just where ``days_worked_since(day, today) > n``. Where the plant has not
        worked so much in the last year, it is the day a year ago.
        """
        day, worked = today, int(self.is_working(today))
        while worked <= days and (today - day).days <= LONGEST_SHUTDOWN:
            day -= timedelta(days=1)
            worked += self.is_working(day)
        return day

    def day_and_shift(self, ms: int) -> tuple[date, str]:
        """Return the production day and shift of an instant.

        A shift belongs to the day it begins, so that an instant after midnight in a night shift counts to the day
        before. Outside every shift (a break, a weekend, a holiday) it is the latest shift that began before: work
        done late belongs to the shift that stayed on, and its day may then be days back. The day is that shift's.
        Overlapping shifts: the one that began last.
        """
        day = self.local(ms).date()
        for back in range(15):
            before = day - timedelta(days=back)
            began = [
                shift for shift in self._shifts if self._begins(shift, before) and self._ms(before, shift.start) <= ms
            ]
            if began:
                return before, began[-1].id
        # Two weeks without a shift: no shift can claim it, the calendar day stands with the day's first shift.
        return day, self._shifts[0].id

    def _begins(self, shift: Shift, day: date) -> bool:
        return day.isoweekday() in shift.days and day not in self._holidays

    def work_day(self, day: date, station: str) -> date:
        """Return the day a station's work was done on a unit that came to daylight on ``day``.

        The plant's lead-time rule: lead_days working days before; a day without production counts as the working
        day before it. A station that the plant does not have (found after dispatch) has no lead.
        """
        found = day
        while not self.is_working(found):
            found -= timedelta(days=1)
        for _ in range(self._lead.get(station, 0)):
            found -= timedelta(days=1)
            while not self.is_working(found):
                found -= timedelta(days=1)
        return found
