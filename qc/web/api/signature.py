"""POST /signature: a signed-in person's PIN once more, answered with a certificate for one signature of theirs."""

from flask import Response

from qc.domain.facts.operations import text, uuid7
from qc.store.people.pins import PASSPHRASE_MOST
from qc.web.api.answers import json_answer
from qc.web.api.bearer import signed_in
from qc.web.api.bodies import JSON, body_of
from qc.web.house import the_house
from qc.web.json_door import fields_of, read_object

MOST_BYTES = 2_000
FIELDS = {"pin": text(PASSPHRASE_MOST), "operation": uuid7, "public_key": text(100)}


def answer() -> Response:
    """Check the secret of who is signed in, and certify their key for the operation that they are about to sign."""
    signed = signed_in()
    asked = fields_of(read_object(body_of(JSON, MOST_BYTES), MOST_BYTES), FIELDS)
    sign_ins = the_house().sign_ins
    given = sign_ins.certify_signature(signed, asked["pin"], asked["public_key"], asked["operation"])
    return json_answer({"certificate": given.certificate, "certified_until_ms": given.until_ms})
