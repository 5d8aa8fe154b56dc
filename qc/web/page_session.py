"""Signed in on a page: the session cookie, the proof that a form came from our own page, and who may see what.

The session lives in the record; the cookie holds its token alone. Unsafe requests need two independent proofs: that
the browser says they came from our own origin, and a token that only our own page could read.
"""

import hashlib
import hmac
import secrets
from collections.abc import Callable
from functools import wraps
from typing import Any, TypeVar, cast
from urllib.parse import quote

from flask import Flask, Response, g, redirect, request

from qc.domain.facts.people import Person, Role
from qc.domain.words.code_words import code_words
from qc.domain.words.problems import Problem, Refused
from qc.domain.words.speaking import say
from qc.store.people.sign_ins import SignIn
from qc.web.errors import is_api
from qc.web.house import the_house
from qc.web.json_door import refuse

COOKIE = "__Host-qc"
LOOPBACK_COOKIE = "qc-loopback"  # on plain HTTP, which serves this machine alone, no cookie may call itself secure
MARK_COOKIE = "__Host-qc-browser"  # somebody has signed in here before: tries are not counted as a stranger's
LOOPBACK_MARK = "qc-loopback-browser"
MARK_SECONDS = 400 * 24 * 3600  # as long as browsers keep any
_SAFE = frozenset({"GET", "HEAD", "OPTIONS"})

View = TypeVar("View", bound=Callable[..., Any])


def register(app: Flask) -> None:
    """Let pages know their person, and let no unsafe page request through without both proofs."""
    app.before_request(_demand_own_form)
    app.after_request(_set_cookie)
    app.jinja_env.globals["csrf_token"] = csrf_token
    app.context_processor(lambda: {"person": current_person()})


def current_sign_in() -> SignIn | None:
    """Return the page sign-in of the request, looked up once; None for a stranger."""
    if "sign_in" not in g:
        token = _cookie()
        g.sign_in = the_house().sign_ins.by_token(token, "page") if token else None
    return cast(SignIn | None, g.sign_in)


def current_person() -> Person | None:
    """Return who is signed in on this page; None for a stranger."""
    found = current_sign_in()
    return found.person if found else None


def acting_person() -> Person:
    """Return who is signed in on this page; for a view that `require_role` guards, which lets nobody else through."""
    person = current_person()
    assert person is not None, "require_role lets nobody else through"
    return person


def acting_session() -> str:
    """Return the id of the sign-in on this page; for a view that `require_role` guards."""
    signed_in = current_sign_in()
    assert signed_in is not None, "require_role lets nobody else through"
    return signed_in.session


def passphrase_needed() -> bool:
    """Return whether who is signed in on this page has a PIN, and a role that signs in with a passphrase."""
    person = current_person()
    return person is not None and the_house().people.needs_passphrase(person.code, person)


def require_role(*roles: Role, passphrase_first: bool = True) -> Callable[[View], View]:
    """Let a view be seen by the given roles (none given: by everybody signed in).

    A stranger is sent to the sign-in and back; others get 403 ``not_allowed``. Who still has to choose a passphrase is
    sent to do that, except from the page for it.
    """

    def guard(view: View) -> View:
        @wraps(view)
        def guarded(*args: Any, **named: Any) -> Any:
            person = current_person()
            if person is None:
                return _to_sign_in()
            if roles and not person.has(*roles):
                may = ", ".join(code_words(role) for role in roles)
                words = say(
                    "This page is for: {roles}. You are {role}.",
                    roles=may,
                    role=", ".join(map(code_words, person.roles)),
                )
                raise Refused(Problem("not_allowed", words), 403)
            if passphrase_first and passphrase_needed():
                if request.method in _SAFE:
                    return redirect("/own-secret", 303)
                words = say(
                    "Your role signs in with a passphrase: choose one first, under your code in the page's head."
                )
                raise Refused(Problem("passphrase_needed", words), 403)
            return view(*args, **named)

        return cast(View, guarded)

    return guard


def begin(token: str, mark: str = "") -> None:
    """Give the browser the token of a new sign-in with this request's answer, and a mark where it has none yet."""
    g.new_cookie = token
    g.new_mark = mark


def browser_mark() -> str:
    """Return the mark that the browser sends, "" for none."""
    return request.cookies.get(_mark_name(), "")


def forget() -> None:
    """Take the browser's token away with this request's answer."""
    g.new_cookie = ""


def session_token() -> str:
    """Return the token that the browser holds, "" for none."""
    return _cookie()


def csrf_token() -> str:
    """Return the token that a form of this page must send back; a browser without a session is given a mark for it."""
    holder = g.get("new_cookie") or _cookie()
    if not holder:
        holder = g.new_cookie = secrets.token_urlsafe(32)
    return _form_token(holder)


def own_address(asked: str) -> str:
    """Return an address to go on to if it is one of ours, else the front page: never another site's."""
    plain = asked.startswith("/") and not asked.startswith(("//", "/\\")) and asked.isprintable() and "\\" not in asked
    return asked if plain else "/"


def _form_token(holder: str) -> str:
    return hashlib.sha256(b"form of " + holder.encode("utf-8", "surrogatepass")).hexdigest()


def _cookie() -> str:
    return request.cookies.get(_cookie_name(), "")


def _cookie_name() -> str:
    return COOKIE if request.is_secure else LOOPBACK_COOKIE


def _mark_name() -> str:
    return MARK_COOKIE if request.is_secure else LOOPBACK_MARK


def _set_cookie(response: Response) -> Response:
    value = g.get("new_cookie")
    if value is not None:
        _give(response, _cookie_name(), value, None if value else 0)
    if mark := g.get("new_mark"):
        _give(response, _mark_name(), mark, MARK_SECONDS)
    return response


def _give(response: Response, name: str, value: str, age: int | None) -> None:
    response.set_cookie(name, value, max_age=age, path="/", secure=request.is_secure, httponly=True, samesite="Lax")


def _to_sign_in() -> Any:
    if request.method not in _SAFE:
        raise Refused(
            Problem("sign_in_needed", say("The sign-in has ended. Sign in again, then do it once more.")), 401
        )
    asked = request.full_path.rstrip("?")
    return redirect("/sign-in" if asked == "/" else f"/sign-in?next={quote(asked, safe='/')}", 303)


def _demand_own_form() -> None:
    if request.method in _SAFE or is_api(request.path):
        return
    if not _from_own_page():
        refuse(
            "foreign_form",
            say("The form was not sent from this server's own page. Open the page and send it again."),
            status=403,
        )
    sent = request.form.get("csrf_token", "") or request.headers.get("X-CSRF-Token", "")
    holder = _cookie()
    if not holder or not hmac.compare_digest(sent.encode(), _form_token(holder).encode()):
        words = say("The page was open too long. Load it again, then send the form once more.")
        refuse("stale_form", words, status=403)


def _from_own_page() -> bool:
    site = request.headers.get("Sec-Fetch-Site")
    if site is not None:
        return site == "same-origin"
    return request.headers.get("Origin") == f"{request.scheme}://{request.host}"
