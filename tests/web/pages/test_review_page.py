"""The manager's week: safety first, criticals by number, an open one beside every chart, filters in the address."""

import re
from datetime import date

import pytest
from werkzeug.datastructures import MultiDict

from qc.assets import folder as asset_folder
from qc.domain.plant.calendar import iso_week
from qc.domain.tables.plant_tables import revision_of, tables_of
from qc.store.intake.revising import put_in_force
from qc.store.record.own_word import By
from qc.web.pages import review_signals
from qc.web.pages.filters import review_filter, usual_week
from tests.web.pages.acting_kit import send
from tests.web.pages.reading import read, table_rows

TODAY = date(2026, 3, 23)


def review(lived, query="?week=2026-W11"):
    answer = lived.server.page("quality_manager").get(f"/review{query}")
    return answer, read(answer)


PRESENTATIONS = "First presentations at T01 Services test bay by inspector, in code order, by the day of the look"


def test_safety_stands_first_and_lists_each_critical_by_its_unit(lived):
    _, page = review(lived)

    assert [one.text for one in page.all("h2")][:2] == [
        "The week in a few lines",
        "1 Safety: every critical by number",
    ]
    assert page.one("main").text.startswith("1 critical is open.")
    (row,) = table_rows(page, "Criticals found in 2026-W11")
    assert row[0] == "PC7130003 T36"
    assert row[1].startswith("GAS-01")
    assert "Tue 10 Mar 2026 at D01" in row[3]


def test_criticals_are_never_told_as_a_percentage(lived):
    _, page = review(lived)

    assert "%" not in page.one("section", id="safety").text


def test_an_open_critical_is_said_once_before_everything_and_kept_in_sight(lived):
    """One line that stays while the page is read (static/css/base.css); said at every chart, nobody reads it."""
    _, page = review(lived)

    (standing,) = page.all("aside", class_="standing")
    assert page.one("main").text.count("critical is open") == 1
    assert "No usual range excuses it." in standing.text


def test_a_critical_of_an_earlier_week_still_stands_beside_the_charts_while_it_is_open(lived):
    _, page = review(lived, "?week=2026-W12")

    assert table_rows(page, "Criticals found in 2026-W12") == [
        ["None recorded in this period. That says what was recorded, not that there was none."]
    ]
    assert "1 critical is open." in page.one("aside", class_="standing").text


@pytest.mark.parametrize("query", ["?model=M50", "?shift=late", "?week=2026-W10", "?severity=major&weeks=13"])
@pytest.mark.parametrize("beside", ["", "/by-model", "/by-point"])
def test_no_filter_hides_an_open_critical(lived, query, beside):
    page = read(lived.server.page("quality_manager").get(f"/review{beside}{query}"))

    standing = page.one("aside", class_="standing")
    assert "1 critical is open." in standing.text
    assert any("PC7130003" in one.text and "GAS-01" in one.text for one in standing.all("li"))


def test_no_weeks_are_named_from_before_the_records_first(lived):
    for query in ("?week=2026-W11", "?week=2026-W11&weeks=104"):
        weeks = set(re.findall(r"20\d\d-W\d\d", review(lived, query)[1].one("main").text))
        assert min(weeks) == "2026-W10"


def test_each_chart_has_table_sentence_drawing_and_figure(lived):
    answer, page = review(lived)
    pictures = page.all("article", class_="picture")

    assert len(pictures) >= 9
    for picture in pictures:
        assert picture.one("p", class_="says").text
        assert picture.all("table")[0].one("caption").text
        assert picture.all("svg", class_="figure")
    figures = lived.server.page("quality_manager").get(page.one("div", class_="review").attrs["data-figures"])
    assert {one.attrs["data-picture"] for one in pictures} == set(figures.json)
    assert all({"data", "layout"} == set(figure) for figure in figures.json.values())
    assert "data-figure=" not in answer.text


