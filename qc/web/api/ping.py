"""POST /ping: is the plant's own server there? It echoes what only this caller knows, and what it has of a phone."""

from flask import Response

from qc.domain.facts.operations import PROTOCOL, code
from qc.web.api.answers import json_answer
from qc.web.api.bearer import signed_in
from qc.web.api.bodies import JSON, body_of
from qc.web.house import the_house
from qc.web.json_door import fields_of, read_object

MOST_BYTES = 1_000


def answer() -> Response:
    """Echo the nonce with the server's clock, its epoch and the protocols that it speaks.

    Asked with a device and its installation, it also tells how many records it has from there: a phone whose
    store was cleared learns what of its work arrived.
    """
    signed_in(revoked_too=True)
    raw = read_object(body_of(JSON, MOST_BYTES), MOST_BYTES)
    asked = fields_of(raw, {"nonce": code(64)}, {"device": code(32), "install_epoch": code(40)})
    house = the_house()
    told = {"server_now": house.clock(), "server_epoch": house.server_epoch, "protocol": [PROTOCOL]}
    if asked["device"] is not None and asked["install_epoch"] is not None:
        told["arrived"] = house.reads.arrived(asked["device"], asked["install_epoch"])
    return json_answer({"nonce": asked["nonce"], **told})
