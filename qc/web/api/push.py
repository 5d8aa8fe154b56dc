"""POST /push: a phone's operations, each answered with its own verdict once what was stored is on disk."""

import logging
from typing import Any

from flask import Response

from qc.domain.operations import PROTOCOL, code, digest, nullable, uuid7, whole
from qc.store.history import holds, note_alarm
from qc.store.sign_ins import SignIn
from qc.store.verdicts import PushBatch, Verdict
from qc.web.api.answers import json_answer
from qc.web.api.bearer import signed_in
from qc.web.api.bodies import JSON, body_of
from qc.web.house import House, the_house
from qc.web.json_door import LARGEST, Part, fields_of, read_object_with_parts, refuse

MOST_BYTES = 256_000
MOST_OPERATIONS = 100

log = logging.getLogger("qc.web")

FRAME = {
    "protocol": whole(1, 1000),
    "device": code(32),
    "install_epoch": code(40),
    "sent_ms": whole(0, LARGEST),
}
MAY_HOLD = {
    "server_epoch": nullable(code(64)),
    "chain": nullable(lambda value: None if isinstance(value, dict) else "must be an object"),
}
CHAIN = {"size": whole(0, LARGEST), "head": digest}


def answer() -> Response:
    """Hand the operations to the journal and answer with its verdicts, in the order in which they came.

    Everybody signed in on the phone may send what the phone holds: an operation's author is proved by its own session.
    """
    signed = signed_in(revoked_too=True)
    frame, parts = _asked(signed)
    house = the_house()
    differs = _history_differs(house, frame, signed.person.code)
    told = house.journal.push(_batch(house, frame, parts))
    return json_answer(
        {
            "server_epoch": told.server_epoch,
            "server_now": house.clock(),
            "chain": {"size": told.chain_size, "head": told.chain_head},
            "history_differs": differs,
            "verdicts": [_verdict(verdict) for verdict in told.verdicts],
        }
    )


def _asked(signed: SignIn) -> tuple[dict[str, Any], list[Part]]:
    rest, parts = read_object_with_parts(body_of(JSON, MOST_BYTES), MOST_BYTES, "operations")
    frame = fields_of(rest, FRAME, MAY_HOLD)
    if frame["protocol"] != PROTOCOL:
        refuse("protocol_unknown", f"This server speaks protocol {PROTOCOL}; load the app again.", "protocol")
    if frame["device"] != signed.device:
        refuse("wrong_device", "The sign-in belongs to another phone; sign in on this one.", "device", 403)
    if frame["chain"] is not None:
        frame["chain"] = fields_of(frame["chain"], CHAIN)
    if len(parts) > MOST_OPERATIONS:
        refuse("too_large", f"A push may hold {MOST_OPERATIONS} operations; send the rest after it.", "operations", 413)
    return frame, parts


def _history_differs(house: House, frame: dict[str, Any], person: str) -> bool:
    """Tell whether a phone has seen a history of this epoch that the journal no longer holds, and raise the alarm.

    The push is taken all the same: what the phone holds may be the only copy left.
    """
    chain, device = frame["chain"], frame["device"]
    if chain is None or frame["server_epoch"] != house.server_epoch:
        return False
    if holds(house.reads.connection(), chain["size"], chain["head"]):
        return False
    log.error("history_differs: device %s saw row %d with another hash; run qc verify", device, chain["size"])
    house.journal.write(lambda conn: note_alarm(conn, device, person, chain["size"], chain["head"], house.clock()))
    return True


def _batch(house: House, frame: dict[str, Any], parts: list[Part]) -> PushBatch:
    device = frame["device"]

    def verified(session: str, author: str, made_on: str) -> bool:
        return made_on == device and house.sign_ins.is_author(session, author, made_on)

    return PushBatch(device, frame["install_epoch"], frame["sent_ms"], parts, verified)


def _verdict(verdict: Verdict) -> dict[str, Any]:
    return {
        "id": "" if uuid7(verdict.id) else verdict.id,  # what is no id is not echoed
        "verdict": verdict.verdict,
        "code": verdict.code,
        "reason": verdict.reason,
        "expected": verdict.expected,
        "number": verdict.number,
    }
