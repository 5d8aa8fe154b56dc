"""Origins and work days through the count layer. Invented rows on the invented plant; expected values by hand."""

import random
from dataclasses import replace
from datetime import date, timedelta
from types import MappingProxyType

import pytest
from record_rows import DEMO_PLANT, RowRecord, noon

from qc.domain.counted.by_unit import part_by_unit
from qc.domain.counted.counts import Slice
from qc.store.counts import Counts

MONDAY = date(2026, 3, 2)
LATER = noon("2030-01-07")
WEEKS = Slice(MONDAY, MONDAY + timedelta(weeks=4))


@pytest.fixture
def record(tmp_path):
    record = RowRecord(tmp_path)
    yield record
    record.close()


def cell(table, kind, origin, point):
    return getattr(table, kind)[table.origins.index(origin)][table.points.index(point)]


def test_each_defect_stands_once_confirmed_or_suspected_or_unknown(record):
    record.seen_through("U1", "2026-03-03")
    for n, (suspected, confirmed, state) in enumerate(
        [
            ("S07", None, "suspected"),
            ("S07", "S07", "confirmed"),
            ("S07", "FU1", "settled"),
            ("S07", None, "disputed"),
            ("UNK", None, "suspected"),
            (None, None, "none"),
        ]
    ):
        record.defect(
            f"d{n}", "U1", "2026-03-03", inspection="U1-D01", suspected=suspected, confirmed=confirmed,
            origin_state=state,
        )  # fmt: skip
    counts = Counts(record)
    table = counts.origin_detection(WEEKS)

    assert cell(table, "suspected", "S07", "D01") == 1
    assert cell(table, "confirmed", "S07", "D01") == 1
    assert cell(table, "confirmed", "FU1", "D01") == 1
    assert table.unknown[table.points.index("D01")] == 3
    assert sum(map(sum, table.confirmed)) + sum(map(sum, table.suspected)) + sum(table.unknown) == 6
    by_origin = counts.category_counts(WEEKS, "origin")
    assert dict(zip(by_origin.labels, by_origin.counts, strict=True))["UNK"] == 3
    confirmed = counts.category_counts(WEEKS, "confirmed origin")
    assert dict(zip(confirmed.labels, confirmed.counts, strict=True))["S07"] == 1


def test_suspected_and_confirmed_stay_apart_by_week(record):
    record.seen_through("U1", "2026-03-03")
    record.defect("a", "U1", "2026-03-03", inspection="U1-D01", suspected="S07")
    record.defect("b", "U1", "2026-03-03", inspection="U1-D01", suspected="S07", confirmed="S07")
    weeks = Counts(record).station_weeks(WEEKS, "S07", "found", LATER)

    assert (weeks.exposed[0], weeks.confirmed[0], weeks.suspected[0], weeks.defectives[0]) == (1, 1, 1, 1)


def test_what_is_found_after_dispatch_stands_in_origin_by_detection_alone(record):
    record.seen_through("U1", "2026-03-03")
    record.defect("f", "U1", "2026-03-20", "FIELD", first=0, confirmed="S07")
    counts = Counts(record)
    table = counts.origin_detection(Slice(MONDAY, MONDAY + timedelta(weeks=1)))

    assert table.points[-1] == "FIELD"
    assert cell(table, "confirmed", "S07", "FIELD") == 1  # on the week of its unit, found whenever
    assert sum(counts.category_counts(WEEKS, "type").counts) == 0
    assert sum(counts.station_weeks(WEEKS, "S07", "found", LATER).confirmed) == 0
    assert counts.week_counts(WEEKS, "line", LATER).defects[0] == 0


def test_a_finding_on_a_unit_that_was_never_presented_is_told_as_such(record):
    record.unit("U9")
    record.defect("f", "U9", "2026-03-04", "FIELD", first=0)
    counts = Counts(record)

    assert sum(counts.origin_detection(WEEKS).unknown) == 0
    assert counts.data_quality(WEEKS, LATER).field_without_record == (1, 1)


