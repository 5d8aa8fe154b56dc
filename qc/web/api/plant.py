"""GET /plant: what a phone needs of the plant to work without signal."""

import gzip
import hashlib
from collections.abc import Callable
from dataclasses import dataclass

import orjson
from flask import Response, request

from qc.domain.plant.plant import Plant
from qc.domain.plant_json import phone_plant
from qc.web.api.bearer import signed_in


@dataclass(frozen=True, slots=True)
class _Made:
    """The view of one revision, made and packed once, when it is first asked for. tag: of the answer, not of the
    tables alone, since a new version of the program may tell phones more of the same tables."""

    revision: str
    tag: str
    body: bytes
    small: bytes


def _made(plant: Plant) -> _Made:
    body = orjson.dumps(phone_plant(plant))
    return _Made(plant.revision, hashlib.sha256(body).hexdigest()[:32], body, gzip.compress(body, 9, mtime=0))


def answer_from(plant_in_force: Callable[[], Plant]) -> Callable[[], Response]:
    """Return the view of the plant that is in force when it is asked for."""
    kept: _Made | None = None

    def answer() -> Response:
        """Answer with the plant, or with 304 where the phone has this answer."""
        nonlocal kept
        signed_in()
        plant, made = plant_in_force(), kept
        if made is None or made.revision != plant.revision:
            kept = made = _made(plant)
        response = Response(mimetype="application/json")
        response.set_etag(made.tag)
        response.headers["Cache-Control"] = "private, no-cache"
        response.headers["Vary"] = "Accept-Encoding"
        if request.if_none_match.contains_weak(made.tag):
            response.status_code = 304
            return response
        if request.accept_encodings["gzip"] > 0:
            response.set_data(made.small)
            response.headers["Content-Encoding"] = "gzip"
        else:
            response.set_data(made.body)
        return response

    return answer
