"""The app on a plant with other codes, points and models: what can hurt shows by its tables, never by a code."""

import re
from pathlib import Path

import pytest
from playwright.sync_api import expect

pytestmark = pytest.mark.browser

OTHER = Path(__file__).parents[2] / "plants" / "other"
UNIT = "W650001K"


@pytest.fixture(scope="module")
def filled_folder(tmp_path_factory):
    from qc.web.house import open_house
    from tests.browser.plant_server import fill, plan

    folder = tmp_path_factory.mktemp("other") / "data"
    fill(folder, OTHER, (("A21", 50001), ("BRG34", 50002)), ("B10", "B20"))
    house = open_house(folder)
    for sequence, line in ((50011, "N"), (50012, "Süd")):
        plan(house, "A21", sequence, (), line=line, options=["Küche", "Türöffner"])
    house.close()
    return folder


@pytest.fixture
def server(server):
    server.shows = "W"
    return server


def files(phone):
    return phone.page.locator("input[type=file]")


def test_its_hazards_show_where_its_tables_say_and_a_finding_stands_at_its_own_point(phone):
    phone.sign_in("Tester One")
    main = phone.page.get_by_role("main")

    # What burns: a camera only after the plant's own question; then stop, tag, tell whom the plant names.
    phone.tap(re.compile(UNIT), "link")
    expect(main).to_contain_text("Augen auf: hier wird gefahren.")
    phone.tap("A defect only", "link")
    phone.zone(re.compile("^Gaskasten"))
    phone.tap(re.compile("^Brenngasleitung"))
    expect(main).to_contain_text("Gasgeruch: kein Schalter, kein Telefon, keine Flamme.")
    expect(main).to_contain_text("Im Zweifel: halt und fragen.")
    expect(phone.page.get_by_label("Found at")).to_have_value("PST")
    expect(files(phone)).to_have_count(0)
    phone.tap("Ich rieche hier kein Gas: allow photos")
    expect(files(phone)).to_have_count(2)
    phone.tap(re.compile("^Save"))
    expect(phone.heading("Stop, tag, tell")).to_be_visible()
    for words in ("Stop", "Tag", "Tell die Werkfeuerwehr now", "Move away from the unit before you use a phone"):
        expect(main).to_contain_text(words)
    expect(main).to_contain_text("Gasgeruch: kein Schalter, kein Telefon, keine Flamme.")
    call = phone.page.get_by_role("link", name="Call die Werkfeuerwehr: 0555 0112")
    expect(call).to_have_attribute("href", "tel:0555 0112")

    # What is live: no camera at all, and whoever is told of everything else.
    phone.tap("Stopped, tagged, told: go on", "link")
    phone.tap("Views", "link")
    phone.tap(re.compile("^Innen"), "link")
    phone.zone(re.compile("^Verteilertafel"))
    phone.tap(re.compile("^Schutzleiter offen"))
    expect(main).to_contain_text("No camera and no torch here: Gilt als spannungsführend. Save without a photo.")
    expect(files(phone)).to_have_count(0)
    phone.tap(re.compile("^Save"))
    expect(phone.heading("Stop, tag, tell")).to_be_visible()
    expect(main).to_contain_text("Gilt als spannungsführend.")
    expect(main).to_contain_text("Tell die Schichtleitung now")
    expect(main).not_to_contain_text("Move away")
    expect(phone.page.get_by_role("link", name="Call die Schichtleitung: 0555 0100")).to_be_visible()

    phone.sync()
    phone.expect_all_sent()
    found = [(row["op"]["body"]["point"], row["op"]["body"]["type"]) for row in phone.stored("operations")]
    assert found == [("PST", "BRG-1"), ("PST", "NSG-1")]
    assert {row["verdict"] for row in phone.stored("verdicts")} == {"applied"}

    # The release names this plant's final inspection and its plate; a look at the gate in the line is not asked.
    phone.open("#/units")
    phone.tap(re.compile(UNIT), "link")
    phone.tap("What blocks it", "link")
    expect(main).to_contain_text("Vorderwand: not marked as looked at at ABN")
    expect(main).to_contain_text("Vorn: Fahrgestellnummer: the number is not read off the metal yet")


def test_an_inspector_begins_at_its_final_inspection_and_its_general_places_show_its_cautions(phone):
    phone.sign_in("Inspector Two")
    phone.tap(re.compile("W750002K"), "link")
    phone.tap("Start inspection", "link")

    main = phone.page.get_by_role("main")
    expect(main).to_contain_text("Lasten zu zweit oder mit Hebezeug.")
    expect(main).to_contain_text("Augen auf: hier wird gefahren.")
    expect(phone.page.get_by_role("button", name=re.compile("^ABN "))).to_have_attribute("aria-pressed", "true")
    expect(phone.page.get_by_role("button", name=re.compile("^TOR "))).to_have_attribute("aria-pressed", "false")


