"""The page of the plant's tables: what new ones would change is shown, then they are put in force as shown."""

import io

import pytest

from qc.assets import folder as asset_folder
from qc.domain.tables.plant_tables import revision_of, tables_of
from qc.store.checking.verify import verify
from tests.web.pages.reading import read
from tests.web.plant_server import OWN_PAGE

TABLES = tables_of(asset_folder("demo_data") / "plant")
TYPES = "defect_types.csv"
NEW_TYPE = "PAN-77,PAN,Panels and bonding,Blister under the film,minor,no,asked,20,D01,RP1,panel,all,no,none,blister\n"
MORE = TABLES[TYPES] + NEW_TYPE
RENAMED = TABLES["plant.toml"].replace('maker = "', 'maker = "New ')


@pytest.fixture
def page(server):
    return server.page("administrator")


def look(page, *files):
    data = {"csrf_token": page.form_token("/plant-tables")}
    data["files"] = [(io.BytesIO(one if isinstance(one, bytes) else one.encode()), name) for name, one in files]
    return page.client.post("/plant-tables/look", data=data, headers=OWN_PAGE, content_type="multipart/form-data")


def take(page, looked, **more):
    shown = read(looked)
    form = {name: shown.one("input", name=name).attrs["value"] for name in ("digest", "seen", "from_day")}
    form |= {"reason": "blisters are told apart", **more}
    return page.post("/plant-tables/take", csrf_token=page.form_token("/plant-tables"), **form)


def revisions(server):
    return [(one.reason, one.revised_by) for one in server.house.reads.revisions()]


def test_what_would_change_is_shown_and_nothing_is_changed(server, page):
    shown = look(page, (TYPES, MORE))

    assert shown.status_code == 200
    assert "PAN-77 Blister under the film: added" in shown.text
    assert "What is counted is not the same before and after:" in shown.text
    assert revisions(server) == []


def test_taken_they_are_in_force_for_pages_phones_and_the_record(server, page):
    phone = server.phone()
    before = phone.get("plant")

    answer = take(page, look(page, (TYPES, MORE)))

    assert "In force from" in answer.text
    assert revisions(server) == [("blisters are told apart", "AD1")]
    assert "PAN-77" in server.house.plant.types
    after = phone.get("plant", headers={"If-None-Match": before.headers["ETag"]})
    assert after.status_code == 200
    assert after.json["revision"] == revision_of({**TABLES, TYPES: MORE})
    assert "PAN-77" in [one["code"] for one in after.json["types"]]
    assert "Blister under the film" in server.page("inspector").get("/paper?model=T36").text
    assert tables_of(server.house.folder / "plant")[TYPES] == MORE
    assert verify(server.house.folder).is_whole


def test_what_a_running_server_does_not_take_up_is_told_before_and_after(server, page):
    words = "A server goes by [backup] and [drop] once it is started anew."
    more = (
        '\n[drop]\nfolder = "/srv/drop"\nin_name_of = "PL1"\n[backup]\nfolder = "/srv/kept"\nat = "02:00"\nkeep = 7\n'
    )

    looked = look(page, ("plant.toml", TABLES["plant.toml"] + more))

    assert words in looked.text
    assert words in take(page, looked).text
    assert "started anew" not in look(page, ("plant.toml", RENAMED + more)).text


def test_the_quality_manager_reads_who_changed_what_and_why(server, page):
    take(page, look(page, (TYPES, MORE)))

    text = server.page("quality_manager").get("/plant-tables").text
    assert "blisters are told apart" in text
    assert "By AD1" in text
    assert "PAN-77 Blister under the film: added" in text
    assert "Look them through" not in text


def test_a_second_tap_changes_nothing_more(server, page):
    looked = look(page, (TYPES, MORE))
    take(page, looked)

    assert "These tables are in force already." in take(page, looked).text
    assert len(revisions(server)) == 1


def test_of_two_administrators_at_once_the_second_sees_what_theirs_would_change_now(server, page):
    other = server.page("administrator")
    mine, theirs = look(page, (TYPES, MORE)), look(other, ("plant.toml", RENAMED))
    take(page, mine)

    answer = take(other, theirs, reason="another name")

    assert answer.status_code == 409
    assert "Other tables were put in force meanwhile" in answer.text
    assert "plant.maker" in answer.text
    assert len(revisions(server)) == 1
    assert "PAN-77" in server.house.plant.types
    assert "In force from" in take(other, answer, reason="another name").text
    assert "PAN-77" in server.house.plant.types, "what the first changed stays"
    assert server.house.plant.maker.startswith("New ")


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"reason": " x "}, "Say in 3 to 500 characters"),
        ({"reason": "y" * 501}, "Say in 3 to 500 characters"),
        ({"from_day": ""}, "The day must be a date"),
        ({"from_day": "9999-12-31"}, "9999-12-31 is outside"),
        ({"from_day": "-5"}, "The day must be a date"),
    ],
)
def test_nonsense_is_refused_with_a_reason_and_may_be_mended(server, page, wrong, said):
    looked = look(page, (TYPES, MORE))
    answer = take(page, looked, **wrong)

    assert answer.status_code in (400, 409)
    assert said in answer.text
    assert "Nothing was changed." in answer.text
    assert revisions(server) == []
    assert "In force from" in take(page, looked).text


@pytest.mark.parametrize(
    ("name", "data", "said"),
    [
        (TYPES, b"", "the file is empty"),
        ("types.csv", MORE, "its name is none of a table"),
        (TYPES, MORE.replace("default_severity", "severity", 1), "stands where default_severity is missing"),
        (TYPES, MORE[:-40], "cells, the heading 15"),
        (TYPES, TABLES[TYPES] + NEW_TYPE.replace(",minor,no,", ",minor no,"), "has 14 cells, the heading 15"),
        (TYPES, "\n".join(line for line in TABLES[TYPES].split("\n") if "PAN-02" not in line), "PAN-02"),
        ("t.xlsx", b"PK\x03\x04 half", "damaged workbook"),
        (TYPES, TABLES[TYPES], "They say what the tables in force say"),
    ],
)
def test_bad_files_are_told_and_change_nothing(server, page, name, data, said):
    answer = look(page, (name, data))

    assert answer.status_code in (200, 400)
    assert said in answer.text.replace("&#39;", "'")
    assert "Put these tables in force" not in answer.text
    assert revisions(server) == []


def test_a_form_without_files_and_one_that_is_gone_are_told(server, page):
    assert look(page).status_code == 400
    gone = page.post("/plant-tables/take", csrf_token=page.form_token("/plant-tables"), digest="ab", seen="")
    assert gone.status_code == 410
    assert "Choose them again" in gone.text


def test_another_administrators_files_are_not_taken(server, page):
    shown = read(look(page, (TYPES, MORE)))
    manager = server.page("quality_manager")
    form = {name: shown.one("input", name=name).attrs["value"] for name in ("digest", "seen", "from_day")}

    answer = manager.post("/plant-tables/take", csrf_token=manager.form_token("/plant-tables"), reason="mine", **form)

    assert answer.status_code == 403
    assert revisions(server) == []


def test_the_tables_in_force_are_had_as_files(server, page):
    assert page.get(f"/plant-tables/file?name={TYPES}").text == TABLES[TYPES]
    take(page, look(page, (TYPES, MORE)))
    assert page.get(f"/plant-tables/file?name={TYPES}").text == MORE
    assert page.get("/plant-tables/file?name=../record.sqlite").status_code == 404
