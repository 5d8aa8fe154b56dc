"""POST /secret: a signed-in person chooses another PIN or passphrase, and gives the one before."""

from flask import Response

from qc.domain.facts.operations import text
from qc.store.people.pins import PASSPHRASE_MOST
from qc.web.api.answers import json_answer
from qc.web.api.bearer import signed_in
from qc.web.api.bodies import JSON, body_of
from qc.web.house import the_house
from qc.web.json_door import fields_of, read_object

MOST_BYTES = 2_000
FIELDS = {"pin": text(PASSPHRASE_MOST), "new": text(PASSPHRASE_MOST)}


def answer() -> Response:
    """Check the secret of who is signed in and change it; they stay signed in on this phone, and nowhere else."""
    signed = signed_in()
    asked = fields_of(read_object(body_of(JSON, MOST_BYTES), MOST_BYTES), FIELDS)
    the_house().sign_ins.change_own_secret(signed, asked["pin"], asked["new"])
    return json_answer({"person": signed.person.code})
