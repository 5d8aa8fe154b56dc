"""Machines that speak to the server with a token: which there are, what each may, and in whose name.

A token is told by its SHA-256 alone: it is 256 random bits, which nobody guesses from that.
"""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from qc.domain.facts.people import PLANNING_ROLES, InRoles
from qc.domain.facts.refusals import Refusal
from qc.domain.line.line_record import Line, Machine
from qc.domain.line.proposal import Proposal
from qc.domain.line.roster import demand_new_code
from qc.domain.plant.drop_plan import SESSION as DROPPED
from qc.domain.unit.unit_record import Event
from qc.domain.words.speaking import say

SCOPES = ("plan", "read")  # hands in build plans; reads the record's tables


def session_of(machine: str) -> str:
    """Return what an operation that a machine hands in names as its session, so that the chain tells the machine."""
    return f"machine.{machine}"


def machine_words(session: str) -> str:
    """Return by which machine an operation came, for behind its words; "" for one that a person made."""
    if session == DROPPED:
        return say(", handed in by the drop folder")
    kind, _, name = session.partition(".")
    return say(", handed in by the machine {name}", name=name) if kind == "machine" and name else ""


def may_make(line: Line, p: Proposal) -> None:
    """Refuse a name that a token had, a plan without a planner in whose name it is, and one that needs none."""
    name, person = p.body["machine"], p.body.get("in_name_of")
    demand_new_code(p, "machine")
    taken = next((one for one in line.machines if one.upper() == name.upper()), None)
    if taken is not None:
        raise Refusal("token_known", f"{taken} is the name of a token already; a name is never given to a second one")
    if len(set(p.body["may"])) < len(p.body["may"]):
        raise Refusal("malformed", "body.may names a scope twice")
    if "plan" not in p.body["may"]:
        if person is not None:
            raise Refusal("planner_needed", "a token that only reads acts in nobody's name; name nobody")
        return
    if person is None:
        raise Refusal("planner_needed", "a plan is handed in under somebody's name; name a planner")
    planner = line.people.get(person)
    if why := planner_fault(planner, planner is not None and planner.ended, person):
        raise Refusal("planner_needed", why)


def planner_fault(member: InRoles | None, ended: bool, code: str) -> str:
    """Return why plans cannot be handed in in a person's name, "" where they can. member: None for nobody.

    ended: whether they have left.
    """
    if member is None:
        return f"nobody has the code {code}"
    if ended:
        return f"{code} has left; plans come in under the name of somebody who is here"
    if not member.has(*PLANNING_ROLES):
        return f"{code} is {member.role_words}; plans come in under a planner's or quality manager's name"
    return ""


def made(line: Line, event: Event, body: Mapping[str, Any]) -> None:
    """Keep a new token."""
    line.machines[body["machine"]] = Machine(
        code=body["machine"],
        may=tuple(body["may"]),
        in_name_of=body.get("in_name_of") or "",
        secret=body["secret"],
        made_by=event.operation.author,
        made_ms=event.received_ms,
        ended=False,
        number=event.number,
    )


def may_end(line: Line, p: Proposal) -> None:
    """Refuse to end what is no token, or one that has ended."""
    one = line.machines.get(p.body["machine"])
    if one is None:
        known = ", ".join(each.code for each in line.machines.values() if not each.ended) or "none yet"
        raise Refusal("no_such_token", f"no token has the name {p.body['machine']}; known are {known}")
    if one.ended:
        raise Refusal("token_ended", f"the token {one.code} has ended already")


def ended(line: Line, event: Event, body: Mapping[str, Any]) -> None:
    """Let a token open nothing from now on."""
    line.machines[body["machine"]] = replace(line.machines[body["machine"]], ended=True, number=event.number)
