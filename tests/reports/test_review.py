"""The week's review on rows that a reader can count. Invented rows; expected values by hand.

What statistics compute is checked against outside sources in tests/reference; here it is checked that the review asks
them for the right thing: first presentations, whole weeks, a frozen baseline, criticals apart.
"""

from datetime import date, timedelta

import pytest
from record_rows import RowRecord, noon

from qc.reports.week.review import weekly_review
from qc.stats.answers import TooLittle
from qc.stats.change.adjustment import DirectRate
from qc.stats.charts.chart_points import ControlChart
from qc.store.counts import Counts

MONDAY = date(2026, 3, 2)


@pytest.fixture
def record(tmp_path):
    record = RowRecord(tmp_path)
    yield record
    record.close()


def day_of(week, day=2):
    return (MONDAY + timedelta(weeks=week, days=day)).isoformat()


def fill(record, weeks, mix=lambda week: ("T36",) * 10, per_unit=lambda model, n: int(n % 5 == 0)):
    """Write weeks of units, each with so many majors found in the daylight bay."""
    for week in weeks:
        for n, model in enumerate(mix(week)):
            unit, defects = f"U{week}-{n}", per_unit(model, n)
            record.seen_through(unit, day_of(week), model=model, clean=(int(not defects), int(not defects)))
            for m in range(defects):
                record.defect(
                    f"{unit}-{m}", unit, day_of(week), inspection=f"{unit}-D01", model=model, severity="major",
                    type_=("OPE-02", "PAN-04")[n % 2], confirmed=("S09", "RP2")[n % 2],
                )  # fmt: skip


def reviewed(record, week, now=None, **narrowed):
    when = noon(now or day_of(week, 9))
    return weekly_review(Counts(record), record.plant, MONDAY + timedelta(weeks=week), when, **narrowed)


def whole_chart(review):
    chart = review.level.units_with_defect[0].chart
    assert isinstance(chart, ControlChart)
    return chart


def test_an_empty_record_has_a_review_that_says_so(record):
    review = reviewed(record, 3)

    assert isinstance(review.level.units_with_defect[0].chart, TooLittle)
    assert isinstance(review.first_pass.lines[0].week_major, TooLittle)
    assert review.pareto_by_type.by("count").rows == ()
    assert isinstance(review.origin_table.matrix, TooLittle)
    assert "No critical is recorded" in review.safety.sentence


def test_the_limits_rest_on_the_first_twenty_weeks_and_stay(record):
    fill(record, range(26))
    early, late = whole_chart(reviewed(record, 21)), whole_chart(reviewed(record, 25))

    assert late.baseline.labels == tuple(f"2026-W{10 + n}" for n in range(20))
    assert late.baseline.centre == early.baseline.centre == pytest.approx(0.2)


def test_seven_weeks_are_no_baseline_and_the_review_says_how_many_it_needs(record):
    fill(record, range(8))
    answer = reviewed(record, 7).level.units_with_defect[0].chart

    assert isinstance(answer, TooLittle)
    assert (answer.have, answer.need) == (7, 8)


def test_a_week_that_is_not_over_is_plotted_and_not_judged(record):
    fill(record, range(20))
    fill(record, [20], mix=lambda week: ("T36",) * 3, per_unit=lambda model, n: 1)
    review = reviewed(record, 20, now=day_of(20, 3))

    assert review.week.partial
    assert whole_chart(review).points[-1].state == "partial"
    assert "2026-W29" in review.level.units_with_defect[0].sentence  # the last whole week speaks
    assert "not over" in review.data_quality.partial_sentence


def test_the_week_itself_is_not_in_its_baseline_while_the_record_is_young(record):
    fill(record, range(12))

    assert whole_chart(reviewed(record, 10)).baseline.labels[-1] == "2026-W19"


