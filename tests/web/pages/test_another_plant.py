"""Every page of a plant with other codes, points and models opens, and a unit is released at its own final points."""

from pathlib import Path

import pytest

from qc.domain.facts.rule_set import RULES, SEVERITIES_NAMED
from qc.domain.tables.plant_tables import plant_from_tables, tables_of
from qc.domain.unit.release import blockers, open_digest
from qc.reports.mails.own_letters import Letters
from qc.store.counts import Counts
from qc.store.intake import door
from tests.web.pages.lived_in import LivedIn
from tests.web.pages.reading import read, table_rows
from tests.web.plant_server import CAST, PlantServer

OTHER = Path(__file__).parents[2] / "plants" / "other"
# What only the demo's plant calls so; a page of another plant that says it has it from the code.
DEMO_WORDS = ("D01", "T01", "S07", "SUP", "HND", "GAS", "daylight", "Daylight")


@pytest.fixture
def lived(tmp_path):
    tables = tables_of(OTHER)
    server = PlantServer(tmp_path / "other", (tables, plant_from_tables(tables)))
    lived = LivedIn(server)
    lived.at(1)
    clean = lived.ids["clean"] = lived.plan(50001, "A21")
    lived.test_all(clean, "A21")
    lived.present(clean, "PST")
    looked = lived.begin(clean, "ABN")
    lived.look(clean, looked, "A21")
    lived.end(clean, looked)
    lived.at(2)
    burning = lived.ids["burning"] = lived.plan(50002, "BRG34")
    lived.present(burning, "PST")
    looked = lived.begin(burning, "ABN")
    for zone, type_, severity, origin in (
        ("vorn.kasten", "BRG-1", "critical", "ZUL"),
        ("seite.wand", "WND-1", "minor", "TRN"),
        ("seite.tuer", "TUR-1", "minor", "B10"),
    ):
        defect = lived.defect(burning, looked, zone, type_, severity, point="ABN")
        lived.suspect(burning, defect, origin)
    lived.end(burning, looked)
    lived.at(9)
    yield lived
    server.house.close()


def test_every_page_opens_and_says_nothing_of_the_demos_plant(lived):
    page = lived.server.page("quality_manager")
    chassis = [f"/units/{lived.ids[one]}" for one in ("clean", "burning")]
    stations = [f"/stations/{one}" for one in lived.plant.stations if one not in ("ZUL", "TRN", "DSN", "UNK")]
    paper = [f"/paper?model={one}" for one in lived.plant.models]

    for address in (
        "/review", "/review?week=2026-W10", "/backlog", "/stations", "/signals", "/units", "/inspectors",
        "/inspectors/me", "/sign-ins", "/paper", *chassis, *stations, *paper,
    ):  # fmt: skip
        answer = page.get(address)
        assert answer.status_code == 200, (address, answer.text[:400])
        text = read(answer).text
        assert [word for word in DEMO_WORDS if word in text] == [], address


def test_a_unit_page_and_the_paper_show_the_cautions_of_the_work_itself(lived):
    """The open defect's zone carries BRENN too; the type alone would do: a wall has no caution, what burns has."""
    page = lived.server.page("quality_manager")

    assert "Gasgeruch: kein Schalter" in page.get(f"/units/{lived.ids['burning']}").text
    assert "Gilt als spannungsführend" in page.get("/paper?model=A21").text


def test_its_release_asks_for_its_own_final_points_and_takes_the_signature(lived):
    plant, reads = lived.plant, lived.server.house.reads
    burning = reads.unit_story(lived.ids["burning"])
    where = {one.what for one in blockers(burning, plant) if one.code == "zone"}

    assert "Herd: not marked as looked at at ABN Abnahme im Hof" in where
    assert [one.ref for one in blockers(burning, plant) if one.code == "identity"] == ["vorn.schild"]

    clean = reads.unit_story(lived.ids["clean"])
    assert blockers(clean, plant) == ()
    lived.phone.must(
        "unit_released", "MI1", lived.ids["clean"], open_digest=open_digest(clean), against="the plant's release rule"
    )
    assert reads.unit_story(lived.ids["clean"]).state == "released"


