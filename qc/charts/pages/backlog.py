"""What waits, as tables: open criticals, disputes, origins that nobody has named, leads; repairs; what got out."""

from collections.abc import Callable, Sequence

from qc.charts.drawing import words
from qc.charts.drawing.table import Column, Row, Table
from qc.charts.kinds.interval_dots import interval_words
from qc.domain.plant.naming import with_name
from qc.domain.plant.plant import UNKNOWN
from qc.domain.words.speaking import figure, say
from qc.reports.units.backlog import Backlog, LeadLine, OpenCriticalLine, OriginLine
from qc.reports.week.after_repair import AfterRepair, CameBackLine, ClockedLine
from qc.reports.week.escaped import EscapedLine, EscapedReport
from qc.stats.answers import TooLittle

Day = Callable[..., str]


def criticals_table(report: Backlog, day: Day) -> Table:
    """Return each open critical with its age, whose it is and the next step; day writes a day."""
    columns = (
        _words(say("Unit")),
        _words(say("What")),
        _words(say("Found")),
        Column(say("Age in days")),
        _words(say("State")),
        _words(say("Whose it is")),
        _words(say("Next step")),
    )

    def row(one: OpenCriticalLine) -> Row:
        found = f"{day(one.found_day)}, {one.found_at}"
        cells = (one.what, found, words.whole(one.age_days), one.state, one.owner, one.next_step)
        return Row(one.shop_number, cells, "signal", link=_link(one.unit, one.defect))

    caption = say("Open criticals: {number}", number=len(report.criticals))
    return Table(caption, columns, tuple(map(row, report.criticals)), has_ranges=True)


def disputes_table(report: Backlog, day: Day) -> Table:
    """Return the disputes, criticals first, then the oldest; each leads to where it is settled."""
    columns = (
        _words(say("Unit")),
        _words(say("What")),
        _words(say("Found")),
        _words(say("Stands against")),
        _words(say("Disputed by, why")),
        Column(say("Days in dispute")),
    )

    def row(one: OriginLine) -> Row:
        told = f"{one.said_by}: {one.reason}" if one.said_by else "–"
        cells = (_what(one), f"{day(one.found_day)}, {one.found_at}", one.place or say("nothing"), told)
        return Row(one.shop_number, (*cells, words.whole(one.age_days)), link=_link(one.unit, one.defect))

    caption = say("Disputed origins: {number}", number=_listed(len(report.disputes), report.disputed_total))
    return Table(caption, columns, tuple(map(row, report.disputes)), has_ranges=True)


def unnamed_table(report: Backlog, day: Day) -> Table:
    """Return the defects that no lead has been asked about, criticals first, then the oldest."""
    columns = (
        _words(say("Unit")),
        _words(say("What")),
        _words(say("Found")),
        _words(say("By")),
        _words(say("What was said")),
        Column(say("Age in days")),
    )

    def row(one: OriginLine) -> Row:
        cells = (_what(one), f"{day(one.found_day)}, {one.found_at}", one.finder, one.said)
        return Row(one.shop_number, (*cells, words.whole(one.age_days)), link=_link(one.unit, one.defect))

    number = _listed(len(report.unnamed), report.unnamed_total)
    caption = say("Origins that no lead has been asked about: {number}", number=number)
    return Table(caption, columns, tuple(map(row, report.unnamed)), has_ranges=True)


