"""People, phones and machines: the administrator adds, changes, ends and enrols; the quality manager reads of it."""

from collections.abc import Callable, Collection, Sequence
from typing import cast

import segno
from flask import Response, redirect, render_template, request
from werkzeug.wrappers import Response as AnyResponse

from qc.domain.facts.operations import new_code
from qc.domain.facts.people import PLANNING_ROLES, ROLES, SERVER, Person, Role, Roles, in_order
from qc.domain.line.machines import SCOPES
from qc.domain.plant.naming import SaidNames
from qc.domain.words.code_words import code_words
from qc.domain.words.speaking import marked, say, told
from qc.store.people.devices import NoSuchDevice
from qc.store.people.enrolment import parted
from qc.store.people.house_words import HouseWord, house_words
from qc.store.people.machines import Token
from qc.store.people.mail import not_sent, wishes
from qc.store.people.persons import ChangedMeanwhile, NoSuchPerson, PersonExists, WeakSecret
from qc.store.people.pins import SignInBusy, new_secret
from qc.store.record.own_word import By, NotTold
from qc.web.house import the_house
from qc.web.page_session import current_sign_in, require_role
from qc.web.pages.acting import sentence
from qc.web.pages.page_counts import today

SHOWN = 100
MOST_CODE = 32
_REFUSED = (NotTold, NoSuchDevice, NoSuchPerson, PersonExists, ChangedMeanwhile, WeakSecret)
SCOPE_WORDS = {"plan": marked("Hands in build plans"), "read": marked("Reads the record's tables")}
assert tuple(SCOPE_WORDS) == SCOPES
_DONE = {
    "person_added": marked("{of} added as {what}"),
    "person_assigned": marked("{of} made {what}"),
    "person_ended": marked("{of} ended"),
    "person_returned": marked("{of} taken back"),
    "secret_changed": marked("{of} given a new PIN or passphrase"),
    "device_enrolled": marked("{of} enrolled"),
    "device_secret_given": marked("{of} given a secret of its own"),
    "device_revoked": marked("{of} taken out of use"),
    "device_restored": marked("{of} taken back into use"),
    "token_ended": marked("{of} ended: its token opens nothing any more"),
    "person_stood": marked("{of} stood here when operations began to tell of people as {what}"),
    "device_stood": marked("{of} stood here when operations began to tell of phones"),
}
_OF_PERSONS = ("person_added", "person_assigned", "person_stood")


@require_role("administrator", "quality_manager")
def show() -> Response:
    """Return who and what there is, and what was done to it."""
    return _page()


@require_role("administrator")
def add() -> Response:
    """Add a person and show the PIN or passphrase once, as a slip."""
    code, roles = request.form.get("person", "").strip().upper(), _roles()
    name = request.form.get("name", "").strip()
    person = Person(code, name, cast(Role, roles.role), _stations(roles), cast(tuple[Role, ...], roles.also))
    if new_code(MOST_CODE)(code):
        words = say(
            "A code begins with a letter or a figure and has 1 to {most} signs: A to Z, figures, '.', '-' and '_'.",
            most=MOST_CODE,
        )
        return _page(_not_done(words), 400)
    if refused := _leads_none(roles):
        return refused
    secret = new_secret(person, code)
    return _slip(code, secret, lambda: the_house().people.add(person, secret, _by()), added=True)


@require_role("administrator")
def assign() -> Response | AnyResponse:
    """Give a person other roles or other stations; a slip with a passphrase where a role needs one."""
    house, code, roles = the_house(), _person(), _roles()
    role, also = cast(Role, roles.role), cast(tuple[Role, ...], roles.also)
    looked_at = request.form.get("looked_at", "")
    seen = int(looked_at) if looked_at.isascii() and looked_at.isdigit() and len(looked_at) < 18 else None
    person = house.people.get(code)
    if refused := _leads_none(roles, person.stations if person else ()):
        return refused

    def give(secret: str | None = None) -> None:
        house.people.assign(code, role, _stations(roles), _by(), secret, also, seen)

    if not house.people.needs_passphrase(code, roles):
        return _acted(give)
    secret = new_secret(roles, code)
    return _slip(code, secret, lambda: give(secret))


@require_role("administrator")
def give_secret() -> Response:
    """Give a person a new PIN or passphrase and show it once, as a slip."""
    house, code = the_house(), _person()
    person = house.people.get(code)
    secret = new_secret(person or Roles(), code)
    return _slip(code, secret, lambda: house.people.change_secret(code, secret, _by()))


