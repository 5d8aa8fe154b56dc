"""A code is written with its name, never twice, and as an earlier program wrote it where that is asked."""

from dataclasses import replace
from pathlib import Path

import pytest

from qc.domain.facts.rule_set import CODES_NAMED
from qc.domain.plant.naming import Names, with_name
from qc.domain.tables.plant_tables import read_plant

OTHER = read_plant(Path(__file__).parents[1] / "plants" / "other")


@pytest.mark.parametrize(
    ("code", "name", "told"),
    [
        ("B10", "Aufbau", "B10 Aufbau"),
        ("B02", "B02", "B02"),
        ("B02", "b02 Rahmen", "b02 Rahmen"),
        ("B0", "B02 Rahmen", "B0 B02 Rahmen"),
    ],
)
def test_a_name_that_says_the_code_is_not_doubled(code, name, told):
    assert with_name(code, name) == told


def test_what_is_no_station_is_told_in_words():
    names = Names(OTHER)

    assert [names.place(code) for code in ("ABN", "FIELD", "UNK", "DSN")] == [
        "ABN Abnahme im Hof",
        "after dispatch",
        "not known",
        "as designed or as instructed",
    ]
    assert [names.found_at(code) for code in ("ABN", "FIELD")] == ["at ABN Abnahme im Hof", "after dispatch"]
    assert (names.type("TUR-1"), names.zone("A21", "seite.tuer"), names.test("DPR")) == (
        "TUR-1 Tür klemmt",
        "Tür",
        "DPR Dichtprüfung Brenngas",
    )


def test_what_the_plant_has_no_longer_is_told_by_its_code_once():
    names = Names(replace(OTHER, types={}, stations={}))

    assert (names.type("TUR-1"), names.place("ABN"), names.zone("A21", "gone")) == ("TUR-1", "ABN", "gone")


def test_an_earlier_program_told_codes_alone():
    names = Names(OTHER, CODES_NAMED - 1)

    assert (names.place("ABN"), names.found_at("FIELD"), names.type("TUR-1"), names.test("DPR")) == (
        "ABN",
        "at FIELD",
        "TUR-1",
        "DPR",
    )
    assert names.zone("A21", "seite.tuer") == "seite.tuer"
