"""Which points were meant to find a defect, and which of them let it through."""

from qc.domain.plant.graph import BuildGraph
from qc.domain.plant.plant import DESIGN, FIELD, UNKNOWN, Plant

Met = tuple[tuple[int, bool], ...]


class MeantPoints:
    """The points of a plant, in flow order, and what each was meant to find.

    A type is meant to be found from its first point on. Counted at a point are defects that were there when the unit
    was: of an origin upstream of it, supplied, as designed, or not known; handling and rework may come after. Never of
    units of another line than the point's.
    """

    def __init__(self, plant: Plant, graph: BuildGraph) -> None:
        self.points = tuple(station.id for station in plant.stations.values() if station.can_detect)
        anywhere = {*plant.outside("supplied"), DESIGN, UNKNOWN}
        self._plant = plant
        self._place = {station: n for n, station in enumerate((*plant.stations, FIELD))}
        self._there = {point: {point, *anywhere, *graph.upstream_of(point)} for point in self.points}
        self._known: dict[tuple[str, str, str, str, str], Met] = {}

    def met(self, origin: str, meant: str, found_at: str, model: str, line: str) -> Met:
        """Return (place of the point, whether it passed it) of each point that found such a defect or let it through.

        meant: the first point meant to find its type, "" where none is named; model, line as told: of the unit.
        """
        key = (origin, meant, found_at, model, line) if self._plant.lines else (origin, meant, found_at, "", "")
        if key not in self._known:
            self._known[key] = self._met(*key)
        return self._known[key]

    def _met(self, origin: str, meant: str, found_at: str, model: str, line: str) -> Met:
        first, found, told = self._place.get(meant, 0), self._place.get(found_at, 0), []
        for n, point in enumerate(self.points):
            if self._plant.lines and not self._plant.comes_by(self._plant.stations[point], model, line):
                continue
            if origin not in self._there[point] or first > self._place[point]:
                continue
            if found_at == point or found > self._place[point]:
                told.append((n, found_at != point))
        return tuple(told)
