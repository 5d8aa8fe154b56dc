"""The way in: each role's own page first."""

from flask import redirect
from werkzeug.wrappers import Response

from qc.domain.people import Person
from qc.web.page_session import current_person

# Who records at the unit does it on the phone's app; everybody else looks units up.
AT_THE_UNIT = ("inspector", "tester", "repairer")


_OWN = {"quality_manager": "/review", "planner": "/plan", "administrator": "/people"}


def first_page(person: Person | None) -> str:
    """Return the address of a person's own page: a manager's review, a lead's own station, a planner's build plan, the
    administrator's people and phones; the app for who records at the unit, the units for everybody else.
    """
    if person is None:
        return "/sign-in"
    if person.role in _OWN:
        return _OWN[person.role]
    if person.role == "station_lead":
        return f"/stations/{person.stations[0]}" if len(person.stations) == 1 else "/stations"
    return "/app/" if person.role in AT_THE_UNIT else "/units"


def show() -> Response:
    """Send the visitor to their own page."""
    return redirect(first_page(current_person()), 303)
