"""What the funnel of stations says in words."""

from collections.abc import Sequence
from typing import Protocol

from qc.domain.plant.naming import with_name
from qc.domain.words.speaking import marked, say
from qc.reports.wording import listed, percent
from qc.stats.stations.funnel import Funnel

OWN_PAST = marked(
    "Stations do different work: their plain rates per unit are no comparison of people. Each is held against its own "
    "past ({past}); the limits allow for how uncertain that past is."
)
OWN_PAST_WIDER = marked(
    "Stations do different work: their plain rates per unit are no comparison of people. Each is held against its own "
    "past ({past}); the limits allow for how uncertain that past is, and are {times:.1f} times as wide again, as "
    "stations scatter."
)


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
    told = [
        say("More than its own past explains: {stations}.", stations=listed(above))
        if above
        else say("No station made more than its own past.")
    ]
    if below:
        told.append(say("Fewer: {stations}.", stations=listed(below)))
    chances = [f"{station} ({percent(chance)})" for station, chance in named]
    if chances:
        told.append(say("Furthest above its past, in all likelihood: {stations}.", stations=listed(chances)))
    else:
        told.append(say("Which is truly furthest above its past cannot be said."))
    return " ".join(told)


def _those(stations: Sequence[Stands], standings: tuple[str, ...]) -> list[str]:
    return [
        say(
            "{station} ({defects}, {expected:.0f} expected)",
            station=with_name(one.station, one.name),
            defects=one.defects,
            expected=one.expected,
        )
        for one in stations
        if one.standing in standings
    ]


def notes(
    stations: Sequence[Stands], funnel: Funnel, no_past: Sequence[tuple[str, int]], past: str, least: float
) -> tuple[str, ...]:
    """Return how the limits were widened, who has too little exposure, and who has no past to stand beside."""
    used = funnel.dispersion.used if funnel.dispersion else 1.0
    lines = [say(OWN_PAST, past=past) if used <= 1 else say(OWN_PAST_WIDER, past=past, times=used**0.5)]
    little = [one.station for one in stations if one.standing == "little exposure"]
    if little:
        lines.append(
            say(
                "Little exposure, no verdict (fewer than {least:.0f} defects expected): {stations}.",
                least=least,
                stations=listed(little, 9),
            )
        )
    names = [say("{station} ({defects} now)", station=code, defects=defects) for code, defects in no_past if defects]
    if names:
        named = listed(names, 9)
        lines.append(
            say("No defect or no unit of a model before, nothing to compare with: {stations}.", stations=named)
        )
    return tuple(lines)
