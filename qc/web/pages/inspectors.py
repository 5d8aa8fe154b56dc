"""Inspectors on the same units: everybody for the quality manager, their own for each person."""

from flask import render_template, request

from qc.charts.pages.inspectors import (
    false_calls_table,
    missed_table,
    missed_words,
    pairs_table,
    shares_picture,
    shares_table,
    shifts_table,
)
from qc.domain.words.speaking import say
from qc.reports.asking import Asking, looked_weeks
from qc.reports.looks.inspectors import USES, inspectors, own_share
from qc.reports.periods import Period, week_of
from qc.web.house import the_house
from qc.web.page_session import current_person, require_role
from qc.web.pages.filters import week_asked
from qc.web.pages.page_counts import counts_of, today, usual

WEEKS = 26  # a few units a week: less would be too little to say for most


@require_role("quality_manager")
def show() -> tuple[str, int]:
    """Return everybody's paired re-looks in the 26 weeks up to the week asked for, or in those that the record has."""
    ask, period, problems = _asked()
    report = inspectors(ask, period)
    page = render_template(
        "inspectors/inspectors.html",
        report=report,
        problems=problems,
        shares=shares_picture(report),
        pairs_table=pairs_table(report),
        missed=missed_words(report),
        shifts_table=shifts_table(report),
        false_table=false_calls_table(report.people, period.name),
        missed_tables=[(person, missed_table(person, period.name)) for person in report.people if person.missed],
    )
    return page, 400 if problems else 200


@require_role("inspector", "quality_manager")
def show_own() -> tuple[str, int]:
    """Return the signed-in person's own figures and nobody else's."""
    ask, period, problems = _asked()
    person = current_person()
    assert person is not None  # require_role has sent strangers away
    own = own_share(ask, period, person.code)
    page = render_template(
        "inspectors/own.html",
        own=own,
        period=period,
        problems=problems,
        uses_lines=tuple(map(say, USES)),
        own_table=shares_table((own,), say("{code} in paired re-looks, {period}", code=own.code, period=period.name)),
        false_table=false_calls_table((own,), period.name),
        missed_table=missed_table(own, period.name),
    )
    return page, 400 if problems else 200


def _asked() -> tuple[Asking, Period, tuple[str, ...]]:
    house = the_house()
    day = today(house)
    monday, problems = week_asked(request.args.get("week", ""), day, usual(house))
    unknown = sorted(set(request.args) - {"week"})
    if unknown:
        named = ", ".join(one[:40] for one in unknown)
        problems = (*problems, say("The address asks for {named}, which is not known.", named=named))
    asking = Asking(counts=counts_of(house), plant=house.shown, now_ms=house.clock())
    return asking, looked_weeks(asking, week_of(monday, day), WEEKS), problems
