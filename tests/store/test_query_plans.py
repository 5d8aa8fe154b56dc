"""Writing stays as quick in a full record as in an empty one: no statement of the writer reads a whole table.

The plans are SQLite's own account (EXPLAIN QUERY PLAN, https://sqlite.org/eqp.html): SEARCH goes through an index or
the row's number, SCAN reads every row.
"""

import sqlite3

import pytest

from qc.assets import folder
from qc.demo.cast import people
from qc.demo.play import Player
from qc.demo.simulate import Simulation
from qc.domain.tables.plant_tables import tables_of
from qc.store.intake import journal as journal_module
from qc.store.intake.journal import Journal
from qc.store.record import entries, events, verdicts
from qc.store.record.connection import RECORD
from qc.store.tables import adoption, derived_rows
from qc.store.tables.migrations import MIGRATIONS, PROJECTION_TABLES, statements
from tests.truth.drawn import PLANT, STORY

VERBS = ("SELECT", "INSERT", "UPDATE", "DELETE", "WITH")
# One row, from the end or whichever comes first; and once at the opening, the few operations that wait for another, and
# what a step of the migrations goes through.
READ_AT_OPENING = {entries._HEAD, verdicts._WAITED_FOR, adoption._LAST, adoption._NOBODY, journal_module._BEGUN} | {
    statement for step in MIGRATIONS for statement in statements(step.script)
}
# a row a phone, a note, a mute, a day to count again, a revision of the plant's tables
SMALL = {"stream", "change_note", "signal_mute", "dirty_day", "plant_change"}
GROWING = {"journal", "release_record", *PROJECTION_TABLES} - SMALL


def scans(conn, statement, values):
    """Return the growing tables that a statement reads whole."""
    # "SCAN t" or "SCAN t AS x"; an alias of one letter stands for its table, so every short name counts as growing.
    steps = [row[3].split() for row in conn.execute(f"EXPLAIN QUERY PLAN {statement}", values)]
    return [step[1] for step in steps if step[0] == "SCAN" and (step[1] in GROWING or len(step[1]) <= 2)]


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    """A record after two weeks of the invented plant's life, and each statement with which it was written."""
    statements = {}

    class Noting(sqlite3.Connection):
        def execute(self, statement, values=()):
            statements.setdefault(statement, values)
            return super().execute(statement, values)

        def executemany(self, statement, rows):
            rows = list(rows)
            statements.update(dict.fromkeys([statement], rows[0]) if rows else {})
            return super().executemany(statement, rows)

    place, connect = tmp_path_factory.mktemp("plans") / "record", sqlite3.connect
    everybody = {person.code: person for person in people(PLANT)}
    tables = tables_of(folder("demo_data") / "plant")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sqlite3, "connect", lambda *given, **named: connect(*given, factory=Noting, **named))
        journal = Journal(place, PLANT, tables, lambda: player.now_ms, everybody.get)
        player = Player(Simulation(STORY, PLANT, 1, 2), journal)
        player.play()
        journal.close()
    conn = connect(place / RECORD)
    yield conn, {text: values for text, values in statements.items() if text.split()[0] in VERBS}
    conn.close()


def test_no_statement_of_the_writer_reads_a_whole_table(written):
    conn, statements = written
    assert {derived_rows._DEFECT, derived_rows._LOOK, events._EVENTS, entries._APPEND} <= set(statements)
    read_whole = {
        " ".join(text.split()): found
        for text, values in statements.items()
        if text not in READ_AT_OPENING and (found := scans(conn, text, values))
    }
    assert read_whole == {}


def test_a_statement_that_reads_a_whole_table_is_found(written):
    conn, _ = written
    assert scans(conn, "SELECT 1 FROM defect AS d WHERE d.inspection = ?", ("x",)) == ["d"]
    assert scans(conn, "UPDATE defect SET note = '' WHERE inspection = ?", ("x",)) == ["defect"]
    assert scans(conn, "SELECT 1 FROM defect WHERE unit = ? AND inspection = ?", ("x", "y")) == []
