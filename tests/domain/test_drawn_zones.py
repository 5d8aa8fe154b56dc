"""Zones as somebody drew them, put into the table of zones: the rest stands as it stood."""

import json
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from qc.assets import folder
from qc.domain.tables.drawn_zones import ZONES, NoDrawing, drawn_rows, view_as_it_stands, with_drawn
from qc.domain.tables.plant_changes import plant_changes
from qc.domain.tables.plant_tables import PICTURES, PlantFaults, checked_plant, plant_from_tables, tables_of

TABLES = tables_of(folder("demo_data") / "plant")
PLANT = plant_from_tables(TABLES)
# A plant whose units have options; its table of zones has their column.
OTHER = tables_of(Path(__file__).parents[1] / "plants" / "other")
KITCHEN, DOOR = plant_from_tables(OTHER).options


def drawn(model="T36", view="front", plant=PLANT):
    """A view's zones as the page sends them when nothing was changed."""
    names = ("id", "key", "name", "kind", "layer", "points", "walk_order", "caution", "holds", "ended", "options")
    own = [zone for zone in plant.zones.values() if (zone.model, zone.view) == (model, view)]
    return json.loads(json.dumps([{name: getattr(zone, name) for name in names} for zone in own]))


def after(zones, model="T36", view="front", tables=TABLES):
    return {**tables, ZONES: with_drawn(tables, model, view, drawn_rows(zones, model, view))}


def words(tables, before=TABLES):
    told = plant_changes(before, tables)
    return [one.words for one in told.changes], told.refused


def test_a_drawing_in_which_nothing_was_changed_changes_nothing():
    for model in PLANT.models:
        for view in PLANT.views:
            assert after(drawn(model, view), model, view) == TABLES
            assert words(after(drawn(model, view), model, view)) == ([], ())


def test_a_point_moved_is_told_as_that_alone():
    zones = drawn()
    zones[1]["points"][2] = [1150, 1240]

    changes, refused = words(after(zones))

    assert [one.split(":")[0] for one in changes] == ["T36 front.gas"]
    assert refused == ()
    assert PLANT.zones["T36", "front.gas"].points != checked_plant(after(zones)).zones["T36", "front.gas"].points


def test_a_new_zone_gets_the_next_free_id_and_stands_with_its_view():
    zones = drawn()
    zones.append(zones[2] | {"id": "", "key": "front.lamp", "name": "Lamp, left", "layer": 2, "walk_order": 9})
    zones[-1]["points"] = [[100, 1300], [300, 1300], [300, 1500], [100, 1500]]

    tables = after(zones)

    new = checked_plant(tables).zones["T36", "front.lamp"]
    assert new.name == "Lamp, left"
    assert new.id not in {zone.id for zone in PLANT.zones.values()}
    assert words(tables)[0] == ["T36 front.lamp Lamp, left: added"]
    lines = tables[ZONES].splitlines()
    at = next(place for place, line in enumerate(lines) if line.startswith(f"{new.id},"))
    assert ",front," in lines[at - 1]
    assert ",front," not in lines[at + 1]


def test_a_zone_ended_by_drawing_is_ended_in_the_table_that_had_no_such_column():
    zones = drawn()
    zones[4]["ended"] = True
    assert ",ended" not in TABLES[ZONES].partition("\n")[0]

    tables = after(zones)

    assert plant_from_tables(tables).zones["T36", zones[4]["key"]].ended
    assert words(tables)[0][0].endswith("ended nothing → yes")


def with_options(key, *options, tables=OTHER):
    plant = plant_from_tables(tables)
    one = next(zone for zone in plant.zones.values() if zone.key == key)
    zones = drawn(one.model, one.view, plant)
    next(zone for zone in zones if zone["key"] == key)["options"] = list(options)
    return after(zones, one.model, one.view, tables)


def test_options_are_drawn_several_and_taken_away_again():
    first = with_options("vorn.wand", KITCHEN, DOOR)

    assert words(first, OTHER)[0] == [f"A21 vorn.wand: options nothing → {KITCHEN};{DOOR}"]
    assert plant_from_tables(first).zones["A21", "vorn.wand"].options == (KITCHEN, DOOR)
    assert with_options("vorn.wand", tables=first) == OTHER


def test_options_change_their_own_row_alone():
    before, now = OTHER[ZONES].splitlines(), with_options("vorn.wand", DOOR)[ZONES].splitlines()

    assert [line for line in now if line not in before] == [f"{before[2]}{DOOR}"]


