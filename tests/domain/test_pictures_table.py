"""The table of pictures: one put in its place, others left as they are; faults of its rows told."""

import dataclasses

import pytest

from qc.assets import folder
from qc.domain.plant.plant import ViewPicture
from qc.domain.tables.pictures_table import corners_at_first, with_picture, without_picture
from qc.domain.tables.plant_changes import plant_changes
from qc.domain.tables.plant_tables import NO_PICTURES, PICTURES, PlantFaults, plant_from_tables, revision_of, tables_of

TABLES = tables_of(folder("demo_data") / "plant")
PLANT = plant_from_tables(TABLES)
ONE = ViewPicture(
    model="T36", view="front", sha256="ab" * 32, width=640, height=480, left=-50, bottom=0, right=2350, top=1800
)
OTHER = dataclasses.replace(ONE, view="rear", sha256="cd" * 32)


def with_them(*pictures):
    tables = dict(TABLES)
    for one in pictures:
        tables[PICTURES] = with_picture(tables, one)
    return tables


def test_a_picture_put_in_is_read_as_it_was():
    assert dict(plant_from_tables(with_them(ONE, OTHER)).pictures) == {
        ("T36", "front"): ONE,
        ("T36", "rear"): OTHER,
    }


def test_another_picture_of_a_view_takes_its_place_and_leaves_the_others():
    other = dataclasses.replace(ONE, sha256="ef" * 32)

    assert list(plant_from_tables(with_them(ONE, OTHER, other)).pictures.values()) == [other, OTHER]


def test_one_taken_away_leaves_the_others_and_the_last_one_the_heading():
    tables = with_them(ONE, OTHER)

    tables[PICTURES] = without_picture(tables, "T36", "front")
    assert list(plant_from_tables(tables).pictures.values()) == [OTHER]
    tables[PICTURES] = without_picture(tables, "T36", "rear")
    assert tables[PICTURES] == NO_PICTURES
    assert not plant_from_tables(tables).pictures


def test_the_digest_of_a_revision_covers_the_picture():
    before, after = with_them(ONE), with_them(dataclasses.replace(ONE, sha256="ef" * 32))

    assert revision_of(before) != revision_of(after)
    told = [one.words for one in plant_changes(before, after).changes]
    assert told == [f"T36 front: picture {'ab' * 32} → {'ef' * 32}"]
    assert [one.what for one in plant_changes(TABLES, before).changes] == ["added"]
    assert plant_changes(before, TABLES).refused == (), "a picture may be taken away"
    assert plant_changes(before, after).criteria == ()


@pytest.mark.parametrize(
    ("swap", "said"),
    [
        (("T36,front,", "T37,front,"), "is no model"),
        (("T36,front,", "T36,top,"), "is no view"),
        (("ab" * 32, "photo.jpg"), "names no kept picture"),
        (("640", "0"), "width"),
        (("640", "1e9"), "width"),
        (("-50,0 2350,1800", "2350,0 -50,1800"), "must be two corners"),
        (("-50,0 2350,1800", "-50,0"), "must be two corners"),
        (("-50,0 2350,1800", "left,0 2350,1800"), "is no outline"),
        (("\nT36", "\nT36,front,,1,1,\nT36"), "twice"),
    ],
)
def test_a_row_that_cannot_be_is_told(swap, said):
    tables = with_them(ONE)
    assert swap[0] in tables[PICTURES]
    tables[PICTURES] = tables[PICTURES].replace(*swap)

    with pytest.raises(PlantFaults) as told:
        plant_from_tables(tables)

    assert said in str(told.value)
    assert "pictures.csv" in str(told.value)


def test_at_first_a_picture_lies_about_the_middle_of_what_is_drawn_and_holds_all_of_it():
    for width, height in ((1280, 720), (300, 900), (32, 32)):
        for view in PLANT.views:
            left, bottom, right, top = corners_at_first(PLANT, "M50", view, width, height)
            points = [p for zone in PLANT.zones_of("M50") if zone.view == view for p in zone.points]

            assert all(left - 1 <= x <= right + 1 and bottom - 1 <= y <= top + 1 for x, y in points)
            assert (right - left) / (top - bottom) == pytest.approx(width / height, rel=0.01)
