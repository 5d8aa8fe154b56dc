"""What a station's page shows one by one: photos of its own defects."""

import json
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from qc.domain.counted.counts import Slice
from qc.domain.unit.unit_record import Circle
from qc.store.counts.narrowing import parameters
from qc.store.counts.spans import Spans

PHOTOS_AT_MOST = 24
STATION_PHOTOS = """
SELECT p.sha256, d.id, d.type, u.shop_number, d.production_day, p.circle
  FROM defect AS d
  JOIN defect_photo AS p ON p.defect = d.id
  JOIN unit AS u ON u.chassis = d.unit
 WHERE d.production_day >= :first AND d.production_day < :end
   AND d.state <> 'withdrawn'
   AND CASE WHEN d.origin_state IN ('confirmed', 'settled') THEN d.confirmed = :station
            ELSE d.origin_state = 'suspected' AND d.suspected = :station END
 ORDER BY d.found_ms DESC, d.id, p.number
 LIMIT :most
"""
PHOTOS_OF = """
SELECT p.defect, p.sha256, p.circle
  FROM defect_photo AS p
 WHERE p.defect IN (SELECT value FROM json_each(:defects))
 ORDER BY p.defect, p.number
"""


@dataclass(frozen=True, slots=True)
class StationPhoto:
    """A photo of a defect that stands against a station; circle: where on it the flaw is circled, None nowhere."""

    sha256: str
    defect: str
    type: str
    shop_number: str
    found_day: date
    circle: Circle | None = None


def station_photos(connection: sqlite3.Connection, slice_: Slice, station: str) -> tuple[StationPhoto, ...]:
    """Return photos of a station's defects found in the slice, latest first, at most 24."""
    asked = {**parameters(slice_, _days(slice_), False, station=station), "most": PHOTOS_AT_MOST}
    return tuple(
        StationPhoto(sha256, defect, type_, shop_number, date.fromisoformat(day), circle_of(circle))
        for sha256, defect, type_, shop_number, day, circle in connection.execute(STATION_PHOTOS, asked)
    )


def photos_of(connection: sqlite3.Connection, defects: Sequence[str]) -> dict[str, dict[str, Circle | None]]:
    """Return the photos of each of these defects by SHA-256, in the order they came, with where the flaw is circled on
    each, None nowhere; a defect without is left out."""
    photos: dict[str, dict[str, Circle | None]] = {}
    for defect, sha256, circle in connection.execute(PHOTOS_OF, {"defects": json.dumps(defects)}):
        photos.setdefault(defect, {})[sha256] = circle_of(circle)
    return photos


def circle_of(kept: str | None) -> Circle | None:
    """Return a circle as the column keeps it, None where nothing is circled."""
    if kept is None:
        return None
    left, top, right, bottom = json.loads(kept)
    return left, top, right, bottom


def _days(slice_: Slice) -> Spans:
    return Spans("D", slice_.first, slice_.end)
