"""GET /pull: the units that changed after what a phone has seen, by the server's number, never by time."""

from flask import Response, request

from qc.web.api.answers import json_answer
from qc.web.api.bearer import signed_in
from qc.web.house import the_house
from qc.web.json_door import LARGEST, refuse

MOST_UNITS = 500


def answer() -> Response:
    """Return up to ``limit`` units changed after number ``after``, where to go on, and whether there are more."""
    signed_in()
    unknown = set(request.args) - {"after", "limit"}
    if unknown:
        refuse("malformed", "The address may ask for after and limit only.")
    after, limit = _whole("after", 0, LARGEST, 0), _whole("limit", 1, MOST_UNITS, 200)
    house = the_house()
    now = house.clock()
    units, through, more = house.reads.phone_units(after, limit, now)
    told = {"server_epoch": house.server_epoch, "server_now": now}
    return json_answer({**told, "units": units, "through": through, "more": more})


def _whole(name: str, least: int, most: int, otherwise: int) -> int:
    words = request.args.getlist(name)
    if not words:
        return otherwise
    (word, *twice) = words
    if twice or not (word.isascii() and word.isdigit() and len(word) <= 16 and least <= int(word) <= most):
        refuse("malformed", f"{name} must be one whole number from {least} to {most}.", name)
    return int(word)