def test_a_look_at_a_gate_within_the_line_releases_nothing(lived):
    unit = lived.plan(50003, "A21")
    looked = lived.begin(unit, "TOR")
    lived.look(unit, looked, "A21")
    lived.end(unit, looked)

    record = lived.server.house.reads.unit_story(unit)
    open_zones = {one.ref for one in blockers(record, lived.plant) if one.code == "zone"}
    assert (
        len(open_zones) == len(lived.plant.zones_of("A21", options=())) - 1
    )  # all but the plate, which the identity asks for
    assert lived.plant.end_points() == ("PST", "ABN")


def test_its_own_numbers_are_looked_up_labelled_and_explained(lived):
    page, burning = lived.server.page("planner"), lived.ids["burning"]

    assert burning == "OWBRG34T5000207"
    assert page.get("/units?q=0002K").status_code == 200
    assert "W750002K" in read(page.get("/units?q=0002K")).text
    unknown = read(page.get("/units/OWBRG34T5000208"))
    assert "No unit OWBRG34T5000208 is on record." in unknown.text
    assert burning in unknown.text  # the nearest
    assert "has 13 or 15 characters, this has 16" in read(page.get("/units?q=OWBRG34T50002070")).text
    assert burning in read(page.get(f"/labels?unit={burning}")).text
    assert "off the metal (13)" in read(page.get("/paper?model=A21")).text
    assert "off the metal (15)" in read(page.get("/paper?model=BRG34")).text


def test_its_own_severities_stand_on_its_pages_and_the_three_in_its_counts(lived):
    unit = lived.plan(50009, "A21")
    lived.present(unit, "PST")
    looked = lived.begin(unit, "ABN")
    common = {"point": "ABN", "severity_reason": "worse here"}
    rework = lived.defect(unit, looked, "seite.tuer", "TUR-1", "major", grade="B2", **common)
    lived.defect(unit, looked, "seite.wand", "WND-1", "major", grade="B1", **common)
    lived.end(unit, looked)
    phone, page = lived.phone, lived.server.page("quality_manager")
    story = lived.server.house.reads.unit_story

    shown = read(page.get(f"/units/{unit}")).text
    assert "Nacharbeit" in shown
    assert "Mangel (major) TUR-1" not in shown
    assert "found at ABN Abnahme im Hof: Nacharbeit erforderlich (major) TUR-1" in shown
    week = read(page.get("/review?week=2026-W11")).text
    assert "0 critical (Gefahr 0), 2 major (Mangel 1, Nacharbeit erforderlich 1) and 0 minor (Schönheit 0)" in week
    # What an older phone sends says no severity of the plant's own: it is counted, and said to be without.
    assert "1 critical (Gefahr 0, without one 1)" in read(page.get("/review?week=2026-W10")).text

    def corrected(**changes):
        phone.make("defect_corrected", "IV1", unit, defect=rework, changes=changes, reason="seen again")
        (verdict,) = phone.send()
        defect = next(one for one in story(unit).defects if one.id == rework)
        return verdict.code, defect.severity, defect.grade

    assert corrected(grade="B1") == ("", "major", "B1")
    assert corrected(grade="A1") == ("wrong_severity", "major", "B1")
    assert corrected(grade="Q9") == ("wrong_severity", "major", "B1")
    assert corrected(severity="minor", grade="C1") == ("", "minor", "C1")
    assert corrected(severity="major") == ("", "major", "")