def test_a_change_of_mix_moves_the_plain_rate_and_not_the_adjusted_one(record):
    def mix(week):
        return ("T36",) * 8 + ("H62",) * 2 if week < 20 else ("T36",) * 2 + ("H62",) * 8

    fill(record, range(28), mix=mix, per_unit=lambda model, n: 2 if model == "H62" else n % 2)
    per_unit = reviewed(record, 27).level.defects_per_unit
    before, after = per_unit.weeks[0].answer, per_unit.weeks[-1].answer

    assert isinstance(before, DirectRate)
    assert isinstance(after, DirectRate)
    assert (before.plain, after.plain) == (pytest.approx(0.8), pytest.approx(1.7))
    assert (before.rate, after.rate) == (pytest.approx(0.8), pytest.approx(0.8))
    assert per_unit.disagree
    assert "disagree" in per_unit.sentence


def test_criticals_are_listed_and_in_no_pareto(record):
    fill(record, range(10))
    record.defect("c", "U9-1", day_of(9), "T01", "U9-1-T01", type_="GAS-01", severity="critical", confirmed="S06")
    review = reviewed(record, 9)
    rows = review.pareto_by_type.by("count").rows

    assert [line.defect for line in review.safety.week] == ["c"]
    assert review.pareto_by_type.criticals == 1
    assert review.pareto_by_type.total == sum(row.count for row in rows) == 2
    assert "GAS-01" not in {row.code for row in rows}
    assert sum(week.defects for week in review.level.defects_per_unit.weeks) == 20


def test_two_criticals_alike_in_a_fortnight_ring_the_bell(record):
    fill(record, range(3))
    for week in (0, 2):
        record.defect(f"c{week}", f"U{week}-1", day_of(week), "T01", type_="GAS-01", severity="critical")
    review = reviewed(record, 2)

    assert review.safety.week[0].alike == ("c0",)
    assert len(review.safety.bells) == 1
    assert "GAS-01" in review.safety.bells[0]


def test_criticals_fifteen_days_apart_do_not(record):
    fill(record, range(3))
    record.defect("c0", "U0-1", day_of(0, 1), "T01", type_="GAS-01", severity="critical")
    record.defect("c1", "U2-1", day_of(2, 2), "T01", type_="GAS-01", severity="critical")

    assert reviewed(record, 2).safety.bells == ()


def test_three_orders_are_three_orders(record):
    fill(record, [0], per_unit=lambda model, n: 0)
    for type_, severity, many in (("EXT-04", "minor", 4), ("SEA-05", "major", 1), ("OPE-02", "major", 2)):
        for n in range(many):
            record.defect(f"{type_}{n}", "U0-1", day_of(0), inspection="U0-1-D01", type_=type_, severity=severity)
    tables = reviewed(record, 0).pareto_by_type

    # Usual minutes in the invented plant: EXT-04 8, SEA-05 180, OPE-02 30.
    assert [row.code for row in tables.by("count").rows] == ["EXT-04", "OPE-02", "SEA-05"]
    assert [row.code for row in tables.by("minutes").rows] == ["SEA-05", "OPE-02", "EXT-04"]
    assert [row.minutes for row in tables.by("minutes").rows] == [180, 60, 32]
    assert [row.code for row in tables.by("severity").rows][:2] == ["OPE-02", "SEA-05"]


def test_each_order_marks_the_neighbours_that_chance_could_turn_round(record):
    """Five against four could stand either way by number; by minutes 4 × 180 lies far above 5 × 8."""
    fill(record, [0], per_unit=lambda model, n: 0)
    for type_, severity, many in (("EXT-04", "minor", 5), ("SEA-05", "major", 4), ("OPE-02", "major", 30)):
        for n in range(many):
            record.defect(f"{type_}{n}", "U0-1", day_of(0), inspection="U0-1-D01", type_=type_, severity=severity)
    tables = reviewed(record, 0).pareto_by_type

    def marked(order):
        return [row.code for row in tables.by(order).rows if row.could_swap]

    assert marked("count") == ["EXT-04"]
    assert marked("minutes") == ["OPE-02"]  # 30 × 30 and 4 × 180 minutes
    assert marked("severity") == ["SEA-05"]  # four majors and none: a fair coin falls so in one of eight throws of four


