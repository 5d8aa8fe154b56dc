"""What moved beyond chance, station by type: one list for the quality manager, new first."""

from datetime import date

from flask import render_template, request

from qc.charts.signals import left_out_table, rate_words, weeks_table, work_words
from qc.reports.signals import Signals, signals_report
from qc.stats.answers import TooLittle
from qc.web.house import House, the_house
from qc.web.page_session import require_role
from qc.web.pages.filters import week_asked
from qc.web.pages.rooms import counts_of, today


@require_role("quality_manager")
def show() -> tuple[str, int]:
    """Return the signals as of the week asked for, the last whole one by default."""
    return page()


def page(refused: str = "", done: str = "", status: int = 200) -> tuple[str, int]:
    """Return the list, with what came of an act on it."""
    house = the_house()
    week, problems = week_asked(request.args.get("week", ""), today(house))
    report = reported(house, week)
    text = render_template(
        "signals/signals.html",
        report=report,
        problems=problems,
        refused=refused,
        done=done,
        is_watching=not isinstance(report.baseline, TooLittle),
        rate=rate_words(report),
        prepared=[(one, weeks_table(one), work_words(one)) for one in report.shown],
        left_out=left_out_table(report),
    )
    return text, status if status != 200 else 400 if problems else 200


def reported(house: House, week: date) -> Signals:
    """Return the report of a week."""
    return signals_report(counts_of(house), house.reads, house.plant, week, house.clock())