def graded(lived):
    """Record a critical and majors in the plant's own words; one has no origin, one waits for its station."""
    lived.at(8)
    unit = lived.ids["graded"] = lived.plan(50020, "A21")
    lived.present(unit, "PST")
    looked = lived.begin(unit, "ABN")
    danger = lived.defect(unit, looked, "innen.herd", "BRG-1", "critical", grade="A1", point="ABN")
    lived.suspect(unit, danger, "RAH")
    more = {"point": "ABN", "severity_reason": "worse here", "grade": "B2"}
    lived.ids["unnamed"] = lived.defect(unit, looked, "seite.tuer", "TUR-1", "major", **more)
    lived.ids["waits"] = lived.defect(unit, looked, "seite.wand", "WND-1", "major", **more)
    lived.suspect(unit, lived.ids["waits"], "RAH")
    lived.end(unit, looked)
    lived.at(9)


def test_each_desk_says_a_defects_own_severity(lived):
    graded(lived)
    house, page = lived.server.house, lived.server.page("quality_manager")
    waits, review = read(page.get("/backlog")), read(page.get("/review?week=2026-W11"))
    station = read(page.get("/stations/RAH?week=2026-W11"))

    critical = "BRG-1 Brenngasleitung undicht, Gefahr"
    # That of an older phone says none of the plant's own, and none is made up for it.
    assert [row[1] for row in table_rows(waits, "Open criticals")] == ["BRG-1 Brenngasleitung undicht", critical]
    unnamed = [row[1] for row in table_rows(waits, "Origins that no lead")]
    assert unnamed == ["TUR-1 Tür klemmt, Nacharbeit erforderlich"]
    assert f"{critical}, found" in review.one("aside").text
    assert table_rows(review, "Criticals found in")[0][1].startswith(f"{critical} 1 alike")
    assert f"{critical}, found" in station.one("aside").text
    assert f"{critical}, found" in next(one.text for one in station.all("li") if "origin suspected" in one.text)
    cards = {one.attrs.get("id"): one.text for one in station.all("li")}
    assert "Nacharbeit erforderlich" in cards[f"d-{lived.ids['waits']}"]

    counts, manager = Counts(house.journal).moment(), CAST["quality_manager"].code
    letters = Letters(counts, house.reads, house.plant, house.people.all(), "https://x", lived.server.now)
    assert f"{critical}, found" in " ".join(letters.to(house.people.get(manager), "monday").text.split())

    lived.phone.must("origin_disputed", manager, lived.ids["graded"], defect=lived.ids["waits"], reason="not there")
    disputed = table_rows(read(page.get("/backlog")), "Disputed origins")
    assert disputed[0][1].endswith(", Nacharbeit erforderlich")


@pytest.mark.parametrize(
    ("rules", "what", "grave"),
    [
        (SEVERITIES_NAMED - 1, "BRG-1 Brenngasleitung undicht", "critical"),
        (RULES, "Gefahr: BRG-1 Brenngasleitung undicht", "Gefahr"),
    ],
)
def test_an_alarm_and_a_refusal_say_the_own_severity_and_what_was_told_before_stays(
    lived, monkeypatch, rules, what, grave
):
    unit, reads = lived.ids["clean"], lived.server.house.reads
    signed = {"open_digest": open_digest(reads.unit_story(unit)), "against": "the plant's release rule"}
    lived.phone.must("unit_released", "MI1", unit, **signed)
    with monkeypatch.context() as program:
        program.setattr(door, "RULES", rules)
        looked = lived.begin(unit, "ABN")
        lived.defect(unit, looked, "innen.herd", "BRG-1", "critical", grade="A1", point="ABN")
        lived.end(unit, looked)
        again = {**signed, "open_digest": open_digest(reads.unit_story(unit))}
        lived.phone.make("unit_released", "MI1", unit, **again)
        (refused,) = lived.phone.send()

    alarm = read(lived.server.page("quality_manager").get(f"/units/{unit}")).text
    assert f"A critical defect ({what} in Herd, by" in alarm
    assert f"{grave} BRG-1 Brenngasleitung undicht in Herd is open" in refused.reason


