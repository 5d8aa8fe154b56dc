"""What waits, whenever it was found; repairs that came back; what got out in time. Invented rows, counted by hand."""

from dataclasses import replace
from datetime import date

import pytest
from record_rows import RowRecord, noon

from qc.domain.counted.backlogs import ConfirmBefore, Escaped, EscapedCell, OpenOrigins, RepairedType
from qc.domain.counted.by_unit import part_by_unit
from qc.domain.counted.counts import Slice
from qc.domain.plant.plant import Shutdown
from qc.store.counts import Counts, backlogs
from qc.store.reading.reads import Reads

WEEK = Slice(date(2026, 3, 2), date(2026, 3, 9))


@pytest.fixture
def record(tmp_path):
    record = RowRecord(tmp_path)
    yield record
    record.close()


def opened(record):
    """Write one unit a week apart, and each thing that an open origin can be."""
    for n, day in enumerate(("2026-03-03", "2026-03-25")):
        record.seen_through(f"U{n}", day)
        for state, more in {
            "none": {},
            "unknown": {"suspected": "UNK"},
            "waits": {"suspected": "S07"},
            "disputed": {"suspected": "S07", "origin_state": "disputed"},
            "settled": {"confirmed": "UNK", "origin_state": "settled"},
            "withdrawn": {"state": "withdrawn"},
            "later": {"first": 0},
        }.items():
            record.defect(f"{state}{n}", f"U{n}", day, inspection=f"U{n}-D01", **more)
        record.defect(f"field{n}", f"U{n}", "2026-03-26", "FIELD", first=0, shift="")


def test_open_origins_are_told_apart_whenever_they_were_found(record):
    opened(record)
    quality = Counts(record).data_quality(WEEK, noon("2026-03-26"))

    assert quality.waiting == OpenOrigins(4, 2, 2, 2, overdue=5)  # at whatever look
    assert quality.waiting_field == OpenOrigins(unnamed=2)
    assert quality.open_origins == OpenOrigins(1, 1, 1, 1)
    assert quality.unknown_origin == (4, 5)  # named by nobody, not known, disputed, settled as not known
    field = backlogs.open_origins(record.connection, WEEK, ConfirmBefore(date(2026, 3, 26)), field=True)
    assert field == OpenOrigins(unnamed=2)


def test_one_shift_hides_no_open_origin_of_the_field(record):
    opened(record)
    late = Counts(record).data_quality(replace(WEEK, shifts=("late",)), noon("2026-03-26"))

    assert (late.waiting.total, late.waiting_field.total) == (0, 2)


def test_the_days_that_a_lead_has_are_counted_alike_on_a_holiday(record):
    """Found on Tuesday 28 April: Wednesday to Friday work, Monday 4 May is a holiday and ages nothing."""
    record.seen_through("U1", "2026-04-28")
    record.defect("a", "U1", "2026-04-28", inspection="U1-D01", suspected="S07")
    no_holidays = replace(record.plant, revision="none", holidays=frozenset())
    late = []
    for plant in (record.plant, no_holidays):
        record.plant = plant
        for now in ("2026-05-03", "2026-05-04", "2026-05-05"):
            counts = Counts(record)
            late.append(
                (counts.confirm_before(noon(now)).day.day, counts.data_quality(WEEK, noon(now)).waiting.overdue)
            )

    assert late == [(28, 0), (28, 0), (29, 1), (28, 0), (29, 1), (30, 1)]


def test_a_leads_days_are_those_that_the_station_works(record):
    """Found Thursday 5 March; S07 is closed from Monday to Wednesday, so on Thursday it had two days, others five."""
    shut = Shutdown("Rebuild", date(2026, 3, 9), date(2026, 3, 11), ("S07",))
    record.plant = replace(record.plant, revision="shut", shutdowns=(shut,))
    record.seen_through("U1", "2026-03-05")
    for station in ("S06", "S07"):
        record.defect(station, "U1", "2026-03-05", inspection="U1-D01", suspected=station)
    counts, reads = Counts(record), Reads(record.folder, record.plant)
    before = counts.confirm_before(noon("2026-03-12"))

    assert (before.at("S06"), before.at("S07")) == (date(2026, 3, 9), date(2026, 3, 4))
    assert counts.data_quality(WEEK, noon("2026-03-12")).waiting.overdue == 1
    assert {one: at.overdue for one, at in reads.unsettled(before).items()} == {"S06": 1, "S07": 0}
    reads.close()


def test_the_lists_hold_what_the_counts_count(record):
    opened(record)
    every = backlogs.unnamed(record.connection, 99)
    disputes = backlogs.disputed(record.connection, 99, lambda ms: date(2026, 3, 20))

    names = ["none0", "unknown0", "later0", "none1", "unknown1", "later1", "field0", "field1"]
    assert sorted(one.defect for one in every) == sorted(names)
    assert [one.found_day.day for one in every] == [3, 3, 3, 25, 25, 25, 26, 26]
    counts = [Counts(record).open_origins(noon("2026-03-26"), field=field) for field in (False, True)]
    assert sum(one.unnamed + one.not_known for one in counts) == len(every)
    assert sum(one.disputed for one in counts) == len(disputes)
    assert [one.defect for one in disputes] == ["disputed0", "disputed1"]
    assert len(backlogs.unnamed(record.connection, 1)) == 1
    assert backlogs.oldest_waiting(record.connection)["S07"] == date(2026, 3, 3)


def repair(record, defect, day, cycle, minutes):
    n = record.number()
    record.put(
        "defect_repair", repair=f"r{n}", defect=defect, number=n, cycle=cycle, repairer="RW1", method="rework",
        minutes=minutes, repaired_ms=noon(day),
    )  # fmt: skip


