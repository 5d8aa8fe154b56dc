"""First presentations through the count layer: cases with answers from outside, entered as rows and read back.

Sources stand in the case files of tests/reference/cases; "constructed" ones were counted by hand there. What has no
case is checked against rows that a reader can count.
"""

import json
from datetime import date, timedelta
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from record_rows import RowRecord, noon

from qc.domain.counted.counts import Slice
from qc.stats.charts.baselines import rate_baseline, share_baseline
from qc.stats.charts.control_charts import p_chart, u_chart
from qc.stats.series import rates_of, shares_of
from qc.store.counts import LINE, Counts

CASES = Path(__file__).parents[1] / "reference" / "cases"
MONDAY = date(2026, 3, 2)
LATER = noon("2030-01-07")


@pytest.fixture
def record(tmp_path):
    record = RowRecord(tmp_path)
    yield record
    record.close()


def case(name):
    facts = json.loads((CASES / f"{name}.json").read_text(encoding="utf-8"))
    return facts["given"], facts["answer"], facts["within"]


def weeks(how_many):
    return Slice(MONDAY, MONDAY + timedelta(weeks=how_many))


def monday(week):
    return (MONDAY + timedelta(weeks=week)).isoformat()


def enter(record, unit, presentation, defects, day="2026-03-04"):
    """Enter one presentation of a unit at the daylight bay with so many minors; the test bays had nothing to say."""
    if not record.connection.execute("SELECT 1 FROM unit WHERE chassis = ?", (unit,)).fetchone():
        record.unit(unit)
        for place, point in enumerate(("T01", "T02"), start=-2):
            record.looked(f"{unit}-{point}", unit, day, point, at=place)
    id_ = f"{unit}-{presentation}"
    record.looked(id_, unit, day, presentation=presentation, clean=(1, int(defects == 0)))
    for n in range(defects):
        record.defect(f"{id_}-{n}", unit, day, inspection=id_, first=int(presentation == 1))


@pytest.mark.parametrize("name", ["floor-fpy-first-presentation", "floor-out-of-order-events"])
def test_only_first_presentations_count(record, name):
    given_, answer, _ = case(name)
    for unit, _, presentation, defects in given_["events"]:
        enter(record, unit, presentation, defects)
    counts = Counts(record)
    week, passed = (
        counts.week_counts(weeks(1), "D01", LATER),
        counts.first_pass_weeks(weeks(1), "D01", LATER),
    )

    assert week.inspected == passed.presented == (answer["units"]["final"],)
    assert passed.clean_all[0] / passed.presented[0] == pytest.approx(answer["fpy"]["final"])
    if "units_with_defect" in answer:
        assert week.defectives == (answer["units_with_defect"]["final"],)
        assert week.defects[0] / week.inspected[0] == pytest.approx(answer["dpu_first"]["final"])


def test_a_p_chart_of_counted_weeks_has_the_textbooks_limits(record):
    given_, answer, within = case("p-oj-trial")
    size = given_["sizes"]
    for week, defectives in enumerate(given_["counts"]):
        for n in range(size):
            enter(record, f"U{week}-{n}", 1, int(n < defectives), monday(week))
    counted = Counts(record).week_counts(weeks(len(given_["counts"])), "D01", LATER)
    base = share_baseline("all", MONDAY, shares_of(counted.defectives, counted.inspected, counted.weeks), {})
    chart = p_chart(shares_of(counted.defectives, counted.inspected, counted.weeks), base)

    assert counted.inspected == (size,) * len(given_["counts"])
    assert [counted.weeks.index(signal) + 1 for signal in chart.signals] == answer["signals"]
    assert base.centre == pytest.approx(answer["center"], abs=within["abs"])
    assert chart.points[0].upper == pytest.approx(answer["ucl_const"], abs=within["abs"])
    assert chart.points[0].lower == pytest.approx(answer["lcl_const"], abs=within["abs"])


def test_a_u_chart_of_counted_weeks_has_the_textbooks_limits(record):
    given_, answer, within = case("u-computers")
    for week, defects in enumerate(given_["counts"]):
        for n in range(given_["sizes"]):
            enter(
                record, f"U{week}-{n}", 1, defects // given_["sizes"] + int(n < defects % given_["sizes"]), monday(week)
            )
    counted = Counts(record).week_counts(weeks(len(given_["counts"])), "D01", LATER)
    base = rate_baseline("all", MONDAY, rates_of(counted.defects, counted.inspected, counted.weeks), {})
    chart = u_chart(rates_of(counted.defects, counted.inspected, counted.weeks), base)

    assert counted.defects == tuple(given_["counts"])
    assert base.centre == pytest.approx(answer["center"], abs=within["abs"])
    assert chart.points[0].upper == pytest.approx(answer["ucl_const"], abs=within["abs"])
    assert chart.points[0].lower == pytest.approx(answer["lcl_const"], abs=within["abs"])


