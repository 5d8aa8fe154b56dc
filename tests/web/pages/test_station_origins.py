"""Whose a station's defects are, and what came through from upstream, on the page."""

import pytest

from tests.web.pages.acting_kit import send
from tests.web.pages.lived_in import code
from tests.web.pages.reading import read, table_rows
from tests.web.plant_server import CAST


def section(lived, head, station="S05", role="station_lead"):
    return read(lived.server.page(role).get(f"/stations/{station}")).one("section", aria_labelledby=f"{head}-head")


def settle_some(lived, count):
    """Find so many panel gaps on a unit of the third week, guess S05 and confirm it; two more wait."""
    lived.at(15)
    unit = lived.plan(30010)
    lived.present(unit, "T01")
    lived.present(unit, "T02")
    inspection = lived.begin(unit)
    for n in range(count + 2):
        defect = lived.defect(unit, inspection, "nearside.upper.mid", "PAN-05", "major")
        lived.suspect(unit, defect, "S05")
        if n < count:
            lived.phone.must("origin_confirmed", CAST["station_lead"].code, unit, defect=defect, station="S05")
    drawer = lived.defect(unit, inspection, "nearside.upper.mid", "PAN-05", "major")
    lived.suspect(unit, drawer, "FU1")
    lived.end(unit, inspection)
    lived.server.now += 7 * 24 * 3_600_000


def test_three_numbers_stand_large_with_what_each_is(lived):
    settle_some(lived, 22)
    part = section(lived, "whose")
    large = [(one.one("dt").text, one.one("dd").text) for one in part.one("dl").all("div")]

    assert large[0] == ("Confirmed here", "22 its lead said so, or it was settled")
    assert large[1] == ("Suspected here", "4 a guess, not answered")
    # five are open: four guesses at S05, held against 22 of 22 that were right, and one at FU1 without a record
    assert large[2] == ("Expected here, an estimate", "4 3 to 4 of 5 not settled in the plant")
    assert "about 4 were probably made here (3 to 4)" in part.text
    assert "1 of the 5 are left out of the estimate" in part.text


def test_the_picture_comes_before_its_table_which_has_the_same_numbers(lived):
    settle_some(lived, 22)
    part = section(lived, "whose")
    rows = [[cell.text for cell in row.all("th") + row.all("td")] for row in part.one("tbody").all("tr")]

    assert rows == [
        ["Confirmed", "22", "a count"],
        ["Suspected, not answered", "4", "a count"],
        ["Expected of 5 not settled", "4", "3 – 4"],
    ]
    written = lived.server.page("station_lead").get("/stations/S05").text.partition('id="whose-head"')[2]
    assert written.index("<figure") < written.index("<table")
    caption = part.one("caption").text
    assert "on 3 units seen in" in caption
    assert "after dispatch" in caption


def test_it_is_called_an_estimate_that_blames_nobody(lived):
    settle_some(lived, 22)
    words = section(lived, "whose").text

    assert "an estimate and blames nobody" in words
    assert "Settled defects are no random sample" in words
    assert "never added up" in words


def test_too_few_settled_are_said_with_how_many_would_do(lived):
    part = section(lived, "whose")

    assert "20 settled defects are needed, 0 are settled in these weeks" in part.text
    assert "0 settled, 20 needed" in part.one("dl").text


def test_an_answer_moves_from_suspected_to_confirmed(lived):
    lead = lived.server.page("station_lead")
    before = [one.text for one in section(lived, "whose").one("dl").all("strong")][:2]
    send(lead, "/stations/S05/origin", defect=lived.ids["gap"], unit=lived.ids["waiting"], answer="confirm")
    after = [one.text for one in section(lived, "whose").one("dl").all("strong")][:2]

    assert (before, after) == (["0", "2"], ["1", "1"])


def test_what_came_through_stands_with_count_units_and_period(lived):
    settle_some(lived, 3)
    part = section(lived, "through")
    rows = table_rows(part, "3 units of")

    assert [(one.one("dt").text, one.one("dd").text) for one in part.one("dl").all("div")][1] == (
        "Units with one or more",
        "1 of 3",
    )
    assert rows[0] == ["FU1 Furniture shop", "0", "1"]
    assert "1 defect made upstream went through S05 and was found later: on 1 of 3 units (33 %; 95 % range" in part.text
    assert "S05 is not asked to find them." in part.text
    assert "PAN-05" in part.text


@pytest.mark.parametrize(
    ("station", "said"),
    [
        ("S05", "Nothing that was made upstream was found after its unit had passed S05, on 2 units."),
        ("CH1", "Nothing comes to CH1 from another station."),
        ("SUP", "Nothing comes to SUP from another station."),
    ],
)
def test_nothing_that_came_through_is_said_in_words(lived, station, said):
    part = section(lived, "through", station, "quality_manager")

    assert said in part.text
    assert not part.all("table")


def test_a_note_of_what_misleads_the_range_stands_under_the_sentence(lived, monkeypatch):
    from dataclasses import replace

    from qc.web.pages import station as page_of

    asked = page_of.reported

    def with_caution(house, station, monday):
        report = asked(house, station, monday)
        return replace(report, by_work=replace(report.by_work, cautions=("These weeks scatter.",)))

    monkeypatch.setattr(page_of, "reported", with_caution)
    page = read(lived.server.page("station_lead").get("/stations/S05"))

    # once under the headline, once with the picture that it is about
    assert [one.text for one in page.all("p", class_="basis")].count("These weeks scatter.") == 2


def test_the_page_can_be_jumped_through(lived):
    page = read(lived.server.page("station_lead").get("/stations/S05"))
    places = [one.attrs["href"] for one in page.one("nav", aria_label="On this page").all("a")]

    assert len(places) == 6
    assert all(page.all(id=place.removeprefix("#")) for place in places)


def test_only_the_lead_and_the_manager_read_it(lived):
    for role in ("inspector", "repairer"):
        assert lived.server.page(role).get("/stations/S05").status_code == 403
    assert code("station_lead") == "L-S05"
