"""The page on which zones are drawn: what it shows, who may act, and the tables' own door behind it."""

import json

import pytest

from qc.domain.tables.plant_tables import checked_plant
from qc.store.checking.verify import verify
from qc.web.pages.plant_tables import tables_in_force
from tests.store.pictures import encoded, sides
from tests.web.pages import test_plant_tables_page as tables
from tests.web.pages.reading import read
from tests.web.pages.test_view_pictures_page import hand_in
from tests.web.plant_server import PlantServer

OPTIONS = {"SKY": "Roof light", "DOOR": "Door opener, <electric>"}
FRONT = "/plant-tables/zones?model=T36&view=front"


@pytest.fixture
def page(server):
    return server.page("administrator")


def told(answer):
    """What the page gives its script."""
    return json.loads(read(answer).one("div", class_="zones").attrs["data-drawing"])


def drawing_of(page, address=FRONT):
    shown = told(page.get(address))
    return shown["base"], {"zones": shown["zones"], "picture": shown["picture"]}


def look(page, base, drawing, model="T36", view="front"):
    text = drawing if isinstance(drawing, str) else json.dumps(drawing)
    token = page.form_token(FRONT)
    return page.post("/plant-tables/zones", csrf_token=token, model=model, view=view, base=base, drawing=text)


def take(page, looked, reason="drawn anew"):
    shown = read(looked)
    form = {name: shown.one("input", name=name).attrs["value"] for name in ("digest", "seen", "from_day")}
    return page.post("/plant-tables/take", csrf_token=page.form_token(FRONT), reason=reason, **form)


def with_name(drawing, name, place=1):
    zones = [zone | {"name": name} if at == place else zone for at, zone in enumerate(drawing["zones"])]
    return {**drawing, "zones": zones}


def name_of(server, key="front.gas"):
    return server.house.plant.zones["T36", key].name


def with_plant_options(server, page):
    """Put options in force that this plant's units may have."""
    more = "".join(f'\n[[option]]\ncode = "{code}"\nname = "{name}"\n' for code, name in OPTIONS.items())
    handed = tables.look(page, ("plant.toml", tables.TABLES["plant.toml"] + more))
    tables.take(page, handed, reason="units have options")
    assert list(server.house.plant.options) == list(OPTIONS)


def test_it_shows_the_zones_in_force_and_a_drawing_of_them_changes_nothing(server, page):
    base, drawing = drawing_of(page)

    assert base == server.house.plant.revision
    assert [zone["key"] for zone in drawing["zones"]][:2] == ["front.coupling", "front.gas"]
    assert "They say what the tables in force say" in look(page, base, drawing).text


def test_what_was_drawn_goes_through_the_tables_own_door(server, page):
    base, drawing = drawing_of(page)
    drawing["zones"][1]["points"][2] = [1150, 1240]

    looked = look(page, base, with_name(drawing, "Gas bottles"))
    assert "T36 front.gas: name Gas locker → Gas bottles" in looked.text
    assert "Back to the drawing" in looked.text
    assert name_of(server) == "Gas locker"

    assert "In force from" in take(page, looked).text
    assert name_of(server) == "Gas bottles"
    assert [one.reason for one in server.house.reads.revisions()] == ["drawn anew"]
    assert verify(server.house.folder).is_whole
    assert "These tables are in force already" in take(page, looked).text


def test_options_are_chosen_by_name_and_put_in_force(server, page):
    with_plant_options(server, page)
    base, drawing = drawing_of(page)
    shown = page.get(FRONT)
    assert told(shown)["options"] == [{"code": code, "name": name} for code, name in OPTIONS.items()]
    assert [one.attrs["data-option"] for one in read(shown).all("input") if "data-option" in one.attrs] == list(OPTIONS)
    assert drawing["zones"][1]["options"] == []
    before = tables_in_force(server.house)
    drawing["zones"][1]["options"] = list(OPTIONS)

    looked = look(page, base, drawing)
    assert "T36 front.gas: options nothing → SKY;DOOR" in looked.text
    take(page, looked)

    assert server.house.plant.zones["T36", "front.gas"].options == ("SKY", "DOOR")
    after = tables_in_force(server.house)
    assert [name for name in before if before[name] != after[name]] == ["zones.csv"]
    assert drawing_of(page)[1]["zones"][1]["options"] == ["SKY", "DOOR"]


