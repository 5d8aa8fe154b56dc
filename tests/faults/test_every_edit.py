"""Every edit of every row that a tool can make, and bytes flipped at random: found by verify, or named as not covered.

The record is a small one of which every table has rows. For each table a row is changed in each column, taken out, and
put in; the triggers that stop our own program are taken off for it and put back, as somebody with the file would.
"""

import contextlib
import random
import shutil
import sqlite3
from contextlib import closing
from datetime import UTC, datetime

import pytest

from qc.assets import folder as asset_folder
from qc.domain.tables.plant_tables import tables_of as plant_tables
from qc.store.checking.verify import CannotVerify, verify
from qc.store.checking.verify_limits import NOT_COVERED, TAKEN_OUT
from qc.store.drops import Dropped, keep_drop
from qc.store.intake.revising import put_in_force
from qc.store.people.languages import keep_language
from qc.store.people.machines import WrongToken
from qc.store.people.mail import Send, add_send, keep_wish
from qc.store.record.own_word import By
from qc.store.tables.migrations import MIGRATIONS
from tests.web.pages.lived_in import DAY_MS, LivedIn, code
from tests.web.plant_server import CAST, PlantServer

NAMED = {(one.table, column) for one in NOT_COVERED for column in one.columns or ("",)}
FLIPS, FLIPS_LONG = 200, 3000


@pytest.fixture(scope="module")
def lived(tmp_path_factory):
    """A folder three weeks old: releases, repairs, notes, mutes, a refused and a parked operation, counts, a photo."""
    from qc.store.people import pins

    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(pins, "_PIN", pins.PasswordHasher(time_cost=1, memory_cost=64, parallelism=1))
        patched.setattr(pins, "_PASSPHRASE", pins.PasswordHasher(time_cost=1, memory_cost=64, parallelism=1))
        # Nothing but the summaries of a run of operations is written in its absence: the same bytes at each run
        server = PlantServer(tmp_path_factory.mktemp("lived") / "plant")
        lived = LivedIn(server).live()
        go_on(server, lived)
        server.house.close()
    return in_one_file(server.house.folder, tmp_path_factory.mktemp("kept"))


def in_one_file(served, folder):
    """Copy a folder that its readers still have open, so that its record is one file that can be written over."""
    for name in ("keys", "photos"):
        shutil.copytree(served / name, folder / name)
    with (
        closing(sqlite3.connect(served / "record.sqlite")) as conn,
        closing(sqlite3.connect(folder / "record.sqlite")) as copy,
    ):
        conn.backup(copy)
    assert [path.name for path in folder.glob("record*")] == ["record.sqlite"]
    return folder


def go_on(server, lived):
    tables = plant_tables(asset_folder("demo_data") / "plant")
    renamed = {**tables, "plant.toml": tables["plant.toml"].replace('maker = "', 'maker = "New ')}
    house, day = server.house, datetime.fromtimestamp(server.now / 1000, UTC).date().isoformat()
    put_in_force(
        house.journal, house.folder, renamed, house.plant.revision, "another name", day, By("AD1", "s", "root")
    )
    phone, leak, unit = lived.phone, lived.ids["leak"], lived.ids["critical"]
    assert server.phone().get("pull?app=1&waiting=2&behind=3").status_code == 200  # what it says of itself is kept
    phone.must("station_passed", code("inspector"), unit, station="S05")
    phone.must(
        "defect_corrected",
        code("inspector"),
        unit,
        defect=lived.ids["leak"],
        changes={"note": "hisses"},
        reason="heard it",
    )
    phone.must("repair_done", code("repairer"), unit, defects=[leak], method="rework", minutes=12)
    phone.must("recheck_accepted", code("inspector"), unit, defect=leak)
    phone.must(
        "change_noted",
        code("station_lead"),
        None,
        station="S05",
        change="method",
        what="new jig",
        from_day="2026-03-04",
    )
    phone.must(
        "signal_muted", code("quality_manager"), None, station="S05", type="PAN-05", direction="up",
        reason="known, the jig", until="2026-04-06",
    )  # fmt: skip
    unseen = {"open_digest": "0" * 64, "against": "release rule 3"}
    assert phone.do("unit_released", code("quality_manager"), unit, **unseen)[1].verdict == "refused"
    late = "01900000-0000-7000-8000-000000000000"
    assert phone.do("recheck_accepted", code("inspector"), unit, defect=late)[1].verdict == "parked"
    ivo = server.phone("inspector")
    aside = phone.make("station_passed", code("inspector"), unit, station="S06")
    assert phone.send(proofs=[None])[0].verdict == "quarantined"
    phone.must("quarantine_taken", code("quality_manager"), None, operation=aside["id"], reason="I saw it there")
    assert ivo.push(ivo.operation("station_passed", unit, {"station": "S07"}))[0]["verdict"] == "applied"
    asked = {"person": CAST["inspector"].code, "pin": "111222", "device": ivo.signed["device"], "install_epoch": "e"}
    asked["device_secret"] = server.secrets[ivo.signed["device"]]
    asked["public_key"] = ivo.author.public
    assert server.client().post("/api/v1/sign-in", json=asked).status_code == 401
    ivo.send([], chain={"size": 3, "head": "a" * 64}, server_epoch=server.house.server_epoch)
    server.now += DAY_MS
    assert server.page("quality_manager").get("/review").status_code == 200  # counts the days
    server.house.enrolment.offer()
    dropped = Dropped("plan.csv", 7, 1_770_000_000_000_000_000, "0" * 64)
    server.house.journal.write(lambda conn: keep_drop(conn, dropped, "taken", "Taken.", server.now))
    night = server.house.machines.make("night-export", ("plan",), CAST["planner"].code)
    server.house.machines.at_work(night, "plan", "192.0.2.7")
    with pytest.raises(WrongToken):
        server.house.machines.at_work("night-export.x", "plan", "192.0.2.7")
    server.house.journal.write(lambda conn: keep_language(conn, code("station_lead"), "de"))
    server.house.journal.write(lambda conn: keep_wish(conn, code("station_lead"), "leo@works.example", ("daily",), 1))
    missed = Send(
        person=code("station_lead"), kind="daily", day="2026-03-05", due_ms=2, state="missed", tries=1, at_ms=3,
        words="away",
    )  # fmt: skip
    server.house.journal.write(lambda conn: add_send(conn, missed))
    server.house.journal.write(lambda conn: conn.execute("INSERT INTO dirty_day VALUES ('2026-06-01')"))