def test_an_option_asks_for_its_tests_and_zones_and_what_is_changed_is_told(lived):
    plant, phone, page = lived.plant, lived.phone, lived.server.page("quality_manager")
    unit = lived.plan(50010, "A21")

    def blocked():
        record = lived.server.house.reads.unit_story(unit)
        return {one.ref for one in blockers(record, plant) if one.code in ("zone", "test")}

    without = blocked()
    assert not {"innen.spuele", "TOF"} & without
    lived.test_all(unit, "A21")  # the door opener's too, though nobody asks for it
    phone.must("plan_changed", "PL1", unit, changes={"options": ["Küche"]})
    assert "innen.spuele" in blocked()
    assert "TOF" not in blocked()

    text = read(page.get(f"/units/{unit}")).text
    assert "TOF Türöffner öffnet und schließt done, not asked of this unit: only with Elektrischer Türöffner" in text
    assert "options now Küchenzeile" in text
    assert ", options Küchenzeile, planned for" in text
    assert "Spüle der Küchenzeile (only with Küchenzeile)" in read(page.get("/paper?model=A21")).text
    looked = lived.begin(unit, "ABN")
    phone.must("zone_looked_at", "IV1", unit, inspection=looked, zones=["innen.spuele", "innen.herd"])
    assert "innen.spuele" not in blocked()
    assert "2 of 9 zones looked at" in read(page.get(f"/units/{unit}")).text
    lived.end(unit, looked)

    # Taken away again: what was looked at stays on its drawing, and is asked of nobody.
    phone.must("plan_changed", "PL1", unit, changes={"options": []})
    shown = read(page.get(f"/units/{unit}")).text
    assert "2 of 8 zones looked at" in shown
    assert "Spüle der Küchenzeile" in shown
    assert page.get("/review?week=2026-W11").status_code == 200


def test_units_are_found_by_the_lot_that_a_defect_names(lived):
    unit, other = lived.plan(50011, "A21"), lived.plan(50012, "A21")
    page, phone = lived.server.page("quality_manager"), lived.phone
    defects = {}
    for one, lot in ((unit, "L-2026/7 ä"), (other, "L-2026/8")):
        looked = lived.begin(one, "ABN")
        defects[one] = lived.defect(one, looked, "seite.wand", "WND-1", "minor", grade="C1", point="ABN", lot=lot)
        lived.end(one, looked)

    found = read(page.get("/units?lot=L-2026/7 ä"))
    assert "1 unit with a defect that names lot L-2026/7 ä" in found.text
    assert "W650011K" in found.text
    assert "W650012K" not in found.text
    assert "Lot of the part: L-2026/7 ä" in read(page.get(f"/units/{unit}")).text
    near = page.get("/units?lot=2026")
    assert near.status_code == 404
    assert [link.text for link in read(near).all("a") if "lot=" in link.attrs.get("href", "")] == [
        "L-2026/7 ä",
        "L-2026/8",
    ]
    assert "No unit has a defect that names the lot “%_!”." in read(page.get("/units?lot=%25_!")).text
    assert "Lots on record" not in read(page.get("/units?lot=%25_!")).text

    # One that was read wrongly is corrected, and taken away again; a withdrawn defect names none.
    for lot, units in (("L-2026/8", ["W650012K", "W650011K"]), (None, ["W650012K"])):
        phone.must("defect_corrected", "IV1", unit, defect=defects[unit], changes={"lot": lot}, reason="read again")
        rows = read(page.get("/units?lot=L-2026/8")).one("tbody").all("th")
        assert [row.text for row in rows] == units
        assert f"lot of the part now {lot or 'none'}" in read(page.get(f"/units/{unit}")).text
    phone.must("defect_withdrawn", "IV1", other, defect=defects[other], why="not_a_defect", reason="none at all")
    assert page.get("/units?lot=L-2026/8").status_code == 404

    assert "I, O and Q" not in read(page.get("/units")).text  # this plant's numbers have them