def test_an_option_that_went_meanwhile_is_told_in_the_words_of_the_check_and_leads_back(server, page):
    base, drawing = drawing_of(page)
    drawing["zones"][1]["options"] = ["SKY"]

    answer = look(page, base, drawing)

    assert "is no option of this plant" in answer.text
    assert "Mend it in the drawing" in answer.text
    assert "This plant has no options" in page.get(FRONT).text


def with_names(drawing, place=1, **names):
    zones = [zone | {"names": names if at == place else {}} for at, zone in enumerate(drawing["zones"])]
    return {**drawing, "zones": zones}


def german(server, key="front.gas"):
    return server.house.plant.names["de"]["zone"][key]["name"]


def test_names_in_further_languages_are_put_in_force_with_the_drawing(server, page):
    base, drawing = drawing_of(page)
    assert told(page.get(FRONT))["languages"] == ["de"]
    assert drawing["zones"][1]["names"] == {"de": "Gaskasten"}
    before = tables_in_force(server.house)

    looked = look(page, base, with_names(with_name(drawing, "Gas bottles"), de="Gasfach", pl="Skrzynka <gazowa>"))
    assert "T36 front.gas: name Gas locker → Gas bottles" in looked.text
    assert "de zone front.gas name: words Gaskasten → Gasfach" in looked.text
    assert "pl zone front.gas name Skrzynka &lt;gazowa&gt;: added" in looked.text
    take(page, looked)

    assert german(server) == "Gasfach"
    after = tables_in_force(server.house)
    assert {name for name in before if before[name] != after[name]} == {"zones.csv", "names.csv"}
    assert told(page.get(FRONT))["languages"] == ["de", "pl"]
    assert drawing_of(page)[1]["zones"][1]["names"] == {"de": "Gasfach", "pl": "Skrzynka <gazowa>"}
    assert [one.reason for one in server.house.reads.revisions()] == ["drawn anew"]
    assert "These tables are in force already" in take(page, looked).text


def test_a_plant_without_names_gets_their_table_by_the_first_name_alone(tmp_path):
    without = {name: text for name, text in tables.TABLES.items() if name != "names.csv"}
    server = PlantServer(tmp_path / "plant", (without, checked_plant(without)))
    page = server.page("administrator")
    base, drawing = drawing_of(page)

    take(page, look(page, base, with_names(with_name(drawing, "Gas bottles"))))
    assert name_of(server) == "Gas bottles"
    assert "names.csv" not in tables_in_force(server.house)

    base, drawing = drawing_of(page)
    take(page, look(page, base, with_names(drawing, de="Gasfach")))
    rows = tables_in_force(server.house)["names.csv"].splitlines()
    assert rows == ["language,table,code,column,words", "de,zone,front.gas,name,Gasfach"]
    server.house.close()


def test_a_language_that_is_none_is_told_in_the_words_of_the_check_and_leads_back(server, page):
    base, drawing = drawing_of(page)

    answer = look(page, base, with_names(drawing, Deutsch="Gasfach"))

    assert "is no language tag; write one of BCP 47, such as de, pl or pt-BR" in answer.text
    assert "Mend it in the drawing" in answer.text
    assert not server.house.reads.revisions()


def test_a_drawing_that_names_nothing_leaves_what_others_named_meanwhile(server, page):
    base, drawing = drawing_of(page)
    other = server.page("administrator")
    take(other, look(other, base, with_names(drawing, de="Gasfach")))

    take(page, look(page, base, with_names(with_name(drawing, "Window", 5), 5, de="Fenster")))

    assert german(server) == "Gasfach"
    assert german(server, drawing["zones"][5]["key"]) == "Fenster"