def tables_of(conn):
    return [
        name
        for (name,) in conn.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name")
        if not name.startswith("sqlite_")
    ]


def all_tables():
    with closing(sqlite3.connect(":memory:")) as conn:
        for step in MIGRATIONS:
            conn.executescript(step.script)
        return [*tables_of(conn), "migration"]


def other_values(conn, table, column, value):
    """Yield values that a tool might put in a column instead: of the same type, as little different as can be."""
    yield from (
        other
        for (other,) in conn.execute(
            f'SELECT DISTINCT "{column}" FROM {table} WHERE "{column}" IS NOT ? LIMIT 1', [value]
        )
    )
    if isinstance(value, int):
        yield from (value + 1, value - 1, 1 - value)
    elif isinstance(value, float):
        yield value + 0.001
    elif isinstance(value, bytes):
        yield bytes([value[0] ^ 1]) + value[1:]
    elif isinstance(value, str):
        yield from (value[:-1] + chr(ord(value[-1]) ^ 1) if value else "x", value + "1")
    yield from ("x", 1, None)


def edits_of(conn, table):
    """Yield (what, statement, values) for each edit of a table: a column changed, a row taken out, a row put in."""
    columns = [(row[1], row[5]) for row in conn.execute(f"PRAGMA table_info({table})")]
    row = conn.execute(f"SELECT * FROM {table} LIMIT 1 OFFSET (SELECT count(*) / 2 FROM {table})").fetchone()
    assert row is not None, f"the record has no row of {table}"
    keyed = " AND ".join(f'"{name}" IS ?' for name, _ in columns)
    for (name, _), value in zip(columns, row, strict=True):
        tries = [
            (f'UPDATE {table} SET "{name}" = ? WHERE {keyed}', [other, *row])
            for other in other_values(conn, table, name, value)
            if other != value
        ]
        yield name, tries
    yield TAKEN_OUT, [(f"DELETE FROM {table} WHERE {keyed}", list(row))]
    held = ", ".join("?" * len(row))
    key = next(place for place, (_, primary) in enumerate(columns) if primary)
    yield (
        "",
        [
            (f"INSERT INTO {table} VALUES ({held})", [*row[:key], other, *row[key + 1 :]])
            for other in other_values(conn, table, columns[key][0], row[key])
        ]
        + [
            (f"INSERT INTO {table} VALUES ({held})", changed)
            for changed in ([value + 1000 if isinstance(value, int) else f"{value}1" for value in row],)
        ],
    )


def told(folder):
    """Return what verify says, faults and notes, as who reads its answer would compare it with yesterday's."""
    try:
        report = verify(folder)
    except CannotVerify as cannot:
        return str(cannot)
    return report.exit_code, report.notes


