"""What an address asks of the review: read from its query, each bad value answered with a sentence, never a fault."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import TypeVar
from urllib.parse import urlencode

from werkzeug.datastructures import MultiDict

from qc.domain.calendar import iso_week, week_start
from qc.domain.days import is_countable
from qc.domain.plant import Plant, Severity
from qc.reports.chosen_baseline import ChosenBaseline
from qc.reports.week.pareto_tables import ORDERS, Order
from qc.web.pages.baseline_asked import baseline_asked, chosen_pairs

WEEK_CHOICES = (13, 26, 52, 104)
USUAL_WEEKS = 26
SEVERITY_CHOICES = (("", "all severities"), ("major", "critical and major"), ("critical", "critical only"))
SEVERITIES: dict[str, tuple[Severity, ...]] = {"": (), "major": ("critical", "major"), "critical": ("critical",)}
LEFT_ALONE = (
    "First-pass says its severity itself; fitness of the data, signals, the funnel of stations and the follow-up stay."
)
COUNTED_WORDS = {
    "major": "level, rework, Pareto and the origin table count no minor. " + LEFT_ALONE,
    "critical": "the origin table counts criticals; no rate, Pareto or trend is shown. " + LEFT_ALONE,
}
KNOWN = ("week", "weeks", "model", "shift", "severity", "order", "baseline", "left_out", "why")
Choice = TypeVar("Choice", bound=str)


@dataclass(frozen=True, slots=True)
class ReviewFilter:
    """A review as asked for. week: its Monday; weeks: weeks on the charts; empty tuples: all.

    severity: "" all, "major" critical and major, "critical" critical only.
    chosen: the baseline of the level's limits, None for the usual one.
    """

    week: date
    weeks: int
    models: tuple[str, ...]
    shifts: tuple[str, ...]
    severity: str
    order: Order
    chosen: ChosenBaseline | None = None

    @property
    def severities(self) -> tuple[Severity, ...]:
        """Return the severities asked for, () for all."""
        return SEVERITIES[self.severity]

    @property
    def week_name(self) -> str:
        """Return the ISO week, "2026-W10"."""
        return iso_week(self.week)

    def address(self, weeks_on: int = 0, page: str = "") -> str:
        """Return the address of this review, or of one some weeks later (earlier: below 0), all else the same.

        page: what stands beside it, "" itself: "/by-model", "/by-point", "/figures".
        """
        pairs = [("week", iso_week(self.week + timedelta(weeks=weeks_on))), ("weeks", str(self.weeks))]
        for name, values in (("model", self.models), ("shift", self.shifts)):
            pairs += [(name, value) for value in values]
        pairs += [("severity", self.severity), ("order", self.order)]
        return f"/review{page}?{urlencode([*pairs, *chosen_pairs(self.chosen)])}"

    def usual_address(self) -> str:
        """Return the address of this review with the usual baseline."""
        return replace(self, chosen=None).address()

    def counted_words(self) -> str:
        """Return what the severity asked for counts and what it leaves as it is, "" for all severities."""
        if not self.severity:
            return ""
        return f"Narrowed to {dict(SEVERITY_CHOICES)[self.severity]}: {COUNTED_WORDS[self.severity]}"

    def narrowed(self) -> str:
        """Return in words what the review is narrowed to."""
        models = f"models {', '.join(self.models)}" if self.models else "all models"
        shifts = f"shifts {', '.join(self.shifts)}" if self.shifts else "all shifts"
        own = ", limits by a baseline of your own" if self.chosen else ""
        return f"{models}, {shifts}, {dict(SEVERITY_CHOICES)[self.severity]}{own}"


def review_filter(
    args: MultiDict[str, str], plant: Plant, today: date, usual: date | None = None
) -> tuple[ReviewFilter, tuple[str, ...]]:
    """Return the filter and a sentence for each value that could not be used; those stand at their usual value.

    usual: the Monday of the usual week, None for the last one that is over.
    """
    problems: list[str] = []
    unknown = sorted(set(args) - set(KNOWN))
    if unknown:
        problems.append(f"The address asks for {', '.join(map(_shown, unknown))}, which this page does not know.")
    found = ReviewFilter(
        week=_week(args.get("week", ""), today, usual or last_whole_week(today), problems),
        weeks=_weeks(args.get("weeks", ""), problems),
        models=_chosen(args.getlist("model"), tuple(plant.models), "model", problems),
        shifts=_chosen(args.getlist("shift"), tuple(plant.shifts), "shift", problems),
        severity=_one(args.get("severity", ""), tuple(dict(SEVERITY_CHOICES)), "severity", problems),
        order=_one(args.get("order", ""), ORDERS, "Pareto order", problems),
        chosen=baseline_asked(args, today, problems),
    )
    return found, tuple(problems)


def _shown(value: str) -> str:
    """Return a value as it may stand in a sentence: short, in quotes."""
    return f"“{value[:40]}”"


def last_whole_week(today: date) -> date:
    """Return the Monday of the last week that is over."""
    return today - timedelta(days=today.isoweekday() - 1 + 7)


def usual_week(today: date, first: date | None) -> date:
    """Return the Monday of the week that a page opens on: the last one that is over, or a plant's first, running one.

    first: the Monday of the first week in which a unit was presented, None where none was yet.
    """
    running = last_whole_week(today) + timedelta(weeks=1)
    return running if first is None or first >= running else last_whole_week(today)


def week_asked(text: str, today: date, usual: date) -> tuple[date, tuple[str, ...]]:
    """Return the Monday of the week asked for, the usual one by default, and what was wrong with the asking."""
    problems: list[str] = []
    return _week(text, today, usual, problems), tuple(problems)


def _week(text: str, today: date, usual: date, problems: list[str]) -> date:
    if not text:
        return usual
    try:
        monday = week_start(text)
    except ValueError:
        problems.append(f"{_shown(text)} is no week; write it like {iso_week(usual)}. Shown is {iso_week(usual)}.")
        return usual
    if monday > today:
        problems.append(f"{_shown(text)} has not begun. Shown is {iso_week(usual)}.")
        return usual
    if not is_countable(monday):
        problems.append(f"{_shown(text)} is before any record. Shown is {iso_week(usual)}.")
        return usual
    return monday


def _weeks(text: str, problems: list[str]) -> int:
    if not text:
        return USUAL_WEEKS
    if text in map(str, WEEK_CHOICES):
        return int(text)
    choices = ", ".join(map(str, WEEK_CHOICES))
    problems.append(f"{_shown(text)} is no number of weeks to show; choose {choices}. Shown are {USUAL_WEEKS}.")
    return USUAL_WEEKS


def _chosen(values: Sequence[str], known: Sequence[str], what: str, problems: list[str]) -> tuple[str, ...]:
    for value in dict.fromkeys(values):
        if value not in known:
            problems.append(f"There is no {what} {_shown(value)}; there are {', '.join(known)}. It was left out.")
    chosen = tuple(one for one in known if one in values)
    return () if len(chosen) == len(known) else chosen


def _one(text: str, known: Sequence[Choice], what: str, problems: list[str]) -> Choice:
    if text and text not in known:
        choices = ", ".join(filter(None, known))
        problems.append(f"There is no {what} {_shown(text)} to choose; there is {choices}. The usual one is shown.")
    return next((one for one in known if one == text), known[0])
