"""The build graph: what is upstream of a place, and what a unit passed on its way there."""

from graphlib import CycleError, TopologicalSorter

from qc.domain.plant.plant import DESIGN, FIELD, UNKNOWN, Links, Plant


def flow_cycle(links: Links) -> tuple[str, ...]:
    """Return the stations of a cycle in flow and feed, the first repeated at the end; empty where there is none."""
    before: dict[str, set[str]] = {}
    for source, target in links.flow + links.feed:
        before.setdefault(target, set()).add(source)
    try:
        TopologicalSorter(before).prepare()
    except CycleError as cycle:
        return tuple(cycle.args[1])
    return ()


class BuildGraph:
    """Answers about a plant's flow and feed links; rework links are a loop and left out.

    Unknown places raise KeyError. FIELD (found after dispatch) lies downstream of everything.
    """

    def __init__(self, plant: Plant) -> None:
        self._plant = plant
        before: dict[str, set[str]] = {station: set() for station in plant.stations}
        for source, target in plant.links.flow + plant.links.feed:
            before[target].add(source)
        self._order = tuple(TopologicalSorter(before).static_order())
        self._linked = frozenset(place for link in plant.links.flow + plant.links.feed for place in link)
        self._upstream = self._closures(before)

    def _closures(self, before: dict[str, set[str]]) -> dict[str, frozenset[str]]:
        upstream: dict[str, frozenset[str]] = {}
        for station in self._order:
            direct = before[station]
            upstream[station] = frozenset(direct).union(*(upstream[one] for one in direct))
        return upstream

    def upstream_of(self, point: str) -> tuple[str, ...]:
        """Return the stations from which work reaches ``point``, in table order, the point itself left out."""
        within = self._linked if point == FIELD else self._upstream[point]
        return tuple(station for station in self._plant.stations if station in within)

    def stations_in(self, model: str, line: str | None = "") -> tuple[str, ...]:
        """Return the stations whose work is in the build of a unit, in table order; line as in `Plant.comes_by`."""
        return tuple(
            station.id
            for station in self._plant.stations.values()
            if station.id in self._linked and self._plant.comes_by(station, model, line)
        )

    def possible_origins(self, point: str, model: str, line: str | None = "") -> tuple[str, ...]:
        """Return what may be named as origin of a defect found at ``point`` on a unit, in table order.

        The upstream stations of the unit's build, then the plant's origins outside the line, rework bays, as designed,
        not known: those of them that the plant's station table has. line as in `Plant.comes_by`.
        """
        built = set(self.stations_in(model, line))
        stations = [station for station in self.upstream_of(point) if station in built]
        rework = [s.id for s in self._plant.stations.values() if s.kind == "rework"]
        outside = [*self._plant.outside("supplied", "handled"), *rework, DESIGN, UNKNOWN]
        return tuple(stations + [one for one in outside if one in self._plant.stations])
