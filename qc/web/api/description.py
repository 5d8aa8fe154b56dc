"""GET /openapi.json: the API's own description (OpenAPI 3.1), kept true by a test that compares it with the routes."""

from functools import cache
from typing import Any

import orjson
from flask import Response

from qc.reports.export.pages import READABLE
from qc.store.folder.photos import EDGES
from qc.web.api import schemas, tables
from qc.web.api.answers import packed
from qc.web.api.photos import MEDIA_TYPE
from qc.web.api.plan import MEDIA_TYPES

_SHA = {"name": "sha256", "in": "path", "required": True, "schema": schemas.SHA256}
_OFFSET = {"schema": schemas.whole(), "description": "Bytes of the photo that are here."}


def answer() -> Response:
    """Answer with the description; it tells shapes and words, no data, so no sign-in is needed."""
    return packed(Response(_bytes(), mimetype="application/json"))


@cache
def _bytes() -> bytes:
    return orjson.dumps(description())


def description() -> dict[str, Any]:
    """Return the OpenAPI document as plain objects."""
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "The plant's quality record",
            "version": "1",
            "description": "Phones push operations and pull units; machines hand in build plans and read tables. Every "
            "refusal has one shape; none of them ever asks a phone to delete anything: only a verdict on an operation "
            "settles it.",
        },
        "servers": [{"url": "/api/v1"}],
        "security": [{"phone": []}],
        "paths": _paths(),
        "components": {
            "securitySchemes": {
                "phone": {"type": "http", "scheme": "bearer"},
                "machine": {"type": "http", "scheme": "bearer", "description": "A token that qc token made."},
                "device": {"type": "http", "scheme": "basic", "description": "The phone's code and its secret."},
            },
            "schemas": schemas.SCHEMAS,
            "responses": {"Refused": _json("Refused, and why; what was recorded stays on the phone.", "Refused")},
        },
    }


def _paths() -> dict[str, Any]:
    return {
        "/openapi.json": {
            "get": _operation("This description.", {"200": _json("The description.", "Description")}, [], signed=False)
        },
        "/people": {
            "get": {
                **_operation("Who may sign in on a phone.", {"200": _json("By code.", "People")}, [401, 403]),
                "security": [{"device": []}, {"phone": []}],
            }
        },
        "/enrol": {
            "post": _operation(
                "Take an administrator's offer, once, within ten minutes.",
                {"200": _json("The phone's code, and the secret that proves it.", "Enrolled")},
                [400, 403, 409, 410, 411, 413, 415, 503, 507],
                body=_body("Enrol"),
                signed=False,
            )
        },
        "/sign-in": {
            "post": _operation(
                "Sign in on a phone with name and PIN.",
                {"200": _json("Signed in for one shift at most.", "SignedIn")},
                [400, 401, 403, 411, 413, 415, 429, 503, 507],
                body=_body("SignIn"),
                signed=False,
            )
        },
        "/signature": {
            "post": _operation(
                "Give the PIN once more, for one signature.",
                {"200": _json("A certificate for that operation alone.", "Certified")},
                [400, 401, 403, 411, 413, 415, 429, 503, 507],
                body=_body("Sign"),
            )
        },
        "/secret": {
            "post": _operation(
                "Choose another PIN or passphrase, giving the one before; sign-ins elsewhere end.",
                {"200": _json("Changed.", "Changed")},
                [400, 401, 403, 409, 411, 413, 415, 429, 503, 507],
                body=_body("Change"),
            )
        },
        "/language": {
            "post": _operation(
                "Choose the language in which the app and the pages speak to who is signed in.",
                {"200": _json("Kept.", "Language")},
                [400, 401, 403, 411, 413, 415, 503, 507],
                body=_body("Language"),
            )
        },
        "/ping": {
            "post": _operation(
                "Is the plant's own server there?",
                {"200": _json("The nonce, echoed.", "Pong")},
                [400, 401, 411, 413, 415],
                body=_body("Ping"),
            )
        },
        "/push": {
            "post": _operation(
                "Hand over operations; each gets its own verdict, the same one for ever. A run's signature is its "
                "author's over 'run of operations', device, install_epoch and the operations' SHA-256 in hexadecimal, "
                "joined: each of the four ends with a line break.",
                {"200": _json("One verdict for each operation, in order; all that was stored is on disk.", "Verdicts")},
                [400, 401, 403, 411, 413, 415, 503, 507],
                body=_body("Push"),
            )
        },
        "/pull": {
            "get": _operation(
                "Units that changed after a server number.",
                {"200": _json("In order of their last number.", "Pulled")},
                [400, 401, 403, 503],
                parameters=[
                    _asked("after", schemas.whole(), "The number that the last answer reached; 0 at first."),
                    _asked("limit", {**schemas.whole(1), "maximum": 500}, "Units at most."),
                    _asked("app", schemas.code(64), "Which version of the app the phone has, by its own word."),
                    _asked("waiting", schemas.whole(0, 1_000_000), "How many records wait on it, by its own word."),
                    _asked(
                        "behind",
                        schemas.whole(-schemas.LARGEST),
                        "Milliseconds that its clock stands behind, likewise.",
                    ),
                ],
            )
        },
        "/plant": {
            "get": _operation(
                "What a phone needs of the plant to work without signal.",
                {"200": _json("The plant.", "Plant"), "304": {"description": "The phone has this revision."}},
                [401, 403],
                parameters=[{"name": "If-None-Match", "in": "header", "schema": {"type": "string"}}],
            )
        },
        "/photos/{sha256}": _photo(),
        "/plan": {"post": _plan()},
        "/tables": {"get": _tables()},
        "/tables/{table}": {"get": _table()},
    }