@require_role("administrator")
def end() -> Response | AnyResponse:
    """Let a person act no longer, with a reason."""
    return _acted(lambda: the_house().people.end(_person(), _by(), _reason()))


@require_role("administrator")
def take_back() -> Response | AnyResponse:
    """Let a person who has left act again."""
    return _acted(lambda: the_house().people.take_back(_person(), _by(), _reason()))


@require_role("administrator")
def enrol() -> Response:
    """Show an offer to one phone: a QR code and its letters, for ten minutes."""
    house, device = the_house(), request.form.get("device", "")
    known = {one.code: one for one in house.devices.all()}
    if device and (device not in known or known[device].revoked):
        return _page(_not_done(say("{phone} is no phone that is in use.", phone=device[:32])), 409)
    offer = house.enrolment.offer(_by(), device)
    link = f"{request.host_url}app/#/enrol/{offer.letters}"
    square = segno.make(link, error="m").svg_data_uri(scale=8, border=4, dark="#000", light="#fff")
    page = render_template("people/enrol.html", offer=offer, letters=parted(offer.letters), link=link, square=square)
    return _once(page)


@require_role("administrator")
def revoke() -> Response | AnyResponse:
    """Take a phone out of use, with a reason."""
    return _acted(lambda: the_house().devices.revoke(_device(), True, _by(), _reason()))


@require_role("administrator")
def restore() -> Response | AnyResponse:
    """Take a phone back into use."""
    return _acted(lambda: the_house().devices.revoke(_device(), False, _by(), _reason()))


@require_role("administrator")
def make_token() -> Response:
    """Make a machine's token and show it once."""
    house, name, may = the_house(), request.form.get("machine", "").strip(), request.form.getlist("may")
    if new_code(MOST_CODE)(name):
        words = say(
            "A machine's name begins with a letter or a figure and has 1 to {most} signs: A to Z, a to z, figures, "
            "'.', '-' and '_'.",
            most=MOST_CODE,
        )
        return _page(_not_done(words), 400)
    person = request.form.get("in_name_of", "")[:32] if "plan" in may else ""
    made: list[str] = []
    if refused := _refused(lambda: made.append(house.machines.make(name, tuple(may), person, _by()))):
        return refused
    told = {
        "name": name,
        "may": may,
        "in_name_of": person,
        "token": made[0],
        "address": request.host_url,
        "scopes": SCOPE_WORDS,
    }
    return _once(render_template("people/token.html", **told, now=house.clock()))


@require_role("administrator")
def end_token() -> Response | AnyResponse:
    """Let a machine's token open nothing any more, with a reason."""
    return _acted(lambda: the_house().machines.end(request.form.get("machine", "")[:32], _by(), _reason()))


def _by() -> By:
    signed_in = current_sign_in()
    assert signed_in is not None, "require_role lets nobody else through"
    return By(signed_in.person.code, signed_in.session)


def _person() -> str:
    return request.form.get("person", "")[:32]


def _device() -> str:
    return request.form.get("device", "")[:32]


def _reason() -> str:
    return request.form.get("reason", "")[:500]


def _roles() -> Roles:
    """Return the roles that the form names, each once: the record's rule says whether they are such."""
    role = request.form.get("role", "")[:40]
    also = [one[:40] for one in request.form.getlist("also") if one != role]
    return Roles(role, in_order(cast(list[Role], also)))


def _stations(roles: Roles) -> tuple[str, ...]:
    return tuple(request.form.getlist("stations")) if roles.has("station_lead") else ()


def _leads_none(roles: Roles, led: Collection[str] = ()) -> Response | None:
    """Return the page that says that stations were chosen for who is no lead, None where none was.

    led: those that the person answers for now, which go with the role.
    """
    names = SaidNames(the_house().shown)
    chosen = [names.place(one[:40]) for one in request.form.getlist("stations") if one not in led]
    if roles.has("station_lead") or not chosen:
        return None
    words = say(
        "{stations}: stations were chosen without the role station lead, which alone answers for some. "
        "Choose that role, or no station.",
        stations=", ".join(chosen),
    )
    return _page(_not_done(words), 400)


def _refused(work: Callable[[], None]) -> Response | None:
    """Do something; return the page with the words why not, None where it was done."""
    try:
        work()
    except _REFUSED as no:
        status = 400 if isinstance(no, NotTold) and no.code == "malformed" else 409
        words = sentence(str(no))
        return _page(
            _not_done(f"{words[:1].upper()}{words[1:]}"), status, is_overtaken=isinstance(no, ChangedMeanwhile)
        )
    except SignInBusy as busy:
        return _page(_not_done(f"{told(str(busy))}."), 503)
    return None


