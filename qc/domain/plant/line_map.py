"""The line as it is walked: stations in build order, each with the feeders that lead into it, and what lies beside."""

from collections.abc import Mapping
from dataclasses import dataclass

from qc.domain.plant.plant import Plant, Station

FEEDERS = frozenset({"feeder", "remote"})
NOBODYS = frozenset({"unknown"})


@dataclass(frozen=True, slots=True)
class LineMap:
    """line: each station of the line in table order with the feeders that lead into it, the furthest first; beside:
    stations and origins that no link reaches, such as a rework bay or a supplier, in table order. Where the plant has
    several lines, a feeder stands on each that it leads into."""

    line: tuple[tuple[Station, tuple[Station, ...]], ...]
    beside: tuple[Station, ...]


def line_map(plant: Plant) -> LineMap:
    """Return the map of a plant, whatever its codes; a feeder that leads nowhere stands beside the line."""
    after: dict[str, dict[str, str]] = {}
    for source, target in (*plant.links.flow, *plant.links.feed):
        after.setdefault(source, {}).setdefault(plant.line_at(target), target)
    linked = {*after, *(target for one in after.values() for target in one.values())}
    own = {one.id: one for one in plant.stations.values() if one.id in linked and one.kind not in FEEDERS}
    feeds = {one.id: _into(one.id, after, own) for one in plant.stations.values() if one.kind in FEEDERS}
    line = tuple(
        (station, tuple(plant.stations[code] for code, into in feeds.items() if station.id in into))
        for station in own.values()
    )
    stands = {*own, *(code for code, into in feeds.items() if into)}
    beside = tuple(one for one in plant.stations.values() if one.id not in stands and one.kind not in NOBODYS)
    return LineMap(line, beside)


def _into(code: str, after: Mapping[str, Mapping[str, str]], own: Mapping[str, Station]) -> frozenset[str]:
    """Return the stations that a feeder leads into, over other feeders, one on each line at most; empty for none."""
    found, seen, waiting = set(), set(), [code]
    while waiting:
        one = waiting.pop()
        for target in after.get(one, {}).values():
            if target in own:
                found.add(target)
            elif target not in seen:
                seen.add(target)
                waiting.append(target)
    return frozenset(found)
