"""GET /pull: the units that changed after what a phone has seen, by the server's number, never by time."""

import logging
import re

from flask import Response, request

from qc.store.intake.writer import StorageFailed, StorageFull
from qc.store.people.devices import Word
from qc.web.api.answers import json_answer, person_told
from qc.web.api.bearer import signed_in
from qc.web.house import the_house
from qc.web.json_door import LARGEST, refuse

MOST_UNITS = 500
MOST_WAITING = 1_000_000
_OF_ITSELF = ("app", "waiting", "behind")
_APP = re.compile(r"[A-Za-z0-9._-]{1,64}\Z")
_BEHIND = re.compile(r"-?[0-9]{1,16}\Z")

log = logging.getLogger("qc.web")


def answer() -> Response:
    """Return up to ``limit`` units changed after number ``after``, where to go on, and whether there are more.

    And who asks, as they are now: another may have given them other roles since they signed in.

    A phone says of itself meanwhile which version of the app it has, how many records wait on it, and how far its clock
    stands behind. It is kept for people to read, and nothing rests on it.
    """
    signed = signed_in()
    unknown = set(request.args) - {"after", "limit", *_OF_ITSELF}
    if unknown:
        refuse("malformed", "The address may ask for after and limit, and tell app, waiting and behind, only.")
    after, limit = _whole("after", 0, LARGEST, 0), _whole("limit", 1, MOST_UNITS, 200)
    word = _word() if set(request.args) & set(_OF_ITSELF) else None
    house = the_house()
    now = house.clock()
    if word is not None:
        try:
            house.devices.note(signed.device, word, now)
        except (StorageFull, StorageFailed) as error:  # units can be read all the same
            log.error("what %s says of itself was not kept: %s", signed.device, type(error).__name__)
    units, through, more = house.reads.phone_units(after, limit, now)
    told = {"server_epoch": house.server_epoch, "server_now": now, "person": person_told(signed.person)}
    return json_answer({**told, "units": units, "through": through, "more": more})


def _whole(name: str, least: int, most: int, otherwise: int) -> int:
    words = request.args.getlist(name)
    if not words:
        return otherwise
    (word, *twice) = words
    if twice or not (word.isascii() and word.isdigit() and len(word) <= 16 and least <= int(word) <= most):
        refuse("malformed", f"{name} must be one whole number from {least} to {most}.", name)
    return int(word)


def _word() -> Word:
    app, behind = (request.args.getlist(name) for name in ("app", "behind"))
    if app and (len(app) > 1 or not _APP.match(app[0])):
        refuse("malformed", "app must be the version of the app.", "app")
    if behind and (len(behind) > 1 or not _BEHIND.match(behind[0]) or abs(int(behind[0])) > LARGEST):
        refuse("malformed", "behind must be one whole number of milliseconds.", "behind")
    return Word("".join(app), _whole("waiting", 0, MOST_WAITING, 0), int("".join(behind) or 0))
