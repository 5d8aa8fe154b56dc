"""Origin × detection: where defects were made against where they were found, and what each point let through."""

from collections.abc import Mapping
from dataclasses import dataclass

from qc.domain.counted.by_unit import DefectsByUnit
from qc.domain.counted.counts import FOLLOW_DAYS, OriginDetection, Slice
from qc.domain.plant.graph import BuildGraph
from qc.domain.plant.naming import with_name
from qc.domain.plant.plant import DESIGN, FIELD, Plant
from qc.domain.words.speaking import marked, say
from qc.reports.asking import LEVEL, Asking
from qc.reports.how_many import defects, units
from qc.reports.periods import Period
from qc.reports.wording import percent, severities_words
from qc.stats.answers import TooLittle
from qc.stats.intervals.by_unit import shares_by_unit
from qc.stats.intervals.one_sample import ShareInterval
from qc.stats.origins.escapes import EscapeMatrix, Found, escape_matrix


@dataclass(frozen=True, slots=True)
class OriginRow:
    """One origin. confirmed, suspected: defects by point, in the order of the table's points; total: all of them.

    is_station: supplier, handling and design are not. share: of all defects whose origin is known, with its interval by
    units.
    """

    origin: str
    name: str
    is_station: bool
    confirmed: tuple[int, ...]
    suspected: tuple[int, ...]
    total: int
    share: ShareInterval | TooLittle


@dataclass(frozen=True, slots=True, kw_only=True)
class PointLine:
    """One detection point. found here, passed (found later), share passed = passed / (found + passed), interval by
    units.

    Counts defects that the point could have found: their origin lies before it or is not known, and their type is
    meant to be found by then. unknown_found, unknown_passed: of these, of unknown origin. left_out: also found here,
    in neither: handling, rework, types first looked for later; found + left_out is all that the point found.
    """

    point: str
    name: str
    found: int
    passed: int
    share_passed: ShareInterval | TooLittle
    unknown_found: int
    unknown_passed: int
    left_out: int


@dataclass(frozen=True, slots=True, kw_only=True)
class OriginTable:
    """The table for units presented in one period. matrix: the statistics' evidence, TooLittle without defects.

    unknown_total: defects of unknown or disputed origin, in no row. follow_up: how long the units have been out,
    in words: recent units always look good until dealers have reported. point_names: of points, with their codes.
    denominator, sentence in words.
    """

    counts: OriginDetection
    points: tuple[str, ...]
    point_names: tuple[str, ...]
    rows: tuple[OriginRow, ...]
    detection: tuple[PointLine, ...]
    matrix: EscapeMatrix | TooLittle
    known_total: int
    unknown_total: int
    unknown_share: ShareInterval | TooLittle
    follow_up: str
    denominator: str
    sentence: str


DENOMINATOR = marked(
    "Defects, criticals among them, on units presented in these weeks, wherever and whenever found; each once, under "
    "its confirmed origin or else the one that is suspected and still open."
)
NARROWED = marked(
    "Only {severities}, on units presented in these weeks, wherever and whenever found; each once, under its confirmed "
    "origin or else the one that is suspected and still open."
)


def origin_table(ask: Asking, window: Period) -> OriginTable:
    """Return origin × detection for the units of the window."""
    asked = ask.slice(window, ask.severities)
    counts = ask.counts.origin_detection(asked)
    known = sum(map(sum, counts.confirmed)) + sum(map(sum, counts.suspected))
    unknown = sum(counts.unknown)
    by_unit = ask.counts.defects_by_unit(asked)
    rows = _rows(ask, counts, by_unit)
    return OriginTable(
        counts=counts,
        points=counts.points,
        point_names=tuple(map(ask.names.place, counts.points)),
        rows=rows,
        detection=_detection(ask, asked, counts, by_unit),
        matrix=_matrix(ask.plant, counts),
        known_total=known,
        unknown_total=unknown,
        unknown_share=shares_by_unit([by_unit.unknown], LEVEL, by_unit.made)[0],
        follow_up=_follow_up(ask, window),
        denominator=_denominator(ask),
        sentence=_sentence(ask, rows, known, unknown),
    )


def _denominator(ask: Asking) -> str:
    if not ask.severities:
        return say(DENOMINATOR)
    return say(NARROWED, severities=severities_words(ask.severities))


def _rows(ask: Asking, counts: OriginDetection, by_unit: DefectsByUnit) -> tuple[OriginRow, ...]:
    """Return a row for each origin of which a defect is."""
    places = [
        place
        for place, cells in enumerate(zip(counts.confirmed, counts.suspected, strict=True))
        if sum(map(sum, cells))
    ]
    shares = shares_by_unit([by_unit.made_at(counts.origins[place]) for place in places], LEVEL)
    return tuple(_row(ask, counts, place, share) for place, share in zip(places, shares, strict=True))


