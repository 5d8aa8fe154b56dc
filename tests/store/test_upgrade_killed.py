"""The upgrade of a former program's record is killed at its statements and done again: nothing is half done, ever.

A step stands in a transaction of its own, so a record that was killed in it must be the one before the step, byte for
byte of what its tables say, or the one after; done again it is the one after. Steps are tried one by one, each on the
record as the steps before it leave it, which says the same of the whole and takes minutes instead of hours.
"""

import hashlib
import json
import os
import random
import shutil
import signal
import sqlite3
from contextlib import closing, suppress

import pytest

from qc.domain.tables.plant_tables import plant_from_tables
from qc.store.checking.verify import verify
from qc.store.intake.rebuild import rebuild
from qc.store.keeping.lost_keys import NothingLost, replace_lost_keys
from qc.store.record.connection import RECORD, open_writer
from qc.store.tables import migrations
from qc.store.tables.migrations import MIGRATIONS, migrate, version_of
from tests.store.test_former_record import made

pytest.importorskip("fcntl", reason="a process is forked to be killed")


class Killed:
    """Counts a process's statements, and ends it without a word as number ``at`` begins."""

    def __init__(self, at=0):
        self.at, self.count = at, 0

    def connect(self, *words, real=sqlite3.connect, **named):
        conn = real(*words, **named)
        conn.set_trace_callback(self._begun)
        return conn

    def _begun(self, _):
        self.count += 1
        if self.count == self.at:
            os.kill(os.getpid(), signal.SIGKILL)


def in_child(work, at=0):
    """Run ``work`` in a process of its own, killed at its statement ``at``; return the status it ended with."""
    child = os.fork()
    if child:
        return os.waitpid(child, 0)[1]
    try:
        sqlite3.connect = Killed(at).connect
        work()
        os._exit(0)
    finally:
        os._exit(1)


def counted(work):
    """Return how many statements ``work`` takes."""
    count = Killed()
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(sqlite3, "connect", count.connect)
        work()
    return count.count


def told(folder):
    """Return the version of a record and the digest of everything that it holds, its tables' own text too."""
    whole = hashlib.sha256()
    with closing(sqlite3.connect(folder / RECORD)) as conn:
        assert conn.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        schema = conn.execute("SELECT name, type, sql FROM sqlite_master ORDER BY name, type").fetchall()
        whole.update(repr(schema).encode())
        for name, kind, _ in schema:
            if kind == "table":
                rows = conn.execute(f"SELECT * FROM {name}").fetchall()
                whole.update(repr(sorted(rows, key=repr)).encode())
        return version_of(conn), whole.hexdigest()


def up_to(folder, number):
    """Take the steps up to a number, as the program does that knows no further one."""
    with pytest.MonkeyPatch.context() as earlier, closing(open_writer(folder / RECORD)) as conn:
        earlier.setattr(migrations, "MIGRATIONS", MIGRATIONS[:number])
        migrate(conn, folder)


def fill_derived(conn, base, wanted, tables):
    """Put what the former program derived into its record, as it was then."""
    rebuilt = shutil.copytree(base / "first", base / "rebuilt")
    rebuild(rebuilt, plant_from_tables(json.loads(tables)))
    conn.execute("ATTACH ? AS now", [str(rebuilt / RECORD)])
    for name in wanted:
        columns = ", ".join(row[1] for row in conn.execute(f"PRAGMA main.table_info({name})"))
        if conn.execute(f"SELECT NOT EXISTS (SELECT 1 FROM main.{name})").fetchone()[0]:
            conn.execute(f"INSERT INTO main.{name} ({columns}) SELECT {columns} FROM now.{name}")
    conn.execute("DETACH now")


@pytest.fixture(scope="module")
def stages(tmp_path_factory):
    """The former record as each step leaves it, by version: its folder, and what it then tells."""
    base = tmp_path_factory.mktemp("stages")
    wanted, tables = made(base / "first")
    first = told(base / "first")[0]
    with closing(sqlite3.connect(base / "first" / RECORD, isolation_level=None)) as conn:
        fill_derived(conn, base, wanted, tables)
    stages = {first: base / "first"}
    for number in range(first + 1, MIGRATIONS[-1].number + 1):
        stages[number] = shutil.copytree(stages[number - 1], base / str(number))
        up_to(stages[number], number)
    return {number: (folder, told(folder)) for number, folder in stages.items()}


