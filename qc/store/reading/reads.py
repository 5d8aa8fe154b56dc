"""What pages, phones and reports read of units: through read-only connections, one a thread."""

import json
import sqlite3
import threading
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from qc.domain.acts.unit import fold
from qc.domain.counted.backlogs import ConfirmBefore
from qc.domain.line.line_record import Revised
from qc.domain.plant.chassis import cleaned, nearest_known
from qc.domain.plant.plant import Plant
from qc.domain.tables.plant_rules import PlantRevisions
from qc.domain.unit.unit_record import Event, UnitRecord
from qc.store.reading.unit_view import unit_view
from qc.store.record.connection import RECORD, open_reader
from qc.store.record.events import UnreadEntry, events_of, unread_entries
from qc.store.record.tables_kept import revisions_told, tables_in, told_revision

DAY_MS = 24 * 60 * 60_000
RELEASED_FOR_DAYS = 14  # a new phone is not sent units released longer ago
VIEWS_KEPT = 2000

State = Literal["planned", "on_line", "at_end_points", "in_rework", "released", "cancelled"]

_LINES = """
SELECT u.chassis, u.shop_number, u.sequence, u.model, u.line, u.state, u.alarm, u.planned_day, u.released_ms,
       u.released_by, u.met_by, u.last_number,
       (SELECT count(*) FROM defect AS d WHERE d.unit = u.chassis AND d.state = 'open') AS open,
       (SELECT count(*) FROM defect AS d
         WHERE d.unit = u.chassis AND d.state IN ('open', 'repaired') AND d.severity = 'critical') AS criticals,
       (SELECT count(*) FROM defect AS d WHERE d.unit = u.chassis AND d.state = 'repaired') AS to_recheck,
       (SELECT coalesce(group_concat(DISTINCT i.inspector), '') FROM inspection AS i
         WHERE i.unit = u.chassis AND i.ended_ms IS NULL) AS in_hand
  FROM {units} AS u
"""
# The units shown are chosen first, so that nothing is counted for the thousands that are not.
_ORDER = "u.alarm = '', CASE u.state WHEN 'released' THEN -u.released_ms END, u.sequence"
_SHOWN = f"(SELECT * FROM unit AS u WHERE :state IS NULL OR u.state = :state ORDER BY {_ORDER} LIMIT :limit)"
_LIST = f"{_LINES.format(units=_SHOWN)} ORDER BY {_ORDER}"
_LINE = _LINES.format(units="unit")
_ALARMED = f"{_LINE} WHERE u.alarm <> '' ORDER BY u.sequence"
_FOUND = f"""{_LINE}
 WHERE substr(u.chassis, -length(:text)) = :text
    OR substr(u.shop_number, -length(:text)) = :text
 ORDER BY u.state IN ('released', 'cancelled'), u.sequence DESC
 LIMIT :limit
"""
_BY_LOT = f"""{_LINE}
 WHERE u.chassis IN (SELECT d.unit FROM defect AS d WHERE d.lot = :lot AND d.lot <> '' AND d.state <> 'withdrawn')
 ORDER BY u.sequence DESC
 LIMIT :limit
"""
_LOTS = """
SELECT DISTINCT lot
  FROM defect
 WHERE lot <> '' AND state <> 'withdrawn' AND lot LIKE :like ESCAPE '!'
 ORDER BY lot
 LIMIT 20
"""
_BY_CHASSIS = f"{_LINE} WHERE u.chassis = :chassis"
_NUMBERS = "SELECT chassis FROM unit ORDER BY sequence DESC"
_CHANGED = """
SELECT chassis, last_number
  FROM unit
 WHERE last_number > :after
   AND (:after > 0 OR state <> 'released' OR alarm <> '' OR released_ms >= :since)
 ORDER BY last_number
 LIMIT :limit
"""
_LAST = "SELECT coalesce(max(number), 0) FROM journal"
_WAITING = """
SELECT d.id, d.unit, u.shop_number, d.model, u.line, d.point, d.zone, d.type, d.severity, d.grade, d.note, d.mark,
       d.state, d.found_ms, d.production_day, d.finder, d.suspected, d.origin_state,
       (SELECT p.sha256 FROM defect_photo AS p WHERE p.defect = d.id ORDER BY p.number LIMIT 1) AS photo
  FROM defect AS d
  JOIN unit AS u ON u.chassis = d.unit
 WHERE d.suspected = :station AND d.origin_state IN ('suspected', 'disputed') AND d.state <> 'withdrawn'
   AND d.origin_state = :state
 ORDER BY d.severity = 'critical' DESC, d.found_ms DESC, d.number DESC
 LIMIT :limit
"""
# In the words of the index defect_unsettled, so that what is settled is not read.
_UNSETTLED = """
SELECT suspected, sum(origin_state = 'suspected') AS waiting,
       sum(origin_state = 'suspected'
           AND production_day < coalesce((SELECT value FROM json_each(:own) WHERE key = suspected), :before))
           AS overdue,
       sum(origin_state = 'disputed') AS disputed
  FROM defect
 WHERE origin_state IN ('suspected', 'disputed') AND state <> 'withdrawn'
 GROUP BY suspected
 ORDER BY suspected
"""
_NOTES = """
SELECT id, station, change, what, types, from_day, noted_by, number
  FROM change_note
 WHERE station = :station
 ORDER BY from_day, number
"""
_MUTES = """
SELECT id, station, type, direction, reason, from_day, until, muted_by, number
  FROM signal_mute
 WHERE ended_day IS NULL AND until >= :day
 ORDER BY until, number
"""
_LAST_LOOK = """
SELECT plant_revision
  FROM journal
 WHERE unit = ? AND kind = 'inspection_begun'
 ORDER BY number DESC
 LIMIT 1
"""
_OPEN = "SELECT id, state, severity FROM defect WHERE unit = ? AND state IN ('open', 'repaired')"
_RELEASES = """
SELECT id, signed_by, against, open_digest, released_ms, story, story_digest, number
  FROM release_record
 WHERE unit = ?
 ORDER BY number
"""
_NUMBERS_HERE = """
SELECT count(*) FROM journal WHERE device = ? AND install_epoch = ? AND admission <> 'sequence_reused'
"""
_CHAIN = "SELECT number, hash FROM journal ORDER BY number DESC LIMIT 1"


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitLine:
    """A unit in a list. open, to_recheck: defects; criticals: not settled; met_by: who met it while no plan holds it;
    in_hand: who is looking now, with commas between, "" nobody; line: as told of it, "" where nobody said.
    """

    chassis: str
    shop_number: str
    sequence: int
    model: str
    line: str
    state: State
    alarm: str
    planned_day: str
    released_ms: int | None
    released_by: str | None
    met_by: str | None
    last_number: int
    open: int
    criticals: int
    to_recheck: int
    in_hand: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WaitingDefect:
    """A defect that waits for a word on its origin.

    photo: SHA-256 of its first, None without; mark: the touched point in the view's millimetres, None where none was;
    origin_state as held; line: as told of the unit.
    """

    id: str
    unit: str
    shop_number: str
    model: str
    line: str
    point: str
    zone: str
    type: str
    severity: str
    grade: str
    note: str
    mark: tuple[int, int] | None
    state: str
    found_ms: int
    production_day: str
    finder: str
    suspected: str
    origin_state: str
    photo: str | None


