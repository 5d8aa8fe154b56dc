"""Defects by type and by origin, suspected and confirmed apart."""

import sqlite3
from collections.abc import Iterable, Mapping

from qc.domain.counts import CategoryCounts, Slice, StationTypes
from qc.domain.plant import UNKNOWN, Plant
from qc.store.counts.narrowing import all_parts

TYPES = """
SELECT t.type, :critical * sum(t.critical), :major * sum(t.major), :minor * sum(t.minor)
  FROM json_each(:parts) AS p
 CROSS JOIN type_sum AS t
    ON t.span = json_extract(p.value, '$[0]') AND t.detail = :detail
   AND t.start >= json_extract(p.value, '$[1]') AND t.start < json_extract(p.value, '$[2]')
 WHERE (:every_model OR t.model IN (SELECT value FROM json_each(:models)))
   AND (:every_shift OR t.shift IN (SELECT value FROM json_each(:shifts)))
 GROUP BY t.type
 ORDER BY t.type
"""
ORIGIN_TYPES = """
SELECT t.origin, t.type,
       :critical * sum(confirmed_critical), :major * sum(confirmed_major), :minor * sum(confirmed_minor),
       :critical * sum(suspected_critical), :major * sum(suspected_major), :minor * sum(suspected_minor)
  FROM json_each(:parts) AS p
 CROSS JOIN origin_type_sum AS t
    ON t.span = json_extract(p.value, '$[0]') AND t.detail = :detail
   AND t.start >= json_extract(p.value, '$[1]') AND t.start < json_extract(p.value, '$[2]')
 WHERE (:every_origin OR t.origin = :origin)
   AND (:every_model OR t.model IN (SELECT value FROM json_each(:models)))
   AND (:every_shift OR t.shift IN (SELECT value FROM json_each(:shifts)))
 GROUP BY t.origin, t.type
 ORDER BY t.origin, t.type
"""
UNITS = "units presented at the end points in the period (each once, on the day its latest first presentation ended)"

Triple = tuple[int, int, int]
NOTHING: Triple = (0, 0, 0)


def _plus(one: Triple, other: Triple) -> Triple:
    return one[0] + other[0], one[1] + other[1], one[2] + other[2]


def type_counts(connection: sqlite3.Connection, slice_: Slice, plant: Plant, inspected: int) -> CategoryCounts:
    """Return defects by type, every type of the plant and every other that was used, in code order."""
    totals = dict.fromkeys(plant.types, NOTHING)
    for row in connection.execute(TYPES, all_parts(slice_)):
        totals[row[0]] = row[1:]
    return _category("type", totals, {label: _minutes(plant, label, t) for label, t in totals.items()}, inspected)


def _minutes(plant: Plant, type_: str, triple: Triple) -> int:
    known = plant.types.get(type_)
    return sum(triple) * known.rework_min if known else 0


def _category(what: str, totals: Mapping[str, Triple], minutes: Mapping[str, int], inspected: int) -> CategoryCounts:
    labels = tuple(sorted(totals))
    return CategoryCounts(
        what,  # type: ignore[arg-type]
        labels,
        tuple(sum(totals[label]) for label in labels),
        tuple(minutes[label] for label in labels),
        tuple(totals[label] for label in labels),
        inspected,
        UNITS,
    )


def origin_counts(
    connection: sqlite3.Connection, slice_: Slice, plant: Plant, what: str, inspected: int
) -> CategoryCounts:
    """Return defects by origin, every place of the plant among them; UNK is unknown or disputed.

    what "confirmed origin": confirmed or settled; "suspected origin": suspected and no more; "origin": both, a defect
    in one of them only.
    """
    totals = dict.fromkeys((*plant.stations, UNKNOWN), NOTHING)
    minutes = dict.fromkeys(totals, 0)
    for origin, type_, confirmed, suspected in _origin_types(connection, slice_, None):
        triple = _plus(
            confirmed if what != "suspected origin" else NOTHING, suspected if what != "confirmed origin" else NOTHING
        )
        totals[origin] = _plus(totals.get(origin, NOTHING), triple)
        minutes[origin] = minutes.get(origin, 0) + _minutes(plant, type_, triple)
    return _category(what, totals, minutes, inspected)


def _origin_types(
    connection: sqlite3.Connection, slice_: Slice, origin: str | None
) -> Iterable[tuple[str, str, Triple, Triple]]:
    asked = {"origin": origin or "", "every_origin": int(origin is None)}
    for row in connection.execute(ORIGIN_TYPES, {**all_parts(slice_), **asked}):
        yield row[0], row[1], row[2:5], row[5:8]


def station_types(connection: sqlite3.Connection, slice_: Slice, station: str) -> StationTypes:
    """Return one station's defects by type."""
    confirmed: dict[str, int] = {}
    suspected: dict[str, int] = {}
    for _, type_, sure, guessed in _origin_types(connection, slice_, station):
        confirmed[type_] = confirmed.get(type_, 0) + sum(sure)
        suspected[type_] = suspected.get(type_, 0) + sum(guessed)
    types = tuple(sorted(type_ for type_ in confirmed if confirmed[type_] or suspected[type_]))
    return StationTypes(station, types, tuple(confirmed[t] for t in types), tuple(suspected[t] for t in types))


def unknown_share(connection: sqlite3.Connection, slice_: Slice) -> tuple[int, int]:
    """Return (defects of unknown or disputed origin, defects), first presentations of units seen in the slice."""
    unknown = whole = 0
    for origin, _, sure, guessed in _origin_types(connection, slice_, None):
        whole += sum(sure) + sum(guessed)
        unknown += (sum(sure) + sum(guessed)) if origin == UNKNOWN else 0
    return unknown, whole
