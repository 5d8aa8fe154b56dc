"""Criticals one by one, and how fit the data are. Invented rows; expected values counted by hand."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from record_rows import DEMO_PLANT, HOUR, RowRecord, noon

from qc.assets import folder
from qc.domain.counted.counts import Slice
from qc.domain.tables.plant_tables import plant_from_tables, tables_of
from qc.store.counts import Counts
from qc.store.record.tables_kept import keep_tables

MONDAY = date(2026, 3, 2)
WEEK = Slice(MONDAY, MONDAY + timedelta(weeks=1))
NOW = noon("2026-03-16")


@pytest.fixture
def record(tmp_path):
    record = RowRecord(tmp_path)
    yield record
    record.close()


def test_criticals_are_listed_with_the_units_between_them(record):
    for n in range(10):
        record.seen_through(f"U{n}", (MONDAY + timedelta(days=n // 2)).isoformat())
    record.defect("a", "U0", "2026-03-02", "T01", "U0-T01", type_="GAS-01", severity="critical")
    record.defect("b", "U7", "2026-03-05", "T01", "U7-T01", type_="GAS-01", severity="critical")
    record.defect("c", "U8", "2026-03-06", inspection="U8-D01", severity="minor")
    listed = Counts(record).criticals(WEEK)

    assert [one.defect for one in listed] == ["a", "b"]
    assert [one.units_since_last for one in listed] == [None, 6]  # three days of two units


def test_a_critical_shows_before_its_inspection_has_ended_and_after_dispatch(record):
    record.unit("U1")
    record.looked("U1-D01", "U1", "2026-03-03", ended=False)
    record.defect("a", "U1", "2026-03-03", inspection="U1-D01", severity="critical")
    record.defect("b", "U1", "2026-03-04", "FIELD", first=0, severity="critical")
    record.defect("w", "U1", "2026-03-04", severity="critical", state="withdrawn")

    assert [one.defect for one in Counts(record).criticals(WEEK)] == ["a", "b"]


def test_units_planned_without_a_record_are_told(record):
    record.seen_through("U1", "2026-03-03")
    record.unit("U2", planned_day="2026-03-04")
    record.unit("U3", planned_day="2026-03-04")
    record.looked("U3-T01", "U3", "2026-03-04", "T01")
    record.unit("U4", planned_day="2026-06-01")

    assert Counts(record).data_quality(WEEK, NOW).no_record == (2, 3)


def test_a_unit_planned_for_today_is_not_missing_yet(record):
    record.unit("U2", planned_day="2026-03-04")

    assert Counts(record).data_quality(WEEK, noon("2026-03-04")).no_record == (0, 0)


def test_a_zone_without_a_mark_was_not_looked_at(record):
    record.seen_through("U1", "2026-03-03")
    zones = DEMO_PLANT.zones_of("T36")
    for zone in zones[:-3]:
        record.put("zone_look", inspection="U1-D01", zone=zone.key, looked=1, number=1)
    record.put("zone_look", inspection="U1-D01", zone=zones[-1].key, looked=0, reason="no_safe_access", number=1)
    quality = Counts(record).data_quality(WEEK, NOW)

    assert quality.not_looked_at == (3, len(zones))
    assert quality.zones_told == 1


def test_a_look_at_a_zone_that_nobody_asked_for_stands_for_no_other(record):
    record.seen_through("U1", "2026-03-03")
    zones = DEMO_PLANT.zones_of("T36")
    for zone in zones[:-1]:
        record.put("zone_look", inspection="U1-D01", zone=zone.key, looked=1, number=1)
    record.put("zone_look", inspection="U1-D01", zone="of.an_option", looked=1, number=1)
    record.put("zone_look", inspection="U1-D01", zone="of.another", looked=0, reason="no_time", number=1)
    quality = Counts(record).data_quality(WEEK, NOW)

    assert quality.not_looked_at == (1, len(zones))
    assert quality.zones_told == 0


def test_a_zone_that_was_drawn_later_was_not_missed_before(record):
    """The look began under tables that lacked the model's front window."""
    tables = dict(tables_of(folder("demo_data") / "plant"))
    kept = [row for row in tables["zones.csv"].splitlines() if not row.startswith("T36") or "front.window" not in row]
    tables["zones.csv"] = "\n".join(kept) + "\n"
    before = plant_from_tables(tables)
    assert len(before.zones_of("T36")) == len(DEMO_PLANT.zones_of("T36")) - 1
    keep_tables(record.connection, before.revision, tables)
    record.seen_through("U1", "2026-03-03")
    record.seen_through("U2", "2026-03-03")
    record.put(
        "journal", number=1, id="U1-D01", device="P1", install_epoch="e", seq=1, kind="inspection_begun", unit="U1",
        author="I1", author_standing="inspector", happened_ms=1, received_ms=1, clock_suspect=0, admission="",
        plant_revision=before.revision, rules=1, bytes=b"{}", previous=bytes(32), hash=bytes(32),
    )  # fmt: skip
    for unit in ("U1", "U2"):
        for zone in before.zones_of("T36"):
            record.put("zone_look", inspection=f"{unit}-D01", zone=zone.key, looked=1, number=1)

    zones = len(DEMO_PLANT.zones_of("T36"))
    assert Counts(record).data_quality(WEEK, NOW).not_looked_at == (1, zones + zones - 1)