@dataclass(frozen=True, slots=True)
class Unsettled:
    """How many defects stand against a station that nobody has settled, all of them, however many are listed.

    waiting: for its lead's word; overdue: of these, found before the day asked for; disputed: the lead has answered,
    they wait for the quality manager.
    """

    station: str
    waiting: int
    overdue: int
    disputed: int


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptRelease:
    """A release as it was frozen: story is the JSON text whose SHA-256 is story_digest."""

    id: str
    signed_by: str
    against: str
    open_digest: str
    released_ms: int
    story: str
    story_digest: str
    number: int


class Reads:
    """Answers about the units of one record. Thread-safe; every answer is of one moment."""

    def __init__(self, folder: Path, plant: Plant) -> None:
        """plant: the tables in force now, by which a release is judged."""
        self._path = folder / RECORD
        self._plant = plant
        self._kept = threading.local()
        self._revisions = PlantRevisions(plant, self.tables_of)
        self._views: dict[str, tuple[int, dict[str, Any]]] = {}

    def follow(self) -> Plant | None:
        """Return the tables in force where these have changed since this thread last asked, and answer by them."""
        conn = self.connection()
        (seen,) = conn.execute("PRAGMA data_version").fetchone()
        if seen == getattr(self._kept, "seen", None):
            return None
        told = told_revision(conn)
        self._kept.seen = seen
        if told is None or told == self._plant.revision:
            return None
        self._plant = self._revisions.of(told).plant
        self._views.clear()
        return self._plant

    def connection(self) -> sqlite3.Connection:
        """Return this thread's read-only connection, opened at its first use."""
        if not hasattr(self._kept, "conn"):
            self._kept.conn = open_reader(self._path)
        conn: sqlite3.Connection = self._kept.conn
        return conn

    def close(self) -> None:
        """Close this thread's connection; the next question opens another."""
        if hasattr(self._kept, "conn"):
            self._kept.conn.close()
            del self._kept.conn
            self._kept.seen = None

    def unit_list(self, state: State | None = None, limit: int = 500) -> list[UnitLine]:
        """Return units, those with an alarm first, then those at work by sequence, then the released, latest first.

        All states or one, ``limit`` units at most.
        """
        return self._lines(_LIST, {"state": state, "limit": limit})

    def units_with_alarm(self) -> list[UnitLine]:
        """Return the units that something arrived for after their release, by sequence."""
        return self._lines(_ALARMED, {})

    def unit_line(self, chassis: str) -> UnitLine | None:
        """Return one unit by its full chassis number, None where it is not planned."""
        return next(iter(self._lines(_BY_CHASSIS, {"chassis": cleaned(chassis)})), None)

    def find_units(self, text: str, limit: int = 20) -> list[UnitLine]:
        """Return units whose chassis or shop number ends in the text, unreleased first, latest first.

        An empty text finds nothing.
        """
        wanted = cleaned(text)
        return self._lines(_FOUND, {"text": wanted, "limit": limit}) if wanted else []

    def units_of_lot(self, lot: str, limit: int) -> list[UnitLine]:
        """Return units with a standing defect that names this lot, the latest sequence first; "" finds nothing."""
        return self._lines(_BY_LOT, {"lot": lot, "limit": limit})

    def lots_like(self, text: str) -> list[str]:
        """Return lots that defects name and that hold the text, at most 20, in order."""
        plain = text.replace("!", "!!").replace("%", "!%").replace("_", "!_")
        return [lot for (lot,) in self.connection().execute(_LOTS, {"like": f"%{plain}%"})]

    def nearest_units(self, text: str, limit: int = 5) -> list[UnitLine]:
        """Return the known units that a mistyped number may mean, fewest slips first."""
        known = [chassis for (chassis,) in self.connection().execute(_NUMBERS)]
        near = nearest_known(text, known, limit)
        return [line for one in near if (line := self.unit_line(one.number)) is not None]

    def operations_of(self, chassis: str) -> list[Event]:
        """Return a unit's settled operations, in the order in which they came into effect; empty where unknown."""
        return events_of(self.connection(), chassis, self._revisions.of)

    def unread_entries(self, chassis: str) -> list[UnreadEntry]:
        """Return what came in for a unit and could not be read as an operation, by number."""
        return unread_entries(self.connection(), chassis)

    def unit_story(self, chassis: str) -> UnitRecord | None:
        """Return a unit's record as its operations tell it, None where it is not planned."""
        return fold(self.operations_of(chassis))

    def looked_at_under(self, chassis: str) -> str | None:
        """Return the revision of the tables by which the unit's last look was judged, None before there was one."""
        row = self.connection().execute(_LAST_LOOK, (chassis,)).fetchone()
        return None if row is None else str(row[0])

    def open_defects(self, chassis: str) -> list[tuple[str, str, str]]:
        """Return id, state and severity of the unit's defects that are open or repaired, as `digest_of_open` asks."""
        return [tuple(row) for row in self.connection().execute(_OPEN, (chassis,))]

    def releases_of(self, chassis: str) -> list[KeptRelease]:
        """Return the frozen release records of a unit, first to last."""
        return [KeptRelease(**dict(row)) for row in self.connection().execute(_RELEASES, (chassis,))]

    def phone_units(self, after: int, limit: int, now_ms: int) -> tuple[list[dict[str, Any]], int, bool]:
        """Return the UnitViews changed after a server number, the number to go on from, and whether there are more.

        after 0 leaves out units released more than 14 days ago. A unit that changes while it is pulled comes again.
        """
        conn = self.connection()
        conn.execute("BEGIN")  # one moment for the numbers and the views
        try:
            (newest,) = conn.execute(_LAST).fetchone()
            since = now_ms - RELEASED_FOR_DAYS * DAY_MS
            found = conn.execute(_CHANGED, {"after": after, "since": since, "limit": limit + 1}).fetchall()
            views = [self._view(chassis, number) for chassis, number in found[:limit]]
        finally:
            conn.execute("COMMIT")
        more = len(found) > limit
        through = found[limit - 1][1] if more else max(after, newest)
        return views, through, more

    def defects_waiting(self, station: str, limit: int = 200) -> list[WaitingDefect]:
        """Return the defects that wait for the word of a station's lead: criticals first, then the latest found."""
        return self._unsettled_at(station, "suspected", limit)

    def defects_disputed(self, station: str, limit: int = 200) -> list[WaitingDefect]:
        """Return the defects that a station's lead has disputed, which wait for the quality manager; ordered alike."""
        return self._unsettled_at(station, "disputed", limit)

    def _unsettled_at(self, station: str, state: str, limit: int) -> list[WaitingDefect]:
        rows = self.connection().execute(_WAITING, {"station": station, "state": state, "limit": limit})
        return [WaitingDefect(**{**dict(row), "mark": _place(row["mark"])}) for row in rows]

    def unsettled(self, before: ConfirmBefore) -> dict[str, Unsettled]:
        """Return what waits at each station that anything waits at; what was found before that day is overdue."""
        rows = self.connection().execute(_UNSETTLED, before.texts())
        return {row[0]: Unsettled(*row) for row in rows}

    def change_notes(self, station: str) -> list[dict[str, Any]]:
        """Return what changed at a station, as noted by its lead, in order of the day it counts from."""
        return [dict(row) for row in self.connection().execute(_NOTES, {"station": station})]

    def standing_mutes(self, day: str) -> list[dict[str, Any]]:
        """Return the mutes of signals that stand on a day (ISO), neither over nor ended early; first to end first."""
        return [dict(row) for row in self.connection().execute(_MUTES, {"day": day})]

    def arrived(self, device: str, install_epoch: str) -> int:
        """Return how many sequence numbers are here from an installation: one that it kept back is not among them."""
        (many,) = self.connection().execute(_NUMBERS_HERE, (device, install_epoch)).fetchone()
        return int(many)

    def chain(self) -> tuple[int, str]:
        """Return the journal's size and the hash of its last row (hex), zeros for an empty one."""
        row = self.connection().execute(_CHAIN).fetchone()
        return (0, "00" * 32) if row is None else (row[0], row[1].hex())

    def _lines(self, query: str, values: dict[str, Any]) -> list[UnitLine]:
        rows = self.connection().execute(query, values)
        return [UnitLine(**dict(row)) for row in rows]

    def _view(self, chassis: str, number: int) -> dict[str, Any]:
        kept = self._views.get(chassis)
        if kept is not None and kept[0] == number:
            return kept[1]
        record = self.unit_story(chassis)
        assert record is not None, chassis
        view = unit_view(record, self._plant)
        if len(self._views) >= VIEWS_KEPT:
            self._views.clear()  # plain and rare: a plant has a few hundred units in work
        self._views[chassis] = (number, view)
        return view

    def revisions(self) -> tuple[Revised, ...]:
        """Return every revision of the plant's tables that was put in force, the first one first."""
        return revisions_told(self.connection())

    def tables_of(self, revision: str) -> str | None:
        """Return the plant's tables of a revision as JSON, None where the record does not keep them."""
        return tables_in(self.connection())(revision)


def _place(mark: str | None) -> tuple[int, int] | None:
    """Return a touched point as the projection holds it, "[1600, 900]"."""
    if mark is None:
        return None
    x, y = json.loads(mark)
    return x, y
