"""What an address asks of the review: read from its query, each bad value answered with a sentence, never a fault."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import TypeVar
from urllib.parse import urlencode

from werkzeug.datastructures import MultiDict

from qc.domain.facts.days import is_countable
from qc.domain.plant.calendar import iso_week, week_start
from qc.domain.plant.naming import SaidNames
from qc.domain.plant.plant import Plant, Severity
from qc.domain.words.said_weeks import week_words
from qc.domain.words.speaking import marked, say
from qc.reports.chosen_baseline import ChosenBaseline
from qc.reports.week.pareto_tables import ORDERS, Order
from qc.web.pages.baseline_asked import baseline_asked, chosen_pairs

WEEK_CHOICES = (13, 26, 52, 104)
USUAL_WEEKS = 26
SEVERITY_CHOICES = (
    ("", marked("all severities")),
    ("major", marked("critical and major")),
    ("critical", marked("critical only")),
)
SEVERITIES: dict[str, tuple[Severity, ...]] = {"": (), "major": ("critical", "major"), "critical": ("critical",)}
LEFT_ALONE = marked(
    "First-pass says its severity itself; fitness of the data, signals, the funnel of stations and the follow-up stay."
)
COUNTED_WORDS = {
    "major": marked("Narrowed to critical and major: level, rework, Pareto and the origin table count no minor."),
    "critical": marked(
        "Narrowed to critical only: the origin table counts criticals; no rate, Pareto or trend is shown."
    ),
}
NO_MODEL = marked("There is no model {value}; there are {known}. It was left out.")
NO_LINE = marked("There is no line {value}; there are {known}. It was left out.")
NO_LINES = marked("There is no line {value}: the plant names none. It was left out.")
NO_SHIFT = marked("There is no shift {value}; there are {known}. It was left out.")
NO_SEVERITY = marked("There is no severity {value} to choose; there is {known}. The usual one is shown.")
NO_ORDER = marked("There is no Pareto order {value} to choose; there is {known}. The usual one is shown.")
KNOWN = ("week", "weeks", "model", "line", "shift", "severity", "order", "baseline", "left_out", "why")
Choice = TypeVar("Choice", bound=str)


@dataclass(frozen=True, slots=True, kw_only=True)
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
    lines: tuple[str, ...] = ()

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
        for name, values in (("model", self.models), ("line", self.lines), ("shift", self.shifts)):
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
        return f"{say(COUNTED_WORDS[self.severity])} {say(LEFT_ALONE)}"

    @property
    def is_narrowed(self) -> bool:
        """Whether only some of the units or of the defects are asked for."""
        return bool(self.models or self.lines or self.shifts or self.severity)

    def narrowed(self, plant: Plant) -> str:
        """Return in words what the review is narrowed to; plant: as its reader is shown it."""
        told = (
            say("models {codes}", codes=", ".join(self.models)) if self.models else say("all models"),
            say("line {codes}", codes=SaidNames(plant).lines(self.lines)) if self.lines else "",
            say("shifts {codes}", codes=", ".join(self.shifts)) if self.shifts else say("all shifts"),
            say(dict(SEVERITY_CHOICES)[self.severity]),
            say("limits by a baseline of your own") if self.chosen else "",
        )
        return ", ".join(filter(None, told))


def review_filter(
    args: MultiDict[str, str], plant: Plant, today: date, usual: date | None = None
) -> tuple[ReviewFilter, tuple[str, ...]]:
    """Return the filter and a sentence for each value that could not be used; those stand at their usual value.

    usual: the Monday of the usual week, None for the last one that is over.
    """
    problems: list[str] = []
    unknown = sorted(set(args) - set(KNOWN))
    if unknown:
        named = ", ".join(map(_shown, unknown))
        problems.append(say("The address asks for {named}, which this page does not know.", named=named))
    found = ReviewFilter(
        week=_week(args.get("week", ""), today, usual or last_whole_week(today), problems),
        weeks=_weeks(args.get("weeks", ""), problems),
        models=_chosen(args.getlist("model"), tuple(plant.models), NO_MODEL, problems),
        lines=_chosen(args.getlist("line"), tuple(plant.lines), NO_LINE if plant.lines else NO_LINES, problems),
        shifts=_chosen(args.getlist("shift"), tuple(plant.shifts), NO_SHIFT, problems),
        severity=_one(args.get("severity", ""), tuple(dict(SEVERITY_CHOICES)), NO_SEVERITY, problems),
        order=_one(args.get("order", ""), ORDERS, NO_ORDER, problems),
        chosen=baseline_asked(args, today, problems),
    )
    return found, tuple(problems)


def _shown(value: str) -> str:
    """Return a value as it may stand in a sentence: short, in quotes."""
    return say("“{value}”", value=value[:40])


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
        problems.append(
            say(
                "{value} is no week; write it like {week}. Shown is {shown}.",
                value=_shown(text),
                week=iso_week(usual),
                shown=week_words(iso_week(usual)),
            )
        )
        return usual
    if monday > today:
        shown = week_words(iso_week(usual))
        problems.append(say("{value} has not begun. Shown is {shown}.", value=_shown(text), shown=shown))
        return usual
    if not is_countable(monday):
        shown = week_words(iso_week(usual))
        problems.append(say("{value} is before any record. Shown is {shown}.", value=_shown(text), shown=shown))
        return usual
    return monday


def _weeks(text: str, problems: list[str]) -> int:
    if not text:
        return USUAL_WEEKS
    if text in map(str, WEEK_CHOICES):
        return int(text)
    choices = ", ".join(map(str, WEEK_CHOICES))
    problems.append(
        say(
            "{value} is no number of weeks to show; choose {choices}. Shown are {usual}.",
            value=_shown(text),
            choices=choices,
            usual=USUAL_WEEKS,
        )
    )
    return USUAL_WEEKS


def _chosen(values: Sequence[str], known: Sequence[str], none: str, problems: list[str]) -> tuple[str, ...]:
    for value in dict.fromkeys(values):
        if value not in known:
            problems.append(say(none, value=_shown(value), known=", ".join(known)))
    chosen = tuple(one for one in known if one in values)
    return () if len(chosen) == len(known) else chosen


def _one(text: str, known: Sequence[Choice], none: str, problems: list[str]) -> Choice:
    if text and text not in known:
        choices = ", ".join(filter(None, known))
        problems.append(say(none, value=_shown(text), known=choices))
    return next((one for one in known if one == text), known[0])
