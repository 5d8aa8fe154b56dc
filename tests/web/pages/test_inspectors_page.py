"""Inspectors on the same units: works, refuses the stranger and nonsense, can be repeated, only reads."""

import pytest

from qc.domain.facts.people import Person
from tests.web.pages.reading import read, table_rows
from tests.web.plant_server import CAST

FIRST, SECOND = CAST["inspector"].code, "IV2"
WEEK = "?week=2026-W10"


@pytest.fixture
def relooked(lived):
    """The unit that waits was looked at again by IV2, who found one defect of the two and one more."""
    lived.server.house.people.add(Person(SECOND, "Ina", "inspector"), "593817")
    lived.at(2, 60)
    unit, phone = lived.ids["waiting"], lived.phone
    again = phone.must(
        "inspection_begun", SECOND, unit, point="D01", purpose="relook", light="overcast", weather="dry"
    )  # fmt: skip
    lived.ids["twin"] = phone.must("defect_recorded", SECOND, unit, inspection=again, **gap("nearside.upper.mid"))
    phone.must("defect_recorded", SECOND, unit, inspection=again, **gap("offside.upper.mid"))
    zones = [zone.key for zone in lived.plant.zones_of("T36")]
    phone.must("zone_looked_at", SECOND, unit, inspection=again, zones=zones)
    phone.must("inspection_ended", SECOND, unit, inspection=again)
    phone.must(
        "defect_withdrawn", CAST["quality_manager"].code, unit, defect=lived.ids["twin"], why="duplicate",
        reason="the same one", duplicate_of=lived.ids["gap"],
    )  # fmt: skip
    lived.server.now += 21 * 24 * 3_600_000
    return lived


def gap(zone):
    return {"point": "D01", "zone": zone, "type": "PAN-05", "severity": "major"}


def test_the_manager_reads_each_share_with_its_counts(relooked):
    page = read(relooked.server.page("quality_manager").get(f"/inspectors{WEEK}"))
    rows = table_rows(page, "week 2026-W10")

    # of the two that IV2 found, IV1 had found one; of the two that IV1 found, IV2 had found one
    assert rows == [
        [FIRST, "2", "1", "too little to say", "1 + 0"],
        [SECOND, "2", "1", "too little to say", "0 + 1"],
    ]
    (pair,) = table_rows(page, "Who looked at the same units")
    assert pair[:5] == [f"{FIRST} and {SECOND}", "1", "1", "1", "1"]
    words = page.one("main").text
    assert "never a ranking" in words.lower()
    assert "May not be used for: pay" in words
    assert "False calls" in words


def test_a_record_without_second_looks_says_how_to_begin(lived):
    page = read(lived.server.page("quality_manager").get(f"/inspectors{WEEK}"))

    assert "Nobody can be compared yet." in page.one("main").text
    assert "Second look by another person" in page.one("main").text


def test_an_inspector_sees_themselves_and_nobody_else(relooked):
    answer = relooked.server.page("inspector").get(f"/inspectors/me{WEEK}")
    page = read(answer)

    assert table_rows(page, f"{FIRST} in paired re-looks")[0][:3] == [FIRST, "2", "1"]
    assert table_rows(page, "Found by the other look")[0][1:] == ["1", "2"]
    assert SECOND not in answer.text
    assert "others" not in page.one("main").text


def test_no_address_opens_another_persons_page(relooked):
    page = relooked.server.page("inspector")

    assert page.get("/inspectors").status_code == 403
    assert page.get(f"/inspectors/{SECOND}").status_code == 404
    asked = page.get(f"/inspectors/me?person={SECOND}")
    assert asked.status_code == 400
    assert table_rows(read(asked), f"{FIRST} in paired re-looks")
    assert SECOND not in asked.text


@pytest.mark.parametrize("role", ["station_lead", "administrator", "planner", "dispatch", "tester", "repairer"])
def test_everybody_else_is_refused_both(lived, role):
    page = lived.server.page(role)

    assert page.get("/inspectors").status_code == 403
    assert page.get("/inspectors/me").status_code == 403


def test_a_stranger_is_sent_to_the_sign_in(lived):
    for address in ("/inspectors", "/inspectors/me"):
        answer = lived.server.page().get(address)
        assert answer.status_code == 303
        assert answer.headers["Location"].startswith("/sign-in?next=")


@pytest.mark.parametrize("week", ["2026-W99", "x", "2030-W01", "<b>"])
def test_a_week_that_cannot_be_is_named_and_the_usual_one_shown(lived, week):
    for role, address in (("quality_manager", "/inspectors"), ("inspector", "/inspectors/me")):
        answer = lived.server.page(role).client.get(address, query_string={"week": week})
        assert answer.status_code == 400
        assert week in read(answer).one("p", role="alert").text


def test_reading_again_gives_the_same_and_writes_nothing(relooked):
    page, before = relooked.server.page("quality_manager"), relooked.server.house.reads.chain()

    assert page.get(f"/inspectors{WEEK}").text == page.get(f"/inspectors{WEEK}").text
    assert relooked.server.house.reads.chain() == before


def test_only_reading_is_offered(lived):
    page = lived.server.page("quality_manager")

    assert page.post("/inspectors", csrf_token=page.form_token("/units")).status_code == 405


def test_the_head_leads_each_to_their_own(lived):
    def links(role):
        in_line, behind_key = read(lived.server.page(role).get("/units")).all("nav", aria_label="Pages")
        told = [{one.attrs["href"] for one in nav.all("a")} for nav in (in_line, behind_key)]
        assert told[0] == told[1]
        return told[0]

    assert "/inspectors" in links("quality_manager")
    assert "/inspectors/me" in links("inspector")
    assert not {"/inspectors", "/inspectors/me"} & links("station_lead")


def test_a_share_stands_in_a_block_with_its_interval_on_a_phone(relooked):
    """Dragged sideways, the person's own share stood on the screen and its interval did not."""
    for role, address in (("quality_manager", "/inspectors"), ("inspector", "/inspectors/me")):
        page = read(relooked.server.page(role).get(f"{address}{WEEK}"))
        cells = [one for one in page.all("td") if one.attrs.get("data-head") == "Share found (interval)"]

        assert cells, address
