"""What check-plant says of several lines: a unit's build follows from its model, the column `line` parts nothing."""

from pathlib import Path

import pytest

from qc.assets import folder
from qc.domain.graph import BuildGraph
from qc.domain.plant_tables import checked_plant, tables_of
from qc.domain.side_by_side import side_by_side

OTHER, BARE = (Path(__file__).parents[1] / "plants" / name for name in ("other", "bare"))


def two_lines(of_west="all", of_east="all"):
    """The second invented plant with a second line beside its first, from the frames to the gate in the line."""
    tables = tables_of(OTHER)
    stations = tables["stations.csv"]
    stations = stations.replace("B10,Aufbau,main,band,2,M2,no,,all", f"B10,Aufbau,main,west,2,M2,no,,{of_west}")
    stations = stations.replace("B20,Einbau,main,band,1,M3,no,,all", f"B20,Einbau,main,west,1,M3,no,,{of_west}")
    east = f"C10,Aufbau Ost,main,ost,2,M8,no,,{of_east},,,tag\nC20,Einbau Ost,main,ost,1,M9,no,,{of_east},,,tag\n"
    more = 'flow = [["C10", "C20"], ["C20", "TOR"], ["B10", "B20"]'
    toml = tables["plant.toml"].replace('flow = [["B10", "B20"]', more)
    toml = toml.replace('feed = [["RAH", "B10"]]', 'feed = [["RAH", "B10"], ["RAH", "C10"]]')
    assert "ost" not in tables["stations.csv"]
    assert toml.count("C10") == 2
    return checked_plant({**tables, "stations.csv": stations + east, "plant.toml": toml})


@pytest.mark.parametrize("tables", [folder("demo_data") / "plant", OTHER, BARE])
def test_a_plant_of_one_line_is_told_nothing(tables):
    assert side_by_side(checked_plant(tables_of(tables))) == ()


def test_two_lines_of_one_model_are_told_station_by_station_as_what_they_are_taken_for():
    told = side_by_side(two_lines())

    assert [one.partition(" are both")[0] for one in told] == [
        "Side by side: B10 and C10",
        "Side by side: B10 and C20",
        "Side by side: B20 and C10",
        "Side by side: B20 and C20",
    ]
    assert all("in the build of A21, BRG34" in one and "give each its own models" in one for one in told)


def test_two_lines_of_different_models_stand_apart_by_their_models():
    plant = two_lines("A21", "BRG34")
    (told,) = side_by_side(plant)
    graph = BuildGraph(plant)

    assert told.startswith("Lines by model: A21 over B10, B20; BRG34 over C10, C20.")
    assert {"B10", "B20"} <= set(graph.possible_origins("ABN", "A21"))
    assert not {"C10", "C20"} & set(graph.possible_origins("ABN", "A21"))
