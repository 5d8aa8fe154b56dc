"""How a station stands, in the words its lead would use: more than usual since when, or as usual."""

from dataclasses import dataclass
from datetime import date

from qc.domain.plant.calendar import week_start
from qc.domain.words.said_weeks import week_words
from qc.domain.words.speaking import marked, say
from qc.reports.periods import monday_of
from qc.reports.stations.station import StationReport
from qc.reports.stations.station_trend import WeekDot
from qc.reports.watch.signals import Signal
from qc.stats.answers import TooLittle

# Said as people say it; what lies further back is told by its date alone.
AGO = (
    marked("this week"),
    marked("last week"),
    marked("a fortnight ago"),
    marked("three weeks ago"),
    marked("four weeks ago"),
    marked("five weeks ago"),
    marked("six weeks ago"),
    marked("seven weeks ago"),
    marked("two months ago"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """One thing that a lead should know first.

    head: "More than usual", "As usual", …; since: the Monday of the week in which it began, likeliest, None where
    nothing moved; ago: the same as people say it, "" for long ago; what: of which defects, "" of all together; over:
    the week in which it went back to usual, "" while it lasts. heed: it asks for a look.
    """

    head: str
    since: date | None = None
    ago: str = ""
    what: str = ""
    over: str = ""
    heed: bool = False


def standing(report: StationReport, today: date) -> tuple[Standing, ...]:
    """Return how the station stands: each signal, rises that last first; without any, its last whole week."""
    signals = sorted(report.signals, key=lambda one: (bool(one.over), one.direction != "up"))
    return tuple(_moved(one, today) for one in signals) or (_week(report.by_work.dots),)


def last_whole(dots: tuple[WeekDot, ...]) -> WeekDot | None:
    """Return the last week that is over and whose units have all been looked at, None where there is none."""
    return next((dot for dot in reversed(dots) if dot.state != "partial"), None)


def _moved(signal: Signal, today: date) -> Standing:
    since = week_start(signal.begun)
    weeks = (monday_of(today) - since).days // 7
    return Standing(
        head=say("More than usual") if signal.direction == "up" else say("Fewer than usual"),
        since=since,
        ago=say(AGO[weeks]) if 0 <= weeks < len(AGO) else "",
        what=signal.type_name,
        over=week_words(signal.over),
        heed=signal.direction == "up" and not signal.over,
    )


def _week(dots: tuple[WeekDot, ...]) -> Standing:
    last = last_whole(dots)
    if last is None or last.state == "no units":
        return Standing(head=say("Nothing to say yet: no week's work has all been looked at"))
    if isinstance(last.usual, TooLittle):
        return Standing(head=say("Too early to say what is usual here"))
    if last.state == "usual":
        return Standing(head=say("As usual"))
    if last.state == "more":
        return Standing(head=say("More than usual in the last week, which alone proves nothing"), heed=True)
    return Standing(head=say("Fewer than usual in the last week, which alone proves nothing"))
