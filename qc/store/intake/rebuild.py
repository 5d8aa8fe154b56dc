"""Deriving the projections anew from the journal: nothing but its rows, in their order, is asked."""

import sqlite3
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from qc.domain.plant.plant import Plant
from qc.domain.tables.plant_rules import PlantRevisions, PlantRules
from qc.store.intake.settling import Settler
from qc.store.record.arrivals import REVISION, ROW, arrival_of
from qc.store.record.connection import RECORD, WriterLock, open_writer
from qc.store.record.entries import Entries
from qc.store.record.tables_kept import tables_in
from qc.store.tables.adoption import is_told
from qc.store.tables.derived_rows import mark_dirty
from qc.store.tables.migrations import PROJECTION_TABLES, ROSTER_TABLES, migrate

_ROWS = f"{ROW} ORDER BY number"
_STREAMS = """
INSERT INTO stream (device, install_epoch, next_seq)
SELECT device, install_epoch, max(seq) + 1
  FROM journal
 WHERE admission <> 'sequence_reused'
 GROUP BY device, install_epoch
"""
_DAYS = """
SELECT production_day FROM inspection WHERE production_day IS NOT NULL
 UNION
SELECT production_day FROM defect
 UNION
SELECT production_day FROM station_pass
 UNION
SELECT production_day FROM test_result
"""
_NOBODYS_SIGN_INS = "DELETE FROM sign_in WHERE person NOT IN (SELECT code FROM person)"


@dataclass(frozen=True, slots=True)
class Rebuilt:
    """What a rebuild went through: operations read, and how many of them are in effect."""

    operations: int
    in_effect: int


def rebuild(folder: Path, plant: Plant) -> Rebuilt:
    """Empty a folder's projections and derive them again, in one transaction; summaries follow at their next reading.

    Raises RecordInUse while a server has the record. The journal, the accounts and the frozen releases stay.
    """
    lock = WriterLock(folder)
    try:
        with closing(open_writer(folder / RECORD)) as conn:
            migrate(conn, folder)
            conn.execute("BEGIN IMMEDIATE")
            rebuilt = derive(conn, PlantRevisions(plant, tables_in(conn)).of)
            conn.execute("COMMIT")
            return rebuilt
    finally:
        lock.release()


def derive(conn: sqlite3.Connection, plant_rules_of: Callable[[str], PlantRules]) -> Rebuilt:
    """Derive the projections from the journal inside the caller's transaction; every day is marked dirty."""
    days = {day for (day,) in conn.execute(_DAYS)}
    conn.execute("PRAGMA defer_foreign_keys = ON")  # people are emptied and filled again under their sign-ins
    for table in PROJECTION_TABLES if is_told(conn) else [one for one in PROJECTION_TABLES if one not in ROSTER_TABLES]:
        conn.execute(f"DELETE FROM {table}")  # names from our own list, never from outside
    settler = Settler(Entries(conn), plant_rules_of)
    operations = 0
    for row in conn.execute(_ROWS):
        settler.settle(arrival_of(row, plant_rules_of(row[REVISION])))
        operations += 1
    settler.write()
    conn.execute(_NOBODYS_SIGN_INS)
    conn.execute(_STREAMS)
    mark_dirty(conn, days | {day for (day,) in conn.execute(_DAYS)})
    return Rebuilt(operations, settler.places)
