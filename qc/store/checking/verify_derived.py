"""The derived tables and the frozen releases held against what the journal tells when it is read anew."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import orjson

from qc.domain.plant.plant import Plant
from qc.domain.tables.plant_rules import PlantRevisions, UnknownRevision
from qc.domain.tables.plant_tables import plant_from_tables
from qc.domain.unit.story import FORMAT
from qc.store.checking.checks import Check, checked
from qc.store.checking.verify_people import secret_faults, sign_in_faults
from qc.store.intake.rebuild import derive
from qc.store.record.tables_kept import revision_in_force, tables_in
from qc.store.tables.adoption import is_told
from qc.store.tables.migrations import PROJECTION_TABLES, ROSTER_TABLES
from qc.store.tables.summaries import SummaryKeeper
from qc.store.tables.summary_tables import SEEN_TABLES, WORK_TABLES

COUNT_TABLES = (
    *(table.name for table in SEEN_TABLES),
    *(name for table in WORK_TABLES for name in (table.name, table.part)),
    "presented_unit",
)

_JUDGED = "SELECT id, unit, story, signed_by, against, open_digest, released_ms, number FROM {}.release_record"
_UNFROZEN = "DROP TRIGGER IF EXISTS release_record_no_delete"


def against_rebuild(kept: sqlite3.Connection, room: Path) -> list[Check]:
    """Derive a copy of the record anew in the folder ``room`` and compare each table, and each release, with it."""
    path = room / "rebuilt.sqlite"
    with closing(sqlite3.connect(path, isolation_level=None)) as rebuilt:
        rebuilt.execute("PRAGMA synchronous = OFF")
        kept.backup(rebuilt)
        failed, counted = _rebuild(rebuilt, kept)
    if failed:
        return [Check("tables against the journal", 1, 1, (failed,))]
    kept.execute("ATTACH ? AS rebuilt", (str(path),))
    try:
        told = is_told(kept)
        derived = [name for name in PROJECTION_TABLES if told or name not in ROSTER_TABLES]
        compared = [checked(f"table {name}", _table_faults(kept, name)) for name in derived]
        if told:
            compared += [checked("secrets", secret_faults(kept)), checked("sign-ins", sign_in_faults(kept))]
        compared += [checked(f"counts {name}", _table_faults(kept, name)) for name in counted]
        return [*compared, checked("releases judged again", _story_faults(kept))]
    finally:
        kept.execute("DETACH rebuilt")


def _rebuild(rebuilt: sqlite3.Connection, kept: sqlite3.Connection) -> tuple[str, tuple[str, ...]]:
    """Derive the copy anew, releases and counts included; return why that cannot be done, "" where it was.

    Beside it the tables of counts that can be compared: none where the plant's build has changed, as they are all
    counted anew before anybody reads them. Days that wait to be counted are counted in the kept record first.
    """
    try:
        plant = _latest_plant(rebuilt)
        plant_rules_of = PlantRevisions(plant, tables_in(rebuilt)).of
        rebuilt.execute("BEGIN")
        rebuilt.execute(_UNFROZEN)
        rebuilt.execute("DELETE FROM release_record")
        derive(rebuilt, plant_rules_of)
        rebuilt.execute("COMMIT")
        keeper = SummaryKeeper(_latest_plant(rebuilt))  # by the tables that the journal puts in force
        if keeper.is_behind(kept):
            return "", ()
        for conn, count in ((kept, keeper.refresh), (rebuilt, keeper.rebuild)):
            conn.execute("BEGIN")
            count(conn)
            conn.execute("COMMIT")
    except sqlite3.DatabaseError:
        raise
    except Exception as error:  # whatever a changed row makes the rules trip over is a finding, told as one
        return f"the tables cannot be derived from the journal: {type(error).__name__}: {error}", ()
    return "", COUNT_TABLES


def _latest_plant(conn: sqlite3.Connection) -> Plant:
    revision = revision_in_force(conn)
    assert revision is not None, "a record is opened with a plant's tables"
    tables = tables_in(conn)(revision)
    if tables is None:
        raise UnknownRevision(f"the record names plant revision {revision}, whose tables it does not hold")
    return plant_from_tables(orjson.loads(tables))


def _table_faults(kept: sqlite3.Connection, table: str) -> Iterator[str | None]:
    (rows,) = kept.execute(f"SELECT count(*) FROM main.{table}").fetchone()
    for told, one, other in (
        ("is not what the journal tells", "main", "rebuilt"),
        ("is told by the journal and missing", "rebuilt", "main"),
    ):
        for row in kept.execute(f"SELECT * FROM {one}.{table} EXCEPT SELECT * FROM {other}.{table}"):
            yield f"{table}: a row that {told}: {_shortened(row)}"
    yield from (None for _ in range(rows))


def _shortened(row: tuple[Any, ...]) -> str:
    return ", ".join(str(value)[:40] for value in row[:4])


def _story_faults(kept: sqlite3.Connection) -> Iterator[str | None]:
    made = {id_: row for id_, *row in kept.execute(_JUDGED.format("rebuilt"))}
    found = {id_: row for id_, *row in kept.execute(_JUDGED.format("main"))}
    for id_, (unit, story, *columns) in found.items():
        if id_ not in made:
            yield f"the release of {unit} does not stand when its operations are judged again"
            continue
        _, again, *wanted = made[id_]
        same = columns == wanted and (story == again or orjson.loads(story).get("format") != FORMAT)
        yield None if same else f"the release record of {unit} does not tell what the journal tells"
    for id_ in made.keys() - found.keys():
        yield f"release {id_} is in the journal and its frozen record is missing"