def test_a_unit_with_three_defects_is_one_defective(record):
    enter(record, "U1", 1, 3)
    counted = Counts(record).week_counts(weeks(1), "D01", LATER)

    assert (counted.inspected, counted.defectives, counted.defects) == ((1,), (1,), (3,))


def test_a_week_without_inspections_stays_as_a_row_of_zeros(record):
    enter(record, "U1", 1, 1, monday(0))
    enter(record, "U2", 1, 0, monday(2))
    counted = Counts(record).week_counts(weeks(3), "D01", LATER)

    assert counted.weeks == ("2026-W10", "2026-W11", "2026-W12")
    assert counted.inspected == (1, 0, 1)
    assert counted.defects == (1, 0, 0)


def test_a_unit_that_nobody_looked_at_is_no_unit_without_defects(record):
    enter(record, "U1", 1, 0)
    record.unit("U2")

    assert Counts(record).week_counts(weeks(1), "D01", LATER).inspected == (1,)


def test_an_inspection_that_has_not_ended_is_not_counted_yet(record):
    record.unit("U1")
    record.looked("U1-1", "U1", "2026-03-04", ended=False)
    record.defect("d", "U1", "2026-03-04", inspection="U1-1")
    counted = Counts(record).week_counts(weeks(1), LINE, LATER)

    assert (counted.inspected, counted.defects) == ((0,), (0,))


def test_what_a_running_inspection_has_found_waits_for_its_end(record):
    record.seen_through("U1", "2026-03-04")
    record.looked("U1-S05", "U1", "2026-03-04", "S05", ended=False)  # a gate on the line, no end point
    record.defect("d", "U1", "2026-03-04", "S05", "U1-S05")
    counts = Counts(record)
    assert counts.week_counts(weeks(1), LINE, LATER).defects == (0,)
    record.looked("U1-S05", "U1", "2026-03-04", "S05", clean=(1, 0))

    assert counts.week_counts(weeks(1), LINE, LATER).defects == (1,)
    assert sum(counts.category_counts(weeks(1), "type").counts) == 1


def test_a_unit_half_looked_at_on_friday_belongs_to_the_week_it_ended(record):
    record.unit("U1")
    record.looked("U1-1", "U1", "2026-03-09")
    record.defect("d", "U1", "2026-03-06", inspection="U1-1")
    counted = Counts(record).week_counts(weeks(2), "D01", LATER)

    assert (counted.inspected, counted.defects) == ((0, 1), (0, 1))


@pytest.mark.parametrize("purpose", ["relook", "containment"])
def test_a_second_look_adds_no_unit_and_no_defect(record, purpose):
    enter(record, "U1", 1, 1)
    record.looked("again", "U1", "2026-03-05", presentation=0, purpose=purpose)
    record.defect("again-1", "U1", "2026-03-05", inspection="again", first=0)
    counts = Counts(record)

    assert counts.week_counts(weeks(1), LINE, LATER).defects == (1,)
    assert counts.week_counts(weeks(1), "D01", LATER).inspected == (1,)
    assert sum(counts.category_counts(weeks(1), "type").counts) == 1


def test_a_withdrawn_defect_leaves_every_count(record):
    enter(record, "U1", 1, 2)
    counts = Counts(record)
    assert counts.week_counts(weeks(1), LINE, LATER).defects == (2,)
    record.defect("U1-1-0", "U1", "2026-03-04", inspection="U1-1", state="withdrawn", withdrawn_why="duplicate")

    assert counts.week_counts(weeks(1), LINE, LATER).defects == (1,)
    assert sum(counts.category_counts(weeks(1), "origin").counts) == 1
    assert sum(counts.origin_detection(weeks(1)).unknown) == 1


@pytest.mark.parametrize(
    ("now", "partial"),
    [("2026-03-11", True), ("2026-03-13", True), ("2026-03-15", True), ("2026-03-16", False), ("2026-03-20", False)],
)
def test_the_last_week_is_partial_until_it_is_over(record, now, partial):
    enter(record, "U1", 1, 0)

    assert Counts(record).week_counts(weeks(2), "D01", noon(now)).partial is partial


def test_a_week_cut_short_by_its_slice_is_partial_for_ever(record):
    enter(record, "U1", 1, 0)

    assert Counts(record).week_counts(Slice(MONDAY, date(2026, 3, 11)), "D01", LATER).partial


def test_a_partial_week_is_plotted_and_judged_by_nothing(record):
    for week in range(3):
        for n in range(10):
            enter(record, f"U{week}-{n}", 1, int(week == 2), monday(week))
    counted = Counts(record).week_counts(weeks(3), "D01", noon("2026-03-17"))
    base = share_baseline("given", MONDAY, shares_of((1, 1), (100, 100), ("a", "b")), {})
    chart = p_chart(shares_of(counted.defectives, counted.inspected, counted.weeks), base, partial_last=counted.partial)

    assert [point.state for point in chart.points] == ["in", "in", "partial"]