def _tables() -> dict[str, Any]:
    described = _operation(
        "The tables that a token for 'read' opens, and what each column holds.",
        {"200": _json("In order.", "Tables")},
        [401, 403, 429, 503, 507],
    )
    return {**described, "security": [{"machine": []}]}


def _table() -> dict[str, Any]:
    headers = {
        "Link": {
            "schema": schemas.TEXT,
            "description": 'The next page, rel="next" (RFC 8288); absent on the last.',
        },
        tables.NUMBER: {
            "schema": schemas.whole(),
            "description": "How far the record went: of the first page, what to ask with as since the next time.",
        },
    }
    page = {
        "description": "A page of rows, each a line of JSON as the schema that is named after the table, or CSV.",
        "headers": headers,
        "content": {kind: {"schema": {}} for kind in tables.TYPES.values()},
    }
    described = _operation(
        "A page of a table, by the order in which its rows came. People stand by their codes.",
        {"200": page},
        [400, 401, 403, 404, 409, 429, 503, 507],
        parameters=[
            {"name": "table", "in": "path", "required": True, "schema": schemas.word(*READABLE)},
            _asked("form", schemas.word(*tables.TYPES), "JSON lines where it is not told."),
            _asked("limit", schemas.whole(1, tables.MOST_ROWS), f"Rows at most; {tables.ROWS} where it is not told."),
            _asked("after", schemas.TEXT, "Where the page before ended, as its Link header tells."),
            _asked(
                "since",
                schemas.whole(0, tables.LARGEST),
                "Only rows of units on which something came in after this number of the record; weeks are told all.",
            ),
        ],
    )
    return {**described, "security": [{"machine": []}]}


def _plan() -> dict[str, Any]:
    sheet = {"required": True, "content": {kind: {"schema": {}} for kind in MEDIA_TYPES}}
    flag = schemas.word("yes", "no")
    described = _operation(
        "Hand in a build plan with a token for 'plan', in the name of its planner. It is only looked through unless "
        "take=yes; what is planned so already is left as it is, so the same plan again changes nothing.",
        {
            "200": _json("What each row does, or did where taken is true.", "PlanReport"),
            "409": _json("Nothing was taken: some rows are wrong.", "PlanRefused"),
        },
        [400, 401, 403, 411, 413, 415, 429, 503, 507],
        body=sheet,
        parameters=[
            _asked("take", flag, "Take it into the record, whole or not at all."),
            _asked("leave_wrong", flag, "With take=yes: leave wrong rows out instead of taking nothing."),
        ],
    )
    return {**described, "security": [{"machine": []}]}


def _photo() -> dict[str, Any]:
    headers = {"Upload-Offset": _OFFSET, "Upload-Length": {"schema": schemas.whole(1)}}
    picture = {
        "description": "The photo.",
        "content": {kind: {"schema": {}} for kind in ("image/jpeg", "image/png", "image/webp")},
    }
    length = {"name": "Upload-Length", "in": "header", "required": True, "schema": schemas.whole(1)}
    offset = {"name": "Upload-Offset", "in": "header", "required": True, "schema": schemas.whole()}
    piece = {"required": True, "content": {MEDIA_TYPE: {"schema": {}}}}
    return {
        "parameters": [_SHA],
        "head": _operation(
            "How much of a photo is here.",
            {
                "200": {"description": "So much.", "headers": headers},
                "404": {"description": "Nothing of it.", "headers": {"Upload-Offset": _OFFSET}},
                "401": {"description": "Sign in first."},
                "403": {"description": "The phone has been taken out of use."},
            },
            [],
        ),
        "patch": _operation(
            "The next piece of a photo.",
            {
                "204": {"description": "Taken.", "headers": {"Upload-Offset": _OFFSET}},
                "409": {**_json("Another offset is next.", "Refused"), "headers": {"Upload-Offset": _OFFSET}},
            },
            [400, 401, 403, 404, 411, 413, 415, 422, 429, 503, 507],
            parameters=[offset, length],
            body=piece,
        ),
        "get": _operation(
            "A photo that has arrived in full.",
            {"200": picture},
            [400, 401, 403, 404],
            parameters=[_asked("edge", {"enum": list(EDGES)}, "Long edge of a small picture, in pixels.")],
        ),
    }


def _operation(
    summary: str,
    good: dict[str, Any],
    refusals: list[int],
    *,
    body: dict[str, Any] | None = None,
    parameters: list[dict[str, Any]] | None = None,
    signed: bool = True,
) -> dict[str, Any]:
    described: dict[str, Any] = {"summary": summary}
    if parameters:
        described["parameters"] = parameters
    if body:
        described["requestBody"] = body
    if not signed:
        described["security"] = []
    refused = {"$ref": "#/components/responses/Refused"}
    described["responses"] = {**good, **{str(status): refused for status in refusals}, "500": refused}
    return described


def _json(words: str, schema: str) -> dict[str, Any]:
    return {"description": words, "content": {"application/json": {"schema": schemas.ref(schema)}}}


def _body(schema: str) -> dict[str, Any]:
    return {"required": True, "content": {"application/json": {"schema": schemas.ref(schema)}}}


def _asked(name: str, schema: dict[str, Any], words: str) -> dict[str, Any]:
    return {"name": name, "in": "query", "required": False, "schema": schema, "description": words}
