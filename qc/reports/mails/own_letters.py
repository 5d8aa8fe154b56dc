"""The mails of the plant's server: to a manager the week in a few lines, to a lead what waits and what moved.

Each sentence is a page's own, from the same reports, with its week and on how many units. No person is named, by name
or by code, nothing that somebody typed is quoted, and no photo goes with it: whoever may see these follows the link.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cached_property
from zoneinfo import ZoneInfo

from qc.domain.facts.people import Person
from qc.domain.plant.mail_plan import MailKind
from qc.domain.plant.naming import with_name
from qc.domain.plant.plant import Plant
from qc.reports.asking import Asking, known_weeks
from qc.reports.mails.letter import Letter, Lines, letter
from qc.reports.periods import monday_of
from qc.reports.stations.standing import Standing, standing
from qc.reports.stations.station import StationReport, station_report
from qc.reports.units.backlog import Backlog, OpenCriticalLine, backlog
from qc.reports.watch.signals import Signals, signals_report
from qc.reports.week.criteria import criteria_days
from qc.reports.week.escape_follow_up import FOLLOWED_WEEKS, escape_follow_up
from qc.reports.week.glance import glance, signals_words
from qc.reports.week.review import weekly_review
from qc.reports.wording import counted
from qc.store.counts import Counts
from qc.store.reading.reads import Reads

HISTORY_WEEKS = 26  # as the review's page has it
MOST_CRITICALS = 20
FOOT = (
    "This record never says that a unit is safe. It says who released it, when, and against which checks; anything "
    "else is “not released”."
)


@dataclass(frozen=True)
class Letters:
    """Writes the letters of one moment. people: who is at work; links: the address of the pages."""

    counts: Counts
    reads: Reads
    plant: Plant
    people: Sequence[Person]
    links: str
    now_ms: int

    def to(self, person: Person, kind: MailKind) -> Letter:
        """Return what a person is mailed: one letter; a manager's ends with the stations that they lead.

        Raises ValueError for who nothing is written for.
        """
        if person.has("quality_manager"):
            return self._to_manager(person, kind)
        if person.has("station_lead"):
            return self._to_lead(person, kind)
        raise ValueError(f"no mail is written for {person.code}, who is {person.role_words}")

    def _to_manager(self, person: Person, kind: MailKind) -> Letter:
        lines, criticals, signals = Lines(), self._waits.criticals, self._signals
        new = [one for one in signals.shown if one.is_new]
        self._open(lines)
        self._criticals(lines, criticals, "/backlog")
        if kind == "monday":
            self._week(lines)
        lines.head("Signals")
        lines.say(signals_words(signals))
        lines.link(f"{self.links}/signals")
        lines.head("What waits")
        lines.say(self._waits.sentence)
        lines.link(f"{self.links}/backlog")
        if person.has("station_lead"):
            self._stations(lines, self._led_by(person), kind)
        self._close(lines)
        what = f"the week {signals.judged.name}" if kind == "monday" else "today"
        told = f"{counted(len(criticals), 'critical')} open, {counted(len(new), 'new signal')}"
        return letter(f"{self.plant.site}, {what}: {told}", lines)

    def _week(self, lines: Lines) -> None:
        review = weekly_review(
            self.counts,
            self.plant,
            self._last_week,
            self.now_ms,
            criteria=criteria_days(self.reads, self.plant),
            signals=self._signals.weeks,
            scatter=self._signals.scatter,
            history_weeks=HISTORY_WEEKS,
        )
        through = escape_follow_up(self._ask, known_weeks(self._ask, review.week, FOLLOWED_WEEKS))
        lines.head(f"The week {review.week.name}")
        for line in glance(review, self._signals, through):
            if line.head != "Signals":  # they have a section of their own
                lines.entry(f"{line.head}: {line.sentence}")
        lines.link(f"{self.links}/review?week={review.week.code}")

    def _to_lead(self, person: Person, kind: MailKind) -> Letter:
        lines = Lines()
        reports = self._led_by(person)
        self._open(lines)
        every = self.counts.open_criticals()
        own = {one.defect for one in every if {one.suspected, one.confirmed} & set(person.stations)}
        self._criticals(lines, [one for one in self._waits.criticals if one.defect in own], "")
        self._stations(lines, reports, kind)
        if not reports:
            lines.head("Your stations")
            lines.say("You answer for no station of this plant now. The administrator says who answers for which.")
        self._close(lines)
        waiting = sum(report.unsettled.waiting for report in reports)
        told = f"{counted(waiting, 'defect')} {'wait' if waiting > 1 else 'waits'} for your word"
        return letter(f"{', '.join(report.station for report in reports) or self.plant.site}: {told}", lines)

    def _led_by(self, person: Person) -> list[StationReport]:
        return [self._station(code) for code in person.stations if code in self.plant.stations]

    def _stations(self, lines: Lines, reports: Sequence[StationReport], kind: MailKind) -> None:
        for report in reports:
            lines.head(with_name(report.station, report.name))
            lines.say(self._waiting_words(report))
            for one in standing(report, self._ask.today):
                lines.say(_standing_words(one))
            if kind == "monday":
                lines.say(f"By the day of the work: {report.by_work.sentence}")
            lines.link(f"{self.links}/stations/{report.station}")

    def _waiting_words(self, report: StationReport) -> str:
        at = report.unsettled
        if not at.waiting and not at.disputed:
            return "Nothing waits for your word."
        oldest = max((one.age_days for one in report.waiting), default=0)
        overdue = f", {at.overdue} of them for more than 3 working days" if at.overdue else ""
        since = f"; the oldest was found {counted(oldest, 'working day')} ago" if at.waiting and oldest else ""
        waits = f"{counted(at.waiting, 'defect')} {'waits' if at.waiting == 1 else 'wait'} for your word"
        disputed = f" {at.disputed} disputed, with the quality manager." if at.disputed else ""
        return f"{waits[0].upper()}{waits[1:]}{overdue}{since}.{disputed}"

    def _open(self, lines: Lines) -> None:
        local = datetime.fromtimestamp(self.now_ms / 1000, ZoneInfo(self.plant.time_zone))
        if self.plant.demo:
            lines.say("Demo data: limits not for use.")
        lines.say(f"{self.plant.site}, as of {local.date().isoformat()}, {local:%H:%M}.")

    def _criticals(self, lines: Lines, criticals: Sequence[OpenCriticalLine], page: str) -> None:
        count = len(criticals)
        lines.head(f"Open criticals: {count or 'none'}")
        if not count:
            lines.say("No critical is open." if page else "No critical is open that may come from your stations.")
        for one in criticals[:MOST_CRITICALS]:
            age = "today" if not one.age_days else f"{counted(one.age_days, 'day')} ago"
            lines.entry(f"{one.shop_number}, {one.what}, found {one.found_at} {age}, {one.state}. {one.next_step}")
            lines.link(f"{self.links}/units/{one.unit}")
        if count > MOST_CRITICALS:
            lines.say(f"And {count - MOST_CRITICALS} more.")
        if page and count:
            lines.say("All of them, with their age and next step:")
            lines.link(f"{self.links}{page}")

    def _close(self, lines: Lines) -> None:
        lines.head("This mail")
        lines.say(f"{self.plant.standing_line} {FOOT}")
        lines.say("You asked for it; change that here:")
        lines.link(f"{self.links}/own-mail")

    def _station(self, code: str) -> StationReport:
        day, now = self._last_week, self.now_ms
        return station_report(self.counts, self.reads, self.plant, code, day, now, self._signals)

    @cached_property
    def _ask(self) -> Asking:
        return Asking(counts=self.counts, plant=self.plant, now_ms=self.now_ms)

    @cached_property
    def _last_week(self) -> date:
        return monday_of(self._ask.today) - timedelta(weeks=1)

    @cached_property
    def _signals(self) -> Signals:
        return signals_report(self.counts, self.reads, self.plant, self._last_week, self.now_ms)

    @cached_property
    def _waits(self) -> Backlog:
        return backlog(self.counts, self.reads, self.plant, self.people, self.now_ms)


def _standing_words(one: Standing) -> str:
    since = f" since the week of {one.since.isoformat()}" if one.since else ""
    ago = f", {one.ago}" if one.since and one.ago else ""
    what = f": {one.what}" if one.since and one.what else ""
    over = f" Back to usual after {one.over}." if one.over else ""
    return f"{one.head}{since}{ago}{what}.{over}"
