"""First-pass both ways, by end point and at the line: first presentations only, the severity always said."""

from dataclasses import dataclass

from qc.domain.counts import FirstPassWeeks
from qc.reports.asking import LEVEL, Asking
from qc.reports.periods import Period
from qc.reports.wording import percent
from qc.stats.answers import TooLittle
from qc.stats.yields import FirstPass, first_pass
from qc.store.counts import LINE

NO_MAJOR = "no critical or major"
NOTHING = "nothing at all"


@dataclass(frozen=True, slots=True)
class FirstPassLine:
    """One point (or "line": every end point, counted unit by unit).

    weeks: the trend's counts. week_*: the week; before_*: the weeks before it, both as shares with intervals
    (.share .low .high .units .clean) or TooLittle. Suffix major: no critical or major and no test failed; all:
    nothing at all and no test failed. sentence in words.
    """

    point: str
    name: str
    weeks: FirstPassWeeks
    week_major: FirstPass | TooLittle
    before_major: FirstPass | TooLittle
    week_all: FirstPass | TooLittle
    before_all: FirstPass | TooLittle
    sentence: str


@dataclass(frozen=True, slots=True)
class FirstPassBoth:
    """First-pass of the week: the line first, then the end points in flow order; denominator in words."""

    lines: tuple[FirstPassLine, ...]
    denominator: str


DENOMINATOR = (
    "Units whose first presentation at the point ended in the week; at the line, units that every end point has "
    "presented, in the week of the last. A failed test counts as not first-pass. Re-presentations never count."
)


def first_pass_both(ask: Asking, week: Period, window: Period, history: Period) -> FirstPassBoth:
    """Return first-pass of the week and of the window before it, with the trend over the history."""
    points = (LINE, *ask.plant.end_points())
    return FirstPassBoth(tuple(_line(ask, point, week, window, history) for point in points), DENOMINATOR)


def _line(ask: Asking, point: str, week: Period, window: Period, history: Period) -> FirstPassLine:
    weeks = ask.counts.first_pass_weeks(ask.slice(history), point, ask.now_ms)
    own = _sums(weeks, [week.name])
    before = _sums(weeks, [name for name in weeks.weeks if name < week.name][-window.weeks :])
    major, everything = _answer(own, 1, NO_MAJOR), _answer(own, 2, NOTHING)
    return FirstPassLine(
        point,
        ask.place_name(point),
        weeks,
        major,
        _answer(before, 1, NO_MAJOR),
        everything,
        _answer(before, 2, NOTHING),
        _sentence(major, everything, week),
    )


def _sums(weeks: FirstPassWeeks, names: list[str]) -> tuple[int, int, int]:
    rows = zip(weeks.weeks, weeks.presented, weeks.clean_major, weeks.clean_all, strict=True)
    wanted = [row[1:] for row in rows if row[0] in names]
    return sum(row[0] for row in wanted), sum(row[1] for row in wanted), sum(row[2] for row in wanted)


def _answer(sums: tuple[int, int, int], column: int, severity: str) -> FirstPass | TooLittle:
    return first_pass(sums[0], sums[0] - sums[column], severity, LEVEL)


def _sentence(major: FirstPass | TooLittle, everything: FirstPass | TooLittle, week: Period) -> str:
    if isinstance(major, TooLittle) or isinstance(everything, TooLittle):
        return f"No unit was first presented in {week.name}."
    so_far = " so far" if week.partial else ""
    return (
        f"{major.clean} of {major.units} units in {week.name}{so_far} first-pass with {NO_MAJOR} "
        f"({percent(major.share)}), {everything.clean} with {NOTHING} ({percent(everything.share)})."
    )
