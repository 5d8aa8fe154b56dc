"""The tables are made in numbered steps; a record of a later program is refused, an older one copied first."""

import sqlite3
from contextlib import closing

import pytest

from qc.domain.unit import alarms
from qc.store.reading.reads import Reads
from qc.store.record.connection import open_writer
from qc.store.tables import migrations
from qc.store.tables.migrations import MIGRATIONS, Migration, NewerRecord, migrate, version_of
from qc.store.tables.summary_tables import SEEN_TABLES, WORK_TABLES
from tests.store.record_kit import PLANT, Phone, open_journal


def test_the_steps_are_numbered_without_gaps():
    assert [step.number for step in MIGRATIONS] == list(range(1, len(MIGRATIONS) + 1))


def test_a_new_record_has_every_step_and_no_copy(tmp_path):
    open_journal(tmp_path).close()

    with closing(open_writer(tmp_path / "record.sqlite")) as conn:
        assert version_of(conn) == MIGRATIONS[-1].number
    assert list(tmp_path.glob("*before*")) == []


def test_a_record_of_a_later_program_is_refused_in_words(tmp_path, monkeypatch):
    open_journal(tmp_path).close()
    monkeypatch.setattr(migrations, "MIGRATIONS", MIGRATIONS[:-1])

    with pytest.raises(NewerRecord, match="nothing was changed"):
        open_journal(tmp_path)


def test_before_a_step_the_record_is_copied(tmp_path, monkeypatch):
    with open_journal(tmp_path) as journal:
        Phone(journal).plan()
    step = Migration(len(MIGRATIONS) + 1, "a table more", "CREATE TABLE more (a INTEGER) STRICT;")
    monkeypatch.setattr(migrations, "MIGRATIONS", (*MIGRATIONS, step))

    open_journal(tmp_path).close()

    copy = tmp_path / f"record-before-{step.number}.sqlite"
    with closing(sqlite3.connect(copy)) as conn:
        assert conn.execute("SELECT count(*) FROM journal").fetchone() == (1,)
        assert version_of(conn) == MIGRATIONS[-1].number


def test_a_step_that_fails_leaves_the_record_as_it_was(tmp_path, monkeypatch):
    open_journal(tmp_path).close()
    step = Migration(len(MIGRATIONS) + 1, "broken", "CREATE TABLE more (a INTEGER) STRICT;\nCREATE TABLE more (b);")
    monkeypatch.setattr(migrations, "MIGRATIONS", (*MIGRATIONS, step))

    with closing(open_writer(tmp_path / "record.sqlite")) as conn:
        with pytest.raises(sqlite3.OperationalError):
            migrate(conn, tmp_path)

        assert version_of(conn) == MIGRATIONS[-1].number
        assert conn.execute("SELECT count(*) FROM sqlite_master WHERE name = 'more'").fetchone() == (0,)


def test_a_table_that_takes_any_type_is_refused(tmp_path, monkeypatch):
    """STRICT tables hold what their columns say: SQLite's documentation, "STRICT Tables"."""
    open_journal(tmp_path).close()
    step = Migration(len(MIGRATIONS) + 1, "loose", "CREATE TABLE loose (a INTEGER);")
    monkeypatch.setattr(migrations, "MIGRATIONS", (*MIGRATIONS, step))

    with pytest.raises(migrations.LooseTable, match="loose"):
        open_journal(tmp_path)
    with closing(open_writer(tmp_path / "record.sqlite")) as conn:
        assert version_of(conn) == MIGRATIONS[-1].number


def test_a_script_is_taken_statement_by_statement_with_triggers_whole():
    script = "CREATE TABLE a (b);\nCREATE TRIGGER t BEFORE DELETE ON a\nBEGIN SELECT 1; SELECT 2; END;\n"

    assert [one.split()[1] for one in migrations.statements(script)] == ["TABLE", "TRIGGER"]
    with pytest.raises(ValueError, match="no end: CREATE TABLE c"):
        list(migrations.statements(script + "CREATE TABLE c (d)"))


def test_alarms_of_an_earlier_version_say_what_is_so(tmp_path, monkeypatch):
    """Their words stand in the tables: a record that went on must be equal to a rebuild of it."""
    step = next(one for one in MIGRATIONS if one.what.startswith("alarms"))
    with open_journal(tmp_path) as journal:
        phone = Phone(journal)
        old = (
            "A minor defect (EXT-01, by I1) arrived after this unit was released. The release is stale: the unit is "
            "on hold until somebody has looked at it again and it is released anew.\n"
            "A critical defect (GAS-03 in front.gas, by DX1) was found after dispatch. The unit is on hold: "
            "whoever has it must be told; look at it before it is used."
        )
        unit = phone.plan()
        journal.write(lambda conn: conn.execute("UPDATE unit SET alarm = ?", (old,)))
        for statement in migrations.statements(step.script):
            journal.write(lambda conn, text=statement: conn.execute(text))
        first, second = Reads(tmp_path, PLANT).unit_line(unit).alarm.splitlines()

    assert first == f"A minor defect (EXT-01, by I1) {alarms._STALE}"
    assert second == f"A critical defect (GAS-03 in front.gas, by DX1) {alarms._FIELD}"


@pytest.mark.parametrize("table", [*SEEN_TABLES, *WORK_TABLES], ids=lambda table: table.name)
def test_a_table_of_sums_stands_as_it_is_described(tmp_path, table):
    open_journal(tmp_path).close()

    with closing(open_writer(tmp_path / "record.sqlite")) as connection:
        shapes = {
            name: [row[1] for row in connection.execute(f"PRAGMA table_info({name})")]
            for name in {table.name, table.part or table.name}
        }

    own = [*table.keys, "model", "line", "shift", *table.sums]
    assert shapes.pop(table.name) == ["span", "detail", "start", *own]
    assert [*shapes.values()] == ([["seen_day", "start", *own]] if table.part else [])