def test_a_repair_of_a_cycle_left_behind_came_back(record):
    record.seen_through("U1", "2026-03-03")
    for id_ in ("a", "b"):
        record.defect(id_, "U1", "2026-03-03", inspection="U1-D01", severity="major", state="repaired")
    repair(record, "a", "2026-03-04", 0, 20)
    repair(record, "a", "2026-03-05", 1, 10)
    repair(record, "b", "2026-03-05", 0, 15)
    record.connection.execute("UPDATE defect SET cycles = 1, repair_minutes = 30 WHERE id = 'a'")
    record.connection.execute("UPDATE defect SET repair_minutes = 15 WHERE id = 'b'")
    record.defect("c", "U1", "2026-03-03", inspection="U1-D01", severity="minor")

    ((type_, repairs, came_back),) = record.connection.execute(
        backlogs.REPAIRED, {"first_ms": noon("2026-03-02"), "end_ms": noon("2026-03-06")}
    )
    assert (type_, repairs, came_back) == ("EXT-01", 3, 1)
    assert backlogs.repaired(record.connection, noon("2026-03-05"), noon("2026-03-06")) == (
        RepairedType("EXT-01", 2, 0),
    )
    (clocked,) = Counts(record).clocked(WEEK)
    assert (clocked.type, clocked.found, clocked.repaired, clocked.minutes) == ("EXT-01", 3, 2, 45)


def test_repairs_are_summed_over_their_units(record):
    """U1 has three repairs of which one came back, U2 one that did not."""
    for unit, defects in (("U1", "ab"), ("U2", "c")):
        record.seen_through(unit, "2026-03-03")
        for id_ in defects:
            record.defect(id_, unit, "2026-03-03", inspection=f"{unit}-D01", state="repaired")
    for id_, day, cycle in (("a", "2026-03-04", 0), ("a", "2026-03-05", 1), ("b", "2026-03-05", 0),
                            ("c", "2026-03-05", 0)):  # fmt: skip
        repair(record, id_, day, cycle, 10)
    record.connection.execute("UPDATE defect SET cycles = 1 WHERE id = 'a'")
    counts = Counts(record)

    assert counts.repaired_by_unit(date(2026, 3, 2), date(2026, 3, 9)) == part_by_unit([(1, 3), (0, 1)])
    assert counts.repaired_by_unit(date(2026, 3, 5), date(2026, 3, 6)) == part_by_unit([(0, 2), (0, 1)])
    assert counts.repaired_by_unit(date(2026, 3, 9), date(2026, 3, 16)) == part_by_unit([])


def released(record, unit, day):
    n = record.number()
    record.put(
        "release_record", id=f"r{n}", unit=unit, signed_by="QM1", against="rule", open_digest="", released_ms=noon(day),
        story="{}", story_digest="", number=n,
    )  # fmt: skip


def test_what_got_out_is_counted_to_day_sixty_from_the_day_the_unit_left(record):
    """As in the follow-up: a unit released anew leaves then, but for one on which something had been found by then."""
    for n in range(4):
        record.seen_through(f"U{n}", "2026-03-03")
        released(record, f"U{n}", "2026-03-03")
    released(record, "U0", "2026-03-20")
    released(record, "U3", "2026-03-20")
    record.defect("in time", "U0", "2026-05-02", "FIELD", first=0, suspected="S08", shift="")
    record.defect("too late", "U1", "2026-05-03", "FIELD", first=0, suspected="S08", shift="")
    record.defect("nobody's", "U0", "2026-03-09", "FIELD", first=0, shift="")
    found = Counts(record).escaped(date(2026, 3, 2), date(2026, 3, 9), 60)

    assert found == Escaped(3, 1, (EscapedCell("S08", "EXT-01", 1, 1), EscapedCell("UNK", "EXT-01", 1, 1)))
    assert Counts(record).escaped(date(2026, 3, 16), date(2026, 3, 25), 60) == Escaped(1, 0, ())


def test_a_critical_after_dispatch_is_in_every_shifts_list(record):
    record.seen_through("U1", "2026-03-03")
    record.defect("out", "U1", "2026-03-05", "FIELD", first=0, severity="critical", shift="")
    record.defect("bay", "U1", "2026-03-03", "D01", "U1-D01", severity="critical", shift="early")

    def found(*shifts):
        return [one.defect for one in Counts(record).criticals(replace(WEEK, shifts=shifts))]

    assert (found("early"), found("late"), found()) == (["bay", "out"], ["out"], ["bay", "out"])


@pytest.mark.parametrize("statement", ["OPEN_ORIGINS", "UNNAMED", "DISPUTED", "WHY", "OLDEST", "CLOCKED", "REPAIRED",
                                       "RELEASED", "ESCAPED", "SEEN_OPEN_ORIGINS"])  # fmt: skip
def test_no_list_reads_what_is_settled(record, statement):
    """SCAN of an index of open ones is their own number; SEARCH goes by key (https://sqlite.org/eqp.html)."""
    opened(record)
    text = getattr(backlogs, statement)
    names = {
        **dict.fromkeys(("field", "first_ms", "end_ms"), 0),
        **dict.fromkeys(("every_model", "every_build", "every_shift", "critical", "major", "minor"), 1),
        "before": "2026-03-26",
        "own": "{}",
        "first": "2026-03-02",
        "end": "2026-03-09",
        "models": "[]",
        "builds": "[]",
        "shifts": "[]",
        "most": 9,
        "unit": "U0",
        "defect": "a",
        "days": 60,
    }
    steps = [row[3] for row in record.connection.execute(f"EXPLAIN QUERY PLAN {text}", names)]
    whole = [step for step in steps if step.startswith("SCAN") and "defect_open_origin" not in step]

    assert [step for step in whole if step.split()[1] not in ("r", "released", "json_each")] == []
