"""A person's own PIN or passphrase: who gave each, and choosing another oneself."""

from flask import Response, redirect, render_template, request
from werkzeug.wrappers import Response as AnyResponse

from qc.domain.words.speaking import say
from qc.store.people.persons import NotTold, WeakSecret
from qc.store.people.pins import PASSPHRASE_LEAST, PASSPHRASE_MOST, PIN_LEAST, PIN_MOST, SignInBusy
from qc.store.people.sign_ins import WrongSignIn
from qc.store.people.tries import Source, TooManyTries
from qc.web import page_session
from qc.web.house import the_house
from qc.web.page_session import current_sign_in, require_role
from qc.web.pages.acting import sentence


@require_role(passphrase_first=False)
def show() -> Response:
    """Return the form, with what was given to the person of late."""
    return _page(done=request.args.get("done") == "1")


@require_role(passphrase_first=False)
def change() -> Response | AnyResponse:
    """Change the person's own, once they gave the one before and the new one twice."""
    signed_in = current_sign_in()
    assert signed_in is not None, "require_role lets nobody else through"
    house = the_house()
    old, new, again = (request.form.get(name, "") for name in ("secret", "new", "again"))
    if not 0 < len(old) <= PASSPHRASE_MOST:
        return _page(say("Type the PIN or passphrase that you have now."), 400)
    if new != again:
        return _page(say("The new one was typed in two ways; nothing was changed. Type it twice the same."), 400)
    browser = house.people.pins.browser_of(page_session.browser_mark())
    source = Source(address=request.remote_addr or "", browser=browser)
    try:
        house.sign_ins.change_own_secret(signed_in, old, new, source)
    except WeakSecret as weak:
        return _page(sentence(str(weak)), 400)
    except WrongSignIn as wrong:
        return _page(sentence(str(wrong)), 403)
    except NotTold as no:
        return _page(sentence(str(no)), 409)
    except (TooManyTries, SignInBusy) as later:
        return _page(
            say("{why} Nothing was changed.", why=sentence(str(later))), 429 if isinstance(later, TooManyTries) else 503
        )
    return redirect("/own-secret?done=1", 303)


def _page(wrong: str = "", status: int = 200, done: bool = False) -> Response:
    person = page_session.current_person()
    assert person is not None, "require_role lets nobody else through"
    asks = (
        say("Your role signs in with a passphrase: {least} characters or more, several words.", least=PASSPHRASE_LEAST)
        if person.asks_passphrase
        else say(
            "A PIN has {least} to {most} figures, no run and no repeat; a passphrase has {long} characters or more.",
            least=PIN_LEAST,
            most=PIN_MOST,
            long=PASSPHRASE_LEAST,
        )
    )
    given = the_house().people.secret_set(person.code)
    told = {"wrong": wrong, "done": done, "asks": asks, "given": given, "most": PASSPHRASE_MOST}
    page = render_template("people/own_secret.html", **told, needed=page_session.passphrase_needed())
    return Response(page, status, mimetype="text/html")
