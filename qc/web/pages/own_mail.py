"""What a person is mailed: nothing unless they ask for it here, each for themselves."""

from flask import Response, redirect, render_template, request
from werkzeug.wrappers import Response as AnyResponse

from qc.domain.facts.people import Person
from qc.domain.plant.mail_plan import ADDRESS_MOST, KINDS, WRITTEN_FOR, MailKind, address_fault
from qc.domain.words.speaking import marked, say, told
from qc.store.people.mail import Wish, keep_wish, sends, wishes
from qc.web.house import the_house
from qc.web.page_session import current_person, require_role

SHOWN = 7  # mails of the last fortnight
NOWHERE = marked(
    "This plant's server sends no mail, so there was nothing to ask for. The administrator names a mail server."
)


@require_role(*WRITTEN_FOR)
def show() -> Response:
    """Return the form, with what was asked for and what became of it."""
    return _page(done=request.args.get("done") == "1")


@require_role(*WRITTEN_FOR)
def ask() -> Response | AnyResponse:
    """Keep what the person asks for, or forget their address where they ask for nothing."""
    house, person = the_house(), _person()
    if house.plant.mail is None:
        return _page(say(NOWHERE), 409)
    address = request.form.get("to", "").strip()
    kinds = tuple(kind for kind in KINDS if request.form.get(kind) == "yes")
    if kinds and (why := address_fault(address, house.plant.mail.domains)):
        return _page(
            say("The address {why}. Nothing was changed.", why=told(why)), 400, entered=(address[:ADDRESS_MOST], kinds)
        )
    house.journal.write(lambda conn: keep_wish(conn, person.code, address, kinds, house.clock()))
    return redirect("/own-mail?done=1", 303)


def wish_of(code: str) -> Wish | None:
    """Return what a person asked for, None for nothing."""
    return next((one for one in wishes(the_house().reads.connection()) if one.person.code == code), None)


def _page(
    wrong: str = "", status: int = 200, done: bool = False, entered: tuple[str, tuple[MailKind, ...]] = ("", ())
) -> Response:
    house, person = the_house(), _person()
    wish = wish_of(person.code)
    kept = [one for one in sends(house.reads.connection(), 0) if one.person == person.code][:SHOWN]
    page = render_template(
        "people/own_mail.html",
        plan=house.plant.mail,
        wish=wish,
        address=entered[0] or (wish.address if wish else ""),
        asked=entered[1] if wrong else wish.kinds if wish else (),
        kept=kept,
        wrong=wrong,
        done=done,
        most=ADDRESS_MOST,
    )
    return Response(page, status, mimetype="text/html")


def _person() -> Person:
    person = current_person()
    assert person is not None, "require_role lets nobody else through"
    return person
