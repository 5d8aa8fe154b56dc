"""The summary tables after any refreshes in any order equal a rebuild from nothing.

Invented rows only: what is checked is that two ways to the same sums agree, and one of them against a plain count.
"""

from dataclasses import replace
from datetime import date, time, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from record_rows import DEMO_PLANT, RowRecord, noon

from qc.domain.counted.counts import Slice
from qc.domain.plant.plant import Shift, Shutdown
from qc.store.counts import Counts
from qc.store.counts.spans import BLOCK_DAYS, all_spans, day_week_spans
from qc.store.tables.summaries import SummaryKeeper
from qc.store.tables.summary_tables import SEEN_TABLES, WORK_TABLES

TABLES = [table.name for table in (*SEEN_TABLES, *WORK_TABLES)] + ["work_part", "work_point_part", "presented_unit"]
DAYS = [(date(2026, 3, 26) + timedelta(days=n)).isoformat() for n in range(12)]
UNITS = [(f"U{n}", model) for n, model in enumerate(("T36", "T36", "M50", "H62", "H62"))]
POINTS = DEMO_PLANT.end_points()

day = st.sampled_from(DAYS)
unit = st.sampled_from(UNITS)
looks = st.tuples(
    st.just("look"), unit, st.sampled_from(POINTS), day, st.integers(1, 2), st.booleans(), st.sampled_from([0, 1, 2])
)
defects = st.tuples(
    st.just("defect"), st.integers(0, 7), unit, st.sampled_from([*POINTS, "S05", "FIELD"]), day,
    st.sampled_from(["critical", "major", "minor"]), st.sampled_from(["open", "withdrawn"]),
    st.sampled_from(["FU1", "S07", "SUP", None]), st.sampled_from(["confirmed", "suspected", "disputed"]),
)  # fmt: skip
passes = st.tuples(st.just("pass"), unit, st.sampled_from(["S01", "S07"]), day)
steps = st.lists(st.one_of(looks, defects, passes, st.just(("refresh",))), max_size=30)


@pytest.fixture
def record(tmp_path):
    record = RowRecord(tmp_path)
    yield record
    record.close()


def everything(record):
    return {
        name: record.connection.execute(f"SELECT * FROM {name}").fetchall()  # WITHOUT ROWID: in key order
        for name in TABLES
    }


def play(record, keeper, step):
    match step:
        case ("refresh",):
            record.write(keeper.refresh)
        case ("look", (chassis, _), point, when, presentation, ended, clean):
            # One first presentation a unit and point, as the record keeps it: the id is the presentation.
            record.looked(
                f"{chassis}-{point}-{presentation}", chassis, when, point, presentation, ended=ended,
                clean=(int(clean > 0), int(clean > 1)), at=POINTS.index(point),
            )  # fmt: skip
        case ("defect", number, _, point, when, severity, state, origin, told):
            chassis, model = UNITS[number % len(UNITS)]
            where = POINTS[number % len(POINTS)] if point in POINTS else point
            record.defect(
                f"d{number}", chassis, when, where, f"{chassis}-{where}-1" if where in POINTS else None, model=model,
                severity=severity, state=state, first=int(where != "FIELD"), origin_state=told if origin else "none",
                suspected=origin, confirmed=origin if told == "confirmed" else None,
            )  # fmt: skip
        case ("pass", (chassis, _), station, when):
            record.passed(chassis, station, when)


