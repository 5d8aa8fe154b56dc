"""Revisions of the plant's tables as operations tell them: which tables follow which, from which day, why, by whom."""

from collections.abc import Mapping
from typing import Any

from qc.domain.facts.refusals import Refusal
from qc.domain.line.line_record import Line, Revised
from qc.domain.line.proposal import Proposal
from qc.domain.line.roster import NO_PHONES
from qc.domain.unit.unit_record import Event


def may_revise(line: Line, p: Proposal) -> None:
    """Refuse tables that the record does not keep, that are in force, or that follow others than those in force."""
    body, last = p.body, next(reversed(line.revisions.values()), None)
    if p.event.operation.device not in NO_PHONES:
        raise Refusal("not_on_a_phone", "tables are handed in on the page Tables or with: qc revise, never on a phone")
    for revision in (body["revision"], body["previous"]):
        if not p.record.keeps_tables(revision):
            raise Refusal("unknown_tables", f"the record keeps no tables {revision[:12]}; hand them in again")
    if body["revision"] == body["previous"] or (last is not None and body["revision"] == last.revision):
        raise Refusal("tables_in_force", f"the tables {body['revision'][:12]} are in force already")
    if last is not None and body["previous"] != last.revision:
        words = (
            f"{last.revised_by} put other tables in force meanwhile ({last.revision[:12]}, from {last.from_day}: "
            f"{last.reason}); look at what yours would change now, and take them then"
        )
        raise Refusal("tables_overtaken", words)
    if last is not None and body["from_day"] < last.from_day:
        words = (
            f"the tables before hold from {last.from_day}; these cannot hold from {body['from_day']}, give a later day"
        )
        raise Refusal("day_before_last", words)


def revised(line: Line, event: Event, body: Mapping[str, Any]) -> None:
    """Keep which tables followed which."""
    op = event.operation
    line.revisions[op.id] = Revised(
        id=op.id,
        revision=body["revision"],
        previous=body["previous"],
        reason=body["reason"].strip(),
        from_day=body["from_day"],
        revised_by=op.author,
        at_console=body.get("at_console", ""),
        revised_ms=event.received_ms,
        number=event.number,
    )
