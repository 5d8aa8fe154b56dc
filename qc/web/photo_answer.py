"""A photo as an answer: our own media type, no script ever, kept by the browser since its address is its content."""

from flask import Blueprint, Response, abort, request

from qc.domain.facts.operations import digest
from qc.store.folder.photos import EDGES
from qc.web.headers import PHOTO_POLICY
from qc.web.house import House, the_house
from qc.web.json_door import refuse
from qc.web.page_session import require_role


def blueprint() -> Blueprint:
    """Return the blueprint of /photos/<sha256>, for everybody signed in on a page."""
    photos = Blueprint("photos", __name__)
    photos.add_url_rule("/photos/<sha256>", "photo", require_role()(_page_photo), methods=["GET"])
    return photos


def _page_photo(sha256: str) -> Response:
    if digest(sha256):
        abort(404)
    return photo_answer(the_house(), sha256, request.args.get("edge"))


def photo_answer(house: House, sha256: str, edge: str | None) -> Response:
    """Return a stored photo, or with ``edge`` a small picture of it whose long edge has so many pixels.

    Raises Refused: 404 ``not_found`` where it has not arrived in full, 400 for an edge that is not offered.
    """
    if edge is not None and edge not in {str(offered) for offered in EDGES}:
        refuse("malformed", f"edge must be one of {', '.join(map(str, EDGES))}.", "edge")
    photo = house.photos.photo(sha256)
    if photo is None:
        refuse(
            "not_found", "This photo has not arrived in full yet; the phone sends it with the next signal.", status=404
        )
    path, media_type = (photo.path, photo.media_type) if edge is None else house.photos.thumbnail(sha256, int(edge))
    response = Response(path.read_bytes(), mimetype=media_type)
    response.headers["Content-Security-Policy"] = PHOTO_POLICY
    response.headers["Content-Disposition"] = "inline"
    response.headers["Cache-Control"] = "private, max-age=31536000, immutable"
    return response