@settings(max_examples=120, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(steps=steps)
def test_refreshes_in_any_order_equal_a_rebuild(tmp_path_factory, steps):
    record, keeper = RowRecord(tmp_path_factory.mktemp("record")), SummaryKeeper(DEMO_PLANT)
    try:
        for chassis, model in UNITS:
            record.unit(chassis, model)
        for step in steps:
            play(record, keeper, step)
        record.write(keeper.refresh)
        refreshed = everything(record)
        record.write(keeper.rebuild)

        assert everything(record) == refreshed
        assert record.connection.execute("SELECT count(*) FROM dirty_day").fetchone() == (0,)
    finally:
        record.close()


def test_a_refresh_with_nothing_dirty_changes_nothing(record):
    record.seen_through("U1", "2026-03-03")
    keeper = SummaryKeeper(record.plant)

    assert record.write(keeper.refresh) == 1
    before = everything(record)
    assert record.write(keeper.refresh) == 0
    assert everything(record) == before


def test_the_three_spans_and_the_total_hold_the_same_sum(record):
    for n in range(30):
        when = (date(2026, 2, 27) + timedelta(days=5 * n)).isoformat()
        model = ("T36", "M50", "H62")[n % 3]
        record.seen_through(f"U{n}", when, model=model, shift=("early", "late")[n % 2])
        record.defect(f"d{n}", f"U{n}", when, inspection=f"U{n}-D01", model=model, confirmed="S07")
    record.write(SummaryKeeper(record.plant).refresh)

    def total(table, column, span, detail):
        return record.connection.execute(
            f"SELECT coalesce(sum({column}), 0) FROM {table} WHERE span = ? AND detail = ?", (span, detail)
        ).fetchone()[0]

    for table in SEEN_TABLES:
        spans = {total(table.name, "+".join(table.sums), span, detail) for span in "DWB" for detail in (0, 1)}
        assert len(spans) == 1
        assert spans != {0}
    for table in WORK_TABLES:
        assert len({total(table.name, "+".join(table.sums), span, detail) for span in "WB" for detail in (0, 1)}) == 1


def test_a_unit_that_is_seen_again_later_leaves_its_old_day(record):
    record.seen_through("U1", "2026-03-06")
    keeper = SummaryKeeper(record.plant)
    record.write(keeper.refresh)
    record.looked("U1-T02", "U1", "2026-03-09", "T02")  # a phone's earlier end was wrong
    record.write(keeper.refresh)

    days = record.connection.execute(
        "SELECT start, units FROM presented_sum WHERE span = 'D' AND detail = 0 AND point = ''"
    ).fetchall()

    assert days == [("2026-03-09", 1)]


@given(first=st.dates(date(2020, 1, 1), date(2030, 1, 1)), days=st.integers(0, 800))
def test_spans_cut_a_range_without_gap_or_overlap(first, days):
    end = first + timedelta(days=days)

    for cut in (all_spans(first, end), day_week_spans(first, end)):
        at = first
        for part in cut:
            size = {"D": 1, "W": 7, "B": BLOCK_DAYS}[part.span]
            assert part.first == at
            assert (part.end - part.first).days % size == 0
            at = part.end
        assert at == end


@pytest.mark.parametrize(
    ("first", "end", "spans"),
    [
        (date(2026, 3, 2), date(2026, 3, 9), "W"),
        (date(2026, 3, 3), date(2026, 3, 8), "D"),
        (date(2026, 3, 3), date(2026, 3, 18), "DWD"),
        (date(2026, 1, 1), date(2026, 12, 31), "DWBWD"),
    ],
)
def test_whole_blocks_inside_and_weeks_and_days_at_the_edges(first, end, spans):
    assert "".join(part.span for part in all_spans(first, end)) == spans


def test_a_defect_found_on_another_day_is_counted_on_its_units_day(record):
    record.seen_through("U1", "2026-03-06")
    keeper = SummaryKeeper(record.plant)
    record.write(keeper.refresh)
    record.defect("d", "U1", "2026-03-05", inspection="U1-D01", type_="EXT-01")
    record.write(keeper.refresh)

    rows = record.connection.execute("SELECT start, type, minor FROM type_sum WHERE span = 'D' AND detail = 0")

    assert rows.fetchall() == [("2026-03-06", "EXT-01", 1)]


def shut_at_s07(plant):
    """The plant of another revision in which S07 alone is closed on the day before the unit comes to daylight."""
    shut = Shutdown("Rebuild", date(2026, 2, 26), date(2026, 3, 2), ("S07",))
    return replace(plant, revision=f"{plant.revision}-shut", shutdowns=(shut,))


def mondays_off_at_s07(plant):
    """The plant of another revision in which S07 works in a shift that has no Monday."""
    own = {"own": Shift("own", time(7), time(15), (2, 3, 4))}
    stations = {**plant.stations, "S07": replace(plant.stations["S07"], shifts=("own",))}
    return replace(plant, revision=f"{plant.revision}-own", shifts={**plant.shifts, **own}, stations=stations)


def later_at_s07(plant):
    return with_lead(plant, "S07", plant.stations["S07"].lead_days + 5)


@pytest.mark.parametrize("moved_plant", [later_at_s07, shut_at_s07, mondays_off_at_s07])
def test_a_plant_with_other_lead_times_or_days_of_a_station_has_every_day_counted_again(record, moved_plant):
    record.seen_through("U1", "2026-03-03")
    before = Counts(record)
    whole = Slice(date(2026, 2, 16), date(2026, 3, 9), (), (), ())
    old = before.station_weeks(whole, "S07", "work", noon("2026-03-10"))
    record.plant = moved_plant(record.plant)

    moved = Counts(record).station_weeks(whole, "S07", "work", noon("2026-03-10"))

    assert sum(old.exposed) == sum(moved.exposed) == 1
    assert moved.exposed != old.exposed
    kept = everything(record)
    record.write(SummaryKeeper(record.plant).rebuild)
    assert everything(record) == kept


def test_a_plant_that_counts_every_day_alike_has_nothing_counted_again(record):
    record.seen_through("U1", "2026-03-03")
    record.write(SummaryKeeper(record.plant).rebuild)
    drawn = {code: replace(type_, name=type_.name + " (new name)") for code, type_ in record.plant.types.items()}
    renamed = replace(record.plant, revision="another", types=drawn)

    assert not SummaryKeeper(renamed).is_behind(record.connection)
    assert SummaryKeeper(with_lead(record.plant, "S07", 9)).is_behind(record.connection)
    assert not record.write(SummaryKeeper(renamed).follow)


def with_lead(plant, station, days):
    """Return the plant of another revision in which a station works so many days before daylight."""
    stations = {**plant.stations, station: replace(plant.stations[station], lead_days=days)}
    return replace(plant, revision=f"{plant.revision}-{station}-{days}", stations=stations)