def test_a_feeder_is_counted_in_the_week_of_its_work_by_the_lead_time_rule(record):
    # FU1 works 4 working days ahead: seen Wednesday 2026-03-11, made Thursday 2026-03-05.
    record.seen_through("U1", "2026-03-11")
    record.defect("d", "U1", "2026-03-11", inspection="U1-D01", confirmed="FU1")
    counts = Counts(record)
    work = counts.station_weeks(WEEKS, "FU1", "work", LATER)
    found = counts.station_weeks(WEEKS, "FU1", "found", LATER)

    assert (work.weeks[0], work.confirmed, work.exposed) == ("2026-W10", (1, 0, 0, 0), (1, 0, 0, 0))
    assert found.confirmed == (0, 1, 0, 0)


def test_a_scan_at_the_station_dates_the_work(record):
    record.seen_through("U1", "2026-03-25")
    record.passed("U1", "S07", "2026-03-04")
    record.defect("d", "U1", "2026-03-25", inspection="U1-D01", confirmed="S07")
    work = Counts(record).station_weeks(WEEKS, "S07", "work", LATER)

    assert work.confirmed == (1, 0, 0, 0)
    assert work.exposed == (1, 0, 0, 0)


def test_a_scan_that_comes_late_moves_a_unit_without_defects_too(record):
    record.seen_through("U1", "2026-03-25")
    counts = Counts(record)
    assert counts.station_weeks(WEEKS, "S07", "work", LATER).exposed == (0, 0, 0, 1)
    record.passed("U1", "S07", "2026-03-04")

    assert counts.station_weeks(WEEKS, "S07", "work", LATER).exposed == (1, 0, 0, 0)


def test_work_by_whole_weeks_and_by_days_agree(record):
    for n in range(20):
        day = (MONDAY + timedelta(days=7 + n)).isoformat()
        record.seen_through(f"U{n}", day)
        record.defect(f"d{n}", f"U{n}", day, inspection=f"U{n}-D01", confirmed="FU1")
    counts = Counts(record)
    days = [Slice(MONDAY + timedelta(days=n), MONDAY + timedelta(days=n + 1)) for n in range(28)]

    whole = counts.station_weeks(WEEKS, "FU1", "work", LATER)
    by_day = [counts.station_weeks(one, "FU1", "work", LATER) for one in days]
    tables = [counts.origin_detection(one, "work") for one in days]

    assert sum(whole.confirmed) == sum(one.confirmed[0] for one in by_day) == 20
    assert sum(whole.exposed) == sum(one.exposed[0] for one in by_day) == 20
    assert sum(cell(one, "confirmed", "FU1", "D01") for one in tables) == 20
    assert cell(counts.origin_detection(WEEKS, "work"), "confirmed", "FU1", "D01") == 20


def test_a_station_of_one_model_has_that_models_units_as_denominator(tmp_path):
    stations = {**DEMO_PLANT.stations, "S06": replace(DEMO_PLANT.stations["S06"], models=("M50",))}
    record = RowRecord(tmp_path, replace(DEMO_PLANT, stations=MappingProxyType(stations), revision="option"))
    record.seen_through("U1", "2026-03-03", model="T36")
    record.seen_through("U2", "2026-03-03", model="M50")
    record.seen_through("U3", "2026-03-03", model="M50")
    counts = Counts(record)

    assert counts.station_weeks(WEEKS, "S06", "found", LATER).exposed[0] == 2
    assert counts.station_weeks(WEEKS, "S06", "work", LATER).exposed[0] == 2
    assert counts.station_weeks(WEEKS, "S05", "found", LATER).exposed[0] == 3
    assert counts.all_station_weeks(WEEKS, "found", LATER)["S06"].exposed[0] == 2
    record.close()


def test_a_place_outside_the_build_is_exposed_to_every_unit(record):
    record.seen_through("U1", "2026-03-03")
    record.defect("d", "U1", "2026-03-03", inspection="U1-D01", confirmed="SUP")
    counts = Counts(record)

    for basis in ("found", "work"):
        weeks = counts.station_weeks(WEEKS, "SUP", basis, LATER)
        assert (weeks.exposed[0], weeks.confirmed[0]) == (1, 1)
        assert "every unit" in weeks.denominator


