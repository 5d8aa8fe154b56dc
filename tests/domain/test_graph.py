"""The build graph of the invented plant, worked out by hand from its drawing (invented data, structure only)."""

from dataclasses import replace

import pytest

from qc.assets import folder
from qc.domain.plant.graph import BuildGraph, flow_cycle
from qc.domain.plant.plant import FIELD, Links
from qc.domain.tables.plant_tables import read_plant

PLANT = read_plant(folder("demo_data") / "plant")
GRAPH = BuildGraph(PLANT)


def test_upstream_holds_the_feeders_that_joined_and_not_those_that_join_later():
    assert GRAPH.upstream_of("S04") == ("CH1", "FL1", "FU1", "WP1", "RP1", "RP2", "S01", "S02", "S03")
    assert GRAPH.upstream_of("CH1") == ()


def test_rework_links_are_no_way_upstream():
    assert "D01" not in GRAPH.upstream_of("T01")
    assert "R01" not in GRAPH.upstream_of("D01")


def test_everything_is_upstream_of_what_is_found_after_dispatch():
    linked = {s.id for s in PLANT.stations.values() if s.kind not in ("external", "unknown", "rework")}

    assert set(GRAPH.upstream_of(FIELD)) == linked


def test_origins_that_can_be_named_are_upstream_then_outside():
    named = GRAPH.possible_origins("S04", "T36")

    assert named == (*GRAPH.upstream_of("S04"), "SUP", "HND", "R01", "DSN", "UNK")
    assert "D01" not in GRAPH.possible_origins("D01", "T36")


def test_a_station_for_one_model_only_is_no_origin_on_another():
    only = replace(PLANT.stations["FU1"], models=("H62",))
    graph = BuildGraph(replace(PLANT, stations={**PLANT.stations, "FU1": only}))

    assert "FU1" in graph.stations_in("H62")
    assert "FU1" not in graph.stations_in("T36")
    assert "FU1" not in graph.possible_origins("D01", "T36")


def test_an_unknown_place_is_an_error_by_name():
    with pytest.raises(KeyError, match="S99"):
        GRAPH.upstream_of("S99")


def test_a_cycle_is_found_through_feed_and_flow_together():
    assert flow_cycle(Links((("A", "B"), ("B", "C")), (("C", "A"),), ())) in (
        ("A", "B", "C", "A"),
        ("B", "C", "A", "B"),
        ("C", "A", "B", "C"),
    )
    assert flow_cycle(Links((("A", "B"),), (("X", "B"),), (("B", "A"),))) == ()
