"""The signals page's rows: the weeks of a signal against what was to be expected, and what is not watched."""

from qc.charts.drawing.table import Column, Row, Table
from qc.charts.pages.signal_picture import SHOWN_WEEKS
from qc.domain.naming import with_name
from qc.reports.watch.signals import Signal, Signals


def weeks_table(signal: Signal) -> Table:
    """Return the last 26 whole weeks of a signal, latest first: defects and what the baseline leads one to expect."""
    weeks = list(zip(signal.weeks, signal.defects, signal.usual, strict=True))[-SHOWN_WEEKS:]
    rows = tuple(
        Row(
            week,
            (str(defects), f"{usual:.1f}"),
            "signal" if week >= signal.begun and not _is_over(signal, week) else "",
        )
        for week, defects, usual in reversed(weeks)
    )
    caption = (
        f"{with_name(signal.station, signal.station_name)}: {signal.type_name} by the week found, majors and minors"
    )
    return Table(caption, (Column("Week", False), Column("Defects"), Column("Expected on the same units")), rows)


def _is_over(signal: Signal, week: str) -> bool:
    return bool(signal.over) and week > signal.over


def left_out_table(report: Signals) -> Table:
    """Return what is not watched and why."""
    rows = tuple(Row(one.station, (", ".join(one.types), one.reason)) for one in report.left_out)
    columns = (Column("Station", False), Column("Types", False), Column("Why", False))
    return Table("Not watched", columns, rows)


def work_words(signal: Signal) -> str:
    """Return the same by the date of the work, with the units to contain; "" where the work dates show no rise."""
    work = signal.work
    if work is None:
        return ""
    to = f" to {work.last}" if work.last else ", and it lasts"
    told = f"By the date of the work: from {work.first}{to} (begins between {work.may_begin[0]} and {work.may_begin[1]}"
    told += f", ends between {work.may_end[0]} and {work.may_end[1]})." if work.may_end else ")."
    if work.sequences:
        told += f" Units with such a defect: {work.units}, sequence {work.sequences[0]} to {work.sequences[1]}."
    return told


def rate_words(report: Signals) -> str:
    """Return how many false alarms the watch is held to, over what."""
    quarter = report.rate * 13
    return (
        f"{report.watched} sums of station and type are watched, up and down, and {report.slow} of them, where it "
        f"would show, for a slow rise too. Over all of them at most {quarter:.0f} false signal a quarter is designed "
        f"for; the limits in force add up to {report.designed * 13:.1f}."
    )
