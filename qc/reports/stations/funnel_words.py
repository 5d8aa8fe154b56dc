"""What the funnel of stations says in words."""

from collections.abc import Sequence
from typing import Protocol

from qc.domain.naming import with_name
from qc.reports.wording import listed, percent
from qc.stats.stations.funnel import Funnel


class Stands(Protocol):
    """What the words need of a station's standing."""

    @property
    def station(self) -> str: ...
    @property
    def name(self) -> str: ...
    @property
    def defects(self) -> int: ...
    @property
    def expected(self) -> float: ...
    @property
    def standing(self) -> str: ...


def sentence(stations: Sequence[Stands], named: Sequence[tuple[str, float]]) -> str:
    """Return who lies beyond the limits, above and below, and who is furthest above with what chance."""
    above = _those(stations, ("high", "very high"))
    below = _those(stations, ("low", "very low"))
    first = f"More than its own past explains: {listed(above)}." if above else "No station made more than its own past."
    second = f" Fewer: {listed(below)}." if below else ""
    chances = [f"{station} ({percent(chance)})" for station, chance in named]
    third = f" Furthest above its past, in all likelihood: {listed(chances)}." if chances else ""
    return f"{first}{second}{third or ' Which is truly furthest above its past cannot be said.'}"


def _those(stations: Sequence[Stands], standings: tuple[str, ...]) -> list[str]:
    return [
        f"{with_name(one.station, one.name)} ({one.defects}, {one.expected:.0f} expected)"
        for one in stations
        if one.standing in standings
    ]


def notes(
    stations: Sequence[Stands], funnel: Funnel, no_past: Sequence[tuple[str, int]], past: str, least: float
) -> tuple[str, ...]:
    """Return how the limits were widened, who has too little exposure, and who has no past to stand beside."""
    used = funnel.dispersion.used if funnel.dispersion else 1.0
    lines = [
        "Stations do different work: their plain rates per unit are no comparison of people. Each is held against its "
        f"own past ({past}); the limits allow for how uncertain that past is"
        + (f", and are {used**0.5:.1f} times as wide again, as stations scatter." if used > 1 else ".")
    ]
    little = [one.station for one in stations if one.standing == "little exposure"]
    if little:
        lines.append(f"Little exposure, no verdict (fewer than {least:.0f} defects expected): {listed(little, 9)}.")
    names = [f"{station} ({defects} now)" for station, defects in no_past if defects]
    if names:
        lines.append(f"No defect or no unit of a model before, nothing to compare with: {listed(names, 9)}.")
    return tuple(lines)