@pytest.fixture(scope="module")
def places(stages, tmp_path_factory):
    """Every statement of every step, as (step, statement)."""
    found = []
    for number in list(stages)[1:]:
        folder = shutil.copytree(stages[number - 1][0], tmp_path_factory.mktemp("counted") / "record")
        found += [(number, one + 1) for one in range(counted(lambda f=folder, n=number: up_to(f, n)))]
    return found


def killed_and_done_again(stages, number, statement, folder):
    """Kill step ``number`` at a statement and do it again; return "" or what is then wrong."""
    shutil.rmtree(folder, ignore_errors=True)
    shutil.copytree(stages[number - 1][0], folder)
    status = in_child(lambda: up_to(folder, number), statement)
    if not (os.WIFSIGNALED(status) and os.WTERMSIG(status) == signal.SIGKILL):
        return f"step {number} was not killed at statement {statement}"
    if told(folder) not in (stages[number - 1][1], stages[number][1]):
        return f"step {number} killed at statement {statement} leaves neither the record before it nor the one after"
    up_to(folder, number)
    if told(folder) != stages[number][1]:
        return f"step {number} killed at statement {statement} and done again is another record"
    with closing(sqlite3.connect(folder / f"record-before-{number}.sqlite")) as conn:
        return "" if version_of(conn) == number - 1 else f"the copy before step {number} is of another version"


def test_killed_at_a_statement_and_done_again_it_is_the_same_record(stages, places, tmp_path):
    """A few statements by chance; the same of all of them is `test_killed_at_every_statement`."""
    chosen = random.Random(20261130).sample(places, 8)
    wrong = [killed_and_done_again(stages, *place, tmp_path / "record") for place in chosen]

    assert len(places) > 1_000
    assert list(filter(None, wrong)) == []


def test_a_step_outside_a_transaction_would_be_seen(stages, places, tmp_path, monkeypatch):
    """Planted: a step that is committed statement by statement."""

    def loose(conn, step):
        for statement in (*migrations.statements(step.script), migrations._MADE):
            conn.execute(statement)
        conn.execute(migrations._NOTE, (step.number, step.what))

    monkeypatch.setattr(migrations, "_take", loose)
    number = MIGRATIONS[-1].number
    wrong = [killed_and_done_again_or_fails(stages, number, one, tmp_path / "record") for one in (30, 40, 50)]

    assert any(wrong)


def killed_and_done_again_or_fails(*what):
    try:
        return killed_and_done_again(*what)
    except sqlite3.Error as error:
        return str(error)


def opened(folder, tables):
    """Open a record that has taken every step and make the keys that it lacks, as `qc new-keys` does."""
    with suppress(NothingLost):
        replace_lost_keys(folder, plant_from_tables(tables), tables)


def killed_as_it_is_opened(stages, tables, statement, folder):
    """Kill the first opening after the steps at a statement, open it again and return what `qc verify` then says."""
    shutil.rmtree(folder, ignore_errors=True)
    shutil.copytree(stages[MIGRATIONS[-1].number][0], folder)
    status = in_child(lambda: opened(folder, tables), statement)
    assert os.WIFSIGNALED(status), f"not killed at statement {statement}"
    opened(folder, tables)
    return verify(folder)


@pytest.fixture(scope="module")
def openings(stages, tmp_path_factory):
    """The tables of the former record's plant, and how many statements its first opening takes."""
    folder = shutil.copytree(stages[MIGRATIONS[-1].number][0], tmp_path_factory.mktemp("opening") / "record")
    with closing(sqlite3.connect(folder / RECORD)) as conn:
        tables = json.loads(conn.execute("SELECT tables FROM plant_revision").fetchone()[0])
    return tables, counted(lambda: opened(folder, tables))


def test_killed_as_it_is_first_opened_it_opens_again_and_is_whole(stages, openings, tmp_path):
    tables, count = openings
    for statement in random.Random(20261130).sample(range(1, count + 1), 2):
        report = killed_as_it_is_opened(stages, tables, statement, tmp_path / "record")
        assert report.is_whole, (statement, report)


@pytest.mark.long
def test_killed_at_every_statement_of_its_first_opening(stages, openings, tmp_path):
    tables, count = openings
    for statement in range(1, count + 1):
        report = killed_as_it_is_opened(stages, tables, statement, tmp_path / "record")
        assert report.is_whole, (statement, report)


@pytest.mark.long
def test_killed_at_every_statement(stages, places, tmp_path):
    wrong = [killed_and_done_again(stages, *place, tmp_path / "record") for place in places]

    assert list(filter(None, wrong)) == []
