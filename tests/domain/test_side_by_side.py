"""What check-plant says of several lines: which each builds where the plant names them, else by what they are taken."""

from pathlib import Path

import pytest

from qc.assets import folder
from qc.domain.plant.graph import BuildGraph
from qc.domain.plant.side_by_side import side_by_side
from qc.domain.tables.plant_tables import checked_plant, tables_of

OTHER, BARE = (Path(__file__).parents[1] / "plants" / name for name in ("other", "bare"))


def two_lines(of_north="all", of_south="all"):
    """The second invented plant with its two lines, as one that does not name them."""
    tables = tables_of(OTHER)
    before, _, rest = tables["plant.toml"].partition("[[line]]")
    toml = before + rest[rest.index("[[severity]]") :]
    assert "[[line]]" not in toml
    stations = tables["stations.csv"].replace("main,Süd,2,M8,no,,A21", f"main,Süd,2,M8,no,,{of_south}")
    stations = stations.replace("main,Süd,1,M9,no,,A21", f"main,Süd,1,M9,no,,{of_south}")
    stations = stations.replace("main,N,2,M2,no,,all", f"main,N,2,M2,no,,{of_north}")
    stations = stations.replace("main,N,1,M3,no,,all", f"main,N,1,M3,no,,{of_north}")
    assert stations.count(of_north) >= 2
    return checked_plant({**tables, "stations.csv": stations, "plant.toml": toml})


@pytest.mark.parametrize("tables", [folder("demo_data") / "plant", BARE])
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


def test_a_plant_that_names_its_lines_is_told_which_builds_what():
    (told,) = side_by_side(checked_plant(tables_of(OTHER)))

    assert told.startswith("Lines: N builds A21, BRG34; Süd builds A21. A unit of which nobody says the line counts on")