def test_neither_others_nor_the_unknown_have_a_place_to_swap(record):
    fill(record, [0], per_unit=lambda model, n: 0)
    for n, origin in enumerate(["S07", "S07", "S09", None, None]):
        record.defect(f"d{n}", "U0-1", day_of(0), inspection="U0-1-D01", confirmed=origin)
    rows = reviewed(record, 0).pareto_by_origin.by("count").rows

    assert [(row.code, row.could_swap) for row in rows] == [("S07", True), ("S09", False), ("UNK", False)]


def test_an_unknown_origin_stays_in_the_whole_and_is_the_first_finding(record):
    fill(record, [0], per_unit=lambda model, n: 0)
    for n, origin in enumerate(["S07", "S07", "S07", None]):
        record.defect(f"d{n}", "U0-1", day_of(0), inspection="U0-1-D01", confirmed=origin)
    table = reviewed(record, 0).pareto_by_origin

    assert table.unknown == 1
    assert table.by("count").rows[0].share == pytest.approx(0.75)
    assert table.by("count").rows[-1].code == "UNK"
    assert table.sentence.startswith("The origin of 25 % is not known")


def test_a_week_far_above_the_weeks_before_is_beyond_its_usual_range(record):
    fill(record, range(8), per_unit=lambda model, n: int(n == 0))
    fill(record, [8], per_unit=lambda model, n: 2 * (n % 2 == 0))
    row = next(row for row in reviewed(record, 8).pareto_by_type.by("count").rows if row.code == "OPE-02")

    assert (row.count, row.window_count) == (10, 8)
    assert row.beyond_usual
    assert row.usual_high < 10


def test_second_looks_and_re_presentations_change_nothing(record):
    fill(record, range(12))
    before = reviewed(record, 11)
    for n in range(10):
        record.looked(f"re{n}", f"U11-{n}", day_of(11, 3), presentation=2)
        record.looked(f"look{n}", f"U11-{n}", day_of(11, 3), presentation=0, purpose="relook")
        record.defect(f"re{n}-d", f"U11-{n}", day_of(11, 3), inspection=f"re{n}", first=0, severity="major")
    after = reviewed(record, 11)

    assert after.level == before.level
    assert after.first_pass == before.first_pass
    assert after.pareto_by_type == before.pareto_by_type
    assert after.origin_table == before.origin_table


def test_first_pass_is_told_both_ways_with_its_counts(record):
    fill(record, range(10))
    record.defect("minor", "U9-1", day_of(9), inspection="U9-1-D01", severity="minor")
    record.looked("U9-1-D01", "U9-1", day_of(9), clean=(1, 0), at=2)
    line = reviewed(record, 9).first_pass.lines[0]

    assert (line.week_major.clean, line.week_major.inspected) == (8, 10)
    assert line.week_all.clean == 7
    assert line.sentence.startswith("8 of 10 units in 2026-W19 first-pass with no critical or major (80 %), inside")
    assert line.sentence.endswith(", 7 with nothing at all (70 %).")
    assert line.before_major.inspected == 80
    assert line.week_major.low < 0.8 < line.week_major.high


def test_first_pass_has_the_limits_that_its_complement_has(record):
    """A p chart of the units with one, turned upside down: 1 - p has the same sigma (NIST e-Handbook 6.3.3.2)."""
    fill(record, range(21), mix=lambda week: ("T36",) * 40, per_unit=lambda model, n: int(n % 5 == 0))
    fill(record, [21], mix=lambda week: ("T36",) * 40, per_unit=lambda model, n: int(n % 2 == 0))
    review = reviewed(record, 21)
    line = review.first_pass.lines[0]
    clean, found = line.chart.points[-1], whole_chart(review).points[-1]

    assert (clean.value, clean.centre) == pytest.approx((0.5, 0.8))
    assert clean.lower == pytest.approx(0.8 - 3 * (0.8 * 0.2 / 40) ** 0.5)
    assert (clean.lower, clean.upper) == pytest.approx((1 - found.upper, 1 - found.lower))
    assert (clean.state, found.state) == ("signal_low", "signal_high")
    assert line.chart.high_is == "better"
    assert line.is_low
    assert ", below the limits of 61 % to 99 %, " in line.sentence
    assert "units not first-pass are expected" in line.why


