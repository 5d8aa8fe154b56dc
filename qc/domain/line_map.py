"""The line as it is walked: stations in build order, each with the feeders that lead into it, and what lies beside."""

from collections.abc import Mapping
from dataclasses import dataclass

from qc.domain.plant import Plant, Station

FEEDERS = frozenset({"feeder", "remote"})
NOBODYS = frozenset({"unknown"})


@dataclass(frozen=True, slots=True)
class LineMap:
    """line: each station of the line in table order with the feeders that lead into it, the furthest first; beside:
    stations and origins that no link reaches, such as a rework bay or a supplier, in table order."""

    line: tuple[tuple[Station, tuple[Station, ...]], ...]
    beside: tuple[Station, ...]


def line_map(plant: Plant) -> LineMap:
    """Return the map of a plant, whatever its codes; a feeder that leads nowhere stands beside the line."""
    after: dict[str, str] = {}
    for source, target in (*plant.links.flow, *plant.links.feed):
        after.setdefault(source, target)
    linked = {*after, *after.values()}
    own = {one.id: one for one in plant.stations.values() if one.id in linked and one.kind not in FEEDERS}
    feeds = {one.id: _into(one.id, after, own) for one in plant.stations.values() if one.kind in FEEDERS}
    line = tuple(
        (station, tuple(plant.stations[code] for code, into in feeds.items() if into == station.id))
        for station in own.values()
    )
    stands = {*own, *(code for code, into in feeds.items() if into)}
    beside = tuple(one for one in plant.stations.values() if one.id not in stands and one.kind not in NOBODYS)
    return LineMap(line, beside)


def _into(code: str, after: Mapping[str, str], own: Mapping[str, Station]) -> str:
    """Return the station of the line that a feeder leads into, over other feeders; "" for none."""
    seen = set()
    while code in after and code not in seen:
        seen.add(code)
        code = after[code]
        if code in own:
            return code
    return ""
