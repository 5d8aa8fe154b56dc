"""The table of names in further languages: what it holds, every fault of its rows, what a revision tells of it."""

import pytest

from qc.assets import folder
from qc.domain.plant_json import phone_plant
from qc.domain.tables.names_table import NAMES, NO_NAMES, half_named
from qc.domain.tables.plant_changes import plant_changes
from qc.domain.tables.plant_tables import PlantFaults, checked_plant, plant_from_tables, revision_of, tables_of
from qc.domain.tables.plant_use import what_is_absent

TABLES = tables_of(folder("demo_data") / "plant")


def with_rows(*rows):
    return {**TABLES, NAMES: NO_NAMES + "".join(f"{row}\n" for row in rows)}


def test_the_invented_plant_is_named_in_german_whole():
    plant = checked_plant(TABLES)

    assert plant.names["de"]["zone"]["front.gas"]["name"] == "Gaskasten"
    assert half_named(plant) == ()
    assert phone_plant(plant)["names"]["de"]["type"]["GAS-01"] == {"name": "Gas-Dichtheit nicht bestanden"}


def test_a_plant_needs_no_such_table_and_a_table_of_its_heading_names_nothing():
    without = {name: text for name, text in TABLES.items() if name != NAMES}

    assert plant_from_tables(without).names == {}
    assert plant_from_tables(with_rows()).names == {}
    assert phone_plant(plant_from_tables(without))["names"] == {}


@pytest.mark.parametrize(
    ("row", "column", "words"),
    [
        ("deutsch,zone,front.gas,name,Gaskasten", "language", "no language tag"),
        ("DE,zone,front.gas,name,Gaskasten", "language", "no language tag"),
        ("de_AT,zone,front.gas,name,Gaskasten", "language", "no language tag"),
        ("de,zones,front.gas,name,Gaskasten", "table", "nothing that has names"),
        ("de,zone,front.nowhere,name,Gaskasten", "code", "no zone of this plant"),
        ("de,zone,front.gas,colour,rot", "column", "not named of a zone"),
        ("de,zone,front.gas,name,", "words", "is empty"),
        (f"de,zone,front.gas,name,{'x' * 1001}", "words", "longer than 1000"),
    ],
)
def test_each_fault_is_told_with_its_row_and_column(row, column, words):
    with pytest.raises(PlantFaults) as caught:
        checked_plant(with_rows("de,zone,front.battery,name,Kasten", row))

    (fault,) = caught.value.faults
    assert (fault.file, fault.row, fault.column) == (NAMES, 3, column)
    assert words in fault.remedy


def test_the_same_name_twice_is_told():
    with pytest.raises(PlantFaults, match="in de twice"):
        checked_plant(with_rows("de,zone,front.gas,name,Gaskasten", "de,zone,front.gas,name,Kasten"))


@pytest.mark.parametrize("tag", ["de", "pl", "pt-BR", "sr-Latn", "es-419", "fil"])
def test_tags_of_bcp_47_are_taken(tag):
    # RFC 5646, section 2.1 and appendix A, from memory: language, script, region
    assert tag in checked_plant(with_rows(f"{tag},zone,front.gas,name,x")).names


def test_a_language_half_filled_is_told_once_for_each_table_and_refuses_nothing():
    plant = checked_plant(with_rows("de,zone,front.gas,name,Gaskasten", "de,test,G1,name,Gas", "pl,test,G1,who,x"))

    told = [sentence for sentence in what_is_absent(plant) if sentence.startswith("Names in ")]
    assert len(told) == 3
    assert told[0].startswith("Names in de: 63 of the zone codes have none (")
    assert "Names in pl: 30 of the test codes" in told[2]


def test_other_names_are_another_revision_and_change_nothing_that_is_counted():
    before, after = with_rows("de,zone,front.gas,name,Kasten"), with_rows("de,zone,front.gas,name,Gaskasten")

    changes = plant_changes(before, after)

    assert revision_of(before) != revision_of(after)
    assert [f"{one.table}: {one.words}" for one in changes.changes] == [
        "names.csv: de zone front.gas name: words Kasten → Gaskasten"
    ]
    assert (changes.refused, changes.criteria, changes.types) == ((), (), frozenset())
