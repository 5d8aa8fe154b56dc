"""What waits and for whom: the quality manager's own list, each line leading to where it is settled."""

from flask import render_template, request

from qc.charts.pages import backlog as tables
from qc.domain.counted.counts import LEFT
from qc.domain.facts.people import Person
from qc.domain.words.speaking import say
from qc.reports.asking import Asking, known_before
from qc.reports.periods import week_of
from qc.reports.units.backlog import Backlog, backlog
from qc.reports.week.after_repair import CLOCKED, after_repair
from qc.reports.week.escaped import escaped_report
from qc.web.house import House, the_house
from qc.web.page_session import require_role
from qc.web.pages.filters import week_asked
from qc.web.pages.page_counts import counts_of, today, usual
from qc.web.pages.template_filters import day_words

WINDOW_WEEKS = 8


@require_role("quality_manager")
def show() -> tuple[str, int]:
    """Return what waits now; the week asked for (the last whole one by default) is that of the repairs."""
    house = the_house()
    monday, problems = week_asked(request.args.get("week", ""), today(house), usual(house))
    report, ask = waiting(house), Asking(counts=counts_of(house), plant=house.shown, now_ms=house.clock())
    week = week_of(monday, ask.today)
    repairs, escaped = after_repair(ask, week, known_before(ask, week, WINDOW_WEEKS)), escaped_report(ask)
    page = render_template(
        "backlog/backlog.html",
        report=report,
        problems=problems,
        week=week,
        criticals=tables.criticals_table(report, day_words),
        disputes=tables.disputes_table(report, day_words),
        unnamed=tables.unnamed_table(report, day_words),
        leads=tables.leads_table(report),
        repairs=repairs,
        clocked=tables.clocked_table(repairs),
        clocked_basis=say(CLOCKED),
        came_back=tables.came_back_table(repairs),
        escaped=escaped,
        left_words=say(LEFT),
        escaped_table=tables.escaped_table(escaped),
    )
    return page, 400 if problems else 200


def waiting(house: House) -> Backlog:
    """Return what waits now."""
    people: list[Person] = house.people.all()
    return backlog(counts_of(house), house.reads, house.shown, people, house.clock())
