"""People, phones and machines: the administrator adds, changes, ends and enrols; the quality manager reads of it."""

from collections.abc import Callable
from typing import cast

import segno
from flask import Response, redirect, render_template, request
from werkzeug.wrappers import Response as AnyResponse

from qc.domain.machines import SCOPES
from qc.domain.naming import Names
from qc.domain.operations import code as code_shape
from qc.domain.people import PLANNING_ROLES, ROLES, SERVER, Person, Role
from qc.store.people.devices import NoSuchDevice
from qc.store.people.enrolment import parted
from qc.store.people.house_words import HouseWord, house_words
from qc.store.people.machines import Token
from qc.store.people.mail import not_sent, wishes
from qc.store.people.persons import NoSuchPerson, PersonExists, WeakSecret
from qc.store.people.pins import SignInBusy, new_secret
from qc.store.record.own_word import By, NotTold
from qc.web.house import the_house
from qc.web.page_session import current_sign_in, require_role
from qc.web.pages.acting import sentence
from qc.web.pages.page_counts import today

SHOWN = 100
_REFUSED = (NotTold, NoSuchDevice, NoSuchPerson, PersonExists, WeakSecret)
SCOPE_WORDS = {"plan": "Hands in build plans", "read": "Reads the record's tables"}
assert tuple(SCOPE_WORDS) == SCOPES
_DONE = {
    "person_added": "added as",
    "person_assigned": "made",
    "person_ended": "ended",
    "person_returned": "taken back",
    "secret_changed": "given a new PIN or passphrase",
    "device_enrolled": "enrolled",
    "device_secret_given": "given a secret of its own",
    "device_revoked": "taken out of use",
    "device_restored": "taken back into use",
    "token_made": "given a token",
    "token_ended": "ended: its token opens nothing any more",
    "person_stood": "stood here when operations began to tell of people",
    "device_stood": "stood here when operations began to tell of phones",
}


@require_role("administrator", "quality_manager")
def show() -> Response:
    """Return who and what there is, and what was done to it."""
    return _page()


@require_role("administrator")
def add() -> Response:
    """Add a person and show the PIN or passphrase once, as a slip."""
    code, role = request.form.get("person", "").strip().upper(), _role()
    person = Person(code, request.form.get("name", "").strip(), role, _stations(role))
    if why := code_shape(32)(code):
        return _page(f"Not done: The code {why}. Nothing was changed.", 400)
    secret = new_secret(role, code)
    return _slip(code, secret, "added", lambda: the_house().people.add(person, secret, _by()))


@require_role("administrator")
def assign() -> Response | AnyResponse:
    """Give a person another role or other stations; a slip with a passphrase where the role needs one."""
    house, code, role = the_house(), _person(), _role()
    stations = _stations(role)
    if not house.people.needs_passphrase(code, role):
        return _acted(lambda: house.people.assign(code, role, stations, _by()))
    secret = new_secret(role, code)
    return _slip(code, secret, "changed", lambda: house.people.assign(code, role, stations, _by(), secret))


@require_role("administrator")
def give_secret() -> Response:
    """Give a person a new PIN or passphrase and show it once, as a slip."""
    house, code = the_house(), _person()
    person = house.people.get(code)
    secret = new_secret(person.role if person else "", code)
    return _slip(code, secret, "changed", lambda: house.people.change_secret(code, secret, _by()))


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
        words = f"Not done: {device[:32]} is no phone that is in use. Nothing was changed."
        return _page(words, 409)
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
    if why := code_shape(32)(name):
        return _page(f"Not done: The name {why}. Nothing was changed.", 400)
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


def _role() -> Role:
    return cast(Role, request.form.get("role", "")[:40])  # the record's rule says whether it is one


def _stations(role: Role) -> tuple[str, ...]:
    return tuple(request.form.getlist("stations")) if role == "station_lead" else ()


def _refused(work: Callable[[], None]) -> Response | None:
    """Do something; return the page with the words why not, None where it was done."""
    try:
        work()
    except _REFUSED as no:
        status = 400 if isinstance(no, NotTold) and no.code == "malformed" else 409
        words = sentence(str(no))
        return _page(f"Not done: {words[:1].upper()}{words[1:]} Nothing was changed.", status)
    except SignInBusy as busy:
        return _page(f"Not done: {busy}. Nothing was changed.", 503)
    return None


def _acted(work: Callable[[], None]) -> Response | AnyResponse:
    return _refused(work) or redirect("/people", 303)


def _slip(code: str, secret: str, what: str, work: Callable[[], None]) -> Response:
    if refused := _refused(work):
        return refused
    house = the_house()
    told = {"of": house.people.get(code), "secret": secret, "what": what}
    page = render_template("people/slip.html", **told, now=house.clock(), address=request.host_url)
    return _once(page)


def _once(page: str) -> Response:
    response = Response(page, 200, mimetype="text/html")
    response.headers["Cache-Control"] = "no-store"
    return response


def _page(wrong: str = "", status: int = 200) -> Response:
    house = the_house()
    everybody = house.people.all(ended=True)
    page = render_template(
        "people/people.html",
        lines=[(one, house.people.secret_set(one.code)) for one in everybody],
        devices=house.devices.all(),
        words=[(word, _told(word)) for word in house_words(house.reads.connection(), SHOWN)],
        machines=[(one, _last_used(one)) for one in house.machines.all()],
        wrong_tokens=[(one, house.by_clock(one.last_ms)) for one in house.machines.wrong_tokens()],
        scopes=SCOPE_WORDS,
        planners=sorted(
            (one for one in house.people.all() if one.role in PLANNING_ROLES), key=lambda one: one.role != "planner"
        ),
        roles=ROLES,
        stations=house.shown.stations.values(),
        today=today(house),
        server=SERVER,
        mail_plan=house.plant.mail,
        mail_wishes=wishes(house.reads.connection()),
        mail_unsent=not_sent(house.reads.connection(), house.clock()),
        wrong=wrong,
    )
    return Response(page, status, mimetype="text/html")


def _last_used(one: Token) -> int:
    """Return when a token was last used by the server's clock, 0 for never."""
    return the_house().by_clock(one.last_used_ms) if one.last_used_ms else 0


def _told(word: HouseWord) -> str:
    """Return what was done to whom in words: codes, roles and the reason as told."""
    said = [f"{word.of} {_DONE[word.kind]}"]
    if word.kind in ("person_added", "person_assigned", "person_stood"):
        said.append(f" {'' if word.kind != 'person_stood' else 'as '}{word.body['role'].replace('_', ' ')}")
        if word.body["stations"]:
            said.append(f" of {', '.join(map(Names(the_house().shown).place, word.body['stations']))}")
    if word.kind == "token_made":
        whose = f" in the name of {word.body['in_name_of']}" if word.body.get("in_name_of") else ""
        said.append(f": may {' and '.join(word.body['may'])}{whose}")
    if word.body.get("reason"):
        said.append(f": “{word.body['reason']}”")
    return "".join(said)
