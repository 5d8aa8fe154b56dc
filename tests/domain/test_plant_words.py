"""The plant in the words of a language: other names over the same codes, and nothing else."""

from dataclasses import fields, replace
from pathlib import Path
from types import MappingProxyType

import pytest

from qc.assets import folder
from qc.domain.tables.names_table import NAMED, _codes
from qc.domain.tables.plant_tables import plant_from_tables, tables_of
from qc.domain.tables.plant_words import in_words, with_shown_names

PLANT = plant_from_tables(tables_of(folder("demo_data") / "plant"))
CODES = ("models", "views", "zones", "stations", "tests", "cautions", "types", "severities", "options", "lines")
NAMES = {
    "name",
    "words",
    "group_name",
    "left",
    "right",
    "conditions",
    "who",
    "short",
    "more",
    "before_photo",
    "call",
    "what",
}


@pytest.mark.parametrize("many", CODES)
def test_codes_stand_in_the_same_order_and_only_names_are_others(many):
    own, worded = getattr(PLANT, many), getattr(in_words(PLANT, "de"), many)

    assert list(own) == list(worded)
    for code, one in own.items():
        changed = {each.name for each in fields(one) if getattr(one, each.name) != getattr(worded[code], each.name)}
        assert changed <= NAMES
    assert many in ("models", "severities", "options", "lines") or list(own.values()) != list(worded.values())


def test_the_revision_and_the_rest_of_the_plant_are_its_own():
    worded = in_words(PLANT, "de")

    changed = {one.name for one in fields(PLANT) if getattr(PLANT, one.name) != getattr(worded, one.name)}
    assert changed <= {*CODES, "standing_line", "stop_who"}
    assert worded.revision == PLANT.revision


def test_a_language_without_names_leaves_the_plant_itself_and_one_of_the_same_main_part_serves():
    assert in_words(PLANT, "fr") is PLANT
    assert in_words(PLANT, "de-AT") == in_words(PLANT, "de")
    both = replace(PLANT, names=MappingProxyType({**PLANT.names, "de-AT": {"model": {}}}))
    assert in_words(both, "de-AT").types == PLANT.types


def test_a_type_is_found_by_its_own_words_and_by_those_of_the_language():
    code, one = next((code, one) for code, one in PLANT.types.items() if one.words)
    told = {"fr": {"type": {code: {"words": "Fuite; odeur "}}, "group": {one.group: {"name": "Gaz"}}}}
    worded = in_words(replace(PLANT, names=MappingProxyType(told)), "fr").types[code]

    assert worded.words == (*one.words, "fuite", "odeur")
    assert (worded.name, worded.group_name) == (one.name, "Gaz")


def test_what_the_record_says_of_a_test_is_told_by_the_name_that_is_shown():
    worded = in_words(PLANT, "de")
    code = next(iter(worded.tests))
    text = f"{code} {PLANT.tests[code].name} failed"

    assert with_shown_names(PLANT, worded, text) == f"{code} {worded.tests[code].name} failed"
    assert with_shown_names(PLANT, PLANT, text) == text
    own, shown = next((one.name, worded.zones[key].name) for key, one in PLANT.zones.items())
    assert with_shown_names(PLANT, worded, f"a defect (X in {own}, by I1)") == f"a defect (X in {shown}, by I1)"
    assert with_shown_names(PLANT, worded, f"looked in {own}x, there") == f"looked in {own}x, there"


@pytest.mark.parametrize(("kind", "columns"), NAMED.items())
def test_each_thing_that_the_table_can_name_is_shown_by_it(kind, columns):
    other = plant_from_tables(tables_of(Path(__file__).parents[1] / "plants" / "other"))
    codes = _codes(other)[kind]
    told = {"xx": {kind: {code: dict.fromkeys(columns, "ZZZ") for code in codes}}}

    worded = in_words(replace(other, names=MappingProxyType(told)), "xx")

    assert codes
    assert repr(worded).count("ZZZ") >= len(codes) + repr(told).count("ZZZ")
