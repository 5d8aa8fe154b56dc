"""Every refusal and fault in one shape: JSON for programs, a page for people, and the work is kept either way."""

import errno
import json
import logging
import secrets
import sqlite3

from flask import Flask, Response, render_template, request
from werkzeug.exceptions import HTTPException, RequestEntityTooLarge, SecurityError

from qc.domain.words.problems import Problem, Refused
from qc.domain.words.speaking import marked, say
from qc.store.folder.photos import PhotoBroken, WrongOffset
from qc.store.intake.writer import StorageFailed, StorageFull, WriterClosed
from qc.store.people.devices import DeviceRevoked, NotADevice
from qc.store.people.enrolment import DeviceTaken, NotEnrolled, OfferOver
from qc.store.people.machines import NotItsScope, WrongToken
from qc.store.people.persons import WeakSecret
from qc.store.people.pins import SignInBusy
from qc.store.people.sign_ins import PassphraseNeeded, WrongSignIn
from qc.store.people.tries import TooManyTries
from qc.store.record.certificates import NotAKey
from qc.store.record.own_word import NotTold

log = logging.getLogger("qc.web")

_DISK_FULL = (errno.ENOSPC, errno.EDQUOT)
_DISK_FAILED = (errno.EIO, errno.EFBIG, errno.EROFS, errno.ENXIO, errno.ENODEV, errno.ESTALE)
_RECORD_AWAY = (sqlite3.SQLITE_IOERR, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_BUSY, sqlite3.SQLITE_FULL)
KEPT = "What you recorded is kept on the phone."

_CODES = {
    400: ("bad_request", marked("The request could not be read.")),
    401: ("sign_in_needed", marked("Sign in first, then send it again.")),
    403: ("not_allowed", marked("Your role may not do this.")),
    404: ("not_found", marked("There is nothing at this address.")),
    405: ("method_not_allowed", marked("This address does not take that method.")),
    406: ("not_acceptable", marked("This address cannot answer in that form.")),
    408: ("too_slow", marked("The request took too long to arrive; send it again.")),
    413: ("too_large", marked("The body is larger than this address takes; send it in smaller parts.")),
    414: ("too_large", marked("The address is too long.")),
    415: ("wrong_media_type", marked("The body is not of the media type that this address takes.")),
    416: ("range_not_met", marked("That part of the file does not exist.")),
    431: ("too_large", marked("The request's headers are too long.")),
}

# It is not told which: a page of another site that points its own name here could read the answer.
_ANOTHER_NAME = marked(
    "This server answers under its own name alone, and the address asked for has another name or only figures. Ask "
    "the administrator for the server's address."
)

# What the rooms below raise, and the status and code it stands for.
_KNOWN: tuple[tuple[type[Exception], int, str], ...] = (
    (WrongSignIn, 401, "wrong_sign_in"),
    (WrongToken, 401, "wrong_token"),
    (NotItsScope, 403, "not_its_scope"),
    (PassphraseNeeded, 403, "passphrase_needed"),
    (WeakSecret, 400, "weak_secret"),
    (NotTold, 409, "not_told"),
    (TooManyTries, 429, "too_many_tries"),
    (SignInBusy, 503, "sign_in_busy"),
    (DeviceRevoked, 403, "device_revoked"),
    (NotEnrolled, 403, "not_enrolled"),
    (OfferOver, 410, "offer_over"),
    (DeviceTaken, 409, "device_taken"),
    (NotADevice, 400, "malformed"),
    (NotAKey, 400, "malformed"),
    (PhotoBroken, 422, "photo_broken"),
    (WrongOffset, 409, "wrong_offset"),
    (StorageFull, 507, "disk_full"),
    (StorageFailed, 503, "disk_failed"),
    (WriterClosed, 503, "stopping"),
)


