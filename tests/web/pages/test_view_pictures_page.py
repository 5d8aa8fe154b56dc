"""Pictures under the zones, handed in on a page: looked at, kept, put in force by the tables' own door."""

import io

import pytest

from qc.domain.tables.plant_tables import PICTURES
from qc.store.checking.verify import verify
from qc.store.keeping.backup import back_up, restore
from tests.store.pictures import BROKEN, encoded, noise, sides
from tests.web.pages.reading import read
from tests.web.plant_server import OWN_PAGE


@pytest.fixture
def page(server):
    return server.page("administrator")


def hand_in(page, data, name="front.jpg", model="T36", view="front", **more):
    form = {"csrf_token": page.form_token("/plant-tables"), "model": model, "view": view, **more}
    parts = [f'name="{key}"\r\n\r\n{value}'.encode() for key, value in form.items()]
    if data is not None:
        parts.append(f'name="picture"; filename="{name}"\r\nContent-Type: image/png\r\n\r\n'.encode() + data)
    body = b"".join(b"--edge\r\nContent-Disposition: form-data; " + part + b"\r\n" for part in parts) + b"--edge--\r\n"
    kind = "multipart/form-data; boundary=edge"
    return page.client.post("/plant-tables/picture", data=body, headers=OWN_PAGE, content_type=kind)


def take(page, looked):
    shown = read(looked)
    form = {name: shown.one("input", name=name).attrs["value"] for name in ("digest", "seen", "from_day")}
    form["reason"] = "a photo of it"
    return page.post("/plant-tables/take", csrf_token=page.form_token("/plant-tables"), **form)


def test_a_picture_is_shown_first_and_lies_under_the_zones_once_it_is_in_force(server, page):
    looked = hand_in(page, encoded(sides(900, 600), "JPEG"))
    assert "T36 front: added" in looked.text
    assert not server.house.plant.pictures

    assert "In force from" in take(page, looked).text

    (one,) = server.house.plant.pictures.values()
    assert (one.width, one.height) == (900, 600)
    (told,) = server.phone().get("plant").json["pictures"]
    assert told["sha256"] == one.sha256
    assert told["corners"] == [one.left, one.bottom, one.right, one.top]
    bytes_ = server.phone().get(f"photos/{one.sha256}")
    assert bytes_.headers["Content-Type"] == "image/webp"
    assert "immutable" in bytes_.headers["Cache-Control"]
    assert f"/photos/{one.sha256}" in page.get("/plant-tables").text
    assert page.get(f"/photos/{one.sha256}").status_code == 200


def test_it_goes_with_a_backup_and_verify_finds_a_byte_of_it_changed(server, page, tmp_path):
    take(page, hand_in(page, encoded(sides(), "PNG")))
    (one,) = server.house.plant.pictures.values()

    back_up(server.house.folder, tmp_path / "copy")
    restore(tmp_path / "copy", tmp_path / "again")
    kept = tmp_path / "again" / "photos" / one.sha256[:2] / one.sha256
    assert verify(tmp_path / "again").is_whole
    assert not [note for note in verify(tmp_path / "again").notes if "picture" in note]

    kept.write_bytes(kept.read_bytes()[:-1] + b"x")
    assert [check.name for check in verify(tmp_path / "again").checks if check.faults] == ["photos"]


def test_tables_that_name_a_picture_which_is_not_kept_are_not_put_in_force(server, page):
    rows = f'model,view,picture,width,height,corners\nT36,front,{"ab" * 32},300,200,"0,0 2300,1500"\n'
    data = {"csrf_token": page.form_token("/plant-tables"), "files": [(io.BytesIO(rows.encode()), PICTURES)]}
    looked = page.client.post("/plant-tables/look", data=data, headers=OWN_PAGE, content_type="multipart/form-data")

    answer = take(page, looked)

    assert answer.status_code == 409
    assert "the picture of T36 front that pictures.csv names is not kept here" in answer.text
    assert not server.house.plant.pictures


