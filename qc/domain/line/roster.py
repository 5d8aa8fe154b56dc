"""A plant's people and phones as operations tell them: who is added, changed or ended, what is enrolled or revoked.

No secret stands in an operation: a person's is told as the SHA-256 of the salted form in which it is kept elsewhere,
which proves that form and cannot be guessed from, and a phone's as the SHA-256 of 256 random bits.
"""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from qc.domain.facts.operations import new_code
from qc.domain.facts.people import PASSPHRASE_ROLES, SERVER, SERVER_ROLE, InRoles, Roles, words_of
from qc.domain.facts.refusals import Refusal
from qc.domain.facts.rule_set import CODES_BEGIN
from qc.domain.line.line_record import Enrolled, Line, Member
from qc.domain.line.proposal import Proposal
from qc.domain.unit.unit_record import Event

DESK = "DESK"  # the device of everything done on a page
NO_PHONES = frozenset({DESK, SERVER})  # the devices of what this machine records by itself; codes of nobody
CONSOLE = "CONSOLE"  # what a command is told in the place of a code where nobody but the console itself acts
_KEEPERS = frozenset({"administrator", SERVER_ROLE})


# People


def may_add(line: Line, p: Proposal) -> None:
    """Refuse a code that is taken, odd or not in capitals, a lead without a station, a passphrase role with a PIN."""
    code = p.body["person"]
    demand_new_code(p, "person")
    if code != code.upper():
        raise Refusal("code_not_in_capitals", f"{code} must be in capitals: {code.upper()}; codes are of one case")
    known = next((one for one in line.people if one.upper() == code), None)
    if known is not None or code in NO_PHONES or (code == CONSOLE and p.rules >= CODES_BEGIN):
        raise Refusal("code_taken", f"{known or code} is taken; a code is never given to a second person")
    if not p.body["name"].strip():
        raise Refusal("name_needed", "a person has a name")
    roles = _demanded_roles(p)
    _demand_stations(p, roles)
    _demand_passphrase(roles, p.body["passphrase"])


def demand_new_code(p: Proposal, field: str) -> None:
    """Refuse a code that is given now and that a command would read as an option, or a sheet as a number."""
    if p.rules >= CODES_BEGIN and (why := new_code()(p.body[field])):
        raise Refusal("malformed", f"body.{field} {why}")


def added(line: Line, event: Event, body: Mapping[str, Any]) -> None:
    """Keep a new person."""
    line.people[body["person"]] = Member(
        code=body["person"],
        name=body["name"].strip(),
        role=body["role"],
        stations=tuple(body["stations"]),
        ended=bool(body.get("ended")),
        secret=body["secret"] or "",
        passphrase=body["passphrase"],
        secret_by=event.operation.author,
        secret_ms=event.received_ms,
        number=event.number,
        also=tuple(body.get("also", ())),
    )


def may_assign(line: Line, p: Proposal) -> None:
    """Refuse roles that do not fit: without stations for a lead, or with a PIN where a passphrase is needed."""
    one = _other(line, p)
    roles = _demanded_roles(p)
    _demand_stations(p, roles)
    _demand_passphrase(roles, p.body["passphrase"] if "secret" in p.body else one.passphrase)


def assigned(line: Line, event: Event, body: Mapping[str, Any]) -> None:
    """Give a person roles and stations, and a new secret where a role needs one; further roles not told are none."""
    roles = {"role": body["role"], "also": tuple(body.get("also", ()))}
    one = replace(line.people[body["person"]], **roles, stations=tuple(body["stations"]), number=event.number)
    line.people[one.code] = _with_secret(one, event, body) if "secret" in body else one


def may_end(line: Line, p: Proposal) -> None:
    """Refuse to end nobody, oneself, or whoever has left already."""
    if _other(line, p).ended:
        raise Refusal("has_left", f"{p.body['person']} has left already")


def ended(line: Line, event: Event, body: Mapping[str, Any]) -> None:
    """Let a person act no longer."""
    line.people[body["person"]] = replace(line.people[body["person"]], ended=True, number=event.number)


def may_return(line: Line, p: Proposal) -> None:
    """Refuse to take back who has not left."""
    if not _member(line, p).ended:
        raise Refusal("has_not_left", f"{p.body['person']} has not left")


def returned(line: Line, event: Event, body: Mapping[str, Any]) -> None:
    """Let a person act again."""
    line.people[body["person"]] = replace(line.people[body["person"]], ended=False, number=event.number)


def may_change_secret(line: Line, p: Proposal) -> None:
    """Refuse a secret for nobody, another's where one does not keep the house, or a PIN where a passphrase is needed.

    One's own is changed where the server has just checked the one before, which is never a phone's word.
    """
    one = _member(line, p)
    operation = p.event.operation
    if not p.standing.has(*_KEEPERS) and (operation.author != one.code or operation.device != DESK):
        words = f"{operation.author} changes their own PIN or passphrase alone; the administrator gives others theirs"
        raise Refusal("not_your_role", words)
    if p.body["secret"] is not None:
        _demand_passphrase(one, p.body["passphrase"])


