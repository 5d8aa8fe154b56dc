"""A planner's change of a unit's plan: told in its story, counted by the new day, refused where it comes too late."""

from dataclasses import replace
from datetime import date

import pytest

from qc.domain.counted.counts import Slice
from qc.domain.line.roster import DESK
from qc.store.counts import LINE, Counts
from tests.store.record_kit import PLANT, Clock, Phone, open_journal, story_of

WEEK = Slice(date(2026, 3, 2), date(2026, 3, 9))
CHANGES = [{"planned_day": "2026-03-05"}, {"options": ["awning"]}, {"build_sheet": "B-7"}]


@pytest.fixture
def journal(tmp_path):
    """A record of a plant whose first test bay is asked of units planned for 4 March or later."""
    stations = {**PLANT.stations, "T01": replace(PLANT.stations["T01"], first_day=date(2026, 3, 4))}
    with open_journal(tmp_path, Clock(), replace(PLANT, stations=stations)) as journal:
        yield journal


def presented(phone, unit):
    for point in ("T02", "D01"):
        look = phone.must("inspection_begun", "I1", unit, point=point, purpose="presentation", light="bright")
        phone.must("inspection_ended", "I1", unit, inspection=look)


def test_a_changed_day_counts_the_unit_by_what_that_day_needs(journal):
    phone, counts = Phone(journal), Counts(journal)
    unit = phone.plan()
    presented(phone, unit)
    now = journal.clock() + 9 * 24 * 3_600_000
    assert counts.week_counts(WEEK, LINE, now).inspected == (1,)

    phone.must("plan_changed", "PL1", unit, changes={"planned_day": "2026-03-05"})
    assert counts.week_counts(WEEK, LINE, now).inspected == (0,)

    phone.must("plan_changed", "PL1", unit, changes={"planned_day": "2026-03-02"})
    assert counts.week_counts(WEEK, LINE, now).inspected == (1,)


@pytest.mark.parametrize("changes", CHANGES, ids=lambda changes: next(iter(changes)))
def test_a_change_is_in_the_units_record_and_again_is_refused(journal, changes):
    phone = Phone(journal)
    unit = phone.plan()
    phone.must("plan_changed", "PL1", unit, changes=changes)
    record, ((name, value),) = story_of(journal, unit), changes.items()

    assert getattr(record, name) == (tuple(value) if isinstance(value, list) else value)
    assert phone.do("plan_changed", "PL1", unit, changes=changes)[1].code == "nothing_changed"


def test_an_impossible_day_is_refused(journal):
    phone = Phone(journal)
    unit = phone.plan()
    verdict = phone.do("plan_changed", "PL1", unit, changes={"planned_day": "9999-12-31"})[1]

    assert verdict.code == "day_out_of_range"
    assert "9999-12-31" in verdict.reason


def test_only_who_plans_may_change_a_plan_and_only_a_planned_one(journal):
    phone = Phone(journal)
    unit = phone.plan()

    assert phone.do("plan_changed", "I1", unit, changes=CHANGES[1])[1].code == "not_your_role"
    other, desk = unit[:-1] + "9", Phone(journal, DESK)
    assert desk.do("plan_changed", "PL1", other, changes=CHANGES[1])[1].code == "unknown_unit"
