"""Two lines of one model on the pages: a unit's, the plan's range, the stations', the review asked for one line."""

import re
from pathlib import Path

import pytest

from qc.domain.tables.plant_tables import plant_from_tables, tables_of
from tests.web.pages.lived_in import LivedIn
from tests.web.pages.reading import read
from tests.web.pages.test_passed_page import look, take
from tests.web.plant_server import PlantServer

OTHER = Path(__file__).parents[2] / "plants" / "other"


@pytest.fixture
def lived(tmp_path):
    tables = tables_of(OTHER)
    server = PlantServer(tmp_path / "other", (tables, plant_from_tables(tables)))
    lived = LivedIn(server)
    lived.at(1)
    for n, (model, line) in enumerate((("A21", "N"), ("A21", "Süd"), ("A21", ""), ("BRG34", ""))):
        unit = lived.ids[line or model] = lived.plan(50001 + n, model, **({"line": line} if line else {}))
        lived.present(unit, "PST")
        looked = lived.begin(unit, "ABN")
        lived.ids[f"defect {unit}"] = lived.defect(unit, looked, "seite.tuer", "TUR-1", "minor", point="ABN")
        lived.end(unit, looked)
    lived.at(9)
    yield lived
    server.house.close()


def test_a_units_page_says_its_line_and_offers_the_places_of_that_alone(lived):
    page = lived.server.page("quality_manager")
    shown = {name: page.get(f"/units/{lived.ids[name]}") for name in ("N", "Süd", "A21", "BRG34")}

    assert "Ahle 21, on Süd Südband" in read(shown["Süd"]).text
    assert "on N Nordband, planned for" in read(shown["BRG34"]).text
    assert "nobody said its line: it counts on N Nordband, the first that builds it" in read(shown["A21"]).text
    offered = set(re.findall(r'<option value="([A-Z0-9]+)"', shown["Süd"].text))
    assert {"C10", "C20", "RAH"} <= offered
    assert not {"B10", "B20"} & offered


def test_the_list_of_units_says_each_ones_line(lived):
    page = lived.server.page("quality_manager")
    rows = read(page.get("/units")).one("tbody").all("tr")
    told = {row.all("th")[0].text: [cell.text for cell in row.all("td")][:2] for row in rows}

    assert told == {
        "W650001K": ["A21", "N Nordband"],
        "W650002K": ["A21", "Süd Südband"],
        "W650003K": ["A21", "taken for N Nordband"],
        "W750004K": ["BRG34", "N Nordband"],
    }
    misread = lived.ids["N"][:-3] + "9" + lived.ids["N"][-2:]
    assert f"{lived.ids['N']}, A21, N Nordband, " in read(page.get(f"/units?q={misread}")).text


def test_a_passing_of_another_line_is_told_as_that(lived):
    lived.phone.must("station_passed", "MI1", lived.ids["Süd"], station="B10")
    text = read(lived.server.page("quality_manager").get(f"/units/{lived.ids['Süd']}")).text

    assert "Passed B10 Aufbau; of another line than its own: B10 Aufbau" in text


def test_a_list_says_row_by_row_what_is_of_another_line_before_it_is_taken(lived):
    page, now = lived.server.page("station_lead"), "2026-03-10 08:00"
    north, south = lived.ids["N"], lived.ids["Süd"]
    rows = [(south, "RAH"), (north, "B10"), (south, "B10"), (south, "C10"), (lived.ids["A21"], "C10")]
    looked = look(page, "".join(["unit,station,passed at\n", *(f"{unit},{at},{now}\n" for unit, at in rows)]))

    told = [[cell.text for cell in row.all("td")] for row in read(looked).one("tbody").all("tr")]
    assert [cells[-1] for cells in told] == [
        "passed B10; it stands on N Nordband, the unit is built on Süd Südband",
        "passed C10; it stands on Süd Südband, the unit is built on N Nordband",
        "passed RAH",
        "passed B10",
        "passed C10",
    ]
    assert "5 rows: 5 new; at a station of another line than the unit's: 2." in read(looked).text

    # What was shown is what is taken: a line that a plan has changed since is shown again.
    lived.phone.must("plan_changed", "PL1", south, changes={"line": "N"})
    again = take(page, looked)
    assert again.status_code == 409
    assert "passed C10; it stands on Süd Südband, the unit is built on N Nordband" in read(again).text
    assert "Taken from passed.csv: 5 passings." in read(take(page, again)).text
    text = read(lived.server.page("quality_manager").get(f"/units/{south}")).text
    assert "of another line than its own: C10 Aufbau Süd" in text


def test_the_review_is_asked_for_one_line_and_says_which(lived):
    page = lived.server.page("quality_manager")
    every = read(page.get("/review?week=2026-W10")).text
    south = page.get("/review?week=2026-W10&line=S%C3%BCd")
    wrong = page.get("/review?week=2026-W10&line=West")

    assert south.status_code == 200
    whole = "Signals and what waits are of all units, whatever the page is narrowed to."
    assert "all models, line Süd Südband, all shifts" in read(south).text
    assert whole in read(south).text
    assert whole not in every
    assert "all models, all shifts" in every
    assert "on 4 units" in every or "4 units" in every
    assert "1 unit" in read(south).text
    assert wrong.status_code == 400
    assert "There is no line “West”; there are N, Süd. It was left out." in read(wrong).text
    assert "line=S%C3%BCd" in south.text  # the week before is of the same line


def test_a_defect_of_a_unit_that_went_to_another_line_is_told_beside_the_stations_counts(lived):
    page, unit = lived.server.page("quality_manager"), lived.ids["N"]
    lived.suspect(unit, lived.ids[f"defect {unit}"], "B10")
    before = read(page.get("/stations/B10?week=2026-W10")).text
    lived.phone.must("plan_changed", "PL1", unit, changes={"line": "Süd"})
    after = read(page.get("/stations/B10?week=2026-W10")).text
    told = "1 defect more is put down to B10, on a unit whose build does not contain B10"

    assert told not in before
    assert told in after
    assert told not in read(page.get("/stations/C10?week=2026-W10")).text


def test_a_range_is_put_on_a_line_and_the_stations_page_names_whose_each_is(lived):
    page = lived.server.page("planner")
    form = {"first": "W650001K", "last": "W750004K", "act": "line", "line": "Süd", "reason": "", "day": ""}
    shown = page.get("/plan/range")
    assert "Say on which line they are built" in shown.text
    looked = page.post("/plan/range", csrf_token=page.form_token("/plan/range"), **form)
    text = read(looked).text
    assert "W650001K line N Nordband → Süd Südband" in text
    stations = read(lived.server.page("quality_manager").get("/stations")).text

    assert "Einbau Süd · Südband" in stations
    assert "Aufbau · Nordband" in stations


def test_a_plant_of_one_line_is_asked_for_none(tmp_path):
    server = PlantServer(tmp_path / "demo")
    page = server.page("quality_manager")

    assert 'name="line"' not in page.get("/review").text
    assert 'name="line"' not in page.get("/plan/range").text
    assert "Line" not in read(page.get("/units")).text
    assert "the plant names none. It was left out." in read(page.get("/review?line=N")).text
    server.house.close()