def test_a_name_that_others_changed_meanwhile_is_told_and_not_put_over(server, page):
    base, drawing = drawing_of(page)
    other = server.page("administrator")
    mine, theirs = with_names(drawing, de="Meins"), with_names(drawing, de="Ihres")
    looked = look(page, base, mine)
    take(other, look(other, base, theirs))

    for answer in (take(page, looked), look(page, base, mine)):
        assert answer.status_code == 409
        assert "Somebody else has put another name of front.gas in de in force since yours began" in answer.text
    assert german(server) == "Ihres"

    now, _ = drawing_of(page)
    take(page, look(page, now, mine))
    assert german(server) == "Meins"


def test_a_second_tap_draws_no_new_zone_twice(server, page):
    base, drawing = drawing_of(page)
    corners = [[100, 1300], [300, 1300], [300, 1500], [100, 1500]]
    new = {"id": "", "key": "front.lamp", "name": "Lamp, left", "layer": 2, "walk_order": 9, "points": corners}
    looked = look(page, base, {**drawing, "zones": [*drawing["zones"], drawing["zones"][2] | new]})
    take(page, looked)
    count = len(server.house.plant.zones)

    assert "These tables are in force already" in take(page, looked).text
    assert len(server.house.plant.zones) == count
    assert server.house.plant.zones["T36", "front.lamp"].id == "T36-59"


def test_faults_are_told_in_the_words_of_the_tables_and_lead_back(server, page):
    base, drawing = drawing_of(page)
    drawing["zones"][1]["points"][2] = [1400, 1500]

    answer = look(page, base, drawing)

    assert "lies over front.gas in the same layer; part them, or put one in a layer above" in answer.text.replace(
        "&#39;", "'"
    )
    assert "Mend them in the drawing" in answer.text
    assert FRONT.replace("&", "&amp;") in answer.text
    assert "Put these tables in force" not in answer.text


def test_of_two_who_draw_one_view_the_second_is_told_and_nothing_is_lost(server, page):
    other = server.page("administrator")
    base, drawing = drawing_of(page)
    mine, theirs = look(page, base, with_name(drawing, "Mine")), look(other, base, with_name(drawing, "Theirs"))
    take(page, mine)

    for answer in (take(other, theirs), look(other, base, with_name(drawing, "Theirs"))):
        assert answer.status_code == 409
        assert "Somebody else has put another drawing of this view in force since yours began" in answer.text
    assert name_of(server) == "Mine"

    now, _ = drawing_of(other)
    take(other, look(other, now, with_name(drawing, "Theirs")))
    assert name_of(server) == "Theirs"


def test_of_two_who_draw_two_views_both_stand(server, page):
    other = server.page("administrator")
    base, front = drawing_of(page)
    _, rear = drawing_of(other, FRONT.replace("front", "rear"))
    mine = look(page, base, with_name(front, "Mine"))
    theirs = look(other, base, with_name(rear, "Theirs", 0), view="rear")
    take(page, mine)

    told_again = take(other, theirs)
    assert told_again.status_code == 409
    assert "In force from" in take(other, told_again).text

    assert name_of(server) == "Mine"
    assert name_of(server, rear["zones"][0]["key"]) == "Theirs"


def test_a_picture_handed_in_here_lies_under_the_drawing_and_comes_with_it(server, page):
    answer = hand_in(page, encoded(sides(900, 600), "JPEG"), draw="yes")
    assert answer.status_code == 303
    offered = told(page.get(answer.headers["Location"]))["offered"]
    base, drawing = drawing_of(page)
    offered["corners"] = [0, 0, 2300, 1533]

    looked = look(page, base, {**drawing, "picture": offered})
    assert "T36 front: added" in looked.text
    take(page, looked)

    assert server.house.plant.pictures["T36", "front"].right == 2300
    base, drawing = drawing_of(page)
    assert drawing["picture"] == offered
    take(page, look(page, base, {**drawing, "picture": None}))
    assert not server.house.plant.pictures


