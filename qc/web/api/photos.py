"""Photos, by the hash of their bytes: how much is here, the next piece, and the picture itself.

Pieces go on where the last one ended (the idea of resumable uploads, draft-ietf-httpbis-resumable-upload); a photo
counts only once all its bytes are here, hash to its name and decode in full.
"""

from flask import Response, request

from qc.domain.facts.operations import digest
from qc.store.folder.photos import MOST_BYTES
from qc.web.api.bearer import signed_in
from qc.web.api.bodies import body_of
from qc.web.house import the_house
from qc.web.json_door import refuse
from qc.web.photo_answer import photo_answer

MEDIA_TYPE = "application/offset+octet-stream"


def answer(sha256: str) -> Response:
    """HEAD: tell how many of a photo's bytes are here. GET: the photo, with ``edge`` as a small picture."""
    signed_in()
    _demand_digest(sha256)
    if request.method == "HEAD":
        return _offset(sha256)
    return photo_answer(the_house(), sha256, request.args.get("edge"))


def take_piece(sha256: str) -> Response:
    """Append a piece at the offset where the last one ended; 409 tells where that is, 429 that it was too much."""
    phone = signed_in().device
    _demand_digest(sha256)
    offset, total = _figure("Upload-Offset", 0), _figure("Upload-Length", 1)
    data = body_of(MEDIA_TYPE, MOST_BYTES)
    if offset + len(data) > total:
        refuse("malformed", "The piece goes beyond the photo's own length.", "Upload-Length")
    house = the_house()
    house.photo_allowance.demand(phone, len(data))
    reached = house.photos.append(sha256, offset, total, data)
    house.photo_allowance.count(phone, len(data), begun=offset == 0)
    return Response(status=204, headers={"Upload-Offset": str(reached)})


def _offset(sha256: str) -> Response:
    here = the_house().photos.offset(sha256)
    if here is None:
        return Response(status=404, headers={"Upload-Offset": "0"})
    return Response(headers={"Upload-Offset": str(here.offset), "Upload-Length": str(here.total)})


def _demand_digest(sha256: str) -> None:
    if digest(sha256):
        refuse("not_found", "A photo's address is its SHA-256 in lower-case hexadecimal.", status=404)


def _figure(name: str, least: int) -> int:
    word = request.headers.get(name, "")
    if not (word.isascii() and word.isdigit() and len(word) <= 9 and int(word) >= least):
        refuse("malformed", f"The header {name} must be a whole number of bytes, {least} or more.", name)
    if int(word) > MOST_BYTES:
        refuse("too_large", f"A photo may have at most {MOST_BYTES} bytes.", name, 413)
    return int(word)
