"""The map of the line: each feeder stands before the station that it leads into, also over another feeder."""

from dataclasses import replace

import pytest

from qc.assets import folder
from qc.domain.plant.line_map import line_map
from qc.domain.tables.plant_tables import plant_from_tables, tables_of


@pytest.fixture(scope="module")
def plant():
    return plant_from_tables(tables_of(folder("demo_data") / "plant"))


def test_feeders_lead_into_stations_and_stations_into_end_points(plant):
    told = {station.id: [one.id for one in feeders] for station, feeders in line_map(plant).line}

    assert list(told)[:2] == ["S01", "S02"]
    assert list(told)[-2:] == ["D01", "X01"]
    assert told["S01"] == ["CH1"]
    assert told["S07"] == ["RP1", "RP2"]  # the first of the two reaches it over the second
    assert told["S03"] == []


def test_what_no_link_reaches_stands_beside_and_each_place_once(plant):
    every = line_map(plant)
    places = [one.id for station, feeders in every.line for one in (*feeders, station)]

    assert {"SUP", "HND"} <= {one.id for one in every.beside}
    assert len(places) == len(set(places))
    assert {*places, *(one.id for one in every.beside), "UNK"} == set(plant.stations)


def test_a_feeder_that_leads_nowhere_stands_beside_the_line(plant):
    feed = tuple(link for link in plant.links.feed if link[0] != "CH1")
    every = line_map(replace(plant, links=replace(plant.links, feed=feed)))

    assert "CH1" in {one.id for one in every.beside}
