"""What waits: works, refuses the stranger, refuses nonsense with a reason, can be repeated, only reads; and naming."""

import pytest

from tests.web.pages.acting_kit import send
from tests.web.pages.lived_in import DAY_MS, READ_AT
from tests.web.pages.reading import read, table_rows
from tests.web.plant_server import CAST


def manager(lived):
    return lived.server.page("quality_manager")


def backlog(lived):
    return read(manager(lived).get("/backlog"))


def links(page, caption):
    tables = [one for one in page.all("table") if one.all("caption")[0].text.startswith(caption)]
    return [link.attrs["href"] for table in tables for link in table.one("tbody").all("a")]


def unnamed(lived):
    """Record a defect that nobody names a place for, on the unit that waits."""
    lived.at(2, 60)
    unit = lived.ids["waiting"]
    body = {"point": "D01", "zone": "nearside.lower.mid", "type": "EXT-01", "severity": "minor"}
    lived.ids["nobody"] = lived.phone.must("defect_recorded", CAST["inspector"].code, unit, **body)
    lived.server.now = READ_AT
    return lived.ids["nobody"], unit


def dispute(lived):
    lead = lived.server.page("station_lead")
    form = {"defect": lived.ids["gap"], "unit": lived.ids["waiting"], "answer": "dispute", "reason": "jig was square"}
    assert send(lead, "/stations/S05/origin", **form).status_code == 303


def test_an_open_critical_stands_with_age_owner_and_next_step(lived):
    (row,) = table_rows(backlog(lived), "Open criticals")

    assert row[0] == "PC7130003"
    assert row[3:5] == ["13", "open"]
    assert row[5].startswith("Repairers (R01")
    assert "another person looks at it again" in row[6]
    assert links(backlog(lived), "Open criticals") == [f"/units/{lived.ids['critical']}#d-{lived.ids['leak']}"]


def test_a_critical_after_dispatch_is_the_managers(lived):
    found = {"zone": "front.gas", "type": "GAS-01", "severity": "critical", "found_day": "2026-03-20"}
    lived.phone.must("field_finding", CAST["quality_manager"].code, lived.ids["released"], **found)
    row = next(row for row in table_rows(backlog(lived), "Open criticals") if row[0] == "PC7130001")

    assert row[5] == "Quality manager"
    assert row[6].startswith("Tell whoever has the unit: it must be looked at before it is used.")
    page = read(manager(lived).get("/review?week=2026-W12&shift=late"))
    (listed,) = table_rows(page, "Criticals found in 2026-W12")
    assert listed[0].startswith("PC7130001")


def test_a_dispute_is_listed_with_its_age_its_reason_and_the_way_to_settle_it(lived):
    dispute(lived)
    lived.server.now = READ_AT + 4 * DAY_MS
    page = backlog(lived)
    (row,) = table_rows(page, "Disputed origins: 1")

    assert "S05" in row[3]
    assert row[4:] == [f"{CAST['station_lead'].code}: jig was square", "4"]
    (address,) = links(page, "Disputed origins")
    assert address == f"/units/{lived.ids['waiting']}#d-{lived.ids['gap']}"
    assert "1 dispute for you to settle, the oldest for 4 days" in page.one("main").text
    assert read(manager(lived).get(address)).all("form", action=f"/units/{lived.ids['waiting']}/settle")


def test_what_waits_stands_in_blocks_on_a_phone(lived):
    """Dragged sideways for its reason, a dispute was read with the thumb over it: all of a row is words."""
    dispute(lived)
    unnamed(lived)
    sheets = backlog(lived).all("div", class_="sheet")
    stacked = [one.one("caption").text for one in sheets if "data-stack" in one.attrs]

    for begins in ("Open criticals", "Disputed origins", "Origins that no lead has been asked about"):
        assert [one for one in stacked if one.startswith(begins)], begins


