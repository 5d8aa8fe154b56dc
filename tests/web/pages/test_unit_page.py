"""A unit's page: who released it against what, or why not; who looked, tested, found, decided; nothing called safe."""

import re

import pytest

from tests.web.pages.acting_kit import send
from tests.web.pages.reading import read, table_rows
from tests.web.plant_server import CAST


def unit_page(lived, name, role="dispatch"):
    answer = lived.server.page(role).get(f"/units/{lived.ids[name]}")
    assert answer.status_code == 200
    return read(answer)


def test_a_released_unit_says_by_whom_against_what_at_which_record_number(lived):
    record = unit_page(lived, "released").one("section", aria_labelledby="release-head").text
    kept = lived.server.house.reads.releases_of(lived.ids["released"])[-1]

    assert f"Released by {CAST['quality_manager'].code}" in record
    assert f"record number {kept.number}" in record
    assert "Against: release rule 3." in record
    assert kept.story_digest in record
    assert "Tue 3 Mar 2026" in record


def test_a_unit_with_open_defects_says_why_it_is_not_released(lived):
    record = unit_page(lived, "waiting").one("section", aria_labelledby="release-head")
    reasons = [one.text for one in record.all("li")]

    assert "Not released." in record.text
    (gap,) = (one for one in record.all("a") if one.attrs["href"] == f"#d-{lived.ids['gap']}")
    assert lived.plant.types["PAN-05"].name in gap.text
    assert not any("PAN-05" in one or "." in one.split(": ")[0].split(" ")[-1] for one in reasons)  # words, no codes
    assert len(reasons) > 2  # the tests were never made, the roof was not looked at


def test_everything_in_the_way_leads_to_its_place_on_the_page(lived):
    page = unit_page(lived, "waiting")
    ids = {one.attrs["id"] for one in page.all() if "id" in one.attrs}
    links = [one.attrs["href"] for one in page.one("section", aria_labelledby="release-head").all("a")]

    assert {one[1:3] for one in links} == {"d-", "t-", "vi"}
    assert {one.removeprefix("#") for one in links} <= ids


def test_the_drawing_with_the_defects_comes_first_and_shows_the_unit(lived):
    page = unit_page(lived, "waiting")
    first = page.all("figure")[0]

    assert page.all("h2")[0].text == "Zones on the drawings"
    assert first.all("text", class_="zone-number")
    assert first.all("g", class_="outlines")


def test_its_life_reads_in_the_order_in_which_it_happened(lived):
    rows = table_rows(unit_page(lived, "released"), "The line of time of")

    assert rows[-1][2].startswith("Released against release rule 3")
    assert any("presentation 1" in row[2] for row in rows)


def test_the_standing_line_closes_the_cautions_once(lived):
    page = unit_page(lived, "waiting")

    assert page.one("section", aria_labelledby="cautions-head").all("li")
    assert page.text.count(lived.plant.standing_line) == 1
    assert lived.plant.standing_line in page.one("footer").text


@pytest.mark.parametrize("name", ["released", "waiting", "critical", "planned"])
def test_no_page_calls_a_unit_safe(lived, name):
    words = unit_page(lived, name).one("main").text.lower()

    # the caution's own words for a zone are "no safe access" and "not safe"
    assert re.findall(r"(?<!no )(?<!not )\bsafe\b", words) == []
    assert "qc passed" not in words


def test_a_blank_test_is_not_tested_and_never_a_pass(lived):
    rows = table_rows(unit_page(lived, "waiting"), "Tests")

    assert {row[2] for row in rows} == {"not tested"}
    assert {row[3] for row in rows} == {"–"}


def test_a_test_stands_with_value_limits_source_instrument_and_tester(lived):
    rows = {row[0].split()[0]: row for row in table_rows(unit_page(lived, "released"), "Tests")}
    measured = next(one for one in lived.plant.tests_of("T36") if one.kind == "measure")
    row = rows[measured.id]

    assert row[2] == "passed"
    assert measured.unit in row[3]
    assert measured.reference in row[5]
    assert "IN-7" in row[6]
    assert "calibrated until Thu 31 Dec 2026" in row[6]
    assert CAST["tester"].code in row[7]


