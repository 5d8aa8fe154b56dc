"""POST /ping: is the plant's own server there? It echoes what only this caller knows."""

from flask import Response

from qc.domain.operations import PROTOCOL, code
from qc.web.api.answers import json_answer
from qc.web.api.bearer import signed_in
from qc.web.api.bodies import JSON, body_of
from qc.web.house import the_house
from qc.web.json_door import fields_of, read_object

MOST_BYTES = 1_000


def answer() -> Response:
    """Echo the nonce with the server's clock, its epoch and the protocols that it speaks."""
    signed_in(revoked_too=True)
    asked = fields_of(read_object(body_of(JSON, MOST_BYTES), MOST_BYTES), {"nonce": code(64)})
    house = the_house()
    told = {"server_now": house.clock(), "server_epoch": house.server_epoch, "protocol": [PROTOCOL]}
    return json_answer({"nonce": asked["nonce"], **told})
