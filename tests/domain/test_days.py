"""Which days an operation may name; the windows are common practice, no source."""

from datetime import date

import pytest

from qc.domain.facts.days import day_fault, is_countable

RECEIVED = date(2026, 3, 2)


@pytest.mark.parametrize(
    ("kind", "field"),
    [
        ("unit_planned", "planned_day"),
        ("test_recorded", "calibrated_until"),
        ("field_finding", "found_day"),
        ("change_noted", "from_day"),
    ],
)
@pytest.mark.parametrize("told", ["0001-01-01", "1999-12-31", "2126-03-02", "9999-12-31"])
def test_a_day_at_the_ends_of_the_calendar_is_named_as_wrong(kind, field, told):
    fault = day_fault(kind, {field: told}, RECEIVED)

    assert fault is not None
    assert fault.field == f"body.{field}"
    assert told in fault.message


def test_a_day_around_the_receipt_is_right():
    assert day_fault("field_finding", {"found_day": "2026-02-11"}, RECEIVED) is None
    assert day_fault("field_finding", {"found_day": "2026-03-03"}, RECEIVED) is None
    assert day_fault("unit_planned", {"planned_day": "2027-01-04"}, RECEIVED) is None
    assert day_fault("test_recorded", {"calibrated_until": None}, RECEIVED) is None
    assert day_fault("inspection_ended", {}, RECEIVED) is None


def test_a_finding_is_not_from_the_day_after_tomorrow():
    fault = day_fault("field_finding", {"found_day": "2026-03-04"}, RECEIVED)

    assert fault is not None
    assert "2026-03-03" in fault.message


def test_a_clock_at_the_end_of_its_century_leaves_a_range():
    assert day_fault("change_noted", {"from_day": "2099-12-31"}, date(2099, 12, 31)) is None
    assert day_fault("change_noted", {"from_day": "2100-01-01"}, date(2099, 12, 31)) is not None


def test_what_is_countable_is_half_open():
    assert is_countable(date(2000, 1, 1))
    assert not is_countable(date(1999, 12, 31))
    assert is_countable(date(2099, 12, 31))
    assert not is_countable(date(2100, 1, 1))