@pytest.mark.parametrize(
    ("drawing", "said"),
    [
        ("", "did not come whole"),
        ('{"zones": [', "did not come whole"),
        ("[]", "is no drawing"),
        ("{}", "a drawing is a list"),
        ('{"zones": [5]}', "zone 1 is no zone"),
        ('{"zones": [{}]}', "zone 1: id must be one line"),
        ('{"zones": [], "picture": {"sha256": "../../keys", "corners": [0, 0, 1, 1]}}', "is not kept here"),
        ('{"zones": [], "picture": 7}', "is not kept here"),
        ('{"zones": "' + "x" * 230_000 + '"}', "is longer than"),
        ("[" * 5_000, "did not come whole"),
    ],
)
def test_nonsense_is_told_and_the_drawing_is_kept(server, page, drawing, said):
    base, _ = drawing_of(page)

    answer = look(page, base, drawing)

    assert answer.status_code == 400
    assert said in answer.text
    assert "kept in this browser" in answer.text
    assert not server.house.reads.revisions()


@pytest.mark.parametrize("corners", [[0, 0, 0, 5], [5, 5, 1, 1], [0, 0, 1.5, 2], [0, 0, 10**9, 5], "0,0", [1, 2, 3]])
def test_a_picture_that_lies_nowhere_is_told(page, corners):
    answer = hand_in(page, encoded(sides(), "PNG"), draw="yes")
    offered = told(page.get(answer.headers["Location"]))["offered"]
    base, drawing = drawing_of(page)

    assert (
        "must lie between two corners" in look(page, base, {**drawing, "picture": {**offered, "corners": corners}}).text
    )


def test_a_base_that_the_record_does_not_keep_and_an_unknown_view_are_told(page):
    base, drawing = drawing_of(page)

    for wrong in ("", "x", "ab" * 32):
        assert "on which tables it rests" in look(page, wrong, drawing).text
    assert "no model or view" in look(page, base, drawing, view="top").text
    assert "no model or view" in look(page, base, drawing, model="<b>").text
    wrong = page.get("/plant-tables/zones?model=<b>&view=%00&picture=../x")
    assert wrong.status_code == 404
    assert "There is no model “<b>”; there are T36, M50, H62." in read(wrong).text
    assert "There is no view “\x00”; there are" in read(wrong).text


def test_markup_in_a_zones_name_stays_text(server, page):
    base, drawing = drawing_of(page)
    name = "</div><script>alert(1)</script>\" '"
    take(page, look(page, base, with_name(drawing, name)))

    answer = page.get(FRONT)

    assert "<script>alert" not in answer.text
    assert told(answer)["zones"][1]["name"] == name


def test_a_manager_sees_the_drawing_and_puts_nothing_in_force(server, page):
    manager = server.page("quality_manager")
    base, drawing = drawing_of(manager)

    shown = manager.get(FRONT).text
    assert "An administrator draws and puts in force." in shown
    assert "Look it through" not in shown
    token = manager.form_token("/export")
    answer = manager.post(
        "/plant-tables/zones", csrf_token=token, model="T36", view="front", base=base, drawing=json.dumps(drawing)
    )
    assert answer.status_code == 403
    assert server.page("inspector").get(FRONT).status_code == 403
    assert server.client().get(FRONT).status_code == 303


def test_as_many_zones_as_a_drawing_may_have_arrive_whole(page):
    base, drawing = drawing_of(page)
    for number in range(500 - len(drawing["zones"])):
        x, y = 10 * (number % 50), 1300 + 10 * (number // 50)
        points = [[x, y], [x + 10, y], [x + 10, y + 10], [x, y + 10]]
        new = {"id": "", "key": f"front.cell.{number}", "name": f"Türöffner {number} links", "layer": 2}
        drawing["zones"].append(drawing["zones"][2] | new | {"walk_order": number, "points": points})

    assert "added" in look(page, base, drawing).text

    drawing["zones"].append(drawing["zones"][-1] | {"key": "one.more"})
    assert "a list of at most 500 zones" in look(page, base, drawing).text
