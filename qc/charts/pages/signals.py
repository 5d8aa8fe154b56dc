"""The signals page's rows: the weeks of a signal against what was to be expected, and what is not watched."""

from qc.charts.drawing.table import Column, Row, Table
from qc.charts.pages.signal_picture import SHOWN_WEEKS
from qc.domain.plant.naming import with_name
from qc.domain.words.said_weeks import week_words
from qc.domain.words.speaking import figure, say
from qc.reports.watch.signals import Signal, Signals


def weeks_table(signal: Signal) -> Table:
    """Return the last 26 whole weeks of a signal, latest first: defects and what the baseline leads one to expect."""
    weeks = list(zip(signal.weeks, signal.defects, signal.usual, strict=True))[-SHOWN_WEEKS:]
    rows = tuple(
        Row(
            week_words(week),
            (str(defects), figure(usual, ".1f")),
            "signal" if week >= signal.begun and not _is_over(signal, week) else "",
        )
        for week, defects, usual in reversed(weeks)
    )
    caption = say(
        "{place}: {type} by the week found, majors and minors",
        place=with_name(signal.station, signal.station_name),
        type=signal.type_name,
    )
    columns = (Column(say("Week"), False), Column(say("Defects")), Column(say("Expected on the same units")))
    return Table(caption, columns, rows)


def _is_over(signal: Signal, week: str) -> bool:
    return bool(signal.over) and week > signal.over


def left_out_table(report: Signals) -> Table:
    """Return what is not watched and why."""
    rows = tuple(Row(one.station, (", ".join(one.types), one.reason)) for one in report.left_out)
    columns = (Column(say("Station"), False), Column(say("Types"), False), Column(say("Why"), False))
    return Table(say("Not watched"), columns, rows)


def work_words(signal: Signal) -> str:
    """Return the same by the date of the work, with the units to contain; "" where the work dates show no rise."""
    work = signal.work
    if work is None:
        return ""
    span = (
        say("By the date of the work: from {first} to {last}", first=week_words(work.first), last=week_words(work.last))
        if work.last
        else say("By the date of the work: from {first}, and it lasts", first=week_words(work.first))
    )
    begins = say("begins between {first} and {last}", **_ends(work.may_begin))
    ends = say("ends between {first} and {last}", **_ends(work.may_end)) if work.may_end else ""
    told = f"{span} ({', '.join(filter(None, (begins, ends)))})."
    if not work.sequences:
        return told
    units = say(
        "Units with such a defect: {units}, sequence {first} to {last}.",
        units=work.units,
        first=work.sequences[0],
        last=work.sequences[1],
    )
    return f"{told} {units}"


def _ends(weeks: tuple[str, str]) -> dict[str, str]:
    return {"first": week_words(weeks[0]), "last": week_words(weeks[1])}


def rate_words(report: Signals) -> str:
    """Return how many false alarms the watch is held to, over what."""
    quarter = report.rate * 13
    return say(
        "{watched} sums of station and type are watched, up and down, and {slow} of them, where it would show, for a "
        "slow rise too. Over all of them at most {quarter:.0f} false signal a quarter is designed for; the limits in "
        "force add up to {designed:.1f}.",
        watched=report.watched,
        slow=report.slow,
        quarter=quarter,
        designed=report.designed * 13,
    )
