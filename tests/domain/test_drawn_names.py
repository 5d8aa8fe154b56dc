"""What a drawing names zones in further languages, put into the table of names: every other row stands as it stood."""

import pytest

from qc.assets import folder
from qc.domain.tables.drawn_names import drawn_names, with_names, zone_names
from qc.domain.tables.drawn_zones import NoDrawing
from qc.domain.tables.names_table import NAMES, NO_NAMES
from qc.domain.tables.plant_changes import plant_changes
from qc.domain.tables.plant_tables import PlantFaults, checked_plant, plant_from_tables, tables_of

TABLES = tables_of(folder("demo_data") / "plant")
GAS = ("de", "front.gas")


def after(named, tables=TABLES):
    return {**tables, NAMES: with_names(tables, named)}


def words(tables, before=TABLES):
    return [one.words for one in plant_changes(before, tables).changes]


def test_a_name_is_changed_in_its_own_row_alone():
    tables = after({GAS: "Gasfach, links"})

    assert words(tables) == ["de zone front.gas name: words Gaskasten → Gasfach, links"]
    assert tables[NAMES] == TABLES[NAMES].replace("front.gas,name,Gaskasten", 'front.gas,name,"Gasfach, links"')
    assert after({GAS: "Gaskasten"}, tables) == TABLES


def test_a_name_is_taken_away_and_the_plants_own_stands():
    tables = after({GAS: ""})

    assert words(tables) == ["de zone front.gas name Gaskasten: gone"]
    assert tables[NAMES] == TABLES[NAMES].replace("de,zone,front.gas,name,Gaskasten\n", "")
    assert after({GAS: ""}, tables) == tables


def test_a_new_name_follows_the_zones_of_its_language():
    without = after({GAS: ""})

    tables = after({GAS: "Gasfach"}, without)

    assert words(tables, without) == ["de zone front.gas name Gasfach: added"]
    lines = tables[NAMES].splitlines()
    at = lines.index("de,zone,front.gas,name,Gasfach")
    assert lines[at - 1].startswith("de,zone,")
    assert not lines[at + 1].startswith("de,zone,")
    assert [line for line in lines if "front.gas" not in line] == without[NAMES].splitlines()


def test_a_language_begins_after_all_others_and_in_a_plant_that_had_none():
    begun = {("pl", "front.gas"): "Skrzynka gazowa"}

    tables = after(begun)

    assert tables[NAMES] == f"{TABLES[NAMES]}pl,zone,front.gas,name,Skrzynka gazowa\n"
    assert plant_from_tables(tables).names["pl"]["zone"]["front.gas"]["name"] == "Skrzynka gazowa"
    bare = {name: text for name, text in TABLES.items() if name != NAMES}
    assert after(begun, bare)[NAMES] == f"{NO_NAMES}pl,zone,front.gas,name,Skrzynka gazowa\n"
    assert zone_names(after(begun, bare)) == begun
    assert zone_names(bare) == {}


def test_a_name_of_another_thing_under_the_same_code_is_none_of_a_zone():
    view = next(iter(plant_from_tables(TABLES).views))
    named = {("de", view): "Zone"}

    rows = set(after(named)[NAMES].splitlines()) ^ set(TABLES[NAMES].splitlines())

    assert rows == {f"de,zone,{view},name,Zone"}
    assert f"de,view,{view},name," in TABLES[NAMES]


@pytest.mark.parametrize(
    ("place", "said"),
    [(("Deutsch", "front.gas"), "is no language tag; write one of BCP 47"), (("de", "front.none"), "is no zone of")],
)
def test_what_the_table_does_not_take_is_told_by_the_check(place, said):
    with pytest.raises(PlantFaults, match=said):
        checked_plant(after({place: "Gas"}))


def test_a_drawing_tells_names_by_shared_key_and_nothing_of_a_zone_without_one():
    zones = [{"key": " a ", "names": {"de ": " A "}}, {"key": "", "names": {"de": "B"}}, {"key": "c"}]

    assert drawn_names(zones) == {("de", "a"): "A"}


MANY = {f"l{number}": "x" for number in range(61)}


@pytest.mark.parametrize(
    "names", ["de", ["de"], {"de": 5}, {"de": None}, {"de": "x" * 1001}, {"de": "\x00"}, {"\ud800": "x"}, MANY]
)
def test_names_of_another_shape_are_no_drawing(names):
    with pytest.raises(NoDrawing, match="zone 2: names must be at most 60 texts by language, each of at most 1000"):
        drawn_names([{"key": "a"}, {"key": "b", "names": names}])
