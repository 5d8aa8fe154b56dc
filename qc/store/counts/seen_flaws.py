"""The defects of the units seen in a slice, one by one: what a station's page sorts by what was said and by origin."""

import sqlite3
from typing import NamedTuple

from qc.domain.counted.counts import Slice
from qc.domain.plant.plant import FIELD, UNKNOWN
from qc.store.counts.narrowing import parameters
from qc.store.counts.spans import Spans

SEEN = """
  seen AS MATERIALIZED (
    SELECT unit, model, line
      FROM presented_unit
     WHERE day >= :first AND day < :end
       AND (:every_model OR model IN (SELECT value FROM json_each(:models)))
       AND (:every_build OR model || ' ' || line IN (SELECT value FROM json_each(:builds)))
       AND (:every_shift OR shift IN (SELECT value FROM json_each(:shifts)))
  )"""
FLAWS = f"""
WITH {SEEN}
SELECT d.id, s.unit, s.model, s.line, d.type, d.point, d.finder,
       CASE WHEN d.origin_state IN ('confirmed', 'settled') THEN coalesce(d.confirmed, '{UNKNOWN}')
            ELSE '' END,
       CASE WHEN d.origin_state = 'suspected' THEN coalesce(nullif(d.suspected, '{UNKNOWN}'), '')
            ELSE '' END,
       d.linked_to, d.number
  FROM seen AS s
 CROSS JOIN defect AS d ON d.unit = s.unit
  LEFT JOIN inspection AS i ON i.id = d.inspection
 WHERE d.state <> 'withdrawn'
   AND (d.point = '{FIELD}' OR d.first_presentation = 1)
   AND (d.inspection IS NULL OR i.ended_ms IS NOT NULL)
"""
# Nothing was said of these units' defects before the first operation on any of the units.
BEGUN = f"""
WITH {SEEN}
SELECT min((SELECT min(number) FROM journal AS j WHERE j.unit = s.unit))
  FROM seen AS s
"""


class SeenFlaw(NamedTuple):
    """A defect of a first presentation, or one found after dispatch, on a unit seen in the slice.

    line: as told of the unit. origin: where it was settled, "UNK" for closed as not known, "" while it is open;
    suspected: the place that an open one stands against, "" for none. linked_to: an earlier defect of the same source,
    as its recorder said; number: of the operation that recorded it.
    """

    id: str
    unit: str
    model: str
    line: str
    type: str
    point: str
    finder: str
    origin: str
    suspected: str
    linked_to: str | None
    number: int


def seen_flaws(connection: sqlite3.Connection, slice_: Slice) -> tuple[SeenFlaw, ...]:
    """Return the defects on the units seen in the slice, in no order; its severities do not matter."""
    return tuple(map(SeenFlaw._make, connection.execute(FLAWS, _asked(slice_))))


def first_number(connection: sqlite3.Connection, slice_: Slice) -> int | None:
    """Return the number of the first operation on any unit seen in the slice, None without a unit."""
    (begun,) = connection.execute(BEGUN, _asked(slice_)).fetchone()
    return None if begun is None else int(begun)


def _asked(slice_: Slice) -> dict[str, str | int]:
    return parameters(slice_, Spans("D", slice_.first, slice_.end), False)