def test_severities_narrow_defects_and_defectives(record):
    record.seen_through("U1", "2026-03-03")
    record.seen_through("U2", "2026-03-03")
    record.defect("a", "U1", "2026-03-03", inspection="U1-D01", severity="major")
    record.defect("b", "U1", "2026-03-03", inspection="U1-D01", severity="minor")
    record.defect("c", "U2", "2026-03-03", inspection="U2-D01", severity="minor")
    counts, first = Counts(record), weeks(1)

    def told(*severities):
        week = counts.week_counts(Slice(first.first, first.end, severities=severities), LINE, LATER)
        return week.defectives + week.defects

    assert told() == (2, 3)
    assert told("major") == (1, 1)
    assert told("minor") == (2, 2)
    assert told("critical", "major") == (1, 1)


def test_models_and_shifts_add_up_to_the_whole(record):
    for n, (model, shift) in enumerate([("T36", "early"), ("T36", "late"), ("M50", "early"), ("H62", "late")]):
        record.seen_through(f"U{n}", "2026-03-03", model=model, shift=shift)
        record.defect(f"d{n}", f"U{n}", "2026-03-03", inspection=f"U{n}-D01", model=model, shift=shift)
    counts, whole = Counts(record), weeks(1)

    by_model = counts.week_counts_by_model(whole, LINE, LATER)
    late = Slice(whole.first, whole.end, shifts=("late",))

    assert [model.inspected for model in by_model.values()] == [(2,), (1,), (1,)]
    assert counts.week_counts(whole, LINE, LATER).inspected == (4,)
    assert counts.week_counts(late, LINE, LATER).inspected == (2,)
    assert counts.seen_units(late) == {"H62": 1, "T36": 1}
    assert sum(counts.category_counts(late, "type").counts) == 2


def test_first_pass_at_the_line_needs_every_end_point(record):
    record.seen_through("U1", "2026-03-03")
    record.unit("U2")
    record.looked("U2-T01", "U2", "2026-03-03", "T01")
    counts = Counts(record)

    assert counts.first_pass_weeks(weeks(1), LINE, LATER).presented == (1,)
    assert counts.first_pass_weeks(weeks(1), "T01", LATER).presented == (2,)
    assert counts.week_counts(weeks(1), LINE, LATER).inspected == (1,)


def test_one_point_that_was_not_clean_makes_the_line_not_first_pass(record):
    record.seen_through("U1", "2026-03-03")
    record.looked("U1-T01", "U1", "2026-03-03", "T01", clean=(0, 0))  # a failed test, no defect
    passed = Counts(record).first_pass_weeks(weeks(1), LINE, LATER)

    assert (passed.presented, passed.clean_major, passed.clean_all) == ((1,), (0,), (0,))


def test_a_slice_that_cannot_be_is_refused_by_name(record):
    counts = Counts(record)

    with pytest.raises(ValueError, match=r"2026-03-09 to 2026-03-02"):
        counts.week_counts(Slice(date(2026, 3, 9), MONDAY), LINE, LATER)
    with pytest.raises(ValueError, match="fatal"):
        counts.week_counts(Slice(MONDAY, MONDAY, severities=("fatal",)), LINE, LATER)
    with pytest.raises(ValueError, match="colour"):
        counts.category_counts(weeks(1), "colour")


WORDS = st.tuples(
    st.integers(0, 120),
    st.sampled_from(["T36", "M50", "H62"]),
    st.lists(st.sampled_from(["major", "minor", "critical"]), max_size=3),
)


@settings(max_examples=30, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(units=st.lists(WORDS, max_size=12), first=st.integers(0, 130), days=st.integers(0, 130))
def test_any_range_of_days_counts_what_a_plain_count_does(tmp_path_factory, units, first, days):
    record = RowRecord(tmp_path_factory.mktemp("record"))
    try:
        for n, (day, model, severities) in enumerate(units):
            when = (MONDAY + timedelta(days=day)).isoformat()
            record.seen_through(f"U{n}", when, model=model)
            for m, severity in enumerate(severities):
                record.defect(f"d{n}-{m}", f"U{n}", when, inspection=f"U{n}-D01", model=model, severity=severity)
        inside = [one for one in units if first <= one[0] < first + days]
        asked = Slice(MONDAY + timedelta(days=first), MONDAY + timedelta(days=first + days))
        counts = Counts(record)
        week, types = counts.week_counts(asked, LINE, LATER), counts.category_counts(asked, "type")

        assert sum(week.inspected) == types.inspected == len(inside)
        assert sum(week.defectives) == sum(bool(severities) for _, _, severities in inside)
        assert sum(week.defects) == sum(types.counts) == sum(len(severities) for _, _, severities in inside)
        assert sum(triple[1] for triple in types.by_severity) == sum(s.count("major") for _, _, s in inside)
    finally:
        record.close()
