"""What a lead and a quality manager say of the line: notes of changes, mutes, words on what was set aside."""

from dataclasses import replace
from datetime import date
from typing import Any

from qc.domain.facts.proof import SIGNATURES
from qc.domain.facts.refusals import Refusal
from qc.domain.facts.rule_set import PEOPLE_TOLD, ROLES_TOGETHER
from qc.domain.line.line_record import Line, Mute, Note, SetAside
from qc.domain.line.mutes import LEAST_REASON, end_fault
from qc.domain.line.proposal import Proposal
from qc.domain.plant.naming import Names
from qc.domain.unit.unit_record import Event


def told_alone(line: Line, event: Event, body: Any) -> None:
    """Change nothing: that it stands in the journal is all that it is for."""


# What nobody takes in for another: a signature is given anew, and words on what was set aside are spoken anew.
NEVER_TAKEN_IN = SIGNATURES | {"quarantine_taken", "quarantine_left", "key_changed"}
# Nor who the plant's people and phones are, which is the administrator's to say.
OF_THE_HOUSE = frozenset(
    {
        "person_added",
        "person_assigned",
        "person_ended",
        "person_returned",
        "secret_changed",
        "device_enrolled",
        "device_secret_given",
        "device_revoked",
        "device_restored",
        "person_stood",
        "device_stood",
        "token_made",
        "token_ended",
    }
)


def may_take_in(line: Line, p: Proposal) -> None:
    """Refuse to take in what was not set aside, what was taken in before, and a signature of another."""
    kind = _set_aside(p).kind
    if kind in NEVER_TAKEN_IN or (kind in OF_THE_HOUSE and p.rules >= PEOPLE_TOLD):
        what = kind.replace("_", " ")
        raise Refusal("not_taken_in", f"{what} is not taken in under another name; do it anew, and leave this one")


def may_leave(line: Line, p: Proposal) -> None:
    """Refuse to leave what was not set aside, or what was taken in."""
    _set_aside(p)


def _set_aside(p: Proposal) -> SetAside:
    if len(p.body["reason"].strip()) < LEAST_REASON:
        raise Refusal("reason_needed", f"say in {LEAST_REASON} characters or more why")
    aside = p.record.set_aside(p.body["operation"])
    if aside is None:
        raise Refusal("not_set_aside", f"{p.body['operation']} is nothing that was set aside; take it from the list")
    if not aside.waits:
        raise Refusal("not_set_aside", f"{p.body['operation']} has been taken in already")
    return aside


def may_note(line: Line, p: Proposal) -> None:
    """Refuse a note to anyone but the station's lead and the quality manager."""
    station = p.body["station"]
    if not p.standing.has("quality_manager") and not p.standing.leads(station):
        lead = f"the lead of {Names(p.event.plant, p.rules).place(station)}"
        raise Refusal("not_your_role", f"only {lead} or the quality manager notes a change there")


def change_noted(line: Line, event: Event, body: Any) -> None:
    """Keep a note."""
    op, types = event.operation, tuple(body.get("types", ()))
    line.notes[op.id] = Note(
        id=op.id,
        station=body["station"],
        change=body["change"],
        what=body["what"],
        types=types,
        from_day=body["from_day"],
        noted_by=op.author,
        number=event.number,
    )


def may_mute(line: Line, p: Proposal) -> None:
    """Refuse a mute without a reason or an end; one that stands is not replaced, so that its reason is read.

    Who leads the station whose work the signal is about does not mute it.
    """
    body, (day, _) = p.body, p.event.day_and_shift()
    if p.rules >= ROLES_TOGETHER and p.standing.leads(body["station"]):
        place = Names(p.event.plant, p.rules).place(body["station"])
        words = f"{p.event.operation.author} leads {place}; another quality manager mutes its signals"
        raise Refusal("same_person", words)
    if len(body["reason"].strip()) < LEAST_REASON:
        raise Refusal("reason_needed", f"say in {LEAST_REASON} characters or more why this signal is muted")
    if fault := end_fault(date.fromisoformat(day), date.fromisoformat(body["until"])):
        raise Refusal("until_out_of_range", fault)
    signal = (body["station"], body["type"], body["direction"])
    same = [one for one in line.mutes.values() if (one.station, one.type, one.direction) == signal and one.stands(day)]
    if same:
        first = min(same, key=lambda one: one.number)
        raise Refusal("already_muted", f"{first.muted_by} has muted it until {first.until}; unmute it first")


def signal_muted(line: Line, event: Event, body: Any) -> None:
    """Keep a mute with its reason and its last day."""
    op, (day, _) = event.operation, event.day_and_shift()
    line.mutes[op.id] = Mute(
        id=op.id,
        station=body["station"],
        type=body["type"],
        direction=body["direction"],
        reason=body["reason"].strip(),
        from_day=day,
        until=body["until"],
        muted_by=op.author,
        number=event.number,
    )


def may_unmute(line: Line, p: Proposal) -> None:
    """Refuse to end what is no mute, or one that is over."""
    id_, (day, _) = p.body["mute"], p.event.day_and_shift()
    mute = line.mutes.get(id_)
    if mute is None:
        raise Refusal("not_muted", f"{id_} is no mute of a signal; take it from the list of muted signals")
    if mute.ended_day is not None:
        raise Refusal("not_muted", f"{mute.ended_by} ended this mute on {mute.ended_day} already")
    if mute.until < day:
        raise Refusal("not_muted", f"this mute ended by itself after {mute.until}")


def signal_unmuted(line: Line, event: Event, body: Any) -> None:
    """End a mute before its day."""
    day, _ = event.day_and_shift()
    mute = line.mutes[body["mute"]]
    line.mutes[mute.id] = replace(mute, ended_day=day, ended_by=event.operation.author)
