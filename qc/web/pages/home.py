"""The way in: each role's own page first."""

from flask import redirect
from werkzeug.wrappers import Response

from qc.domain.facts.people import Person
from qc.web.page_session import current_person

# Who records at the unit does it on the phone's app; everybody else looks units up.
AT_THE_UNIT = ("inspector", "tester", "repairer")


_OWN = {"quality_manager": "/review", "planner": "/plan", "administrator": "/people", "station_lead": "/stations"}
_OWN |= dict.fromkeys(AT_THE_UNIT, "/app/")


def first_page(person: Person | None) -> str:
    """Return the address of a person's own page: a manager's review, a lead's own station, a planner's build plan, the
    administrator's people and phones; the app for who records at the unit, the units for everybody else. With several
    roles it is the first one's that has a page of its own; the head of each page leads to the others.
    """
    if person is None:
        return "/sign-in"
    own = next((_OWN[one] for one in person.roles if one in _OWN), "/units")
    return f"{own}/{person.stations[0]}" if own == "/stations" and len(person.stations) == 1 else own


def show() -> Response:
    """Send the visitor to their own page."""
    return redirect(first_page(current_person()), 303)