def register(app: Flask) -> None:
    """Let every way in which a request can fail answer in the one shape."""
    app.register_error_handler(Refused, _refused)
    app.register_error_handler(HTTPException, _http)
    app.register_error_handler(Exception, _fault)
    for kind, status, code in _KNOWN:
        app.register_error_handler(kind, lambda error, status=status, code=code: _known(error, status, code))


def answer(problem: Problem, status: int, headers: dict[str, str] | None = None) -> Response:
    """Return the problem as the API's JSON or, elsewhere, as a page."""
    if is_api(request.path):
        body = json.dumps({"error": problem.as_dict()})
        response = Response(body, status, mimetype="application/json")
    else:
        response = Response(_page(problem, status), status, mimetype="text/html")
    response.headers.update(headers or {})
    return response


def is_api(path: str) -> bool:
    """Tell whether an address belongs to programs, which are never answered with a page."""
    return path == "/api" or path.startswith("/api/")


def _page(problem: Problem, status: int) -> str:
    try:
        return render_template("error.html", problem=problem, status=status)
    except Exception:  # the fault may lie in what the page is made of; the person is still told
        log.exception("the error page itself failed")
        return f"<!doctype html><title>Fault</title><p>{status} {problem.code}. Go back and try again.</p>"


def _refused(error: Refused) -> Response:
    return answer(error.problem, error.status)


def _known(error: Exception, status: int, code: str) -> Response:
    if status >= 500:
        log.error("%s: %s", code, type(error).__name__)
    words = str(error)
    problem = Problem(code, words[:1].upper() + words[1:] + ("" if words.endswith(".") else "."))
    if isinstance(error, TooManyTries):
        return answer(problem, status, {"Retry-After": str(error.seconds)})
    if isinstance(error, WrongOffset):
        return answer(problem, status, {"Upload-Offset": str(error.offset)})
    return answer(problem, status, {"Retry-After": "5"} if status == 503 else {})


def _http(error: HTTPException) -> Response:
    status = error.code or 500
    if error.response is not None and status < 400:  # a redirect is no fault
        return Response(error.response.response, status, error.response.headers)  # type: ignore[attr-defined]
    code, words = _CODES.get(
        status, ("refused" if status < 500 else "server_fault", marked("The request was not taken."))
    )
    if isinstance(error, SecurityError):
        words = _ANOTHER_NAME
    headers = {name: value for name, value in error.get_headers() if name in ("Allow", "Retry-After")}
    if isinstance(error, RequestEntityTooLarge):
        headers["Connection"] = "close"  # what is still coming is not read
    return answer(Problem(code, say(words)), status, headers)


def _fault(error: Exception) -> Response:
    if isinstance(error, OSError) and error.errno in _DISK_FULL:
        log.error("disk_full")
        return answer(Problem("disk_full", f"The server's disk is full. {KEPT} Send it again later."), 507)
    if _of_the_disk(error):
        log.error("disk_failed: %s", type(error).__name__)
        words = f"The server could not read or write its disk. Nothing was acknowledged. {KEPT} Send it again."
        return answer(Problem("disk_failed", words), 503, {"Retry-After": "5"})
    number = secrets.token_hex(4)
    log.error("fault %s", number, exc_info=error)
    if isinstance(error, sqlite3.OperationalError) and "interrupted" in str(error):
        words = f"The question took too long and was stopped. {KEPT} Fault number {number}."
        return answer(Problem("too_slow", words), 503, {"Retry-After": "5"})
    words = f"The server met a fault of its own. {KEPT} Tell the administrator the fault number {number}."
    return answer(Problem("server_fault", words), 500)


def _of_the_disk(error: Exception) -> bool:
    """Tell a failed file, of a photo say, and a record that could not be read, from a fault of the program."""
    if isinstance(error, OSError):
        return error.errno in _DISK_FAILED
    return isinstance(error, sqlite3.Error) and getattr(error, "sqlite_errorcode", 0) & 0xFF in _RECORD_AWAY
