"""Paired re-looks: which of two inspectors found what on the same units, and what was withdrawn as no defect."""

import json
import sqlite3
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from qc.domain.counted.counts import Slice
from qc.domain.counted.relook_counts import FalseCalls, RelookCell, RelookCounts, RelookPair
from qc.domain.plant.plant import Plant
from qc.store.counts.narrowing import parameters
from qc.store.counts.spans import Spans

# Each ended second look with the first presentation before it at the same point, "" where there is none.
LOOKS = """
SELECT s.id AS second_look, s.unit, s.inspector AS second, coalesce(f.id, '') AS first_look,
       coalesce(f.inspector, '') AS first, coalesce(f.shift, '') AS shift,
       EXISTS (SELECT 1 FROM defect AS d JOIN defect_repair AS r ON r.defect = d.id
                WHERE d.unit = s.unit AND r.repaired_ms > f.begun_ms AND r.repaired_ms < s.ended_ms) AS repaired
  FROM inspection AS s
  JOIN unit AS u ON u.chassis = s.unit
  LEFT JOIN inspection AS f
    ON f.unit = s.unit AND f.point = s.point AND f.purpose = 'presentation' AND f.presentation = 1
   AND f.ended_ms IS NOT NULL AND f.begun_ms <= s.begun_ms
 WHERE s.purpose = 'relook' AND s.ended_ms IS NOT NULL
   AND s.production_day >= :first AND s.production_day < :end
   AND (:every_model OR u.model IN (SELECT value FROM json_each(:models)))
   AND (:every_build OR u.model || ' ' || u.line IN (SELECT value FROM json_each(:builds)))
   AND (:every_shift OR coalesce(f.shift, s.shift) IN (SELECT value FROM json_each(:shifts)))
 ORDER BY s.id
"""
# Everything recorded on the unit, so that a duplicate leads to the record that stands for it.
RECORDS = """
SELECT d.id, d.inspection, d.finder, d.type, d.zone, d.withdrawn_why, d.duplicate_of,
       (SELECT count(*) FROM zone_look AS z
         WHERE z.inspection IN (:first_look, :second_look) AND z.zone = d.zone AND z.looked = 1) AS looks
  FROM defect AS d
 WHERE d.unit = :unit
 ORDER BY d.number
"""
FALSE_CALLS = """
SELECT finder, count(*), sum(coalesce(withdrawn_why, '') = 'not_a_defect')
  FROM defect
 WHERE production_day >= :first AND production_day < :end
   AND coalesce(withdrawn_why, '') <> 'duplicate'
   AND point IN (SELECT value FROM json_each(:points))
   AND (:every_model OR model IN (SELECT value FROM json_each(:models)))
   AND (:every_build OR EXISTS (SELECT 1 FROM unit AS b WHERE b.chassis = defect.unit
         AND b.model || ' ' || b.line IN (SELECT value FROM json_each(:builds))))
   AND (:every_shift OR shift IN (SELECT value FROM json_each(:shifts)))
 GROUP BY finder
 ORDER BY finder
"""
ONLY_FIRST, ONLY_SECOND, BOTH = 0, 1, 2


@dataclass(slots=True)
class _Tally:
    """What the pairs add up to while they are read."""

    pairs: Counter[tuple[str, str, str]] = field(default_factory=Counter)
    cells: dict[tuple[str, str, str, str], list[int]] = field(default_factory=dict)
    left_out: Counter[str] = field(default_factory=Counter)