def test_zones_marked_in_one_act_with_others_are_told_apart(record):
    record.seen_through("U1", "2026-03-03")
    keys = [zone.key for zone in DEMO_PLANT.zones_of("T36")]
    for number, marked in ((1, keys[:1]), (2, keys[1:2]), (3, keys[2:7])):  # one, one, and five at once
        for key in marked:
            record.put("zone_look", inspection="U1-D01", zone=key, looked=1, number=number)
    for key in keys[7:9]:
        record.put("zone_look", inspection="U1-D01", zone=key, looked=0, reason="weather", number=3)

    assert Counts(record).data_quality(WEEK, NOW).zones_together == (5, 7)


def test_late_unconfirmed_unknown_and_doubled_records_are_told(record):
    record.seen_through("U1", "2026-03-03")
    record.defect("a", "U1", "2026-03-03", inspection="U1-D01", late_ms=9 * HOUR, suspected="S07")
    record.defect("b", "U1", "2026-03-03", inspection="U1-D01", late_ms=HOUR, confirmed="S07")
    record.defect("c", "U1", "2026-03-03", inspection="U1-D01")
    record.defect("d", "U1", "2026-03-03", inspection="U1-D01", state="withdrawn", withdrawn_why="duplicate")
    quality = Counts(record).data_quality(WEEK, NOW)

    assert quality.late_synced == (1, 4)
    assert quality.duplicates == (1, 4)
    assert quality.unknown_origin == (1, 3)
    assert (quality.waiting.overdue, quality.waiting.total) == (2, 2)
    assert (quality.open_origins.suspected, quality.open_origins.unnamed) == (1, 1)


def test_the_twin_of_a_blind_second_look_is_no_double_entry(record):
    record.seen_through("U1", "2026-03-03")
    record.looked("U1-again", "U1", "2026-03-03", purpose="relook", inspector="I2")
    record.defect("a", "U1", "2026-03-03", inspection="U1-D01")
    record.defect("b", "U1", "2026-03-03", inspection="U1-D01", state="withdrawn", withdrawn_why="duplicate")
    record.defect("c", "U1", "2026-03-03", inspection="U1-again", state="withdrawn", withdrawn_why="duplicate")
    record.defect("d", "U1", "2026-03-03", inspection="U1-again")

    quality = Counts(record).data_quality(WEEK, NOW)
    assert quality.duplicates == (1, 2)
    assert quality.late_synced == (0, 4)


def test_three_working_days_are_left_for_a_confirmation(record):
    record.seen_through("U1", "2026-03-06")
    record.defect("a", "U1", "2026-03-06", inspection="U1-D01", suspected="S07")
    counts = Counts(record)

    # Found on Friday: the weekend does not count.
    assert counts.data_quality(WEEK, noon("2026-03-11")).waiting.overdue == 0
    assert counts.data_quality(WEEK, noon("2026-03-12")).waiting.overdue == 1


def test_who_looked_is_counted_by_first_presentation(record):
    record.seen_through("U1", "2026-03-03", inspector="I1")
    record.seen_through("U2", "2026-03-04", inspector="I4")
    record.looked("again", "U1", "2026-03-05", presentation=2, inspector="I4")
    record.unit("U3")
    record.looked("U3-D01", "U3", "2026-03-05", ended=False)
    quality = Counts(record).data_quality(WEEK, NOW)

    assert [row for row in quality.inspectors if row[0] == "D01"] == [("D01", "I1", 1), ("D01", "I4", 1)]
    assert quality.unfinished == 1


def test_a_slice_that_is_not_over_says_so(record):
    assert Counts(record).data_quality(WEEK, noon("2026-03-06")).partial
    assert not Counts(record).data_quality(WEEK, NOW).partial


def enter_criticals(record):
    """Two units a working day; a critical on the Monday of each of the first and the third week."""
    for n in range(30):
        record.seen_through(f"U{n}", (MONDAY + timedelta(days=n // 2 + 2 * (n // 10))).isoformat())
    record.defect("a", "U0", "2026-03-02", "T01", "U0-T01", type_="GAS-01", severity="critical")
    record.defect("b", "U20", "2026-03-16", inspection="U20-D01", severity="critical")


def test_the_first_of_a_slice_counts_its_units_from_the_record(record):
    enter_criticals(record)
    third = Slice(date(2026, 3, 16), date(2026, 3, 23))
    (one,) = Counts(record).criticals(third)

    assert one.defect == "b"
    assert one.units_since_last == 20  # two of each day after the first Monday, up to and with the third


def test_narrowed_the_critical_before_is_asked_of_the_record_so_narrowed(record):
    enter_criticals(record)
    record.unit("M", "M50")
    for point in ("T01", "T02", "D01"):
        record.looked(f"M-{point}", "M", "2026-03-17", point)
    record.defect("m", "M", "2026-03-17", inspection="M-D01", model="M50", severity="critical")
    counts, third = Counts(record), Slice(date(2026, 3, 16), date(2026, 3, 23))

    assert [one.units_since_last for one in counts.criticals(third)] == [20, 3]
    assert [one.units_since_last for one in counts.criticals(replace(third, models=("T36",)))] == [20]
    assert [one.units_since_last for one in counts.criticals(replace(third, models=("M50",)))] == [None]


def test_the_last_critical_is_asked_of_the_record_where_the_slice_has_none(record):
    enter_criticals(record)
    second = Slice(date(2026, 3, 9), date(2026, 3, 16))
    counts = Counts(record)

    assert counts.criticals(second) == []
    assert counts.last_critical_before(second) == date(2026, 3, 2)
    assert counts.last_critical_before(replace(second, models=("M50",))) is None
