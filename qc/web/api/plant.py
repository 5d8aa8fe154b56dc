"""GET /plant: what a phone needs of the plant to work without signal."""

import gzip
import hashlib
from collections.abc import Callable

import orjson
from flask import Response, request

from qc.domain.plant import Plant
from qc.domain.plant_json import phone_plant
from qc.web.api.bearer import signed_in


def answer_from(plant: Plant) -> Callable[[], Response]:
    """Return the view of one plant; its answer is made and packed once, since it changes only with the tables."""
    body = orjson.dumps(phone_plant(plant))
    small = gzip.compress(body, 9, mtime=0)
    # Of the answer, not of the tables alone: a new version of the program may tell phones more of the same tables.
    tag = hashlib.sha256(body).hexdigest()[:32]

    def answer() -> Response:
        """Answer with the plant, or with 304 where the phone has this answer."""
        signed_in()
        response = Response(mimetype="application/json")
        response.set_etag(tag)
        response.headers["Cache-Control"] = "private, no-cache"
        response.headers["Vary"] = "Accept-Encoding"
        if request.if_none_match.contains_weak(tag):
            response.status_code = 304
            return response
        if request.accept_encodings["gzip"] > 0:
            response.set_data(small)
            response.headers["Content-Encoding"] = "gzip"
        else:
            response.set_data(body)
        return response

    return answer