def test_a_station_that_the_plant_does_not_have_is_a_key_error(record):
    with pytest.raises(KeyError, match="S99"):
        Counts(record).station_weeks(WEEKS, "S99", "found", LATER)


def test_all_stations_at_once_are_each_one_alone(record):
    for n in range(6):
        record.seen_through(f"U{n}", "2026-03-11")
        record.defect(f"d{n}", f"U{n}", "2026-03-11", inspection=f"U{n}-D01", suspected=("S07", "FU1", "SUP")[n % 3])
    counts = Counts(record)

    for basis in ("found", "work"):
        together = counts.all_station_weeks(WEEKS, basis, LATER)
        assert {one: counts.station_weeks(WEEKS, one, basis, LATER) for one in together} == together


def test_a_point_is_asked_only_for_what_it_was_meant_to_find(record):
    # GAS-01 is first to be seen at T01; EXT-01 only in the daylight bay.
    record.seen_through("U1", "2026-03-03")
    record.defect("a", "U1", "2026-03-03", "T01", "U1-T01", type_="GAS-01", severity="critical", confirmed="S06")
    record.defect("b", "U1", "2026-03-03", "D01", "U1-D01", type_="GAS-01", severity="critical", confirmed="S06")
    record.defect("c", "U1", "2026-03-03", "D01", "U1-D01", type_="EXT-01", confirmed="S10")
    record.defect("e", "U1", "2026-03-20", "FIELD", None, type_="EXT-01", first=0, confirmed="S10")
    record.defect("h", "U1", "2026-03-20", "FIELD", None, type_="EXT-01", first=0, confirmed="HND")
    findings = Counts(record).point_findings(WEEKS)

    told = {p: (f, e) for p, f, e in zip(findings.points, findings.found, findings.passed, strict=True)}

    assert told["T01"] == (1, 1)
    assert told["D01"] == (2, 1)  # handling after the bay is not the bay's escape


def test_what_nobody_knows_is_taken_to_lie_before_the_point_and_stands_by_number(record):
    record.seen_through("U1", "2026-03-03")
    record.defect("a", "U1", "2026-03-03", "T01", "U1-T01", type_="GAS-01")
    record.defect("b", "U1", "2026-03-03", "D01", "U1-D01", type_="GAS-01")
    record.defect("c", "U1", "2026-03-03", "D01", "U1-D01", type_="GAS-01", confirmed="S06")
    findings = Counts(record).point_findings(WEEKS)
    at = findings.points.index("T01")

    assert (findings.found[at], findings.unknown_found[at]) == (1, 1)
    assert (findings.passed[at], findings.unknown_passed[at]) == (2, 1)


def test_units_that_have_not_left_for_sixty_days_are_in_no_followed_share(record):
    """One left, one left lately, one never: each found one in the bay, the first and last passed one at T01."""
    for n, day in enumerate(("2026-03-03", "2026-04-20", None)):
        record.seen_through(f"U{n}", "2026-03-03")
        record.defect(f"bay{n}", f"U{n}", "2026-03-03", "D01", f"U{n}-D01", type_="GAS-01", confirmed="S06")
        if day:
            record.released(f"U{n}", day)
    record.defect("in time", "U0", "2026-05-02", "FIELD", first=0, type_="GAS-01", confirmed="S06", shift="")
    record.defect("late", "U0", "2026-05-03", "FIELD", first=0, type_="GAS-01", confirmed="S06", shift="")
    counts = Counts(record)
    found = {now: counts.followed_by_unit(WEEKS, noon(now)) for now in ("2026-05-02", "2026-05-03")}
    bay = counts.point_findings(WEEKS).points.index("D01")

    told = [(one.passed[bay].whole - one.passed[bay].part, one.passed[bay].part) for one in found.values()]
    assert told == [(0, 0), (1, 1)]
    assert (counts.point_findings(WEEKS).found[bay], counts.point_findings(WEEKS).passed[bay]) == (3, 2)
    assert found["2026-05-03"].after_dispatch == part_by_unit([(1, 2)])
    early = counts.followed_by_unit(replace(WEEKS, shifts=("late",)), noon("2026-05-03"))
    assert [one.whole for one in early.passed] == [0] * len(early.points)