def _row(ask: Asking, counts: OriginDetection, place: int, share: ShareInterval | TooLittle) -> OriginRow:
    origin, confirmed, suspected = counts.origins[place], counts.confirmed[place], counts.suspected[place]
    total = sum(confirmed) + sum(suspected)
    station = ask.plant.stations.get(origin)
    is_station = station is not None and station.kind not in ("external", "unknown")
    return OriginRow(origin, ask.place_name(origin), is_station, confirmed, suspected, total, share)


def _detection(ask: Asking, asked: Slice, counts: OriginDetection, by_unit: DefectsByUnit) -> tuple[PointLine, ...]:
    findings = ask.counts.point_findings(asked)
    columns = zip(*counts.confirmed, *counts.suspected, counts.unknown, strict=True)
    every = {point: sum(column) for point, column in zip(counts.points, columns, strict=True)}
    rows = zip(
        findings.points,
        findings.found,
        findings.passed,
        findings.unknown_found,
        findings.unknown_passed,
        shares_by_unit(by_unit.passed, LEVEL),
        strict=True,
    )
    return tuple(
        PointLine(
            point=point,
            name=ask.place_name(point),
            found=found,
            passed=passed,
            share_passed=share,
            unknown_found=unknown_found,
            unknown_passed=unknown_passed,
            left_out=every.get(point, 0) - found,
        )
        for point, found, passed, unknown_found, unknown_passed, share in rows
    )


def _matrix(plant: Plant, counts: OriginDetection) -> EscapeMatrix | TooLittle:
    records = [
        Found(origin, point, confirmed + suspected)
        for origin, sure, guessed in zip(counts.origins, counts.confirmed, counts.suspected, strict=True)
        for point, confirmed, suspected in zip(counts.points, sure, guessed, strict=True)
        if confirmed + suspected
    ]
    if not records:
        return TooLittle("origin × detection", say("no defect of known origin was found on these units"), 0, 1)
    downstream = downstream_places(plant)
    places = {one for record in records for one in (record.origin, record.found_at)}
    outside = tuple(place for place in (*counts.origins, DESIGN) if place in places and place not in downstream)
    return escape_matrix(records, downstream, no_station=outside, level=LEVEL)


def downstream_places(plant: Plant) -> Mapping[str, tuple[str, ...]]:
    """Return every place of the build, in table order, with all that a unit can meet after it, dispatch last.

    A rework bay stands before every point that looks at its work again.
    """
    graph = BuildGraph(plant)
    upstream = {place: set(graph.upstream_of(place)) for place in (*plant.stations, FIELD)}
    linked = [place for place in plant.stations if place in upstream[FIELD]]
    after = {
        place: (*(one for one in linked if place in upstream[one]), FIELD) for place in linked if place not in (FIELD,)
    }
    rework = {one.id for one in plant.stations.values() if one.kind == "rework"}
    for bay in rework:
        after[bay] = (*(point for source, point in plant.links.rework if source == bay and point in after), FIELD)
    return {**after, FIELD: ()}


def _follow_up(ask: Asking, window: Period) -> str:
    seen = sum(ask.counts.seen_units(ask.slice(window)).values())
    if not seen:
        return say("No unit was presented in these weeks.")
    old = sum(ask.counts.left_weeks(ask.slice(window), ask.now_ms).followed)
    if old == seen:
        return say(
            "Every one of {units} left more than {days} days ago; what dealers and users find later than that still "
            "adds a few.",
            units=units(seen),
            days=FOLLOW_DAYS,
        )
    return say(
        "{old} of {units} left more than {days} days ago. What dealers and users find comes weeks to months late, so "
        "what is found after dispatch still grows, for recent units most.",
        old=old,
        units=units(seen),
        days=FOLLOW_DAYS,
    )


def _sentence(ask: Asking, rows: tuple[OriginRow, ...], known: int, unknown: int) -> str:
    if not known + unknown:
        return say("No defect was found on these units.")
    told = say("{defects} of known origin, {unknown} not known or disputed.", defects=defects(known), unknown=unknown)
    stations = sorted((row for row in rows if row.is_station), key=lambda row: -row.total)
    if not stations:
        return told
    first, sure = stations[0], sum(stations[0].confirmed)
    share = percent(first.total / known)
    most = say(
        "Most come from {place}: {number} ({share}), {sure} confirmed, {suspected} suspected.",
        place=with_name(first.origin, first.name),
        number=first.total,
        share=share,
        sure=sure,
        suspected=first.total - sure,
    )
    return f"{told} {most}"
