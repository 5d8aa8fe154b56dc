"""POST /enrol: a phone takes an administrator's offer, and is given its code and the secret that proves it."""

from flask import Response

from qc.domain.facts.operations import code, nullable, text
from qc.web.api.answers import json_answer
from qc.web.api.bodies import JSON, body_of
from qc.web.house import the_house
from qc.web.json_door import fields_of, read_object

MOST_BYTES = 1_000
FIELDS = {"letters": text(40), "device": nullable(code(32)), "device_secret": text(200, 0)}


def answer() -> Response:
    """Enrol the phone; one that holds work, or was enrolled before, keeps its code."""
    asked = fields_of(read_object(body_of(JSON, MOST_BYTES), MOST_BYTES), FIELDS)
    given = the_house().enrolment.take(asked["letters"], asked["device"], asked["device_secret"])
    return json_answer({"device": given.device, "device_secret": given.secret})
