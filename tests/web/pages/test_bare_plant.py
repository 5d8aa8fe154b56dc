"""The least that is a plant: one model, two places, no tests, no cautions, no feeder; what is absent is not shown."""

from pathlib import Path

import pytest

from qc.domain.tables.plant_tables import checked_plant, tables_of
from qc.domain.unit.release import blockers, open_digest
from tests.web.pages.lived_in import LivedIn
from tests.web.pages.reading import read
from tests.web.plant_server import PlantServer

BARE = Path(__file__).parents[2] / "plants" / "bare"


@pytest.fixture
def lived(tmp_path):
    tables = tables_of(BARE)
    server = PlantServer(tmp_path / "bare", (tables, checked_plant(tables)))
    lived = LivedIn(server)
    lived.at(1)
    clean = lived.ids["clean"] = lived.plan(101, "HUT")
    looked = lived.begin(clean, "YARD")
    lived.look(clean, looked, "HUT")
    lived.end(clean, looked)
    lived.at(2)
    split = lived.ids["split"] = lived.plan(102, "HUT")
    looked = lived.begin(split, "YARD")
    lived.look(split, looked, "HUT")
    lived.suspect(split, lived.defect(split, looked, "wall", "W-1", "minor", point="YARD"), "MAKE")
    lived.end(split, looked)
    lived.at(9)
    yield lived
    server.house.close()


def test_a_unit_of_it_is_released_by_the_look_alone(lived):
    record = lived.server.house.reads.unit_story(lived.ids["clean"])
    assert blockers(record, lived.plant) == ()

    lived.phone.must(
        "unit_released", "MI1", lived.ids["clean"], open_digest=open_digest(record), against="the plant's release rule"
    )
    assert lived.server.house.reads.unit_story(lived.ids["clean"]).state == "released"


PAGES = {
    "quality_manager": (
        "/review", "/review?week=2026-W10", "/review/by-model", "/review/by-point", "/backlog", "/stations",
        "/stations/MAKE", "/stations/YARD", "/signals", "/units", "/inspectors", "/sign-ins", "/people",
        "/plant-tables", "/paper", "/paper?model=HUT", "/export", "/labels", "/plan", "/legend", "/help",
        "/units/clean", "/units/split",
    ),
    "station_lead": ("/stations/MAKE", "/units/split", "/legend"),
    "inspector": ("/inspectors/me", "/units/clean", "/units"),
    "administrator": ("/people", "/plant-tables", "/legend"),
}  # fmt: skip


def test_every_page_of_it_opens_and_shows_no_empty_list(lived):
    for role, addresses in PAGES.items():
        page = lived.server.page(role)
        for address in addresses:
            *way, last = address.split("/")
            answer = page.get("/".join([*way, lived.ids.get(last, last)]))
            assert answer.status_code == 200, (address, answer.text[:400])
            shown = read(answer)
            for part in (*shown.all("ul"), *shown.all("ol"), *shown.all("tbody"), *shown.all("select")):
                assert part.children, (role, address, part.attrs)


def test_what_is_absent_has_no_table_and_no_heading(lived):
    page = lived.server.page("quality_manager")
    unit = read(page.get(f"/units/{lived.ids['split']}")).text
    paper = read(page.get("/paper?model=HUT")).text

    assert "No test is asked of this unit." in unit
    assert "A blank is" not in unit
    assert "Cautions" not in unit
    assert "Caution" not in paper