@pytest.mark.parametrize(("beside", "least"), [("by-model", 4), ("by-point", 3)])
def test_what_stands_beside_the_week_has_its_charts_and_the_way_back(lived, beside, least):
    client = lived.server.page("quality_manager")
    answer = client.get(f"/review/{beside}?week=2026-W11&model=T36&model=M50")
    page = read(answer)

    assert len(page.all("article", class_="picture")) >= least - 1
    assert answer.text.count("data-figure=") == len(page.all("article", class_="picture"))
    assert any("model=T36" in one.attrs["href"] for one in page.all("a") if one.text == "Back to the week")
    assert client.get(f"/review/{beside}?week=W99").status_code == 400
    assert "Only criticals are asked for." in read(client.get(f"/review/{beside}?severity=critical")).one("main").text


@pytest.mark.parametrize("beside", ["figures", "by-model", "by-point"])
def test_only_the_manager_reads_what_stands_beside_the_week(lived, beside):
    assert lived.server.page("station_lead").get(f"/review/{beside}").status_code == 403


def test_the_charts_script_is_asked_for_by_address_only(lived):
    """A phone never loads it: the page names the address, the page's own script decides by the screen's width."""
    answer, page = review(lived)

    assert page.one("div", class_="review").attrs["data-plotly"].endswith("plotly.min.js")
    assert not [one for one in page.all("script") if "plotly" in one.attrs.get("src", "")]
    assert answer.headers["Content-Security-Policy"].count("unsafe-inline") == 1  # style attributes only


def test_bad_filters_are_named_and_the_usual_is_shown(lived):
    answer, page = review(lived, "?week=2026-W60&weeks=7&model=X99&shift=noon&severity=huge&order=size&colour=red")
    said = [one.text for one in page.all("p", role="alert")]

    assert answer.status_code == 400
    assert said == [
        "The address asks for “colour”, which this page does not know.",
        "“2026-W60” is no week; write it like 2026-W12. Shown is 2026-W12.",
        "“7” is no number of weeks to show; choose 13, 26, 52, 104. Shown are 26.",
        "There is no model “X99”; there are T36, M50, H62. It was left out.",
        "There is no shift “noon”; there are early, late. It was left out.",
        "There is no severity “huge” to choose; there is major, critical. The usual one is shown.",
        "There is no Pareto order “size” to choose; there is count, minutes, severity. The usual one is shown.",
    ]
    assert page.one("h1").text == "The week 2026-W12"


@pytest.mark.parametrize("value", ["", "%00", "2026-W1", "2026-w10", "0000-W00", "9999-W99", "<script>", "a" * 5000])
def test_no_week_in_the_address_is_a_fault_of_the_server(lived, value):
    answer = lived.server.page("quality_manager").client.get("/review", query_string={"week": value})

    assert answer.status_code in (200, 400)
    read(answer)


def test_the_address_holds_the_state_of_the_filters(lived):
    _, page = review(lived, "?week=2026-W11&weeks=13&model=T36&model=M50&shift=early&severity=major&order=minutes")

    ticked = [one.attrs["value"] for one in page.all("input", type="checkbox") if "checked" in one.attrs]
    assert ticked == ["T36", "M50", "early"]
    chosen = [one.attrs["value"] for one in page.all("option") if "selected" in one.attrs]
    assert chosen == ["13", "major", "minutes"]
    earlier = page.one("a", rel="prev").attrs["href"]
    assert earlier == ("/review?week=2026-W10&weeks=13&model=T36&model=M50&shift=early&severity=major&order=minutes")
    assert "models T36, M50, shifts early, critical and major" in page.text


def test_a_change_of_criteria_is_drawn_on_every_chart_of_weeks(lived):
    form = {"change": "criteria", "what": "Scratch limit tightened", "from_day": "2026-03-04"}
    send(lived.server.page("station_lead"), "/stations/S05/changes", **form)
    _, page = review(lived)
    said = "A 2026-W10: Criteria changed at S05: Scratch limit tightened"
    weekly = [one for one in page.all("article", class_="picture") if "ISO week" in one.text]

    assert len(weekly) >= 4
    assert [one for one in weekly if said not in [note.text for note in one.all("li")]] == []