def relook_counts(connection: sqlite3.Connection, slice_: Slice, plant: Plant) -> RelookCounts:
    """Return the paired re-looks of a slice (day of the second look); severities of the slice do not matter."""
    tally = _Tally()
    for look in connection.execute(LOOKS, _days(slice_)).fetchall():
        if not look["first_look"] or look["first"] == look["second"]:
            tally.left_out["unpaired"] += 1
        elif look["repaired"]:
            tally.left_out["repaired_between"] += 1
        else:
            _add_pair(connection, look, tally)
    meant = {code for code, one in plant.types.items() if _is_look(plant, one.first_detect_point)}
    return RelookCounts(
        tuple(RelookPair(*key, units) for key, units in sorted(tally.pairs.items())),
        tuple(
            RelookCell(
                first=first,
                second=second,
                shift=shift,
                type=type_,
                by_look=type_ in meant,
                only_first=only_first,
                only_second=only_second,
                both=both,
            )
            for (first, second, shift, type_), (only_first, only_second, both) in sorted(tally.cells.items())
        ),
        tally.left_out["repaired_between"],
        tally.left_out["unpaired"],
        tally.left_out["one_zone"],
        tally.left_out["known_before"],
        tally.left_out["alike"],
    )


def false_calls(connection: sqlite3.Connection, slice_: Slice, plant: Plant) -> tuple[FalseCalls, ...]:
    """Return for each finder at an inspection point what was recorded and what of it was no defect, in code order."""
    points = json.dumps([one for one in plant.stations if _is_look(plant, one)])
    rows = connection.execute(FALSE_CALLS, {**_days(slice_), "points": points})
    return tuple(FalseCalls(finder, recorded, wrong) for finder, recorded, wrong in rows)


def _days(slice_: Slice) -> dict[str, str | int]:
    return parameters(slice_, Spans("D", slice_.first, slice_.end), False)


def _is_look(plant: Plant, point: str) -> bool:
    return point in plant.stations and plant.stations[point].kind == "inspection"


def _add_pair(connection: sqlite3.Connection, look: sqlite3.Row, tally: _Tally) -> None:
    asked = {name: look[name] for name in ("unit", "first_look", "second_look")}
    rows = {row["id"]: row for row in connection.execute(RECORDS, asked)}
    pair = look["first"], look["second"], look["shift"]
    tally.pairs[pair] += 1
    single: list[tuple[str, str, int]] = []
    for stands, sides in _defects(look, rows):
        place = BOTH if len(sides) == 2 else sides.pop()
        if stands["looks"] < 2:
            tally.left_out["one_zone"] += 1
        elif _side(look, stands) is None:
            tally.left_out["known_before"] += 1
        else:
            tally.cells.setdefault((*pair, stands["type"]), [0, 0, 0])[place] += 1
            single += [(stands["type"], stands["zone"], place)] if place != BOTH else []
    tally.left_out["alike"] += _alike(single)


def _defects(look: sqlite3.Row, rows: dict[str, sqlite3.Row]) -> Iterator[tuple[sqlite3.Row, set[int]]]:
    """Yield each defect that either of the two recorded: the record that stands for it, and whose looks found it."""
    found: dict[str, set[int]] = {}
    for row in rows.values():
        side, stands = _side(look, row), _stands_for(row, rows)
        if side is not None and stands["withdrawn_why"] != "not_a_defect":
            found.setdefault(stands["id"], set()).add(side)
    for id_, sides in found.items():
        yield rows[id_], sides


def _side(look: sqlite3.Row, row: sqlite3.Row) -> int | None:
    """Return whose look the record is of; None where another inspection or another person made it."""
    for side, name in ((ONLY_FIRST, "first"), (ONLY_SECOND, "second")):
        if row["inspection"] == look[f"{name}_look"] and row["finder"] == look[name]:
            return side
    return None


def _stands_for(row: sqlite3.Row, rows: dict[str, sqlite3.Row]) -> sqlite3.Row:
    """Follow "duplicate of" to the record that stands, at most once through every record."""
    for _ in rows:
        if row["withdrawn_why"] != "duplicate" or row["duplicate_of"] not in rows:
            break
        row = rows[row["duplicate_of"]]
    return row


def _alike(single: Iterable[tuple[str, str, int]]) -> int:
    """Count records of the first look that one of the second has type and zone in common with, each once."""
    counts = Counter(single)
    return sum(min(n, counts[type_, zone, ONLY_SECOND]) for (type_, zone, side), n in counts.items() if not side)