def _not_done(why: str) -> str:
    """Return a page's words for something refused; why: a whole sentence with its stop."""
    return say("Not done: {why} Nothing was changed.", why=why)


def _acted(work: Callable[[], None]) -> Response | AnyResponse:
    return _refused(work) or redirect("/people", 303)


def _slip(code: str, secret: str, work: Callable[[], None], *, added: bool = False) -> Response:
    if refused := _refused(work):
        return refused
    house = the_house()
    told = {"of": house.people.get(code), "secret": secret, "added": added}
    page = render_template("people/slip.html", **told, now=house.clock(), address=request.host_url)
    return _once(page)


def _once(page: str) -> Response:
    response = Response(page, 200, mimetype="text/html")
    response.headers["Cache-Control"] = "no-store"
    return response


def _page(wrong: str = "", status: int = 200, *, is_overtaken: bool = False) -> Response:
    """Return the page; what was refused stands in its form, unless the form must show what another one has changed."""
    house = the_house()
    everybody = house.people.all(ended=True)
    page = render_template(
        "people/people.html",
        roles_led=_roles_led,
        lines=[(one, house.people.secret_set(one.code)) for one in everybody],
        devices=house.devices.all(),
        words=[(word, _told(word)) for word in house_words(house.reads.connection(), SHOWN)],
        machines=[(one, _last_used(one)) for one in house.machines.all()],
        wrong_tokens=[(one, house.by_clock(one.last_ms)) for one in house.machines.wrong_tokens()],
        scopes=SCOPE_WORDS,
        planners=sorted(
            (one for one in house.people.all() if one.has(*PLANNING_ROLES)), key=lambda one: not one.has("planner")
        ),
        roles=ROLES,
        stations=house.shown.stations.values(),
        today=today(house),
        server=SERVER,
        mail_plan=house.plant.mail,
        mail_wishes=wishes(house.reads.connection()),
        mail_unsent=not_sent(house.reads.connection(), house.clock()),
        wrong=wrong,
        sent={**_sent(), **({"to": ""} if is_overtaken else {})} if wrong else {},
    )
    return Response(page, status, mimetype="text/html")


def _sent() -> dict[str, str | list[str]]:
    """Return what was typed and chosen in the form that was not taken, and where it was sent ("to")."""
    one = {name: request.form.get(name, "") for name in ("person", "device", "machine", "name", "role", "reason")}
    several = {name: request.form.getlist(name) for name in ("also", "stations", "may")}
    return {"to": request.path, "in_name_of": request.form.get("in_name_of", ""), **one, **several}


def _last_used(one: Token) -> int:
    """Return when a token was last used by the server's clock, 0 for never."""
    return the_house().by_clock(one.last_used_ms) if one.last_used_ms else 0


def _told(word: HouseWord) -> str:
    """Return what was done to whom in words: codes, roles and the reason as told."""
    done = _token(word) if word.kind == "token_made" else say(_DONE[word.kind], of=word.of, what=_standing(word))
    return say("{done}: “{reason}”", done=done, reason=word.body["reason"]) if word.body.get("reason") else done


def _standing(word: HouseWord) -> str:
    """Return a person's role and stations in words; "" where the word names none."""
    if word.kind not in _OF_PERSONS:
        return ""
    return _roles_led((word.body["role"], *word.body.get("also", ())), word.body["stations"])


def _roles_led(roles: Sequence[str], stations: Sequence[str]) -> str:
    """Return roles in words, a lead's with the stations that they answer for."""
    places = ", ".join(map(SaidNames(the_house().shown).place, stations))
    led = {"station_lead": say("{role} of {stations}", role=code_words("station_lead"), stations=places)}
    return ", ".join((led if stations else {}).get(one, code_words(one)) for one in roles)


def _token(word: HouseWord) -> str:
    """Return what a new token may: of the two scopes one or both."""
    of, person, may = word.of, word.body.get("in_name_of") or "", set(word.body["may"])
    if may == {"read"}:
        return say("{of} given a token: may read", of=of)
    if may == {"plan"}:
        return say("{of} given a token: may plan in the name of {person}", of=of, person=person)
    return say("{of} given a token: may plan and read in the name of {person}", of=of, person=person)
