"""What several lines of a plant are to this program, said plainly: a unit's build follows from its model and its line.

Where the plant names its lines (`[[line]]`), the column `line` of the stations says on which one a station stands, and
builds, end points, lead times, origins and denominators go by the unit's. Where it names none, the column names a part
of the plant and separates nothing: two lines that build different models stand apart by their models, and of two that
build the same model each unit is taken to pass the stations of both.
"""

from itertools import combinations

from qc.domain.plant.graph import BuildGraph
from qc.domain.plant.plant import Plant

_WORK = ("main", "test", "inspection")


def side_by_side(plant: Plant) -> tuple[str, ...]:
    """Return what check-plant says of stations that lie beside each other in one model's build, and of lines apart.

    () for a plant of one line. The plant's links must be without a cycle.
    """
    graph = BuildGraph(plant)
    flow = {end for pair in plant.links.flow for end in pair}
    built: dict[str, set[str]] = {
        f"{model} on {line}" if line else model: {
            code for code in graph.stations_in(model, line) if code in flow and plant.stations[code].kind in _WORK
        }
        for model in plant.models
        for line in plant.lines_of(model) or ("",)
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
        "own models, or name the lines in plant.toml ([[line]]) and say in stations.csv on which each stands."
        for (one, other), models in told.items()
    ]
    return (*beside, *(_named(plant) or _apart(plant, built)))


def _named(plant: Plant) -> list[str]:
    """Return which models each of the plant's lines builds, where it names several."""
    if len(plant.lines) < 2:
        return []
    built = {code: [model for model in plant.models if code in plant.lines_of(model)] for code in plant.lines}
    told = "; ".join(f"{code} builds {', '.join(models) or 'nothing any more'}" for code, models in built.items())
    unsaid = f"A unit of which nobody says the line counts on the first that builds it, {next(iter(plant.lines))} first"
    return [f"Lines: {told}. {unsaid}: list first the line that there was before."]


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