def test_options_stand_as_they_were_written_where_a_drawing_says_the_same_or_nothing_of_them():
    odd = OTHER[ZONES].replace(f"{next(line for line in OTHER[ZONES].splitlines() if ',vorn.wand,' in line)}", "{}")
    row = f'Z02,A21,vorn,"vorn.wand",Vorderwand,wand,0,"0,1000  2000,1000 2000,2200 0,2200",02,,, {DOOR} ; {KITCHEN} '
    tables = {**OTHER, ZONES: odd.replace("{}", row)}

    assert with_options("vorn.wand", KITCHEN, DOOR, tables=tables) == tables
    zones = drawn("A21", "vorn", plant_from_tables(tables))
    for zone in zones:
        del zone["options"]
    assert after(zones, "A21", "vorn", tables) == tables


def test_the_first_options_of_a_plant_take_their_column_and_nothing_else():
    column = OTHER[ZONES].splitlines()[0].split(",").index("options")
    assert column == 11
    bare = {**OTHER, ZONES: "".join(f"{line.rpartition(',')[0]}\n" for line in OTHER[ZONES].splitlines())}

    tables = with_options("vorn.wand", KITCHEN, tables=bare)

    assert words(tables, bare)[0] == [f"A21 vorn.wand: options nothing → {KITCHEN}"]
    changed = [(was, now) for was, now in zip(bare[ZONES].splitlines(), tables[ZONES].splitlines(), strict=True)]
    assert [now for was, now in changed[1:] if now != f"{was},"] == [f"{changed[2][0]},{KITCHEN}"]


def test_an_option_that_the_plant_has_not_is_told_by_the_check():
    with pytest.raises(PlantFaults, match="is no option of this plant"):
        plant_from_tables(with_options("vorn.wand", KITCHEN, "Erker"))
    with pytest.raises(PlantFaults, match="stand at the plate, which is read on every unit; leave them empty"):
        plant_from_tables(with_options("vorn.schild", KITCHEN))


def test_a_zone_left_out_is_refused_by_the_tables_own_door():
    _, refused = words(after(drawn()[1:]))

    assert len(refused) == 1
    assert "a code is never deleted" in refused[0]


def test_an_id_of_another_view_is_no_way_to_take_its_zone():
    zones = drawn()
    zones[0]["id"] = next(zone.id for zone in PLANT.zones.values() if zone.view == "rear")

    with pytest.raises(NoDrawing, match="is no zone of T36 front"):
        after(zones)


def test_a_view_is_another_once_a_zone_or_its_picture_is():
    stood = view_as_it_stands(TABLES, "T36", "front")
    zones = drawn()
    zones[0]["name"] = "Drawbar"
    picture = f'model,view,picture,width,height,corners\nT36,front,{"ab" * 32},9,9,"0,0 9,9"\n'

    assert view_as_it_stands(after(drawn()), "T36", "front") == stood
    assert view_as_it_stands(after(zones), "T36", "front") != stood
    assert view_as_it_stands(after(zones), "T36", "rear") == view_as_it_stands(TABLES, "T36", "rear")
    assert view_as_it_stands({**TABLES, PICTURES: picture}, "T36", "front") != stood


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("name", 5),
        ("name", "x" * 201),
        ("name", "two\nlines"),
        ("name", "\x00"),
        ("key", None),
        ("layer", True),
        ("layer", 1.5),
        ("walk_order", "3"),
        ("walk_order", 1e12),
        ("points", "0,0 1,1"),
        ("points", [[0, 0, 0]]),
        ("points", [[0.5, 0]]),
        ("points", [[True, 0]]),
        ("points", [[10**12, 0]]),
        ("points", [[0, 0]] * 201),
        ("options", "KIT"),
        ("options", [1]),
        ("options", ["two\nlines"]),
        ("options", ["x"] * 201),
    ],
)
def test_another_shape_than_a_drawing_is_no_drawing(field, value):
    zones = drawn()
    zones[1][field] = value

    with pytest.raises(NoDrawing):
        drawn_rows(zones, "T36", "front")


anything = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(max_size=9),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=6), inner, max_size=4),
    max_leaves=12,
)


@given(anything)
@settings(max_examples=300)
def test_whatever_comes_is_a_drawing_or_is_refused(told):
    try:
        rows = drawn_rows(told, "T36", "front")
    except NoDrawing:
        return
    assert (rows, told) == ([], [])


def test_more_than_a_hundred_zones_are_put_in_at_once():
    zones = drawn()
    for number in range(150):
        x, y = 20 * (number % 15), 1300 + 20 * (number // 15)
        points = [[x, y], [x + 20, y], [x + 20, y + 20], [x, y + 20]]
        new = {"id": "", "key": f"front.cell.{number}", "name": f"Cell {number}", "layer": 2, "points": points}
        zones.append(zones[2] | new | {"walk_order": 10 + number})

    plant = checked_plant(after(zones))

    assert len([zone for zone in plant.zones_of("T36") if zone.view == "front"]) == 157
    assert len({zone.id for zone in plant.zones.values()}) == len(plant.zones)
