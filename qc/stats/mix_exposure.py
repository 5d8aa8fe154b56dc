"""Taking a request's body: its media type and size are settled before a byte of it is read."""

from flask import request

from qc.web.json_door import refuse

JSON = "application/json"


def body_of(media_type: str, most_bytes: int) -> bytes:
    """Return the body, at most ``most_bytes`` of the asked media type.

    Raises Refused: 415 for another type or a packed body, 411 where no length is announced, 413 for one beyond
    ``most_bytes``.
    """
    if request.mimetype != media_type or request.headers.get("Content-Encoding", "identity") != "identity":
        refuse("wrong_media_type", f"The body must be {media_type}, not packed.", "Content-Type", 415)
    if request.content_length is None:  # sent in chunks: reading to a limit cannot tell a whole body from a cut one
        refuse("length_needed", "The request must announce its body's length.", "Content-Length", 411)
    request.max_content_length = most_bytes
    return request.get_data(cache=False)