def test_what_nobody_has_named_can_be_named_and_goes_to_the_lead(lived):
    defect, unit = unnamed(lived)
    (row,) = table_rows(backlog(lived), "Origins that no lead has been asked about: 1")
    page = manager(lived)

    assert row[4] == "named by nobody"
    assert read(page.get(f"/units/{unit}")).all("form", action=f"/units/{unit}/suspect")
    came = send(page, f"/units/{unit}/suspect", defect=defect, station="S05")
    assert came.headers["Location"] == f"/units/{unit}?done=suspected"
    assert defect in [one.id for one in lived.server.house.reads.defects_waiting("S05")]
    assert "A place is named for every defect." in backlog(lived).text
    assert not read(page.get(f"/units/{unit}")).all("form", action=f"/units/{unit}/suspect")
    assert send(page, f"/units/{unit}/suspect", defect=defect, station="S05").status_code == 303


@pytest.mark.parametrize(
    ("changed", "said"),
    [({"station": ""}, "The station must be a code"), ({"defect": "x"}, "The defect must be a version 7 UUID")],
)
def test_naming_nonsense_is_refused_with_its_reason(lived, changed, said):
    defect, unit = unnamed(lived)
    answer = send(manager(lived), f"/units/{unit}/suspect", **{"defect": defect, "station": "S05", **changed})

    assert answer.status_code == 400
    assert said in read(answer).one("p", role="alert").text


@pytest.mark.parametrize("role", ["station_lead", "inspector", "dispatch", "administrator"])
def test_nobody_else_names_a_place_from_a_page(lived, role):
    defect, unit = unnamed(lived)

    assert send(lived.server.page(role), f"/units/{unit}/suspect", defect=defect, station="S05").status_code == 403
    assert lived.server.page().post(f"/units/{unit}/suspect", defect=defect, station="S05").status_code in (401, 403)


def test_the_leads_backlog_sums_to_its_whole_and_leads_to_each_page(lived):
    rows = table_rows(backlog(lived), "Origins by who answers")

    assert rows[0][0] == "All"
    for column in (2, 3, 5):
        assert int(rows[0][column]) == sum(int(row[column]) for row in rows[1:])
    assert next(row for row in rows if row[0].startswith("S05"))[1:4] == [CAST["station_lead"].code, "2", "2"]
    assert "/stations/S05" in links(backlog(lived), "Origins by who answers")


def test_the_week_in_a_few_lines_leads_to_it(lived):
    review = read(manager(lived).get("/review"))
    glance = review.one("section", class_="glance")

    assert glance.one("a", href="/backlog").text == "Waits"
    assert "1 critical open" in glance.text


@pytest.mark.parametrize("role", ["station_lead", "inspector", "tester", "dispatch", "administrator"])
def test_others_are_refused_and_a_stranger_is_sent_to_sign_in(lived, role):
    assert lived.server.page(role).get("/backlog").status_code == 403
    assert lived.server.page().get("/backlog").status_code == 303


def test_a_week_that_is_none_is_named(lived):
    answer = manager(lived).get("/backlog?week=2026-W99")

    assert answer.status_code == 400
    assert "“2026-W99”" in read(answer).one("p", role="alert").text


def test_it_can_be_read_again_and_only_be_read(lived):
    page = manager(lived)

    assert page.get("/backlog").text == page.get("/backlog").text
    assert page.post("/backlog", csrf_token=page.form_token("/units")).status_code == 405


def test_repairs_are_told_clocked_beside_usual_and_come_back(lived):
    unit, gap, scratch = lived.ids["waiting"], lived.ids["gap"], lived.ids["scratch"]
    lived.at(3)
    for defect, minutes in ((gap, 50), (scratch, 10)):
        lived.phone.must("repair_done", CAST["repairer"].code, unit, defects=[defect], method="rework", minutes=minutes)
    lived.phone.must("recheck_failed", CAST["inspector"].code, unit, defect=gap, reason="gap still wide")
    lived.server.now = READ_AT
    page = read(manager(lived).get("/backlog?week=2026-W10"))
    usual = sum(lived.plant.types[type_].rework_min for type_ in ("PAN-05", "PAN-03"))
    (week, _) = table_rows(page, "Repair minutes")
    whole, *types = table_rows(page, "Repairs done in 2 weeks to 2026-W10")

    assert week[4:] == ["60", str(usual), "2 of 2"]
    assert whole[1:3] == ["2", "1"]
    assert [row[0][:6] for row in types] == ["PAN-05"]
