"""Of how many units a station's passing was told, so that the day of the work there is known and not reckoned."""

import sqlite3
from collections.abc import Collection

import orjson

from qc.domain.counted.counts import Slice

TOLD = """
SELECT count(*), count(p.unit)
  FROM presented_unit AS s
  LEFT JOIN station_pass AS p ON p.unit = s.unit AND p.station = :station
 WHERE s.day >= :first
   AND s.day < :end
   AND s.model || ' ' || s.line IN (SELECT value FROM json_each(:builds))
"""


def told_passes(
    connection: sqlite3.Connection, slice_: Slice, station: str, builds: Collection[tuple[str, str]]
) -> tuple[int, int]:
    """Return the units of these builds presented on the slice's days, and of how many of them it was told.

    A passing that was taken back is none. What the slice narrows does not matter.
    """
    asked = {"station": station, "first": slice_.first.isoformat(), "end": slice_.end.isoformat()}
    row = connection.execute(
        TOLD, asked | {"builds": orjson.dumps([" ".join(one) for one in builds]).decode()}
    ).fetchone()
    return int(row[0]), int(row[1])