def make(path, tries):
    """Make the first of some edits that the tables' own checks let through; return it, None where none is."""
    with closing(sqlite3.connect(path, isolation_level=None)) as conn:
        conn.execute("PRAGMA synchronous = OFF")
        conn.execute("BEGIN")  # one for all of it: a transaction for each trigger takes as long as the verification
        triggers = conn.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
        for name, _ in triggers:
            conn.execute(f"DROP TRIGGER {name}")
        made = None
        for statement, values in tries:
            try:
                if conn.execute(statement, values).rowcount:
                    made = f"{statement} {values}"
                    break
            except sqlite3.IntegrityError:
                continue
        for _, sql in triggers:
            conn.execute(sql)
        conn.execute("COMMIT")
    return made


@pytest.mark.parametrize("table", all_tables())
def test_each_edit_of_a_row_is_found_or_named(lived, tmp_path, table):
    folder = tmp_path / "plant"
    shutil.copytree(lived, folder)
    record, before = folder / "record.sqlite", (lived / "record.sqlite").read_bytes()
    record.write_bytes(before)
    whole = told(folder)
    assert whole[0] == 0, verify(folder)
    with closing(sqlite3.connect(lived / "record.sqlite")) as conn:
        edits = list(edits_of(conn, table))
    missed = {}
    for column, tries in edits:
        record.write_bytes(before)
        made = make(record, tries)
        if made is None:
            continue  # the table's own checks stop every such edit
        if told(folder) == whole:
            missed[(table, column)] = made
    named = {place for place in missed if place in NAMED or (table, "") in NAMED}
    needless = {(of, column) for of, column in NAMED if of == table and not (column == "" and missed)} - missed.keys()

    assert {place: made for place, made in missed.items() if place not in named} == {}
    assert needless == set(), "verify finds these now: take their lines out of NOT_COVERED"


def flipped(lived, folder, chance, many):
    """Flip one byte at a time, anywhere in the file, and yield (place, report)."""
    record, before = folder / "record.sqlite", (lived / "record.sqlite").read_bytes()
    for _ in range(many):
        at, bit = chance.randrange(len(before)), 1 << chance.randrange(8)
        record.write_bytes(before[:at] + bytes([before[at] ^ bit]) + before[at + 1 :])
        yield at, before[at], verify(folder)


def rows_of(path):
    """Return every row of each table as SQLite reads it, without the tables that it cannot read."""
    found = {}
    with closing(sqlite3.connect(path)) as conn:
        try:
            tables = tables_of(conn)
        except sqlite3.DatabaseError:
            return found
        for table in tables:
            with contextlib.suppress(sqlite3.DatabaseError):  # one that is not covered may be past reading
                found[table] = sorted(map(repr, conn.execute(f"SELECT * FROM {table}")))
    return found


def unfound(lived, folder, seed, many):
    """Return the flips that verify did not find though a row of a table that it covers reads otherwise after them."""
    kept = rows_of(lived / "record.sqlite")
    covered = set(kept) - {one.table for one in NOT_COVERED}
    missed = []
    for at, was, report in flipped(lived, folder, random.Random(seed), many):
        if report.is_whole:
            now = rows_of(folder / "record.sqlite")
            changed = sorted(table for table in covered if now.get(table) != kept[table])
            missed += [(at, was, changed)] if changed else []
    return missed


def test_a_byte_flipped_anywhere_is_found_or_changes_no_row_that_is_covered(lived, tmp_path):
    shutil.copytree(lived, tmp_path / "plant")

    assert unfound(lived, tmp_path / "plant", 13, FLIPS) == []


@pytest.mark.parametrize("table", sorted({one.table for one in NOT_COVERED}))
def test_a_table_that_cannot_be_read_is_found_though_its_words_are_not_covered(lived, tmp_path, table):
    folder = tmp_path / "plant"
    shutil.copytree(lived, folder)
    with closing(sqlite3.connect(folder / "record.sqlite", isolation_level=None)) as conn:
        columns = conn.execute(f"SELECT name FROM pragma_table_info('{table}') WHERE type = 'TEXT'").fetchall()
        triggers = conn.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
        for name, _ in triggers:
            conn.execute(f"DROP TRIGGER {name}")
        conn.execute("PRAGMA foreign_keys = OFF")
        assert conn.execute(f"SELECT count(*) FROM {table}").fetchone()[0]
        conn.execute("PRAGMA ignore_check_constraints = ON")
        conn.execute(f"UPDATE OR IGNORE {table} SET \"{columns[-1][0]}\" = CAST(X'6180' AS TEXT)")  # no UTF-8
        for _, sql in triggers:
            conn.execute(sql)
    report = verify(folder)

    assert report.exit_code == 1
    told = " ".join(words for check in report.checks for words in check.told)
    assert "cannot be read" in told or "cannot read" in told, report.checks
    if (table, "") in NAMED:
        assert f"{table} cannot be read" in told