def test_defects_are_summed_over_their_units(record):
    """By hand: U1 has 3 of S06 (one of them passed T01) and 1 of nobody, U2 one of S10 found by a dealer, U3 none."""
    for unit in ("U1", "U2", "U3"):
        record.seen_through(unit, "2026-03-03")
    for n, point in enumerate(("T01", "T01", "D01")):
        record.defect(f"a{n}", "U1", "2026-03-03", point, f"U1-{point}", type_="GAS-01", confirmed="S06")
    record.defect("b", "U1", "2026-03-03", "D01", "U1-D01")
    record.defect("c", "U2", "2026-03-20", "FIELD", first=0, suspected="S10", severity="major")
    counts = Counts(record)
    told, at_points = counts.defects_by_unit(WEEKS), counts.defects_by_unit(WEEKS, at_points=True)
    majors = counts.defects_by_unit(replace(WEEKS, severities=("major",)))

    assert dict(zip(told.origins, told.made, strict=True)) == {
        "S06": part_by_unit([(3, 3), (0, 1)]), "S10": part_by_unit([(0, 3), (1, 1)]),
    }  # fmt: skip
    assert told.unknown == part_by_unit([(1, 4), (0, 1)])
    assert told.after_dispatch == part_by_unit([(0, 4), (1, 1)])
    assert told.passed[told.points.index("T01")] == part_by_unit([(1, 3)])
    assert told.passed[told.points.index("D01")] == part_by_unit([(0, 2), (1, 1)])
    assert (told.made_at("S06").units, told.made_at("S07").units) == (2, 0)
    assert (at_points.origins, at_points.made_at("S06")) == (("S06",), part_by_unit([(3, 3)]))
    assert (majors.origins, majors.unknown) == (("S10",), part_by_unit([(0, 1)]))


@pytest.mark.parametrize("narrowed", [{}, {"severities": ("minor",)}, {"models": ("M50",)}, {"shifts": ("late",)}])
def test_the_sums_over_units_are_of_the_same_defects_as_the_tables(record, narrowed):
    rng = random.Random(20261130)
    for n in range(40):
        day = MONDAY + timedelta(days=rng.choice((-1, 0, 13, 27, 28)))  # the slice's edges and what lies outside
        record.seen_through(f"U{n}", str(day), model=rng.choice(("T36", "M50")), shift=rng.choice(("early", "late")))
        for m in range(rng.randrange(0, 6)):
            point, origin = rng.choice(("T01", "D01", "FIELD")), rng.choice(("S06", "S07", "HND", "UNK", None))
            record.defect(
                f"{n}-{m}", f"U{n}", str(day), point, None if point == "FIELD" else f"U{n}-{point}",
                first=int(point != "FIELD"), type_=rng.choice(("GAS-01", "EXT-01")), suspected=origin,
                severity=rng.choice(("major", "minor")), state=rng.choice(("open", "closed", "withdrawn")),
            )  # fmt: skip
    slice_, counts = replace(WEEKS, **narrowed), Counts(record)
    told, table, findings = (
        ask(slice_) for ask in (counts.defects_by_unit, counts.origin_detection, counts.point_findings)
    )
    rows = zip(table.origins, table.confirmed, table.suspected, strict=True)
    made = {origin: sum(sure) + sum(open_) for origin, sure, open_ in rows}

    assert {origin: told.made_at(origin).part for origin in made} == made
    assert {one.whole for one in told.made} == {sum(made.values())} != {0}
    assert (told.unknown.part, told.unknown.whole) == (sum(table.unknown), sum(table.unknown) + sum(made.values()))
    assert told.points == findings.points
    assert [one.part for one in told.passed] == list(findings.passed)
    assert [one.whole - one.part for one in told.passed] == list(findings.found)
    fitness = counts.defects_by_unit(slice_, at_points=True).unknown
    assert (fitness.part, fitness.whole) == counts.data_quality(slice_, LATER).unknown_origin