def secret_changed(line: Line, event: Event, body: Mapping[str, Any]) -> None:
    """Note that another secret counts, or with null that none does until the next is given."""
    one = _with_secret(line.people[body["person"]], event, body)
    line.people[one.code] = replace(one, number=event.number)


def _with_secret(one: Member, event: Event, body: Mapping[str, Any]) -> Member:
    return replace(
        one,
        secret=body["secret"] or "",
        passphrase=body["passphrase"],
        secret_by=event.operation.author,
        secret_ms=event.received_ms,
    )


def _member(line: Line, p: Proposal) -> Member:
    code = p.body["person"]
    if code not in line.people:
        known = ", ".join(sorted(one.code for one in line.people.values() if not one.ended)) or "nobody yet"
        raise Refusal("nobody", f"nobody has the code {code}; known are {known}")
    return line.people[code]


def _other(line: Line, p: Proposal) -> Member:
    one = _member(line, p)
    if not p.standing.has(SERVER_ROLE) and p.event.operation.author == one.code:
        raise Refusal("not_your_own", "nobody changes their own role or ends themselves; another administrator does")
    return one


def _demanded_roles(p: Proposal) -> Roles:
    role, also = p.body["role"], tuple(p.body.get("also", ()))
    if role in also:
        raise Refusal("role_twice", f"{words_of([role])} is the first role already; name it once")
    return Roles(role, also)


def _demand_stations(p: Proposal, roles: InRoles) -> None:
    stations = p.body["stations"]
    if roles.has("station_lead") and not stations:
        raise Refusal("station_needed", "a station lead answers for a station; name one or more")
    if stations and not roles.has("station_lead"):
        raise Refusal("station_needed", f"stations are a station lead's, not a {roles.role_words}'s; name none")
    known = p.event.plant.stations
    for station in stations:
        if station not in known:
            raise Refusal("unknown_code", f"the plant has no station {station}; it has {', '.join(known)}")


def _demand_passphrase(roles: InRoles, passphrase: bool) -> None:
    if roles.asks_passphrase and not passphrase:
        which = words_of([one for one in roles.roles if one in PASSPHRASE_ROLES])
        words = f"a {which} signs in with a passphrase, not a PIN; give a new one in the same step"
        raise Refusal("passphrase_needed", words)


# Phones


def may_enrol(line: Line, p: Proposal) -> None:
    """Refuse a code that a phone has, or that is none of a phone."""
    code = p.body["enrolled"]
    demand_new_code(p, "enrolled")
    if code in line.devices or code in NO_PHONES:
        raise Refusal("device_known", f"{code} is a phone's code already; a code is never given to a second phone")


def enrolled(line: Line, event: Event, body: Mapping[str, Any]) -> None:
    """Keep a new phone."""
    line.devices[body["enrolled"]] = Enrolled(
        code=body["enrolled"],
        enrolled_ms=event.received_ms,
        enrolled_by=event.operation.author,
        revoked=bool(body.get("out_of_use")),
        secret=body.get("secret") or "",
        number=event.number,
    )


def may_give_secret(line: Line, p: Proposal) -> None:
    """Refuse a secret for a phone that is not there, or out of use."""
    if _phone(line, p.body["enrolled"]).revoked:
        raise Refusal("device_revoked", f"{p.body['enrolled']} is out of use; take it back into use first")


def secret_given(line: Line, event: Event, body: Mapping[str, Any]) -> None:
    """Note that a phone proves itself with another secret from now on."""
    one = line.devices[body["enrolled"]]
    line.devices[one.code] = replace(one, secret=body["secret"], number=event.number)


def may_revoke(line: Line, p: Proposal) -> None:
    """Refuse to take out of use what is no phone, or out of use."""
    if _phone(line, p.body["revoked"]).revoked:
        raise Refusal("device_revoked", f"{p.body['revoked']} is out of use already")


def revoked(line: Line, event: Event, body: Mapping[str, Any]) -> None:
    """Take a phone out of use."""
    line.devices[body["revoked"]] = replace(line.devices[body["revoked"]], revoked=True, number=event.number)


def may_restore(line: Line, p: Proposal) -> None:
    """Refuse to take back into use what is no phone, or in use."""
    if not _phone(line, p.body["restored"]).revoked:
        raise Refusal("device_in_use", f"{p.body['restored']} is in use")


def restored(line: Line, event: Event, body: Mapping[str, Any]) -> None:
    """Take a phone back into use."""
    line.devices[body["restored"]] = replace(line.devices[body["restored"]], revoked=False, number=event.number)


def _phone(line: Line, code: str) -> Enrolled:
    if code not in line.devices:
        known = ", ".join(line.devices) or "none yet"
        raise Refusal("no_such_device", f"no device has the code {code}; known are {known}")
    return line.devices[code]