def zone_classes(page):
    classes = [one.attrs["class"] for one in page.all("polygon")]
    return [one for one in classes if one.startswith("zone-")]


def test_looked_at_and_not_looked_at_are_told_apart(lived):
    page = unit_page(lived, "waiting")
    words = page.one("section", aria_labelledby="looks-head").text

    assert "Light: low sun, weather: dry" in words
    assert "Not looked at:" in words
    assert "no safe access" in words
    classes = zone_classes(page)
    assert classes.count("zone-not") == 1
    assert classes.count("zone-looked") == len(lived.plant.zones_of("T36")) - 1


def test_zones_without_any_mark_are_no_record(lived):
    page = unit_page(lived, "critical")

    assert set(zone_classes(page)) == {"zone-none"}


def test_a_defects_life_stands_with_device_time_and_server_time(lived):
    page = unit_page(lived, "waiting")
    card = page.one("li", id=f"d-{lived.ids['gap']}")

    heads = [one.text for one in card.all("th", scope="col")]
    assert heads[1:3] == ["Happened (device's clock, corrected)", "Received by the server"]
    assert card.one("tbody").all("tr")
    assert "suspected S05" in card.text


def test_notes_are_words_and_never_markup(lived):
    answer = lived.server.page("dispatch").get(f"/units/{lived.ids['waiting']}")

    assert "gap &lt;7&gt; mm &amp; more" in answer.text
    assert "<7>" not in answer.text


def test_times_are_the_plants_own_and_machine_readable(lived):
    """The critical's inspection began on 2026-03-10 07:00 UTC, Greenwich time then."""
    times = [one for one in unit_page(lived, "critical").all("time") if one.text == "Tue 10 Mar 2026 07:00"]

    assert times
    assert {one.attrs["datetime"] for one in times} == {"2026-03-10T07:00:00+00:00"}


@pytest.mark.parametrize("role", ["quality_manager", "station_lead", "inspector", "dispatch", "administrator"])
def test_everybody_signed_in_may_read_a_units_story(lived, role):
    assert lived.server.page(role).get(f"/units/{lived.ids['waiting']}").status_code == 200


def test_a_stranger_may_not(lived):
    assert lived.server.page().get(f"/units/{lived.ids['waiting']}").status_code == 303


def test_a_shop_number_leads_to_its_unit(lived):
    answer = lived.server.page("dispatch").get("/units/PC7130002")

    assert answer.headers["Location"] == f"/units/{lived.ids['waiting']}"


@pytest.mark.parametrize(
    ("number", "said"),
    [
        ("0PC7T3600TW030O02", "never holds O"),
        ("0PC7T3600TW039999", "No unit 0PC7T3600TW039999 is on record."),
        ("0PC7T36", "A full chassis number has 17 characters, this has 7"),
    ],
)
def test_a_number_that_nobody_knows_is_explained_and_offers_the_nearest(lived, number, said):
    answer = lived.server.page("dispatch").get(f"/units/{number}")

    assert answer.status_code == 404
    assert said in read(answer).text


def test_the_letter_o_in_a_full_number_offers_the_unit_with_a_nought(lived):
    page = read(lived.server.page("dispatch").get("/units/0PC7T3600TW030O02"))

    assert page.one("main").all("a", class_="button")[0].text == "PC7130002"


@pytest.fixture
def disputed(lived):
    """The gap on the waiting unit, disputed by the lead of S05."""
    form = {"defect": lived.ids["gap"], "unit": lived.ids["waiting"], "answer": "dispute", "reason": "jig was square"}
    assert send(lived.server.page("station_lead"), "/stations/S05/origin", **form).status_code == 303
    return lived


def settle(lived, role, **changed):
    form = {"defect": lived.ids["gap"], "station": "RP2", "reason": "measured at the unit", **changed}
    return send(lived.server.page(role), f"/units/{lived.ids['waiting']}/settle", **form)