def test_tables_that_change_what_is_counted_are_drawn_on_every_chart_of_weeks_and_others_on_none(lived):
    tables = tables_of(asset_folder("demo_data") / "plant")
    house, by = lived.server.house, By("AD1", "s")
    renamed = {**tables, "plant.toml": tables["plant.toml"].replace('maker = "', 'maker = "New ')}
    graver = re.sub(r"^(PAN-02,.*),minor,", r"\1,major,", tables["defect_types.csv"], flags=re.M)
    after = {**renamed, "defect_types.csv": graver}
    put_in_force(house.journal, house.folder, renamed, revision_of(tables), "another name", "2026-03-04", by)
    _, page = review(lived)
    assert "tables changed" not in page.text

    put_in_force(house.journal, house.folder, after, revision_of(renamed), "graver", "2026-03-04", by)
    _, page = review(lived)
    said = "A 2026-W10: The plant's tables changed: types and their severities: PAN-02 (graver)"
    weekly = [one for one in page.all("article", class_="picture") if "ISO week" in one.text]

    assert len(weekly) >= 4
    assert [one for one in weekly if said not in [note.text for note in one.all("li")]] == []


def test_with_majors_only_no_chart_counts_a_minor(lived):
    _, page = review(lived, "?severity=major")
    level = [one.text for one in page.one("section", id="level").all("h3")]

    assert level
    assert not [title for title in level if "any defect" in title]


def test_the_pareto_follows_the_order_asked_for(lived):
    _, page = review(lived, "?week=2026-W10&order=minutes")

    assert page.all("article", data_picture="pareto-type-minutes")
    assert not page.all("article", data_picture="pareto-type-count")


def test_the_running_week_is_said_to_be_unfinished(lived):
    _, page = review(lived, "?week=2026-W13")

    assert "This week is not over." in page.text
    assert not page.all("a", rel="next")


def test_what_this_version_does_not_keep_is_said_on_the_page(lived):
    _, page = review(lived)

    assert "Holds, concessions and corrective actions are not kept by this version" in page.text


def test_an_empty_record_has_a_review_that_says_so(server):
    page = read(server.page("quality_manager").get("/review"))

    assert "None recorded in this period." in page.text


def test_a_running_week_without_one_before_it_says_of_which_week_it_speaks(server):
    """On a plant's first Monday "No unit was presented" stood below the figure of the first unit."""
    page = server.page("quality_manager")
    running = read(page.get("/review")).one("section", id="level").text
    (before,) = set(
        re.findall(r"No unit was presented in (\S+), the last whole week; the running one is judged", running)
    )
    whole = read(page.get(f"/review?week={before}")).one("section", id="level").text

    assert "the running one" not in whole
    assert f"No unit was presented in {before}." in whole
    assert f"No unit was presented in {before}." not in running


def test_the_usual_week_is_the_last_whole_one():
    """23 March 2026 is the Monday of ISO week 13; ISO 8601 weeks from Python's calendar."""
    filters, problems = review_filter(MultiDict(), _plant(), TODAY)

    assert filters.week_name == "2026-W12"
    assert problems == ()


@pytest.mark.parametrize(
    ("first", "opened"),
    [(None, "2026-W11"), ("2026-03-09", "2026-W11"), ("2026-03-02", "2026-W10"), ("2025-01-06", "2026-W10")],
)
def test_a_plants_first_week_opens_while_it_runs(first, opened):
    """On the first Monday the last whole week is one in which nothing was: the running one is shown."""
    wednesday = date(2026, 3, 11)
    week = usual_week(wednesday, date.fromisoformat(first) if first else None)

    assert iso_week(week) == opened
    assert review_filter(MultiDict(), _plant(), wednesday, week)[0].week == week


