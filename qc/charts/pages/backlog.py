"""What waits, as tables: open criticals, disputes, origins that nobody has named, leads; repairs; what got out."""

from collections.abc import Callable, Sequence

from qc.charts.drawing import words
from qc.charts.drawing.table import Column, Row, Table
from qc.charts.kinds.interval_dots import interval_words
from qc.domain.naming import with_name
from qc.reports.units.backlog import Backlog, LeadLine, OpenCriticalLine, OriginLine
from qc.reports.week.after_repair import AfterRepair, CameBackLine, ClockedLine
from qc.reports.week.escaped import EscapedLine, EscapedReport
from qc.stats.answers import TooLittle

Day = Callable[..., str]


def criticals_table(report: Backlog, day: Day) -> Table:
    """Return each open critical with its age, whose it is and the next step; day writes a day."""
    columns = _columns("Unit", "What", "Found", "Age in days", "State", "Whose it is", "Next step")

    def row(one: OpenCriticalLine) -> Row:
        found = f"{day(one.found_day)}, {one.found_at}"
        cells = (one.what, found, words.whole(one.age_days), one.state, one.owner, one.next_step)
        return Row(one.shop_number, cells, "signal", link=_link(one.unit, one.defect))

    return Table(f"Open criticals: {len(report.criticals)}", columns, tuple(map(row, report.criticals)))


def disputes_table(report: Backlog, day: Day) -> Table:
    """Return the disputes, criticals first, then the oldest; each leads to where it is settled."""
    columns = _columns("Unit", "What", "Found", "Stands against", "Disputed by, why", "Days in dispute")

    def row(one: OriginLine) -> Row:
        told = f"{one.said_by}: {one.reason}" if one.said_by else "–"
        cells = (_what(one), f"{day(one.found_day)}, {one.found_at}", one.place or "nothing", told)
        return Row(one.shop_number, (*cells, words.whole(one.age_days)), link=_link(one.unit, one.defect))

    caption = f"Disputed origins: {_listed(len(report.disputes), report.disputed_total)}"
    return Table(caption, columns, tuple(map(row, report.disputes)))


def unnamed_table(report: Backlog, day: Day) -> Table:
    """Return the defects that no lead has been asked about, criticals first, then the oldest."""
    columns = _columns("Unit", "What", "Found", "By", "What was said", "Age in days")

    def row(one: OriginLine) -> Row:
        cells = (_what(one), f"{day(one.found_day)}, {one.found_at}", one.finder, one.said)
        return Row(one.shop_number, (*cells, words.whole(one.age_days)), link=_link(one.unit, one.defect))

    caption = f"Origins that no lead has been asked about: {_listed(len(report.unnamed), report.unnamed_total)}"
    return Table(caption, columns, tuple(map(row, report.unnamed)))


def leads_table(report: Backlog) -> Table:
    """Return what waits at each place, in the order of the build; no order of people is meant."""
    columns = _columns("Place", "Who answers", "Wait for their word", "Of these over 3 working days", "Oldest, in days",
                       "Disputed, with you")  # fmt: skip

    def row(one: LeadLine) -> Row:
        who = ", ".join(one.leads) or "you: it has no lead"
        oldest = "–" if one.oldest_days is None else words.whole(one.oldest_days)
        cells = (who, words.whole(one.waiting), words.whole(one.overdue), oldest, words.whole(one.disputed))
        return Row(with_name(one.place, one.name), cells, link=f"/stations/{one.place}")

    whole = (
        "",
        *(words.whole(sum(getattr(one, name) for one in report.by_lead)) for name in ("waiting", "overdue")),
        _longest([one.oldest_days for one in report.by_lead]),
        words.whole(sum(one.disputed for one in report.by_lead)),
    )
    rows = (Row("All", whole), *map(row, report.by_lead))
    return Table("Origins by who answers, in the order of the build", columns, rows)


def clocked_table(report: AfterRepair) -> Table:
    """Return the week and the weeks before: minutes clocked and usual, a unit and in all."""
    columns = _columns("Units presented in", "Units", "Clocked a unit", "Usual a unit", "Clocked", "Usual", "Repaired")

    def row(one: ClockedLine) -> Row:
        each = ("no units", "no units") if one.a_unit is None else tuple(f"{value:.1f}" for value in one.a_unit)
        cells = (words.whole(one.units), *each, words.whole(one.clocked), words.whole(one.usual))
        return Row(one.period, (*cells, words.of(one.repaired, one.found)))

    return Table("Repair minutes, clocked beside usual", columns, tuple(map(row, report.clocked)))


def came_back_table(report: AfterRepair) -> Table:
    """Return how many repairs came back: all types first, then the types with any, most first."""
    columns = _columns("Type", "Repairs", "Came back", "Share; of all types with its interval")

    def row(one: CameBackLine) -> Row:
        head = with_name(one.type, one.name).strip()
        return Row(head, (words.whole(one.repairs), words.whole(one.came_back), _share_back(one)))

    caption = f"Repairs done in {report.repaired_in.name}: all types, then each of which any came back"
    return Table(caption, columns, tuple(map(row, report.came_back)))


def escaped_table(report: EscapedReport) -> Table:
    """Return what got out by station and type, most first."""
    columns = _columns("Station and type", "Defects", "Units with one", "Share of units")

    def row(one: EscapedLine) -> Row:
        station = one.station_name if one.station_name.startswith("Not") else with_name(one.station, one.station_name)
        head = f"{station}: {with_name(one.type, one.type_name)}"
        share = words.percent(one.units / report.units)  # no line without a unit that left
        return Row(head, (words.whole(one.defects), words.whole(one.units), share))

    caption = f"Found within 60 days of release, {report.units} units released in the {report.released.name}"
    return Table(caption, columns, tuple(map(row, report.lines)))


_WORDS = frozenset({"What", "Found", "State", "Whose it is", "Next step", "Stands against", "Disputed by, why", "By",
                    "What was said", "Who answers"})  # fmt: skip


def _columns(*heads: str) -> tuple[Column, ...]:
    return tuple(Column(head, numeric=place > 0 and head not in _WORDS) for place, head in enumerate(heads))


def _what(one: OriginLine) -> str:
    return f"{one.what}, {one.severity}"


def _link(unit: str, defect: str) -> str:
    return f"/units/{unit}#d-{defect}"


def _listed(shown: int, total: int) -> str:
    return words.whole(total) if shown == total else f"the first {shown} of {words.whole(total)}"


def _longest(days: Sequence[int | None]) -> str:
    known = [one for one in days if one is not None]
    return words.whole(max(known)) if known else "–"


def _share_back(line: CameBackLine) -> str:
    if line.share is None:
        return words.percent(line.came_back / line.repairs)
    if isinstance(line.share, TooLittle):
        return "too little to say"
    return f"{words.percent(line.share.share)} ({interval_words(line.share.low, line.share.high, words.percent)})"
