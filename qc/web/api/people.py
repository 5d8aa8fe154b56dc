"""GET /people: the names to pick from when signing in on a phone, for the plant's own phones alone."""

from flask import Response, request

from qc.web.api.answers import json_answer
from qc.web.api.bearer import signed_in
from qc.web.house import the_house


def answer() -> Response:
    """List who may sign in on a phone, by code: to an enrolled phone (RFC 7617), or to who is signed in on one."""
    house, told = the_house(), request.authorization
    if told is not None and told.type == "basic":
        house.enrolment.demand_proof(house.reads.connection(), told.username, told.password or "")
    else:
        signed_in()
    people = house.people.phone_people()
    return json_answer([{name: getattr(one, name) for name in ("code", "name", "role", "also")} for one in people])
