"""What moved beyond chance, station by type: one list for the quality manager, new first, and what is muted of it."""

from dataclasses import dataclass
from datetime import date
from urllib.parse import urlencode

from flask import redirect, render_template, request
from werkzeug.wrappers import Response

from qc.charts.pages.signal_picture import signal_picture
from qc.charts.pages.signals import left_out_table, rate_words, weeks_table, work_words
from qc.domain.facts.people import Person
from qc.domain.line.mutes import USUAL, first_end, last_end
from qc.domain.words.speaking import marked, say
from qc.reports.asking import Asking
from qc.reports.watch.signals import Signal, Signals, signals_report
from qc.reports.week.under_way import units_under_way
from qc.stats.answers import TooLittle
from qc.web.house import House, the_house
from qc.web.page_session import current_person, require_role
from qc.web.pages.acting import Act, act
from qc.web.pages.filters import week_asked
from qc.web.pages.page_counts import counts_of, today, usual

DONE = {
    "mute": marked("Muted. It stands below with your reason and is listed again after its last day."),
    "unmute": marked("Unmuted. The record keeps that it was muted, why, and that you ended it today."),
}
WATCHED = ("station", "type", "direction")


@dataclass(frozen=True, slots=True)
class MuteForm:
    """What stands in the form that mutes a signal; is_open: it was sent and refused, so it is shown at once."""

    reason: str
    until: str
    is_open: bool


@require_role("quality_manager")
def show() -> tuple[str, int]:
    """Return the signals as of the week asked for, the last whole one by default."""
    return page(done=say(DONE.get(request.args.get("done", ""), "")))


@require_role("quality_manager")
def mute() -> Response | tuple[str, int]:
    """Keep a signal off the list until a day, with the reason."""
    entered = {name: request.form.get(name, "").strip() for name in (*WATCHED, "reason", "until")}
    return _answered("mute", act(the_house(), _person(), "signal_muted", None, entered), entered)


@require_role("quality_manager")
def unmute() -> Response | tuple[str, int]:
    """End a mute before its day."""
    body = {"mute": request.form.get("mute", "").strip()}
    return _answered("unmute", act(the_house(), _person(), "signal_unmuted", None, body))


def _answered(given: str, came: Act, entered: dict[str, str] | None = None) -> Response | tuple[str, int]:
    if came.done:
        return redirect(f"/signals{_asked(done=given)}", 303)
    typed = ""
    if entered:
        reason, until = entered["reason"], entered["until"]
        typed = say("You typed “{reason}” and “{until}”; nothing of it is lost.", reason=reason, until=until)
    return page(refused=f"{came.words} {typed}".rstrip(), status=came.status, entered=entered)


def _asked(**more: str) -> str:
    """Return the query that keeps the week asked for, "" where none was."""
    week = request.args.get("week", "")
    pairs = {**more, **({"week": week} if week else {})}
    return f"?{urlencode(pairs)}" if pairs else ""


def page(
    refused: str = "", done: str = "", status: int = 200, entered: dict[str, str] | None = None
) -> tuple[str, int]:
    """Return the list with what came of an act on it; what was entered is kept in the form where it was refused."""
    house = the_house()
    now = today(house)
    week, problems = week_asked(request.args.get("week", ""), now, usual(house))
    report = reported(house, week)
    text = render_template(
        "signals/signals.html",
        report=report,
        problems=problems,
        refused=refused,
        done=done,
        under_way=units_under_way(
            Asking(counts=counts_of(house), plant=house.shown, now_ms=house.clock()), report.judged
        ),
        is_watching=not isinstance(report.baseline, TooLittle),
        rate=rate_words(report),
        prepared=[
            (one, weeks_table(one), work_words(one), mute_form(one, entered, now), signal_picture(one, f"signal-{at}"))
            for at, one in enumerate(report.shown)
        ],
        muted=[(one, weeks_table(one)) for one in report.muted],
        first_end=first_end(now),
        last_end=last_end(now),
        leads=_person().stations,
        asked=_asked(),
        left_out=left_out_table(report),
    )
    return text, status if status != 200 else 400 if problems else 200


def mute_form(signal: Signal, entered: dict[str, str] | None, now: date) -> MuteForm:
    """Return what stands in a signal's form: what was entered for it, else an end some weeks ahead."""
    if entered and all(entered[name] == getattr(signal, name) for name in WATCHED):
        return MuteForm(entered["reason"], entered["until"], True)
    return MuteForm("", (now + USUAL).isoformat(), False)


def reported(house: House, week: date) -> Signals:
    """Return the report of a week."""
    return signals_report(counts_of(house), house.reads, house.shown, week, house.clock())


def _person() -> Person:
    person = current_person()
    assert person is not None  # require_role has sent strangers away
    return person