@pytest.mark.long
def test_many_bytes_flipped_anywhere(lived, tmp_path):
    shutil.copytree(lived, tmp_path / "plant")

    assert unfound(lived, tmp_path / "plant", 14, FLIPS_LONG) == []


def test_a_record_of_which_nothing_is_counted_yet_is_whole(lived, tmp_path):
    shutil.copytree(lived, tmp_path / "plant")
    with closing(sqlite3.connect(tmp_path / "plant" / "record.sqlite", isolation_level=None)) as conn:
        conn.execute("DELETE FROM store_setting WHERE name = 'summaries_counted_for'")

    assert verify(tmp_path / "plant").is_whole


def cut(folder, keep):
    """Cut the journal's end off, and make all that is derived from it anew, as a tool of our own could."""
    from qc.store.tables.migrations import PROJECTION_TABLES  # noqa: F401 - named for the reader

    with closing(sqlite3.connect(folder / "record.sqlite", isolation_level=None)) as conn:
        triggers = conn.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
        for name, _ in triggers:
            conn.execute(f"DROP TRIGGER {name}")
        conn.execute("DELETE FROM journal WHERE number > ?", (keep,))
        for _, sql in triggers:
            conn.execute(sql)
        conn.execute("DELETE FROM store_setting WHERE name = 'summaries_counted_for'")


def test_an_end_cut_off_is_found_by_its_count_and_else_by_a_row_noted_elsewhere(lived, tmp_path):
    from qc.store.intake.rebuild import rebuild
    from tests.store.record_kit import PLANT

    folder = tmp_path / "plant"
    shutil.copytree(lived, folder)
    whole = verify(folder)
    cut(folder, whole.last_row - 3)
    rebuild(folder, PLANT)
    assert {"journal end", "authors"} == {check.name for check in verify(folder).checks if check.faults}
    assert "the end is cut off" in str(verify(folder).checks)

    with closing(sqlite3.connect(folder / "record.sqlite", isolation_level=None)) as conn:
        conn.execute("UPDATE sqlite_sequence SET seq = seq - 3 WHERE name = 'journal'")
        triggers = conn.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
        for name, _ in triggers:
            conn.execute(f"DROP TRIGGER {name}")
        conn.execute("DELETE FROM author_run WHERE last > (SELECT max(number) FROM journal)")
        for _, sql in triggers:
            conn.execute(sql)
    assert verify(folder).is_whole  # nothing in the folder tells of it any more: named as not covered
    noted = verify(folder, (whole.last_row, whole.last_hash))
    assert [check.name for check in noted.checks if check.faults] == ["journal end"]
    assert verify(lived, (whole.last_row, whole.last_hash)).is_whole


def test_a_history_signed_anew_with_a_foreign_key_is_found_by_the_folders_own(lived, tmp_path):
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    from qc.store.record.signing import id_of, message_of, public_bytes

    folder = tmp_path / "plant"
    shutil.copytree(lived, folder)
    foreign = Ed25519PrivateKey.generate()
    public = public_bytes(foreign)
    with closing(sqlite3.connect(folder / "record.sqlite", isolation_level=None)) as conn:
        triggers = conn.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
        for name, _ in triggers:
            conn.execute(f"DROP TRIGGER {name}")
        conn.execute("UPDATE release_key SET key_id = ?, public = ?", (id_of(public), public))
        for id_, unit, digest in conn.execute("SELECT id, unit, story_digest FROM release_record").fetchall():
            values = (id_of(public), foreign.sign(message_of(id_, unit, digest)), id_)
            conn.execute("UPDATE release_signature SET key_id = ?, signature = ? WHERE release = ?", values)
        for _, sql in triggers:
            conn.execute(sql)

    assert {"own key", "authors", "sign-ins"} == {check.name for check in verify(folder).checks if check.faults}
    shutil.rmtree(folder / "keys")
    assert id_of(public) in str(verify(folder).notes)  # then only a note kept elsewhere tells it


def test_what_is_not_covered_stands_in_the_answer_and_in_the_docs(lived):
    from click.testing import CliRunner

    from qc.assets import folder
    from qc.cli import main

    told = CliRunner().invoke(main, ["verify", str(lived)]).output
    page = (folder("static") / "docs" / "verify.md").read_text(encoding="utf-8")

    for one in NOT_COVERED:
        assert f"not covered: {one.table}" in told
        assert f"`{one.table}`" in page
    assert "--noted" in told
    assert [f"`{name}`" for name in {check.name for check in verify(lived).checks} if _family(name) not in page] == []


def _family(check):
    return check.split()[0] if check.startswith(("table ", "counts ")) else check
