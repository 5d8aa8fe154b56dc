"""GET /people: the names to pick from when signing in on a phone."""

from flask import Response

from qc.web.api.answers import json_answer
from qc.web.house import the_house


def answer() -> Response:
    """List who may sign in on a phone, by code; no sign-in is needed to see it, as on the shift's notice board."""
    people = the_house().people.phone_people()
    return json_answer([{"code": person.code, "name": person.name, "role": person.role} for person in people])
