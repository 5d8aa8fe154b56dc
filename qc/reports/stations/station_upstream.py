"""What came to a station from upstream with a defect in it, and was found only further on."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from qc.domain.counted.passed_through import PassedCell, PassedThrough
from qc.domain.plant.graph import BuildGraph
from qc.domain.words.speaking import marked, say, say_many
from qc.reports.asking import LEVEL, Asking
from qc.reports.how_many import units
from qc.reports.periods import Period
from qc.reports.wording import percent
from qc.stats.answers import TooLittle
from qc.stats.intervals.one_sample import ShareInterval, wilson_interval


@dataclass(frozen=True, slots=True)
class UpstreamLine:
    """Defects of one origin or one type that went through: confirmed + suspected; after_dispatch is a part of them."""

    code: str
    name: str
    confirmed: int
    suspected: int
    after_dispatch: int

    @property
    def total(self) -> int:
        """Return confirmed and suspected together."""
        return self.confirmed + self.suspected


@dataclass(frozen=True, slots=True, kw_only=True)
class StationUpstream:
    """What went through one station, on the units seen in a period whose build contains it.

    origins, types: most first, each the same defects sorted otherwise. units: of the period; units_with, share: those
    with at least one. is_asked: the station is asked to find defects, and then only types that it is asked for count;
    not_asked: the others. sentence, duty, note, denominator in words.
    """

    station: str
    period: Period
    origins: tuple[UpstreamLine, ...]
    types: tuple[UpstreamLine, ...]
    units: int
    units_with: int
    share: ShareInterval | TooLittle
    is_asked: bool
    not_asked: int
    sentence: str
    duty: str
    note: str
    denominator: str

    @property
    def total(self) -> int:
        """Return all defects that went through."""
        return sum(line.total for line in self.origins)


NOTE = marked(
    "Confirmed and suspected origins only: what nobody has named is in neither. What dealers find comes weeks later, "
    "so the last weeks still grow."
)


def station_upstream(ask: Asking, period: Period, station: str) -> StationUpstream:
    """Return what went through a station in the period. Raises KeyError without the station."""
    place = ask.plant.stations[station]
    through = ask.counts.passed_through(ask.slice(period), station)
    origins = _lines(through.cells, lambda cell: cell.origin, ask.place_name)
    share = wilson_interval(through.units_with, through.units, LEVEL)
    return StationUpstream(
        station=station,
        period=period,
        origins=origins,
        types=_lines(through.cells, lambda cell: cell.type, ask.type_name),
        units=through.units,
        units_with=through.units_with,
        share=share,
        is_asked=place.can_detect,
        not_asked=through.not_asked,
        sentence=_sentence(ask, station, through, origins, share),
        duty=_duty(station, place.can_detect, through),
        note=say(NOTE),
        denominator=say(
            "{units} of {weeks} whose build contains {station}",
            units=units(through.units),
            weeks=period.name,
            station=station,
        ),
    )


def _lines(
    cells: Iterable[PassedCell], key: Callable[[PassedCell], str], name: Callable[[str], str]
) -> tuple[UpstreamLine, ...]:
    sums: dict[str, list[int]] = {}
    for cell in cells:
        line = sums.setdefault(key(cell), [0, 0, 0])
        for place, count in enumerate((cell.confirmed, cell.suspected, cell.after_dispatch)):
            line[place] += count
    lines = [UpstreamLine(code, name(code), *counts) for code, counts in sums.items()]
    return tuple(sorted(lines, key=lambda line: (-line.total, line.code)))


def _sentence(
    ask: Asking,
    station: str,
    through: PassedThrough,
    origins: tuple[UpstreamLine, ...],
    share: ShareInterval | TooLittle,
) -> str:
    if not BuildGraph(ask.plant).upstream_of(station):
        return say("Nothing comes to {station} from another station.", station=station)
    if isinstance(share, TooLittle):
        return say("No unit built through {station} was presented in these weeks.", station=station)
    total = sum(line.total for line in origins)
    if not total:
        return say(
            "Nothing that was made upstream was found after its unit had passed {station}, on {units} units.",
            station=station, units=through.units,
        )  # fmt: skip
    told = say_many(
        "{number} defect made upstream went through {station} and was found later: on {units_with} of {units} "
        "({share}; {level} range {low} to {high}).",
        "{number} defects made upstream went through {station} and were found later: on {units_with} of {units} "
        "({share}; {level} range {low} to {high}).",
        total,
        station=station,
        units_with=through.units_with,
        units=units(through.units),
        share=percent(share.share),
        level=percent(share.level),
        low=percent(share.low),
        high=percent(share.high),
    )
    first = f"{origins[0].code} {origins[0].name}"
    most = say("Most came from {origin}: {total}.", origin=first, total=origins[0].total)
    return f"{told} {most}"


def _duty(station: str, is_asked: bool, through: PassedThrough) -> str:
    if is_asked:
        other = through.not_asked
        only = say("Only types that {station} is asked to find are counted.", station=station)
        if not other:
            return only
        more = say("{other} more were of types that are first asked for later, and are not counted.", other=other)
        return f"{only} {more}"
    if not through.cells:
        return ""
    return say(
        "{station} is not asked to find them. The list is for talking to the stations before it, and for what a look "
        "at the incoming unit could catch.",
        station=station,
    )
