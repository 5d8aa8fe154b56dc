"""Escapes: where defects were made against where they were found.

A station contains a defect of its own that it finds itself; one that is found further on has escaped it.
A defect found where its origin has not been yet is a contradiction in the record: shown, never counted.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from qc.stats.answers import TooLittle
from qc.stats.intervals.one_sample import ShareInterval, wilson_interval
from qc.stats.refusals import (
    demand_count,
    demand_kind,
    demand_level,
    demand_list,
    demand_number,
)
from qc.stats.series import shares_of


@dataclass(frozen=True, slots=True)
class Found:
    """A number of defects with one origin, all found at one point."""

    origin: str
    found_at: str
    count: int


@dataclass(frozen=True, slots=True)
class OriginEscapes:
    """What one station made: originated = contained (found there) + escaped (found further on), in defects.

    containment: share found at the station itself, escape_rate: share found further on, each with its Wilson
    interval; 1 together. by_construction: nothing stands
    after it, so that its containment is 1 whatever it finds; it is in no ranking.
    """

    station: str
    originated: int
    contained: int
    escaped: int
    containment: ShareInterval | TooLittle
    escape_rate: ShareInterval | TooLittle
    by_construction: bool


@dataclass(frozen=True, slots=True)
class PointEscapes:
    """What one point let through, of the defects that reached it: reached = found + passed, in defects.

    reached counts defects made there or before and not found before; passed were found further on.
    escape_rate: passed / reached with its Wilson interval.
    """

    point: str
    reached: int
    found: int
    passed: int
    escape_rate: ShareInterval | TooLittle


@dataclass(frozen=True, slots=True, kw_only=True)
class EscapeMatrix:
    """The origin × found-at table with what follows from it, in defects.

    origins, points: in the order of the line. worst: stations that let defects escape, most escaped first.
    inconsistent: records found upstream of their origin, and inconsistent_count their defects.
    no_station: defects by origin that is not a station (supplier, not known), in the order first met.
    """

    origins: tuple[OriginEscapes, ...]
    points: tuple[PointEscapes, ...]
    worst: tuple[str, ...]
    inconsistent: tuple[Found, ...]
    inconsistent_count: int
    no_station: tuple[tuple[str, int], ...]
    counted: int
    level: float
    method: str


def downstream_in_line(stations: Sequence[str]) -> dict[str, tuple[str, ...]]:
    """Return, for stations in the order of one line, the stations after each. Raises ValueError if one is twice."""
    line = demand_list(stations, "stations")
    if len(set(line)) < len(line):
        raise ValueError(f"stations must differ from each other, got {list(line)!r}")
    return {station: line[place + 1 :] for place, station in enumerate(line)}


def escape_matrix(
    records: Sequence[Found],
    downstream: Mapping[str, Sequence[str]],
    *,
    no_station: Sequence[str],
    level: float,
) -> EscapeMatrix:
    """Return containment by origin and escape rate by point, with Wilson intervals that take each defect by itself.

    Where several defects on a unit have one cause they hold less often: then by_unit has the interval.

    downstream maps every station and point, in the order of the line, to all that a unit can meet after it
    (a feeder line's stations do not stand after each other's neighbours). no_station names origins that are
    no station; () if there are none. A station without defects answers TooLittle in its interval.
    Raises ValueError for a place that is neither, or a count that cannot be.
    Source: found at the own station over all that it made is common practice, no source; intervals see wilson_interval.
    """
    level = demand_level(level)
    demand_kind(downstream, Mapping, "downstream")
    records, no_station = demand_list(records, "records"), demand_list(no_station, "no_station")
    _demand_places(records, downstream, no_station)
    placed = [record for record in records if record.origin not in no_station]
    after = {station: frozenset(places) for station, places in downstream.items()}
    good = [one for one in placed if one.found_at == one.origin or one.found_at in after[one.origin]]
    bad = tuple(one for one in placed if not (one.found_at == one.origin or one.found_at in after[one.origin]))
    origins = tuple(_origin_escapes(station, good, not after[station], level) for station in downstream)
    points = tuple(_point_escapes(point, good, after, level) for point in downstream)
    ranked = sorted((one for one in origins if one.escaped), key=lambda one: -one.escaped)
    return EscapeMatrix(
        origins=origins,
        points=points,
        worst=tuple(one.station for one in ranked),
        inconsistent=bad,
        inconsistent_count=sum(one.count for one in bad),
        no_station=_by_origin([one for one in records if one.origin in no_station]),
        counted=sum(one.count for one in good),
        level=level,
        method="Wilson",
    )


def _demand_places(
    records: Sequence[Found], downstream: Mapping[str, Sequence[str]], no_station: Sequence[str]
) -> None:
    for station, places in downstream.items():
        for place in demand_list(places, f"downstream[{station!r}]"):
            if place not in downstream or place == station:
                raise ValueError(f"downstream of {station!r} must be other stations of the map, got {place!r}")
    for one in records:
        demand_kind(one, Found, "records")
        demand_count(one.count, f"count for {one.origin!r} found at {one.found_at!r}")
        if one.origin not in downstream and one.origin not in no_station:
            raise ValueError(f"origin must be a station or one of no_station, got {one.origin!r}")
        if one.found_at not in downstream:
            raise ValueError(f"found_at must be a point of the line, got {one.found_at!r}")


def _origin_escapes(station: str, good: Sequence[Found], is_last: bool, level: float) -> OriginEscapes:
    own = [one for one in good if one.origin == station]
    made = sum(one.count for one in own)
    contained = sum(one.count for one in own if one.found_at == station)
    return OriginEscapes(
        station,
        made,
        contained,
        made - contained,
        wilson_interval(contained, made, level),
        wilson_interval(made - contained, made, level),
        is_last,
    )


def _point_escapes(
    point: str, good: Sequence[Found], after: Mapping[str, frozenset[str]], level: float
) -> PointEscapes:
    found = sum(one.count for one in good if one.found_at == point)
    passed = sum(
        one.count
        for one in good
        if one.found_at in after[point] and (one.origin == point or point in after[one.origin])
    )
    return PointEscapes(point, found + passed, found, passed, wilson_interval(passed, found + passed, level))


def _by_origin(records: Sequence[Found]) -> tuple[tuple[str, int], ...]:
    totals: dict[str, int] = {}
    for one in records:
        totals[one.origin] = totals.get(one.origin, 0) + one.count
    return tuple(totals.items())


@dataclass(frozen=True, slots=True)
class FollowUp:
    """How many of a period's units have passed the last point at which their defects could still be found.

    share in [0, 1] is followed / units. is_complete: share at least the asked one. A period that is not
    complete shows fewer escapes than it will have.
    """

    label: str
    units: int
    followed: int
    share: float
    is_complete: bool


def follow_up(
    units: Sequence[int], followed: Sequence[int], labels: Sequence[str], enough: float
) -> tuple[FollowUp | TooLittle, ...]:
    """Return the completeness of follow-up of each period, in the order given.

    units: units that passed the station in the period; followed: those of them that have since passed the
    last point counted, 0..units; enough: the share from which a period counts as complete, in (0, 1].
    A period without units answers TooLittle. Raises ValueError naming argument and value.
    """
    passed, enough = shares_of(followed, units, labels, names=("followed", "units")), demand_number(enough, "enough")
    if not 0 < enough <= 1:
        raise ValueError(f"enough must be a share above 0 and at most 1, got {enough!r}")
    answers: list[FollowUp | TooLittle] = []
    for label, whole, part in zip(passed.labels, passed.inspected, passed.defectives, strict=True):
        if whole == 0:
            answers.append(TooLittle(f"follow-up of {label}", "no unit passed in that period", 0, 1))
        else:
            answers.append(FollowUp(label, whole, part, part / whole, part >= enough * whole))
    return tuple(answers)
