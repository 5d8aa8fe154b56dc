"""A baseline that a manager sets in place of the record's first weeks: from which weeks, without which, and why."""

from dataclasses import dataclass
from datetime import date, timedelta

from qc.domain.words.speaking import marked, say
from qc.reports.periods import WEEK, Period, week_name
from qc.stats.answers import TooLittle

MOST_WEEKS = 104
CHOSEN = marked("{weeks} weeks {first} to {last}, chosen: {why}")
CHOSEN_OF = marked("{left} of {weeks} weeks {first} to {last}, chosen: {why}")


@dataclass(frozen=True, slots=True)
class ChosenBaseline:
    """Whole ISO weeks from the Monday first to the Monday last, both counted. why: the reason, never empty.

    left_out: weeks among them ("2026-W05") that do not enter the limits, for the same reason; they stay on the chart.
    """

    first: date
    last: date
    left_out: tuple[str, ...]
    why: str

    def __post_init__(self) -> None:
        weeks = self.weeks
        if self.last < self.first or len(weeks) > MOST_WEEKS:
            raise ValueError(f"last must be 0 to {MOST_WEEKS - 1} weeks after first, got {self.first} to {self.last}")
        for week in self.left_out:
            if week not in weeks:
                raise ValueError(f"left_out must be weeks of {weeks[0]} to {weeks[-1]}, got {week!r}")
        if not self.why.strip():
            raise ValueError("why must not be empty: limits moved without a reason are tampering")

    @property
    def weeks(self) -> tuple[str, ...]:
        """Return the names of its weeks, those left out included."""
        days = (self.last - self.first).days
        return tuple(week_name(self.first + timedelta(days=shift)) for shift in range(0, days + 1, 7))

    def period(self, least: int) -> Period | TooLittle:
        """Return its weeks as the limits' baseline; TooLittle where fewer than least are left in it."""
        weeks = self.weeks
        have = len(weeks) - len(set(self.left_out))
        if have < least:
            reason = say("limits need {least} weeks, the chosen baseline has {have}", least=least, have=have)
            return TooLittle("baseline", reason, have, least)
        form = CHOSEN_OF if self.left_out else CHOSEN
        return Period(self.first, self.last + WEEK, form, False, self.why, have)

    def reasons(self) -> dict[str, str]:
        """Return each week left out with the reason."""
        return dict.fromkeys(self.left_out, self.why)