def test_every_model_chosen_is_the_same_as_none():
    filters, _ = review_filter(MultiDict([("model", code) for code in ("T36", "M50", "H62")]), _plant(), TODAY)

    assert filters.models == ()


def _plant():
    from tests.web.plant_server import invented_plant

    return invented_plant()[1]


def test_units_between_criticals_say_how_many_are_needed_while_there_are_few(lived):
    _, page = review(lived)

    assert "a usual range of the units between criticals needs 8 gaps" in page.one("section", id="safety").text


def test_the_week_in_a_few_lines_leads_to_each_section(lived):
    """What a manager needs on Monday stands on the first screen, each line with its drawing and its section's address.

    A phone leaves the line's sentence to its section, so that must say it too."""
    _, page = review(lived)
    lines = page.one("section", class_="glance")
    targets = [one.attrs["href"] for one in lines.all("a")]

    assert targets == [
        "#level", "#first-pass", "#pareto-origin-count-head", "#pareto", "#origin", "#signals", "#safety", "#data",
        "/backlog",
    ]  # fmt: skip
    for target in targets[:-1]:
        assert page.all(id=target[1:])
    assert len(lines.all("svg", class_="spark")) == len(targets) - 1
    assert "1 critical in 2026-W11" in lines.text
    assert "Nothing is watched yet" in lines.text
    below = page.text.replace(lines.text, "")
    said = [one.text for one in lines.all("dd", class_="sentence")]
    assert [one for one in said if one.split(". ")[0].split(", ")[0] not in below] == []


def test_signals_are_told_with_the_way_to_their_page(lived):
    _, page = review(lived)
    section = page.one("section", id="signals")

    assert "a baseline needs 8 whole weeks" in section.text
    assert any(one.attrs["href"] == "/signals?week=2026-W11" for one in section.all("a"))


def test_signals_are_worked_out_once_for_a_state_of_the_record(lived, monkeypatch):
    asked = []
    reported = review_signals.reported
    monkeypatch.setattr(review_signals, "reported", lambda *of: asked.append(of) or reported(*of))
    for query in ("?week=2026-W09", "?week=2026-W09&model=T36", "?week=2026-W09"):
        review(lived, query)

    assert len(asked) == 1
    form = {"change": "tool", "what": "New cutter", "from_day": "2026-03-04"}
    send(lived.server.page("station_lead"), "/stations/S05/changes", **form)
    review(lived, "?week=2026-W09")

    assert len(asked) == 2  # the note may explain a signal, so what was worked out before it no longer holds


def test_rework_minutes_a_unit_say_their_minutes_and_units(lived):
    _, page = review(lived, "?week=2026-W10")
    rows = table_rows(page, "Minutes that each type usually takes")

    assert rows[0][0] == "2026-W10"
    assert " on " in rows[0][2]
    assert "usual minutes a unit in 2026-W10" in page.one("section", id="first-pass").text


def test_criticals_alone_leave_no_rate_and_no_order_on_the_page(lived):
    _, page = review(lived, "?week=2026-W11&severity=critical")

    for section in ("level", "first-pass", "pareto"):
        words = page.one("section", id=section)
        assert "They are never put in a rate or an order" in words.text
        assert not words.all("table")
    assert "Only criticals, on units presented" in page.one("section", id="origin").text
    assert "Narrowed to critical only: the origin table counts criticals" in page.one("div", class_="review").text


def test_majors_alone_are_counted_and_the_page_says_so(lived):
    _, everything = review(lived)
    _, page = review(lived, "?week=2026-W11&severity=major")
    minors = "and minors found at first presentation"

    assert minors in everything.one("section", id="pareto").text
    assert minors not in page.one("section", id="pareto").text
    assert "Majors per unit, of" in page.one("section", id="level").text
    assert "units with any defect" not in page.one("section", id="level").text
    assert "count no minor" in page.one("div", class_="review").text


