"""POST /push: a phone's operations, each answered with its own verdict once what was stored is on disk."""

import logging
from typing import Any

from flask import Response

from qc.domain.facts.operations import PROTOCOL, code, digest, nullable, text, uuid7, whole
from qc.store.people.sign_ins import SignIn
from qc.store.record.history import holds, note_alarm
from qc.store.record.proofs import Run, proofs_of
from qc.store.record.verdicts import PushBatch, Verdict
from qc.web.api.answers import json_answer
from qc.web.api.bearer import signed_in
from qc.web.api.bodies import JSON, body_of
from qc.web.house import House, the_house
from qc.web.json_door import LARGEST, Part, fields_of, read_object_with_parts, refuse
from qc.web.metrics import the_metrics

MOST_BYTES = 256_000
MOST_OPERATIONS = 100

log = logging.getLogger("qc.web")

FRAME = {
    "protocol": whole(1, 1000),
    "device": code(32),
    "install_epoch": code(40),
    "sent_ms": whole(0, LARGEST),
    "runs": lambda value: None if isinstance(value, list) else "must be a list",
}
MAY_HOLD = {
    "server_epoch": nullable(code(64)),
    "chain": nullable(lambda value: None if isinstance(value, dict) else "must be an object"),
    "held": nullable(lambda value: _spans_fault(value)),
}
MOST_HELD = 1_000  # spans of numbers that a phone keeps back
MOST_TEXT = 1_000  # of a certificate, which has about 400 characters
RUN = {
    "operations": whole(1, MOST_OPERATIONS),
    "certificate": nullable(text(MOST_TEXT)),
    "signature": nullable(text(100)),
}
CHAIN = {"size": whole(0, LARGEST), "head": digest}


def _spans_fault(value: Any) -> str | None:
    """Return what is wrong with told spans of numbers, first and last of each, rising; None where nothing is."""
    if not isinstance(value, list) or len(value) > MOST_HELD:
        return f"must be a list of at most {MOST_HELD} spans"
    before, number = 0, whole(1, LARGEST)
    for span in value:
        if not isinstance(span, list) or len(span) != 2 or number(span[0]) or number(span[1]):
            return "must hold spans of two numbers, the first and the last"
        if not before < span[0] <= span[1]:
            return "must hold rising spans"
        before = span[1]
    return None


def answer() -> Response:
    """Hand the operations to the journal and answer with its verdicts, in the order in which they came.

    Everybody signed in on the phone may send what the phone holds: an author is proved by the signature on their run.
    """
    signed = signed_in(revoked_too=True)
    frame, parts = _asked(signed)
    house = the_house()
    differs = _history_differs(house, frame, signed.person.code)
    told = house.journal.push(_batch(house, frame, parts))
    the_metrics().judged(told.verdicts)
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
    require_protocol(rest.get("protocol"))
    frame = fields_of(rest, FRAME, MAY_HOLD)
    if frame["device"] != signed.device:
        refuse("wrong_device", "The sign-in belongs to another phone; sign in on this one.", "device", 403)
    if frame["chain"] is not None:
        frame["chain"] = fields_of(frame["chain"], CHAIN)
    if len(parts) > MOST_OPERATIONS:
        refuse("too_large", f"A push may hold {MOST_OPERATIONS} operations; send the rest after it.", "operations", 413)
    frame["runs"] = runs_of(frame["runs"], len(parts))
    return frame, parts


def require_protocol(spoken: Any) -> None:
    """Refuse an app that is older or newer than this server, and say what would do."""
    if whole(1, 1000)(spoken) is None and spoken != PROTOCOL:
        refuse(
            "protocol_unknown",
            f"This server speaks protocol {PROTOCOL}, the app {spoken}: take the app's new version where there is "
            "signal, then sync again. What is recorded stays on the phone.",
            "protocol",
        )


def runs_of(told: Any, operations: int) -> list[Run]:
    """Return the runs that a phone tells, which must be of all its operations. Raises Refused."""
    if not isinstance(told, list):
        refuse("malformed", "runs must be a list.", "runs")
    fields = [fields_of(one if isinstance(one, dict) else {}, RUN) for one in told]
    runs = [Run(one["operations"], one["certificate"] or "", one["signature"] or "") for one in fields]
    if sum(run.operations for run in runs) != operations:
        refuse("malformed", "The runs must be of all the operations, in their order.", "runs")
    return runs


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
    device, epoch = frame["device"], frame["install_epoch"]
    # Here and not in the writer, which all phones wait for: signatures take most of the time that proofs cost.
    proofs = proofs_of(house.journal.certificates, device, epoch, frame["runs"], parts)
    held = tuple((first, last) for first, last in frame["held"] or ())
    return PushBatch(device, epoch, frame["sent_ms"], parts, proofs, held=held)


def _verdict(verdict: Verdict) -> dict[str, Any]:
    return {
        "id": "" if uuid7(verdict.id) else verdict.id,  # what is no id is not echoed
        "verdict": verdict.verdict,
        "code": verdict.code,
        "reason": verdict.reason,
        "expected": verdict.expected,
        "number": verdict.number,
    }
