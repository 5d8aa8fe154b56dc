"""What several lines of a plant are to this program, said plainly: a unit's build follows from its model alone.

The column `line` of the stations names a part of the plant and separates nothing. Two lines that build different models
stand apart by their models: builds, end points, lead times, origins and denominators go by them, and the review is
narrowed by them. Two lines that build the same model do not: each unit is taken to pass the stations of both.
"""

from itertools import combinations

from qc.domain.graph import BuildGraph
from qc.domain.plant import Plant

_WORK = ("main", "test", "inspection")


def side_by_side(plant: Plant) -> tuple[str, ...]:
    """Return what check-plant says of stations that lie beside each other in one model's build, and of lines apart.

    () for a plant of one line. The plant's links must be without a cycle.
    """
    graph = BuildGraph(plant)
    flow = {end for pair in plant.links.flow for end in pair}
    built: dict[str, set[str]] = {
        model: {code for code in graph.stations_in(model) if code in flow and plant.stations[code].kind in _WORK}
        for model in plant.models
    }
    told: dict[tuple[str, str], list[str]] = {}
    for model, stations in built.items():
        ordered = [code for code in plant.stations if code in stations]
        for one, other in combinations(ordered, 2):
            if one not in graph.upstream_of(other) and other not in graph.upstream_of(one):
                told.setdefault((one, other), []).append(model)
    beside = [
        f"Side by side: {one} and {other} are both in the build of {', '.join(models)}, so each unit is counted at "
        "both, and presented at both where they are end points. Where a unit passes one of them alone, give each its "
        "own models."
        for (one, other), models in told.items()
    ]
    return (*beside, *_apart(plant, built))


def _apart(plant: Plant, built: dict[str, set[str]]) -> list[str]:
    """Return that models have stations of their own, where some main station is not in every model's build."""
    mains = {code for code, one in plant.stations.items() if one.kind == "main"}
    ways: dict[frozenset[str], list[str]] = {}
    for model, stations in built.items():
        ways.setdefault(frozenset(stations & mains), []).append(model)
    if any(not (one & other) for one, other in combinations(ways, 2)):
        lines = "; ".join(f"{', '.join(models)} over {', '.join(sorted(way))}" for way, models in ways.items())
        return [f"Lines by model: {lines}. Look at one line by its models in the review; their mix is told there."]
    return []