def test_its_numbers_are_found_by_the_letters_that_end_them_and_begun_by_their_check(phone):
    phone.sign_in("Inspector One")
    main = phone.page.get_by_role("main")
    phone.open("#/find")
    for key in "0002K":
        phone.tap(key, exact=True)
    expect(main).to_contain_text("W750002K")

    phone.open("#/met/0")
    phone.tap("Ahle 21")
    for number, words in (
        ("OWA21T50009", "13 or 15 characters, this has 11"),
        ("QWA21T5000964", "is no number of a Ahle 21"),
        ("OWA21T5000965", "does not check"),
    ):
        phone.page.get_by_label("The whole chassis number").fill(number)
        phone.tap("Begin this unit")
        phone.expect_status(words)
    phone.page.get_by_label("The whole chassis number").fill("owa21 t50009-64")
    phone.tap("Begin this unit")
    phone.expect_status("Choose the line: which stations it passes follows from it.")
    phone.tap("Südband")
    phone.tap("Begin this unit")
    expect(phone.heading("Unit W650009K")).to_be_visible()
    phone.sync()
    phone.expect_all_sent()
    assert {row["verdict"] for row in phone.stored("verdicts")} == {"applied"}


def test_its_own_severities_are_the_keys_and_what_each_counts_as_goes_with_it(phone):
    phone.sign_in("Inspector One")
    main = phone.page.get_by_role("main")
    phone.tap(re.compile("W650001K"), "link")
    phone.tap("A defect only", "link")
    phone.zone(re.compile("^Vorderwand"))
    phone.tap(re.compile("^Wand verkratzt"))
    keys = phone.page.get_by_role("group", name="Severity").get_by_role("button")
    keys.last.wait_for()
    assert [key.inner_text().strip() for key in keys.all()] == [
        "Gefahr",
        "Mangel",
        "Nacharbeit erforderlich",
        "Schönheit",
    ]
    expect(phone.page.get_by_role("button", name="Schönheit")).to_have_attribute("aria-pressed", "true")
    for key in keys.all():  # a plant's own words may be long: none is wider than its key
        assert key.evaluate("(each) => each.scrollWidth <= each.clientWidth")
    phone.tap("Nacharbeit erforderlich")
    phone.page.get_by_label("Lot of the part").fill(" L-7; u\u0308 ")
    phone.tap(re.compile("^Save"))
    phone.expect_status("Saved on phone: ")
    phone.open("#/unit/OWA21T5000188")
    phone.tap(re.compile("Nacharbeit erforderlich Wand verkratzt"), "link")
    expect(main).to_contain_text("Lot of the part: L-7 ü")
    phone.tap("Correct", "link")
    phone.tap("Mangel")
    phone.page.get_by_label("Lot of the part").fill("")
    phone.tap(re.compile("^Severity seen better"))
    phone.tap("Save the correction")
    phone.expect_status("Saved on phone: correction")  # the form shows the new word before
    expect(main).to_contain_text("Mangel")
    phone.sync()
    phone.expect_all_sent()
    found, corrected = (row["op"]["body"] for row in phone.stored("operations"))
    assert (found["severity"], found["grade"], found["lot"]) == ("major", "B2", "L-7 ü")
    assert corrected["changes"] == {"grade": "B1", "lot": None}
    assert {row["verdict"] for row in phone.stored("verdicts")} == {"applied"}


@pytest.mark.parametrize("size", [(390, 844), (1280, 800)])
def test_a_station_waits_for_the_units_of_its_own_line_and_says_plainly_whose_another_is(phone, size, tmp_path):
    phone.page.set_viewport_size({"width": size[0], "height": size[1]})
    phone.sign_in("Inspector One")
    main = phone.page.get_by_role("main")
    phone.open("#/station")
    expect(phone.page.get_by_role("button", name="C10 Aufbau Süd · Südband")).to_be_visible()
    phone.tap(re.compile("^C10"))
    expect(main).to_contain_text("W650012K")
    expect(main).to_contain_text("Ahle 21 · Küchenzeile, Elektrischer Türöffner")
    expect(main).not_to_contain_text("W650011K")

    # One of the other line is found by its figures, and taken down as it is seen, with a plain word.
    phone.page.get_by_label(re.compile("^Last figures")).fill("50011K")
    astray = phone.page.get_by_role("button", name=re.compile("W650011K"))
    expect(astray).to_contain_text("Another line, Nordband: it does not come by here")
    assert main.evaluate("(each) => each.scrollWidth <= each.clientWidth")
    phone.page.screenshot(path=str(tmp_path / f"station-{size[0]}.png"), full_page=True)
    phone.open("#/unit/OWA21T5001255")
    expect(main).to_contain_text("Line: Südband")
    expect(main).to_contain_text("Options: Küchenzeile, Elektrischer Türöffner")
    phone.open("#/units")
    expect(main).to_contain_text("Ahle 21 · Südband · Küchenzeile, Elektrischer Türöffner")


def test_on_the_smallest_phone_what_is_typed_of_a_number_shows_over_its_keys(phone):
    """Its numbers end in a letter, which has a key of its own: a row more than the demo's."""
    phone.sign_in()
    phone.page.set_viewport_size({"width": 320, "height": 568})
    phone.open("#/find")
    phone.tap("5", exact=True)

    field, keys = phone.page.get_by_label("Last 5 or 6 characters"), phone.page.get_by_role("contentinfo")
    expect(field).to_have_value("5")
    shown = keys.bounding_box()["y"] - field.bounding_box()["y"]
    assert shown > 44  # the line of what is typed, and its padding above
