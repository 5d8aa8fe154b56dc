"""Signing in and out on a page."""

from flask import Blueprint, Response, redirect, render_template, request
from werkzeug.wrappers import Response as AnyResponse

from qc.domain.words.speaking import say, say_many, told
from qc.store.people.persons import DESK
from qc.store.people.pins import PASSPHRASE_MOST, SignInBusy
from qc.store.people.sign_ins import WrongSignIn
from qc.store.people.tries import Source, TooManyTries
from qc.web import page_session
from qc.web.house import the_house


def blueprint() -> Blueprint:
    """Return the blueprint of /sign-in and /sign-out."""
    pages = Blueprint("sign_in_page", __name__)
    pages.add_url_rule("/sign-in", "show", show, methods=["GET"])
    pages.add_url_rule("/sign-in", "sign_in", sign_in, methods=["POST"])
    pages.add_url_rule("/sign-out", "sign_out", sign_out, methods=["POST"])
    return pages


def show() -> Response | AnyResponse:
    """Show the form; who is signed in already goes on to where they were headed."""
    onward = page_session.own_address(request.args.get("next", "/"))
    if page_session.current_person():
        return redirect(onward, 303)
    return _form(onward)


def sign_in() -> Response | AnyResponse:
    """Sign in and go on to where the person was headed, or show the form again with what was wrong."""
    onward = page_session.own_address(request.form.get("next", "/"))
    code, secret = request.form.get("person", "").strip(), request.form.get("secret", "")
    house = the_house()
    code = code if house.people.get(code) else code.upper()  # codes are given in capitals
    browser = house.people.pins.browser_of(page_session.browser_mark())
    source = Source(address=request.remote_addr or "", browser=browser)
    try:
        if not 0 < len(secret) <= PASSPHRASE_MOST:
            raise WrongSignIn(say("type the PIN or passphrase"))
        opened, token = house.sign_ins.open(code[:32], secret, DESK, "page", source=source)
    except WrongSignIn as wrong:
        return _form(onward, code, _sentence(wrong), 401)
    except TooManyTries as many:
        minutes = -(-many.seconds // 60)
        words = say_many(
            "Too many wrong tries. Wait {number} minute, then try again.",
            "Too many wrong tries. Wait {number} minutes, then try again.",
            minutes,
        )
        return _form(onward, code, words, 429)
    except SignInBusy as busy:
        return _form(onward, code, _sentence(busy), 503)
    page_session.begin(token, "" if browser else house.people.pins.new_mark(opened.person.code))
    return redirect(onward, 303)


def sign_out() -> Response | AnyResponse:
    """End this sign-in and show the form."""
    the_house().sign_ins.end(page_session.session_token())
    page_session.forget()
    return redirect("/sign-in", 303)


def _sentence(why: Exception) -> str:
    words = str(why)
    return told(f"{words[:1].upper()}{words[1:]}.")


def _form(onward: str, code: str = "", wrong: str = "", status: int = 200) -> Response:
    page = render_template("sign_in.html", onward=onward, code=code, wrong=wrong)
    return Response(page, status, mimetype="text/html")
