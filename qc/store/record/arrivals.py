"""A journal row on its way through the rules: what was received, and the columns that the server gave it."""

import json
import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import orjson

from qc.domain.facts.operations import Fault, Operation, envelope_fault, operation_of
from qc.domain.facts.rule_set import OWN_NUMBERS, RULES, TABLES_REVISED
from qc.domain.facts.standing import Standing, standing_from
from qc.domain.tables.plant_rules import PlantRules


@dataclass(slots=True)
class Arrival:
    """One numbered operation. op is None where the envelope is malformed, then fault tells why.

    cause: the number of the operation whose arrival has the rules look at this one: its own, or later if parked.
    previous: the chain's head before the row. rules: the rule set that it is judged by, that of its receipt.
    taken_in: the quality manager takes it in, as author and standing then say.
    """

    number: int
    id: str
    kind: str
    unit: str | None
    author: str
    standing: Standing
    happened_ms: int
    received_ms: int
    clock_suspect: bool
    admission: str
    plant_rules: PlantRules
    previous: bytes
    op: Operation | None
    fault: Fault | None
    cause: int
    rules: int = RULES
    taken_in: bool = False

    @property
    def body(self) -> Mapping[str, Any]:
        """The operation's body; only asked for where the envelope is well shaped."""
        assert self.op is not None
        return self.op.body


def json_of(data: bytes) -> Any:
    """Return what a row's bytes say. Halves of characters, which orjson refuses, are read by Python's own parser."""
    try:
        return orjson.loads(data)
    except orjson.JSONDecodeError:
        return json.loads(data)


def read_envelope(raw: Any, rules: int = RULES) -> tuple[Operation | None, Fault | None]:
    """Return the operation that an object tells, or what is wrong with its envelope by a rule set."""
    if not isinstance(raw, dict):
        return None, Fault("", "must be an object")
    if fault := envelope_fault(raw, names_plant=rules >= TABLES_REVISED, own_numbers=rules >= OWN_NUMBERS):
        return None, fault
    return operation_of(raw), None


ROW = """
SELECT number, id, kind, unit, author, author_standing, happened_ms, received_ms, clock_suspect, admission,
       plant_revision, bytes, previous, rules
  FROM journal
"""
_ONE = ROW + " WHERE number = ?"


def arrival_of(row: tuple[Any, ...], plant_rules: PlantRules) -> Arrival:
    """Return the arrival that a row of ``ROW`` tells, parsing its bytes anew."""
    number, id_, kind, unit, author, standing, happened, received, suspect, admission, _, data, previous, rules = row
    op, fault = read_envelope(json_of(data), rules)
    who = standing_from(standing)
    arguments = (happened, received, bool(suspect), admission, plant_rules, previous, op, fault, number, rules)
    return Arrival(number, id_, kind, unit, author, who, *arguments)


def journal_row(conn: sqlite3.Connection, number: int) -> tuple[Any, ...]:
    """Return one row of ``ROW`` by its number; its plant revision is the eleventh value."""
    row: tuple[Any, ...] = conn.execute(_ONE, (number,)).fetchone()
    return row


REVISION = 10  # place of plant_revision in a row of ROW
