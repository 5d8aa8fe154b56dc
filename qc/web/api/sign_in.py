"""POST /sign-in: a person's name and PIN on a phone, answered with a token for one shift."""

from flask import Response, request

from qc.domain.facts.operations import code, nullable, text
from qc.store.people.house_words import secrets_to_tell
from qc.store.people.languages import language_of
from qc.store.people.pins import PASSPHRASE_MOST
from qc.store.people.tries import Source
from qc.web.api.answers import json_answer, person_told
from qc.web.api.bodies import JSON, body_of
from qc.web.house import the_house
from qc.web.json_door import fields_of, read_object, refuse

MOST_BYTES = 2_000
FIELDS = {
    "person": code(32),
    "pin": text(PASSPHRASE_MOST),
    "device": nullable(code(32)),
    "install_epoch": code(40),
}
MAY_HOLD = {"public_key": text(100), "device_secret": text(200, 0)}


def answer() -> Response:
    """Open a sign-in on a phone that proves to be one of the plant's, and certify the key that it sends.

    A phone of before there were secrets is known from then on by the one that it sends.
    """
    asked = fields_of(read_object(body_of(JSON, MOST_BYTES), MOST_BYTES), FIELDS, MAY_HOLD)
    if asked["public_key"] is None:
        refuse(
            "protocol_unknown",
            "This server certifies a key of the phone at each sign-in, and this version of the app sends none: take "
            "the app's new version where there is signal. What is recorded stays on the phone.",
            "public_key",
        )
    house = the_house()
    secret = asked["device_secret"] or ""
    conn = house.reads.connection()
    device = house.enrolment.demand_proof(conn, asked["device"], secret, signs_in=True)
    source = Source(address=request.remote_addr or "", unproved=house.enrolment.is_of_before(conn, device))
    opened, token = house.sign_ins.open(asked["person"], asked["pin"], device, "phone", asked["public_key"], source)
    house.enrolment.settle(house.reads.connection(), device, secret)
    given = secrets_to_tell(house.reads.connection(), opened.person.code, house.clock())
    return json_answer(
        {
            "token": token,
            "session": opened.session,
            "device": opened.device,
            "person": person_told(opened.person),
            "ends_ms": house.by_clock(opened.ends_ms),
            "certificate": opened.certificate,
            "certified_until_ms": opened.certified_until_ms,
            "key_id": house.journal.certificates.key_id,
            "server_now": house.clock(),
            "server_epoch": house.server_epoch,
            "language": language_of(house.reads.connection(), opened.person.code),
            "secret_given": [{"by": one.by, "at_ms": one.at_ms} for one in given],
        }
    )
