"""Defects by type and by origin, suspected and confirmed apart."""

import sqlite3
from collections.abc import Iterable, Mapping

from qc.domain.counts import CategoryCounts, Slice, StationTypes
from qc.domain.plant import UNKNOWN, Plant
from qc.store.counts.narrowing import counted, parameters
from qc.store.counts.spans import all_spans

TYPES = """
SELECT type AS label, sum(critical) AS critical, sum(major) AS major, sum(minor) AS minor
  FROM type_sum
 WHERE span = :span AND detail = :detail AND start >= :first AND start < :end
   AND (:every_model OR model IN (SELECT value FROM json_each(:models)))
   AND (:every_shift OR shift IN (SELECT value FROM json_each(:shifts)))
 GROUP BY type
 ORDER BY type
"""
ORIGIN_TYPES = """
SELECT origin, type,
       sum(confirmed_critical), sum(confirmed_major), sum(confirmed_minor),
       sum(suspected_critical), sum(suspected_major), sum(suspected_minor)
  FROM origin_type_sum
 WHERE span = :span AND detail = :detail AND start >= :first AND start < :end
   AND (:every_origin OR origin = :origin)
   AND (:every_model OR model IN (SELECT value FROM json_each(:models)))
   AND (:every_shift OR shift IN (SELECT value FROM json_each(:shifts)))
 GROUP BY origin, type
 ORDER BY origin, type
"""
UNITS = "units presented at the end points in the period (each once, on the day its latest first presentation ended)"

Triple = tuple[int, int, int]
NOTHING: Triple = (0, 0, 0)


def _plus(one: Triple, other: Iterable[int]) -> Triple:
    critical, major, minor = other
    return one[0] + critical, one[1] + major, one[2] + minor


def type_counts(connection: sqlite3.Connection, slice_: Slice, plant: Plant, inspected: int) -> CategoryCounts:
    """Return defects by type, every type of the plant and every other that was used, in code order."""
    totals = dict.fromkeys(plant.types, NOTHING)
    for part in all_spans(slice_.first, slice_.end):
        for row in connection.execute(TYPES, parameters(slice_, part, False)):
            totals[row["label"]] = _plus(totals.get(row["label"], NOTHING), counted(slice_, row[1:]))
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
    for part in all_spans(slice_.first, slice_.end):
        for row in connection.execute(ORIGIN_TYPES, {**parameters(slice_, part, False), **asked}):
            yield row[0], row[1], counted(slice_, row[2:5]), counted(slice_, row[5:8])


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