BASELINE = "?week=2026-W12&baseline=2026-W10..2026-W12&left_out=2026-W11&why=new+jig"


def test_a_baseline_in_the_address_is_told_with_its_reason_and_is_not_kept(lived):
    """Three weeks are too few for limits; the page says so and whose baseline it is all the same."""
    answer, page = review(lived, BASELINE)
    told = page.one("section", id="level").text

    assert answer.status_code == 200
    assert "Baseline chosen in this page's address: 2026-W10 to 2026-W12, without 2026-W11, because “new jig”" in told
    assert "It is not kept" in told
    assert "limits by a baseline of your own" in page.all("p", class_="basis")[0].text
    assert "limits need 8 weeks, the chosen baseline has 2" in told
    assert page.one("a", rel="prev").attrs["href"].endswith(
        "&baseline=2026-W10..2026-W12&left_out=2026-W11&why=new+jig"
    )  # fmt: skip
    assert "baseline" not in next(one for one in page.all("a") if "usual baseline" in one.text).attrs["href"]
    assert "Baseline chosen" not in review(lived)[1].one("section", id="level").text


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ("baseline=2026-W10&baseline=2026-W12", "A baseline of one's own needs its reason"),
        ("baseline=2026-W12..2026-W10&why=x", "last week lies before its first"),
        ("baseline=2026-W10&why=x", "A baseline has a first and a last week, got 1 of them"),
        ("baseline=2026-W10..2026-W13&why=x", "A baseline holds weeks that are over"),
        ("baseline=2020-W10..2026-W12&why=x", "A baseline has at most 104 weeks"),
        ("baseline=2026-W10..2026-W60&why=x", "“2026-W60” is no week"),
        ("baseline=2026-W10..2026-W12&left_out=2026-W09&why=x", "must lie between 2026-W10 and 2026-W12, got 2026-W09"),
        ("left_out=2026-W11&why=x", "give its first and last week too"),
        ("baseline=%00..<b>&why=x", "is no week"),
    ],
)
def test_a_baseline_that_cannot_be_is_named_and_the_usual_one_shown(lived, asked, said):
    answer, page = review(lived, f"?week=2026-W12&{asked}")

    assert answer.status_code == 400
    assert any(said in one.text and "The usual baseline is shown" in one.text for one in page.all("p", role="alert"))
    assert "Baseline chosen" not in page.one("section", id="level").text


def test_weeks_left_out_may_be_parted_and_written_as_people_do(lived):
    weeks = "baseline=2026-W10&baseline=2026-W12&left_out=2026-W011+2026-W11"
    _, page = review(lived, f"?week=2026-W12&{weeks}&why=+new++jig")

    assert "without 2026-W11, because “new jig”" in page.one("section", id="level").text


def test_an_empty_baseline_in_the_form_asks_for_the_usual_one(lived):
    answer, _ = review(lived, "?week=2026-W12&baseline=&baseline=&left_out=&why=")

    assert answer.status_code == 200


def test_a_unit_under_way_is_told_by_number_and_where_and_is_in_no_figure(lived):
    _, page = review(lived)
    section = page.one("section", id="data")

    told = "1 unit under way at the end of 2026-W11 is in no figure of the line yet: "
    told += "1 waits for T02 Water-spray booth and D01 Daylight bay (final inspection)"
    assert told in section.text
    caption = "Units under way on 2026-03-15: in no figure of the line until every end point has presented them"
    (row,) = table_rows(section, caption)
    assert row == [
        *("PC7130003 T36", "T01 Services test bay"),
        *("T02 Water-spray booth and D01 Daylight bay (final inspection)", "2026-03-10", "0"),
    ]
    assert f"/units/{lived.ids['critical']}" in [link.attrs["href"] for link in section.all("a")]
    (look,) = table_rows(section, PRESENTATIONS)
    assert look[1] == "1"  # the look at one point counts there, and the table says so
    assert "No unit was presented in 2026-W11." in page.one("section", id="level").text