def test_another_picture_takes_its_place_and_one_may_be_taken_away(server, page):
    take(page, hand_in(page, encoded(sides(), "PNG")))
    take(page, hand_in(page, encoded(noise(200, 150), "PNG"), view="rear"))
    first = dict(server.house.plant.pictures)
    take(page, hand_in(page, encoded(sides(200, 300), "PNG")))

    assert list(server.house.plant.pictures) == [("T36", "front"), ("T36", "rear")]
    assert server.house.plant.pictures["T36", "front"] != first["T36", "front"]
    assert server.house.plant.pictures["T36", "rear"] == first["T36", "rear"]

    take(page, hand_in(page, None, without="yes"))
    assert list(server.house.plant.pictures) == [("T36", "rear")]
    take(page, hand_in(page, None, view="rear", without="yes"))
    assert not server.house.plant.pictures


def test_two_who_hand_in_pictures_of_two_views_keep_both(server, page):
    other = server.page("administrator")
    mine, theirs = hand_in(page, encoded(sides(), "PNG")), hand_in(other, encoded(noise(200, 150), "PNG"), view="rear")
    take(page, mine)

    told = take(other, theirs)
    assert told.status_code == 409
    assert "Other tables were put in force meanwhile" in told.text
    take(other, told)

    assert list(server.house.plant.pictures) == [("T36", "front"), ("T36", "rear")]


@pytest.mark.parametrize("what", BROKEN)
def test_what_is_no_picture_is_told_and_changes_nothing(server, page, what):
    data, words = BROKEN[what]

    answer = hand_in(page, data, name=f"<b>{what}</b>.png")

    assert answer.status_code == 400
    assert words in answer.text
    assert "Nothing was changed." in answer.text
    assert "<b>" not in answer.text
    assert not server.house.plant.pictures
    assert not list((server.house.folder / "photos").glob("??/*"))


def test_a_form_without_a_picture_or_of_no_view_is_told(server, page):
    assert "No picture was chosen" in hand_in(page, None).text
    for more in ({"model": "ZZZ"}, {"view": "top"}, {"model": ""}):
        answer = hand_in(page, encoded(sides(), "PNG"), **more)
        assert answer.status_code == 400
        assert "Choose a model and a view" in answer.text


def test_a_file_beyond_every_limit_is_turned_away(server, page):
    assert hand_in(page, b"\xff" * 21_000_000).status_code == 413


def test_a_manager_sees_them_and_hands_none_in(server, page):
    take(page, hand_in(page, encoded(sides(), "PNG")))
    manager = server.page("quality_manager")

    text = manager.get("/plant-tables").text
    assert "/photos/" in text
    assert "Look it through" not in text
    assert hand_in(manager, encoded(sides(), "PNG")).status_code == 403


def test_a_unit_keeps_the_picture_that_it_was_looked_at_over(lived):
    """Each unit's drawings lie over the picture of the tables by which its last look was judged."""
    page = lived.server.page("administrator")
    waiting = lived.ids["waiting"]
    model = lived.server.house.reads.unit_story(waiting).model

    def laid(image):
        take(page, hand_in(page, encoded(image, "PNG"), model=model))
        return lived.server.house.plant.pictures[model, "front"].sha256

    def shown(unit):
        return [one.attrs["href"] for one in read(page.get(f"/units/{unit}")).all("image")]

    assert lived.server.house.reads.looked_at_under(lived.ids["planned"]) is None
    first = laid(sides())
    assert shown(waiting) == [], "it was looked at before there was one"
    lived.begin(waiting)
    assert shown(waiting) == [f"/photos/{first}"]

    second = laid(noise(200, 150))

    assert shown(waiting) == [f"/photos/{first}"]
    assert page.get(f"/photos/{first}").status_code == 200
    assert shown(lived.plan(30_009, model)) == [f"/photos/{second}"]
