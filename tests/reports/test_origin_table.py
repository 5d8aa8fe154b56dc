"""Origin × detection as reported, with the constructed escape case entered as rows and read back."""

import json
from dataclasses import replace
from datetime import date
from itertools import pairwise
from pathlib import Path
from types import MappingProxyType

import pytest
from record_rows import DEMO_PLANT, RowRecord, noon

from qc.charts.pages.origin_table import matrix_picture, passed_picture
from qc.domain.plant.plant import FIELD, Links
from qc.reports.asking import Asking
from qc.reports.periods import week_of, weeks_up_to
from qc.reports.week.origin_table import downstream_places, origin_table
from qc.stats.origins.escapes import Found
from qc.store.counts import Counts

CASE = json.loads((Path(__file__).parents[1] / "reference/cases/floor-escapes.json").read_text(encoding="utf-8"))
TODAY = "2026-03-16"


def line_plant(stations):
    """Return a plant that is one line; every station looks, units are presented at the last."""
    pattern = DEMO_PLANT.stations["S01"]
    made = {
        name: replace(
            pattern,
            id=name,
            name=name,
            can_detect=True,
            kind="inspection" if name == stations[-1] else "main",
            final=name == stations[-1],
        )
        for name in stations
    }
    flow = tuple(pairwise(stations))
    return replace(DEMO_PLANT, stations=MappingProxyType(made), links=Links(flow, (), ()), revision="line")


def reported(record, weeks=2):
    ask = Asking(counts=Counts(record), plant=record.plant, now_ms=noon(TODAY))
    return origin_table(ask, weeks_up_to(week_of(date(2026, 3, 9), ask.today), weeks))


def test_the_constructed_escape_case_comes_back_through_rows_and_counts(tmp_path):
    line, answer = CASE["given"]["line"], CASE["answer"]
    record = RowRecord(tmp_path, line_plant(line))
    record.unit("U1")
    record.looked("U1-1", "U1", "2026-03-04", line[-1])
    for n, (origin, found_at, count) in enumerate(CASE["given"]["records"]):
        for m in range(count):
            record.defect(f"d{n}-{m}", "U1", "2026-03-04", found_at, confirmed=origin)
    table = reported(record)
    record.close()

    for origin in table.matrix.origins:
        if origin.station == FIELD:
            continue
        expected = answer["stations"][origin.station]
        assert (origin.originated, origin.contained, origin.escaped) == (
            expected["originated"],
            expected["contained"],
            expected["escaped"],
        )
        assert origin.containment.share == pytest.approx(expected["containment"])
    assert list(table.matrix.worst) == answer["rank"]
    assert table.matrix.inconsistent == (Found("roof", "wall", 1),)
    assert table.matrix.inconsistent_count == answer["inconsistent"]


def test_what_is_downstream_follows_the_build_and_ends_with_dispatch():
    after = downstream_places(DEMO_PLANT)

    assert after["S12"] == ("T01", "T02", "D01", "X01", FIELD)
    assert "S03" not in after["FU1"]  # furniture joins at S04
    assert after["R01"] == ("T01", "T02", "D01", FIELD)
    assert after[FIELD] == ()


def test_unknown_and_outside_origins_are_charged_to_no_station(tmp_path):
    record = RowRecord(tmp_path)
    record.seen_through("U1", "2026-03-04")
    for n, origin in enumerate(["SUP", "DSN", "HND", None, "S07", "R01"]):
        record.defect(f"d{n}", "U1", "2026-03-04", inspection="U1-D01", confirmed=origin)
    table = reported(record)
    record.close()

    rows = {row.origin: row for row in table.rows}
    assert {code for code, row in rows.items() if not row.is_station} == {"SUP", "DSN", "HND"}
    assert {code for code, row in rows.items() if row.is_station} == {"S07", "R01"}
    assert (table.known_total, table.unknown_total) == (5, 1)
    assert table.unknown_share.share == pytest.approx(1 / 6)
    assert rows["S07"].share.inspected == 5  # of the known ones
    assert dict(table.matrix.no_station) == {"SUP": 1, "DSN": 1, "HND": 1}


def test_an_escape_after_dispatch_is_the_daylight_bays(tmp_path):
    record = RowRecord(tmp_path)
    record.seen_through("U1", "2026-03-04")
    record.defect("in", "U1", "2026-03-04", inspection="U1-D01", confirmed="S10")
    record.defect("out", "U1", "2026-03-15", FIELD, first=0, confirmed="S10")
    table = reported(record)
    record.close()

    bay = next(line for line in table.detection if line.point == "D01")
    assert (bay.found, bay.passed, bay.share_passed.share) == (1, 1, 0.5)


def test_the_follow_up_of_the_units_is_said(tmp_path):
    record = RowRecord(tmp_path)
    record.seen_through("U1", "2026-03-04")
    table = reported(record)
    record.close()

    assert table.follow_up.startswith("0 of 1 unit left more than 60 days ago")
    assert "still grows" in table.follow_up


def test_units_that_all_left_long_ago_are_not_said_to_grow(tmp_path):
    record = RowRecord(tmp_path)
    record.seen_through("U1", "2026-03-04")
    record.released("U1", "2026-03-04")
    ask = Asking(counts=Counts(record), plant=record.plant, now_ms=noon("2026-06-01"))
    table = origin_table(ask, weeks_up_to(week_of(date(2026, 3, 9), ask.today), 2))
    record.close()

    assert table.follow_up.startswith("Every one of 1 unit left more than 60 days ago")
    assert "still grows" not in table.follow_up


def test_each_points_finds_are_those_of_the_matrix_in_two_parts(tmp_path):
    """What is left out of a share (handling, a type first looked for later) stands by number, nothing is dropped."""
    record = RowRecord(tmp_path)
    record.seen_through("U1", "2026-03-03")
    for n, (point, more) in enumerate(
        [
            ("T01", {"type_": "GAS-01", "confirmed": "S06"}),
            ("T01", {"type_": "EXT-01", "confirmed": "S10"}),  # found early: the bay is the first to be asked for it
            ("T01", {"type_": "EXT-01"}),
            ("D01", {"confirmed": "HND"}),
            ("D01", {"suspected": "S10"}),
            ("D01", {}),
        ]
    ):
        record.defect(f"d{n}", "U1", "2026-03-03", point, f"U1-{point}", **more)
    table = reported(record)
    lines = {line.point: line for line in table.detection}
    columns = zip(*table.counts.confirmed, *table.counts.suspected, table.counts.unknown, strict=True)
    whole = dict(zip(table.points, map(sum, columns), strict=True))

    assert {point: line.found + line.left_out for point, line in lines.items()} == {p: whole[p] for p in lines}
    assert (lines["T01"].found, lines["T01"].left_out, lines["T01"].unknown_found) == (1, 2, 0)
    assert (lines["D01"].found, lines["D01"].left_out, lines["D01"].unknown_found) == (2, 1, 1)
    record.close()


def test_units_on_which_nothing_was_found_are_not_said_to_be_uninspected(tmp_path):
    record = RowRecord(tmp_path)
    record.seen_through("U1", "2026-03-03")
    table = reported(record)
    record.close()
    told = [*matrix_picture(table, "2 weeks").cautions, str(passed_picture(table, "2 weeks").figure)]

    assert table.sentence == "No defect was found on these units."
    assert not [words for words in told if "inspected" in words]
    assert "T01 Services test bay: nothing was found here nor passed" in told[-1]
