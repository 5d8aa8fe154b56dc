"""What was set aside: the quality manager reads each, takes it in under their own name or leaves it, with a reason."""

from flask import Response, redirect, render_template, request
from werkzeug.wrappers import Response as AnyResponse

from qc.reports.units.set_aside import set_aside_report
from qc.store.intake.quarantine import waiting
from qc.web.house import the_house
from qc.web.page_session import current_person, require_role
from qc.web.pages.acting import Act, act

SHOWN = 200


@require_role("quality_manager")
def show() -> Response:
    """Return what waits for a word and what was left."""
    return _page(None, "", "")


@require_role("quality_manager")
def take() -> Response | AnyResponse:
    """Take an entry in under the manager's own name."""
    return _spoken("quarantine_taken")


@require_role("quality_manager")
def leave() -> Response | AnyResponse:
    """Leave an entry without effect."""
    return _spoken("quarantine_left")


def _spoken(kind: str) -> Response | AnyResponse:
    house, person = the_house(), current_person()
    assert person is not None, "require_role lets nobody else through"
    operation, reason = request.form.get("operation", ""), request.form.get("reason", "")
    done = act(house, person, kind, None, {"operation": operation, "reason": reason})
    return redirect("/set-aside", 303) if done.done else _page(done, operation, reason)


def _page(done: Act | None, operation: str, reason: str) -> Response:
    house = the_house()
    conn = house.reads.connection()

    def model_of(chassis: str) -> str:
        line = house.reads.unit_line(chassis)
        return line.model if line else ""

    entries, left = waiting(conn, limit=SHOWN + 1), waiting(conn, left=True, limit=SHOWN)
    report = set_aside_report(entries[:SHOWN], left, house.shown, model_of, house.clock())
    page = render_template(
        "set_aside/set_aside.html",
        report=report,
        is_cut=len(entries) > SHOWN,
        done=done,
        operation=operation,
        reason=reason,
    )
    return Response(page, 200 if done is None else done.status, mimetype="text/html")