def test_the_manager_settles_a_dispute_on_the_units_page(disputed):
    (form,) = unit_page(disputed, "waiting", "quality_manager").all("form", class_="settle no-print")
    # A place that stood there already would be settled by who only wanted to see the form gone.
    assert [option.attrs["value"] for option in form.all("option") if "selected" in option.attrs] == [""]
    assert settle(disputed, "quality_manager").status_code == 303
    assert settle(disputed, "quality_manager").status_code in (303, 409)

    page = unit_page(disputed, "waiting", "quality_manager")
    card = page.one("li", id=f"d-{disputed.ids['gap']}")
    assert "Origin: RP2 Panel plant: cut and apertures (settled)" in card.text
    assert "jig was square" in card.text
    assert "measured at the unit" in card.text


@pytest.mark.parametrize("role", ["station_lead", "inspector", "administrator"])
def test_nobody_but_the_manager_settles(disputed, role):
    assert not unit_page(disputed, "waiting", role).all("form", class_="settle no-print")
    assert settle(disputed, role).status_code == 403


def test_settling_without_a_reason_is_refused_and_says_so(disputed):
    answer = settle(disputed, "quality_manager", reason=" ")

    assert answer.status_code == 400
    assert "The reason must have 3 to 500 characters" in read(answer).one("p", role="alert").text


def test_settling_is_not_read(disputed):
    page = disputed.server.page("quality_manager")

    assert page.get(f"/units/{disputed.ids['waiting']}/settle").status_code == 405


def test_a_test_bay_is_not_said_to_have_left_out_every_zone(lived):
    looks = {one.one("h3").text[:3]: one.text for one in unit_page(lived, "waiting").all("article", class_="look")}

    assert "zones looked at" not in looks["T01"]
    assert "zones looked at" in looks["D01"]


def test_what_waits_stands_first_and_what_is_settled_is_folded_whole(lived):
    """Nothing is lost: each defect stands on the page once and keeps its number."""
    unit, phone, manager = lived.ids["waiting"], lived.phone, CAST["quality_manager"].code
    inspection = lived.begin(unit, purpose="relook")
    zones = [zone.key for zone in lived.plant.zones_of("T36")]
    ids = [lived.defect(unit, inspection, zones[at], "PAN-03", "minor") for at in range(10)]
    for id_ in ids[:8]:
        phone.must("defect_withdrawn", manager, unit, defect=id_, why="not_a_defect", reason="as it is made")
    section = unit_page(lived, "waiting").one("section", aria_labelledby="defects-head")
    cards = section.all("li", class_="card")
    settled = [one for one in section.all("details", class_="more") if "settled" in one.all("summary")[0].text]
    folded = [one.attrs["id"] for one in settled[0].all("li", class_="card")]

    assert settled[0].all("summary")[0].text == "8 settled: 8 withdrawn"
    assert folded == [f"d-{id_}" for id_ in ids[:8]]
    assert [one.attrs["id"] for one in cards[-8:]] == folded
    numbers = sorted(int(one.all("h3")[0].text.split(".")[0]) for one in cards)
    assert numbers == list(range(1, len(cards) + 1))


def test_more_than_six_that_wait_are_opened(lived):
    unit = lived.ids["waiting"]
    inspection = lived.begin(unit, purpose="relook")
    zones = [zone.key for zone in lived.plant.zones_of("T36")]
    before = len(unit_page(lived, "waiting").all("li", class_="card"))
    for at in range(9):
        lived.defect(unit, inspection, zones[at], "PAN-03", "minor")
    section = unit_page(lived, "waiting").one("section", aria_labelledby="defects-head")
    waiting = [one for one in section.all("details", class_="more") if "wait" in one.all("summary")[0].text]

    assert waiting[0].all("summary")[0].text == f"{before + 9 - 6} more that wait"
    assert len(section.all("ol", class_="cards")[0].all("li", class_="card")) == 6
