"""What came to a station from upstream with a defect in it, and was found only further on."""

from collections.abc import Collection, Iterable

from qc.domain.counted.passed_through import PassedCell, PassedThrough
from qc.domain.plant.graph import BuildGraph
from qc.domain.plant.plant import FIELD, UNKNOWN, Plant
from qc.store.counts.seen_flaws import SeenFlaw


def passed_through(
    flaws: Iterable[SeenFlaw],
    station: str,
    plant: Plant,
    graph: BuildGraph,
    builds: Collection[tuple[str, str]],
    units: int,
) -> PassedThrough:
    """Return defects made upstream of a station and found further on, confirmed or suspected there and still open.

    builds: those which contain the station; units: how many of them were seen. A defect may be found whenever,
    after dispatch too, but never at the station itself: that one it has caught.
    """
    before = set(graph.upstream_of(station)) - {station, UNKNOWN}
    upstream = {build: before & set(graph.stations_in(*build)) for build in builds}
    later = {one for one in plant.stations if station in graph.upstream_of(one)} | {FIELD}
    meant = _asked_types(plant, station, before)
    sums: dict[tuple[str, str], list[int]] = {}
    touched: set[str] = set()
    not_asked = 0
    for flaw in flaws:
        origin = flaw.origin or flaw.suspected
        if flaw.point not in later or origin not in upstream.get((flaw.model, flaw.line), ()):
            continue
        if meant is not None and flaw.type not in meant:
            not_asked += 1
            continue
        cell = sums.setdefault((origin, flaw.type), [0, 0, 0])
        cell[0 if flaw.origin else 1] += 1
        cell[2] += flaw.point == FIELD
        touched.add(flaw.unit)
    cells = (PassedCell(*key, sure, open_, late) for key, (sure, open_, late) in sorted(sums.items()))
    return PassedThrough(station, tuple(cells), units, len(touched), not_asked)


def _asked_types(plant: Plant, station: str, before: set[str]) -> frozenset[str] | None:
    """Return the types that a station is asked to find, first point here or before; None where it is asked for none."""
    if not plant.stations[station].can_detect:
        return None
    return frozenset(one.code for one in plant.types.values() if one.first_detect_point in before | {station})
