"""Figures of a plant with two lines of one model, counted again by pandas from the journal's bytes and verdicts.

The stations of each line are written out by hand; nothing of the record's tables or the plant's own reading is used.
"""

import json
import random
from contextlib import closing
from dataclasses import replace
from datetime import date
from pathlib import Path

import pandas
import pytest

from qc.domain.counted.counts import Slice
from qc.domain.plant.plant import UNKNOWN
from qc.domain.tables.plant_tables import plant_from_tables, tables_of
from qc.reports.asking import Asking
from qc.reports.watch.watched_series import series_of
from qc.store.counts import LINE, Counts
from qc.store.record.connection import RECORD, open_reader
from tests.web.pages.lived_in import LivedIn
from tests.web.plant_server import PlantServer

OTHER = Path(__file__).parents[1] / "plants" / "other"
WEEKS = Slice(date(2026, 3, 2), date(2026, 3, 30))
OF_LINE = {"N": ("B10", "B20"), "Süd": ("C10", "C20")}
OF_ALL = ("RAH", "TOR", "PST", "ABN", "VSD")


@pytest.fixture
def lived(tmp_path):
    tables = tables_of(OTHER)
    server = PlantServer(tmp_path / "other", (tables, plant_from_tables(tables)))
    lived = LivedIn(server)
    lines = random.Random(11)
    for n in range(30):
        lived.at(n % 5 + 7 * (n // 10), n % 7)
        model, line = lines.choice((("A21", "N"), ("A21", "Süd"), ("A21", "Süd"), ("A21", ""), ("BRG34", "")))
        unit = lived.ids[f"U{n}"] = lived.plan(50001 + n, model, **({"line": line} if line else {}))
        own = OF_LINE[line or "N"]
        lived.phone.must("station_passed", "MI1", unit, station=own[0])
        lived.at(n % 5 + 7 * (n // 10) + lines.choice((0, 7)), 20)
        lived.present(unit, "PST")
        looked = lived.begin(unit, "ABN")
        for _ in range(lines.choice((0, 1, 1, 2))):
            defect = lived.defect(unit, looked, "seite.tuer", "TUR-1", "minor", point="ABN")
            lived.suspect(unit, defect, lines.choice((*own, "RAH")))
        lived.end(unit, looked)
    lived.at(27)
    yield lived
    server.house.close()


def recounted(lived):
    """Return units and defects as tables: each unit with its line, the week presented and that of each passing."""
    with closing(open_reader(lived.server.house.journal.folder / RECORD)) as conn:
        rows = conn.execute(
            "SELECT j.bytes, j.happened_ms FROM journal AS j JOIN verdict USING (number) WHERE verdict = 'applied'"
        ).fetchall()
    told = pandas.DataFrame([{**json.loads(raw), "ms": ms} for raw, ms in rows])
    at = pandas.to_datetime(told.ms, unit="ms", utc=True).dt.tz_convert("Europe/Vienna")
    told["week"] = at.dt.strftime("%G-W%V")

    def of(kind):
        return told[told.kind == kind]

    planned = of("unit_planned").set_index("unit").body
    lines = planned.map(lambda body: body.get("line") or "N")  # BRG34 is built on N alone, and N is named first
    for _, row in of("plan_changed").iterrows():
        lines[row.unit] = row.body["changes"].get("line", lines[row.unit])
    begun = of("inspection_begun").set_index("id").body.map(lambda body: body["point"])
    ended = of("inspection_ended")
    points = ended.body.map(lambda body: begun[body["inspection"]])
    both = ended.assign(point=points).groupby("unit").agg(points=("point", "nunique"), week=("week", "max"))
    units = pandas.DataFrame({"line": lines, "week": both[both.points == 2].week}).dropna()
    units["model"] = planned.map(lambda body: body["model"])
    passed = of("station_passed")
    passed = passed.assign(station=passed.body.map(lambda body: body["station"])).set_index(["unit", "station"]).week
    suspected = of("origin_suspected").body.map(lambda body: (body["defect"], body["station"]))
    origin = pandas.DataFrame(suspected.tolist(), columns=["defect", "origin"]).set_index("defect").origin
    found = of("defect_recorded").assign(origin=lambda rows: rows.id.map(origin))[["unit", "origin"]]
    return units, found.merge(units, left_on="unit", right_index=True), passed


def by_week(weeks, table):
    counted = table.week.value_counts()
    return tuple(int(counted.get(week, 0)) for week in weeks)


def hold(lived):
    """Hold every station's weeks, by the day found and by that of the work, to the recount."""
    counts, now = Counts(lived.server.house.journal), lived.server.now
    units, found, passed = recounted(lived)
    assert len(units) == 30
    compared = 0
    for station in (*OF_ALL, *OF_LINE["N"], *OF_LINE["Süd"]):
        weeks = counts.station_weeks(WEEKS, station, "found", now)
        comes_by = units if station in OF_ALL else units[units.line.map(lambda line, at=station: at in OF_LINE[line])]
        assert weeks.exposed == by_week(weeks.weeks, comes_by), station
        put_down = found[found.origin == station]
        own = put_down[put_down.unit.isin(comes_by.index)]
        assert weeks.suspected == by_week(weeks.weeks, own), station
        assert weeks.defectives == by_week(weeks.weeks, own.drop_duplicates("unit")), station
        assert weeks.elsewhere == by_week(weeks.weeks, put_down.drop(own.index)), station
        assert all(few <= many for few, many in zip(weeks.defectives, weeks.exposed, strict=True)), station
        assert sum(counts.station_types(WEEKS, station).suspected) == len(own), station
        assert len(counts.worked_defects(WEEKS, station, tuple(lived.plant.types))) == len(own), station
        assert counts.all_station_weeks(WEEKS, "found", now)[station] == weeks
        compared += sum(weeks.exposed)
        if station in ("B10", "C10"):
            worked = counts.station_weeks(replace(WEEKS, first=date(2026, 2, 16)), station, "work", now)
            here = passed.reset_index()
            here = here[(here.station == station) & here.unit.isin(comes_by.index)]
            assert sum(worked.suspected) == len(own), station
            assert sum(worked.elsewhere) == len(put_down) - len(own), station
            assert sum(worked.exposed) == len(comes_by), station
            if len(here) == len(comes_by):
                assert worked.exposed == by_week(worked.weeks, here), station
            told = counts.told_passes(WEEKS, station)
            assert told == (len(comes_by), len(here)), station
    for line in OF_LINE:
        ask = Asking(counts=counts, plant=lived.plant, now_ms=now, lines=(line,))
        narrowed = counts.week_counts(replace(WEEKS, builds=ask.builds), LINE, now)
        own = units[units.line == line]
        assert narrowed.inspected == by_week(narrowed.weeks, own)
        assert narrowed.defects == by_week(narrowed.weeks, found[found.line == line])
        assert counts.seen_units(replace(WEEKS, builds=ask.builds)) == own.model.value_counts().sort_index().to_dict()
        hold_by_unit(counts.defects_by_unit(replace(WEEKS, builds=ask.builds)), found[found.line == line])
    assert compared > 200
    return units


def hold_by_unit(told, found):
    """Hold the sums over the units of a line, of which ranges of shares are made, to those of pandas."""
    table = found.groupby(["unit", "origin"]).size().unstack(fill_value=0)
    whole = table.sum(axis=1)
    assert set(told.origins) == set(table.columns) != set()
    for origin, own in zip(told.origins, told.made, strict=True):
        assert (own.part, own.whole, own.units) == (table[origin].sum(), whole.sum(), len(table)), origin
        assert own.part_squares == (table[origin] ** 2).sum(), origin
        assert own.products == (table[origin] * whole).sum(), origin
        assert own.whole_squares == (whole**2).sum(), origin
    at_last = told.passed[told.points.index("ABN")]  # both lines lead there, and all of these were found there
    assert (at_last.part, at_last.whole, at_last.whole_squares) == (0, whole.sum(), (whole**2).sum())


def test_a_stations_rate_is_per_unit_of_its_own_line_and_the_review_of_a_line_holds_its_units(lived):
    units = hold(lived)

    assert set(units.line) == {"N", "Süd"}


def test_a_wrong_line_that_is_corrected_moves_the_unit_in_every_count(lived):
    before = hold(lived)
    _, found, _ = recounted(lived)
    at_first = found[found.origin.isin(OF_LINE["N"])].unit.unique()
    moved = [unit for unit in at_first if before.line[unit] == "N" and before.model[unit] == "A21"][:3]
    for unit in moved:
        lived.phone.must("plan_changed", "PL1", unit, changes={"line": "Süd"})

    after = hold(lived)
    assert (after.line == "Süd").sum() == (before.line == "Süd").sum() + 3
    watched_by_own_units(lived)
    story = [one.said if hasattr(one, "said") else one.words for one in report_of(lived, moved[0]).story]
    assert any("plan changed: line now Süd Südband" in words for words in story)


def report_of(lived, unit):
    from qc.reports.units.unit import unit_report

    return unit_report(lived.server.house.reads, lived.plant, unit)


def watched_by_own_units(lived):
    """Hold what is watched at a station on a line to the defects of the units that come by it."""
    units, found, _ = recounted(lived)
    table = Counts(lived.server.house.journal).cell_weeks(WEEKS, lived.server.now)
    groups = {one.code: one.group for one in lived.plant.types.values()}
    series, _ = series_of(table, groups, (0, 3), {}, [*OF_LINE["N"], *OF_LINE["Süd"]])
    assert series
    for one in series:
        own = units[units.line == ("N" if one.station in OF_LINE["N"] else "Süd")]
        here = found[(found.origin == one.station) & found.unit.isin(own.index)]
        assert sum(one.defects) == len(here), one.station
    assert set(found[found.origin.isin(OF_LINE["N"])].line) == {"N", "Süd"}  # else nothing is held


def test_what_a_stations_signals_rest_on_are_the_units_of_its_own_line(lived):
    """The watch holds a station's defects against the units that come by it, by model and line."""
    counts = Counts(lived.server.house.journal)
    units, _, _ = recounted(lived)
    table = counts.cell_weeks(WEEKS, lived.server.now)
    columns = {name: sum(week[at] for week in table.units) for at, name in enumerate(table.models)}
    elsewhere = dict(table.elsewhere)

    assert columns == {
        "A21 on N": int(((units.model == "A21") & (units.line == "N")).sum()),
        "A21 on Süd": int((units.line == "Süd").sum()),
        "BRG34 on N": int((units.model == "BRG34").sum()),
    }
    assert (elsewhere["B10"], elsewhere["C10"]) == ((False, True, False), (True, False, True))
    groups = {one.code: one.group for one in lived.plant.types.values()}
    series, _ = series_of(table, groups, (0, 3), {}, [one for one in lived.plant.stations if one != UNKNOWN])
    of_south = next(one for one in series if one.station == "C10")
    south = [week[1] for week in table.units]
    assert [round(n / of_south.expected[0] * south[0], 6) if south[0] else n for n in of_south.expected] == [
        round(float(n), 6) for n in south
    ]