def test_first_pass_is_not_judged_in_a_week_that_is_not_over_nor_without_a_baseline(record):
    fill(record, range(7))
    line = reviewed(record, 6).first_pass.lines[0]
    assert isinstance(line.chart, TooLittle)
    assert not line.is_low
    fill(record, range(7, 20), mix=lambda week: ("T36",) * 40)
    fill(record, [20], per_unit=lambda model, n: 1)
    line = reviewed(record, 20, now=day_of(20, 3)).first_pass.lines[0]

    assert line.chart.points[-1].state == "partial"
    assert not line.is_low
    assert "limits" not in line.sentence
    assert "so far" in line.sentence


def test_narrowing_to_a_model_narrows_everything(record):
    fill(record, range(10), mix=lambda week: ("T36",) * 8 + ("H62",) * 2)
    review = reviewed(record, 9, models=("H62",))

    assert review.level.units_with_defect[0].counts.inspected[-1] == 2
    assert review.first_pass.lines[0].week_major.inspected == 2
    assert review.pareto_by_type.inspected == 2
    assert [one.model for one in review.level.units_with_defect] == ["", "H62", ""]


def test_narrowing_to_majors_counts_again_without_the_minors(record):
    fill(record, range(10), per_unit=lambda model, n: int(n < 4))
    for n in range(3):
        record.defect(f"m{n}", f"U9-{n}", day_of(9), inspection=f"U9-{n}-D01", type_="EXT-04", severity="minor")
    record.defect("c", "U9-1", day_of(9), "T01", "U9-1-T01", type_="GAS-01", severity="critical")
    whole, majors = reviewed(record, 9), reviewed(record, 9, severities=("critical", "major"))

    assert (whole.pareto_by_type.total, majors.pareto_by_type.total) == (7, 4)
    assert {row.minor for row in majors.pareto_by_type.by("count").rows} == {0}
    assert (whole.level.defects_per_unit.weeks[-1].defects, majors.level.defects_per_unit.weeks[-1].defects) == (7, 4)
    assert (whole.origin_table.unknown_total, majors.origin_table.unknown_total) == (4, 1)
    assert majors.safety == whole.safety
    assert majors.first_pass == whole.first_pass


def test_narrowing_to_criticals_leaves_the_origin_table_and_no_rate(record):
    fill(record, range(10))
    record.defect("c", "U9-1", day_of(9), "T01", "U9-1-T01", type_="GAS-01", severity="critical", confirmed="S06")
    review = reviewed(record, 9, severities=("critical",))

    assert not review.has_rates
    assert (review.origin_table.known_total, review.origin_table.rows[0].origin) == (1, "S06")
    assert review.origin_table.denominator.startswith("Only criticals, on units")


def test_who_looked_is_told_when_it_changed(record):
    fill(record, range(4))
    for n in range(10):
        record.seen_through(f"N{n}", day_of(4), inspector="I4")
    mix = {one.point: one for one in reviewed(record, 4).data_quality.inspector_mix}["D01"]

    assert (mix.inspectors, mix.week, mix.before) == (("I1", "I4"), (0, 10), (40, 0))
    assert "has changed" in mix.sentence


def test_fewer_than_one_week_is_refused(record):
    with pytest.raises(ValueError, match="at least 1 week"):
        reviewed(record, 0, window_weeks=0)


def test_units_since_the_last_critical_end_with_the_week_asked_for(record):
    fill(record, range(6))
    record.defect("c", "U0-1", day_of(0), "T01", type_="GAS-01", severity="critical")

    assert reviewed(record, 2, now=day_of(5, 9)).safety.units_since == 20


def test_weeks_from_before_the_record_are_on_no_chart(record):
    fill(record, range(3))

    assert reviewed(record, 2).history.weeks == 3
