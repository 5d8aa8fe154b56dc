"""Taking a request's body: its media type and size are settled before a byte of it is read."""

from flask import request

from qc.web.json_door import refuse

JSON = "application/json"


def body_of(media_type: str, most_bytes: int) -> bytes:
    """Return the body, at most ``most_bytes`` of the asked media type.

    Raises Refused 415 for another type or a packed body; RequestEntityTooLarge (413) from the length that the request
    announces, or as soon as more than that has come.
    """
    if request.mimetype != media_type or request.headers.get("Content-Encoding", "identity") != "identity":
        refuse("wrong_media_type", f"The body must be {media_type}, not packed.", "Content-Type", 415)
    request.max_content_length = most_bytes
    return request.get_data(cache=False)