def leads_table(report: Backlog) -> Table:
    """Return what waits at each place, in the order of the build; no order of people is meant."""
    columns = (
        _words(say("Place")),
        _words(say("Who answers")),
        Column(say("Wait for their word")),
        Column(say("Of these over 3 working days")),
        Column(say("Oldest, in days")),
        Column(say("Disputed, with you")),
    )

    def row(one: LeadLine) -> Row:
        who = ", ".join(one.leads) or say("you: it has no lead")
        oldest = "–" if one.oldest_days is None else words.whole(one.oldest_days)
        cells = (who, words.whole(one.waiting), words.whole(one.overdue), oldest, words.whole(one.disputed))
        return Row(with_name(one.place, one.name), cells, link=f"/stations/{one.place}")

    whole = (
        "",
        *(words.whole(sum(getattr(one, name) for one in report.by_lead)) for name in ("waiting", "overdue")),
        _longest([one.oldest_days for one in report.by_lead]),
        words.whole(sum(one.disputed for one in report.by_lead)),
    )
    rows = (Row(say("All"), whole), *map(row, report.by_lead))
    return Table(say("Origins by who answers, in the order of the build"), columns, rows)


def clocked_table(report: AfterRepair) -> Table:
    """Return the week and the weeks before: minutes clocked and usual, a unit and in all."""
    columns = (
        _words(say("Units presented in")),
        Column(say("Units")),
        Column(say("Clocked a unit")),
        Column(say("Usual a unit")),
        Column(say("Clocked")),
        Column(say("Usual")),
        Column(say("Repaired")),
    )

    def row(one: ClockedLine) -> Row:
        each = (say("no units"),) * 2 if one.a_unit is None else tuple(figure(value, ".1f") for value in one.a_unit)
        cells = (words.whole(one.units), *each, words.whole(one.clocked), words.whole(one.usual))
        return Row(one.period, (*cells, words.of(one.repaired, one.found)))

    return Table(say("Repair minutes, clocked beside usual"), columns, tuple(map(row, report.clocked)))


def came_back_table(report: AfterRepair) -> Table:
    """Return how many repairs came back: all types first, then the types with any, most first."""
    columns = (
        _words(say("Type")),
        Column(say("Repairs")),
        Column(say("Came back")),
        Column(say("Share; of all types with its interval")),
    )

    def row(one: CameBackLine) -> Row:
        head = with_name(one.type, one.name).strip()
        return Row(head, (words.whole(one.repairs), words.whole(one.came_back), _share_back(one)))

    period = report.repaired_in.name
    caption = say("Repairs done in {period}: all types, then each of which any came back", period=period)
    return Table(caption, columns, tuple(map(row, report.came_back)))


def escaped_table(report: EscapedReport) -> Table:
    """Return what got out by station and type, most first."""
    columns = (
        _words(say("Station and type")),
        Column(say("Defects")),
        Column(say("Units with one")),
        Column(say("Share of units")),
    )

    def row(one: EscapedLine) -> Row:
        station = one.station_name if one.station == UNKNOWN else with_name(one.station, one.station_name)
        head = f"{station}: {with_name(one.type, one.type_name)}"
        share = words.percent(one.units / report.units)  # no line without a unit that left
        return Row(head, (words.whole(one.defects), words.whole(one.units), share))

    caption = say(
        "Found within 60 days of release, {number} units released in the {period}",
        number=report.units,
        period=report.released.name,
    )
    return Table(caption, columns, tuple(map(row, report.lines)))


def _words(head: str) -> Column:
    """Return a column that holds words."""
    return Column(head, numeric=False)


def _what(one: OriginLine) -> str:
    return f"{one.what}, {one.severity}"


def _link(unit: str, defect: str) -> str:
    return f"/units/{unit}#d-{defect}"


def _listed(shown: int, total: int) -> str:
    return (
        words.whole(total)
        if shown == total
        else say("the first {shown} of {total}", shown=shown, total=words.whole(total))
    )


def _longest(days: Sequence[int | None]) -> str:
    known = [one for one in days if one is not None]
    return words.whole(max(known)) if known else "–"


def _share_back(line: CameBackLine) -> str:
    if line.share is None:
        return words.percent(line.came_back / line.repairs)
    if isinstance(line.share, TooLittle):
        return say("too little to say")
    return f"{words.percent(line.share.share)} ({interval_words(line.share.low, line.share.high, words.percent)})"
