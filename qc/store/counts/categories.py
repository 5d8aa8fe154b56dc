"""Defects by type and by origin, suspected and confirmed apart."""

import json
import sqlite3
from collections.abc import Iterable, Mapping

from qc.domain.counted.counts import PRESENTED, CategoryCounts, Slice, StationTypes
from qc.domain.plant.plant import UNKNOWN, Plant
from qc.domain.words.speaking import marked, say
from qc.store.counts.narrowing import all_parts, parameters
from qc.store.counts.spans import all_spans

TYPES = """
SELECT t.type, :critical * sum(t.critical), :major * sum(t.major), :minor * sum(t.minor)
  FROM json_each(:parts) AS p
 CROSS JOIN type_sum AS t
    ON t.span = json_extract(p.value, '$[0]') AND t.detail = :detail
   AND t.start >= json_extract(p.value, '$[1]') AND t.start < json_extract(p.value, '$[2]')
 WHERE (:every_model OR t.model IN (SELECT value FROM json_each(:models)))
   AND (:every_build OR t.model || ' ' || t.line IN (SELECT value FROM json_each(:builds)))
   AND (:every_shift OR t.shift IN (SELECT value FROM json_each(:shifts)))
 GROUP BY t.type
 ORDER BY t.type
"""
# Grouped in the order of the key, start first, so that nothing has to be sorted.
ORIGINS = """
WITH usual (type, minutes) AS MATERIALIZED (SELECT key, value FROM json_each(:minutes))
SELECT t.origin,
       :critical * sum(confirmed_critical), :major * sum(confirmed_major), :minor * sum(confirmed_minor),
       sum(u.minutes * (:critical * confirmed_critical + :major * confirmed_major + :minor * confirmed_minor)),
       :critical * sum(suspected_critical), :major * sum(suspected_major), :minor * sum(suspected_minor),
       sum(u.minutes * (:critical * suspected_critical + :major * suspected_major + :minor * suspected_minor))
  FROM origin_type_sum AS t
  LEFT JOIN usual AS u ON u.type = t.type
 WHERE t.span = :span AND t.detail = :detail AND t.start >= :first AND t.start < :end
   AND (:every_model OR t.model IN (SELECT value FROM json_each(:models)))
   AND (:every_build OR t.model || ' ' || t.line IN (SELECT value FROM json_each(:builds)))
   AND (:every_shift OR t.shift IN (SELECT value FROM json_each(:shifts)))
 GROUP BY t.start, t.origin
 ORDER BY t.start, t.origin
"""
STATION_TYPES = """
SELECT t.type,
       sum(:critical * confirmed_critical + :major * confirmed_major + :minor * confirmed_minor) AS sure,
       sum(:critical * suspected_critical + :major * suspected_major + :minor * suspected_minor) AS guessed
  FROM json_each(:parts) AS p
 CROSS JOIN origin_type_sum AS t
    ON t.span = json_extract(p.value, '$[0]') AND t.detail = :detail
   AND t.start >= json_extract(p.value, '$[1]') AND t.start < json_extract(p.value, '$[2]')
 WHERE t.origin = :origin
   AND (:every_model OR t.model IN (SELECT value FROM json_each(:models)))
   AND (:every_build OR t.model || ' ' || t.line IN (SELECT value FROM json_each(:builds)))
   AND (:every_shift OR t.shift IN (SELECT value FROM json_each(:shifts)))
 GROUP BY t.type
HAVING sure > 0 OR guessed > 0
 ORDER BY t.type
"""
UNITS = marked("{units} (each once, on the day on which the last of them did)")

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
        say(UNITS, units=say(PRESENTED)),
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
    usual = {type_.code: type_.rework_min for type_ in plant.types.values()}
    sure, guessed = what != "suspected origin", what != "confirmed origin"
    for origin, confirmed, sure_minutes, suspected, open_minutes in _origins(connection, slice_, usual):
        held = totals.get(origin, NOTHING)
        totals[origin] = _plus(_plus(held, confirmed if sure else NOTHING), suspected if guessed else NOTHING)
        minutes[origin] = minutes.get(origin, 0) + sure * sure_minutes + guessed * open_minutes
    return _category(what, totals, minutes, inspected)


def _origins(
    connection: sqlite3.Connection, slice_: Slice, usual: Mapping[str, int]
) -> Iterable[tuple[str, Triple, int, Triple, int]]:
    """Yield origin, confirmed, their minutes, suspected, their minutes; usual: rework minutes by type."""
    minutes = json.dumps(usual)
    for part in all_spans(slice_.first, slice_.end):
        for row in connection.execute(ORIGINS, {**parameters(slice_, part, False), "minutes": minutes}):
            yield row[0], row[1:4], row[4] or 0, row[5:8], row[8] or 0


def station_types(connection: sqlite3.Connection, slice_: Slice, station: str) -> StationTypes:
    """Return one station's defects by type."""
    rows = connection.execute(STATION_TYPES, {**all_parts(slice_), "origin": station}).fetchall()
    return StationTypes(
        station, tuple(row[0] for row in rows), tuple(row[1] for row in rows), tuple(row[2] for row in rows)
    )


def unknown_share(connection: sqlite3.Connection, slice_: Slice) -> tuple[int, int]:
    """Return (defects of unknown or disputed origin, defects), first presentations of units seen in the slice."""
    unknown = whole = 0
    for origin, confirmed, _, suspected, _ in _origins(connection, slice_, {}):
        whole += sum(confirmed) + sum(suspected)
        unknown += (sum(confirmed) + sum(suspected)) if origin == UNKNOWN else 0
    return unknown, whole
