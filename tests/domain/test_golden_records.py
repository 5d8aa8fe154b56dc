"""Unit histories, each operation with what must hold after it: rules, steps and what follows from them.

The records in ``tests/golden`` were written out by the program before this one, whose effects were statements over
tables, and read over. The app's own fold is held to the same records (``tests/js/golden.test.js``).
``then``: what of the unit's view the operation changed, entries of a list by their id; gone: tests that have no result
that stands. counts: of an inspection its presentation, production day, shift, clean of all, clean of major; of a
defect production day, shift, whether of a first presentation, work day and how that is known, minutes of repair.
"""

import json
from pathlib import Path

import pytest

from qc.domain.acts import unit
from qc.domain.acts.kinds import KINDS, body_fault
from qc.domain.facts.operations import Operation
from qc.domain.facts.refusals import Refusal
from qc.domain.facts.rule_set import RULES
from qc.domain.facts.standing import standing_of
from qc.domain.line.proposal import Proposal
from qc.domain.plant.references import reference_fault
from qc.domain.unit.folding import Folding, settle
from qc.domain.unit.release import open_digest
from qc.domain.unit.unit_record import Event
from qc.store.reading.unit_view import unit_view
from tests.domain.test_unit_fold import PLANT, PLANT_RULES
from tests.store.record_kit import PEOPLE

RECORDS = sorted((Path(__file__).parent.parent / "golden").glob("*.json"))
LISTS = {"inspections": "id", "defects": "id", "tests": "test", "results": "id", "passings": "id"}


class Alone:
    """A record with nothing in it but one unit, whose events so far are its operations read anew."""

    def __init__(self):
        self.events = []

    def unit_of(self, kinds, id_):
        return None

    def planned_as(self, chassis, shop_number):
        return None

    def read_anew(self, chassis):
        return unit.fold(self.events), self.events


class Told:
    """A unit to which a history is put, operation by operation."""

    def __init__(self, chassis):
        self.state, self.record = Folding.of(chassis), Alone()

    def take(self, number, told):
        """Put an operation; return the code of its refusal, "" where it came into effect."""
        body = told["body"]
        if body.get("open_digest") == "$open":
            body = body | {"open_digest": open_digest(self.now())}
        kind = KINDS[told["kind"]]
        op = Operation(
            id=told["id"], device="P1", install_epoch="e1", seq=number, kind=kind.name, schema=1,
            unit=self.state.unit.chassis, body=body, author=told["by"], deps=(), seen_through=2**40,
            wall_ms=told["happened_ms"], tz_min=0, session="s1", mono_ms=1,
        )  # fmt: skip
        event = Event(number, op, told["happened_ms"], "applied", PLANT_RULES, number, told["received_ms"])
        if reference_fault(kind.refers, body, PLANT, self.state.unit.model):
            return "unknown_code"
        try:
            kind.rule(self.state, Proposal(event, standing_of(PEOPLE[told["by"]]), RULES, self.record))
        except Refusal as no:
            return no.code
        unit.put(self.state, event)
        self.record.events.append(event)
        return ""

    def now(self):
        settle(self.state)
        return unit.record_of(self.state)

    def view(self):
        record = self.now()
        told = json.loads(json.dumps(unit_view(record, PLANT)))
        del told["blockers"], told["open_digest"]
        looks = {
            one.id: [one.presentation, one.production_day, one.shift, one.clean_all, one.clean_major]
            for one in record.inspections
        }
        defects = {
            one.id: [
                *(one.production_day, one.shift, one.first_presentation, one.work_day, one.work_day_basis),
                sum(repair.minutes for repair in one.repairs),
            ]
            for one in record.defects
        }
        return told | {"counts": looks | defects}


def merged(view, then):
    """Return a view with what an operation changed of it."""
    after = {name: part for name, part in (view | then).items() if name != "gone"}
    for name, key in LISTS.items():
        after[name] = list(({one[key]: one for one in [*view.get(name, []), *then.get(name, [])]}).values())
    after["tests"] = [one for one in after["tests"] if one["test"] not in then.get("gone", ())]
    return after | {"counts": view.get("counts", {}) | then.get("counts", {})}


def shaped(told):
    return told["body"] | ({"open_digest": "0" * 64} if "open_digest" in told["body"] else {})


@pytest.mark.parametrize("path", RECORDS, ids=lambda path: path.stem)
def test_a_history_is_told_as_it_is_written(path):
    written = json.loads(path.read_text())
    told, wanted = Told(written["unit"]), {"release": None}
    for number, operation in enumerate(written["operations"], start=1):
        assert told.take(number, operation) == operation.get("refused", ""), operation
        wanted = merged(wanted, operation.get("then", {}))
        assert told.view() == wanted, operation
        again, _ = unit.folded("", told.record.events)
        assert unit.record_of(again) == told.now(), operation


def test_every_kind_that_changes_a_unit_stands_in_a_history():
    told = {one["kind"] for path in RECORDS for one in json.loads(path.read_text())["operations"] if "then" in one}

    assert len(RECORDS) == 16
    assert told == {name for name, kind in KINDS.items() if kind.on_unit and kind.effective}


def test_bodies_in_the_histories_have_the_shape_of_their_kind():
    """Their ids are short words, which the shape would refuse: what remains must be right."""
    for path in RECORDS:
        for told in json.loads(path.read_text())["operations"]:
            fault = body_fault(KINDS[told["kind"]], "U", shaped(told))
            assert fault is None or "UUID" in fault.message, (told, fault)
