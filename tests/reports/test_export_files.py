"""What goes out is what the record holds: each row once, numbers as numbers, no formula, no name unasked for.

Files are read back by other programs than wrote them: python-calamine the workbook, the standard library CSV and JSON.
"""

import csv
import io
import json
import sqlite3
import tracemalloc
import zipfile
from contextlib import closing
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from click.testing import CliRunner
from python_calamine import CalamineWorkbook

from qc.assets import folder as asset_folder
from qc.cli import main
from qc.reports.export import files
from qc.reports.export.cells import as_text, cells_of
from qc.reports.export.columns import NAMES, TABLES, Column, tables_for
from qc.reports.export.rows import WITHHELD, Source
from qc.store.reading import export_rows
from qc.store.record.connection import RECORD
from tests.store.record_kit import PLANT, Phone, open_journal

ROOT = Path(__file__).parents[2]
PLANTED = ("=1+1", "+49 1", "-3 mm", "@SUM(A1)", "plain")  # the record takes no tab and no return


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A plant with one unit presented and released, one with a defect for each text that a spreadsheet computes."""
    folder = tmp_path_factory.mktemp("out")
    (folder / "plant").mkdir()
    for table in (asset_folder("demo_data") / "plant").iterdir():
        (folder / "plant" / table.name).write_bytes(table.read_bytes())
    with open_journal(folder) as journal:
        phone = Phone(journal)
        unit = phone.plan()
        for point in ("T01", "T02"):
            look = phone.must("inspection_begun", "I1", unit, point=point, purpose="presentation", light="bright")
            phone.must("inspection_ended", "I1", unit, inspection=look)
        phone.test_all(unit)
        phone.look(unit)
        assert phone.sign(unit).verdict == "applied"
        other = phone.plan(30002)
        for note in PLANTED:
            what = {"point": "D01", "zone": "nearside.door", "type": "EXT-01", "severity": "minor"}
            phone.must("defect_recorded", "I1", other, **what, note=note)
    added = ["user", "add", str(folder), "OL1", "--name", "Olga Test", "--role", "inspector"]
    assert CliRunner().invoke(main, added).exit_code == 0
    return folder


def exported(folder, tmp_path, name, *options):
    file = tmp_path / name
    answer = CliRunner().invoke(main, ["export", str(folder), str(file), *options])
    assert answer.exit_code == 0, answer.output
    return file


def tables_in(file):
    with zipfile.ZipFile(file) as archive:
        names = [name.removesuffix(".csv") for name in archive.namelist()]
        text = {name: archive.read(f"{name}.csv").decode("utf-8-sig") for name in names}
    return {name: list(csv.DictReader(io.StringIO(one, newline=""))) for name, one in text.items()}


def test_every_row_goes_out_once_and_its_values_are_the_records(folder, tmp_path):
    told = tables_in(exported(folder, tmp_path, "all.zip"))
    with closing(sqlite3.connect(folder / RECORD)) as conn:
        rows = {"units": "unit", "inspections": "inspection", "defects": "defect", "tests": "test_result"}
        for table, held in {**rows, "releases": "release_record"}.items():
            ids = [row[0] for row in conn.execute(f"SELECT * FROM {held} ORDER BY rowid")]
            assert [next(iter(row.values())) for row in told[table]] == ids
            assert ids
        values = [row[0] for row in conn.execute("SELECT value FROM test_result ORDER BY rowid")]
    assert [float(row["value"]) if row["value"] else None for row in told["tests"]] == values
    first, second = told["units"]
    assert (first["state"], first["released_by"], second["state"]) == ("released", "QM1", "planned")
    week, *later = told["weeks"]
    assert (week["units"], week["units_with_a_defect"], week["defects"]) == ("1", "0", "0")
    assert {row["units"] for row in later} == {"0"}  # zeros are data, up to the running week
    assert [row["running"] for row in told["weeks"]] == [*["no"] * len(later), "yes"]
    assert first["released_at"].startswith("2026-03-02T")
    assert first["released_at"].endswith("+00:00")


def test_each_column_is_explained_in_the_file_and_on_the_docs_page(folder, tmp_path):
    told = tables_in(exported(folder, tmp_path, "explained.zip"))
    explained = told.pop("columns")

    assert set(told) == set(tables_for(names=False))
    assert [(row["table"], row["column"]) for row in explained] == [
        (table, column) for table, rows in told.items() for column in (rows[0] if rows else ())
    ]
    page = (ROOT / "static" / "docs" / "export.md").read_text(encoding="utf-8")
    for table, columns in TABLES.items():
        section = page.split(f"## {table}")[1].split("\n## ")[0]
        rows = [row for row in section.splitlines() if row.startswith("| `")]
        assert rows == [f"| `{one.name}` | {one.sort} | {one.words} |" for one in columns]


def test_no_cell_of_a_csv_is_computed_and_numbers_stay(folder, tmp_path):
    notes = [row["note"] for row in tables_in(exported(folder, tmp_path, "notes.zip"))["defects"]]

    assert notes == [*(f"'{note}" for note in PLANTED[:4]), "plain"]
    columns = (Column("a", "number", ""), Column("b", "text", ""))
    assert cells_of((-5.25, "plain - text"), columns, ZoneInfo("UTC")) == [-5.25, "plain - text"]
    assert [as_text(cell) for cell in (-5.25, -3, 0, None, "-5", "a=1", "\tx", "\rx")] == [
        *(-5.25, -3, 0, None, "'-5", "a=1", "'\tx", "'\rx"),
    ]


def test_a_workbook_holds_the_same_with_numbers_as_numbers_and_no_formula(folder, tmp_path):
    file = exported(folder, tmp_path, "all.xlsx")
    book = CalamineWorkbook.from_path(file)
    told = tables_in(exported(folder, tmp_path, "beside.zip"))

    assert book.sheet_names == [*tables_for(names=False), "columns"]
    for table in tables_for(names=False):
        rows = book.get_sheet_by_name(table).to_python()
        assert rows[0] == [one.name for one in TABLES[table]]
        assert len(rows) - 1 == len(told[table])
    heading, *rows = book.get_sheet_by_name("tests").to_python()
    values = [row[heading.index("value")] for row in rows]
    assert all(isinstance(value, float) or value == "" for value in values)
    assert any(isinstance(value, float) for value in values)
    heading, *rows = book.get_sheet_by_name("defects").to_python()
    assert [row[heading.index("note")] for row in rows] == list(PLANTED)
    with zipfile.ZipFile(file) as archive:
        sheets = [archive.read(name) for name in archive.namelist() if name.startswith("xl/worksheets/sheet")]
    assert not any(b"<f>" in sheet or b"<hyperlink" in sheet for sheet in sheets)


def test_the_journal_goes_out_row_by_row_with_its_hashes(folder, tmp_path):
    lines = [json.loads(line) for line in exported(folder, tmp_path, "j.jsonl", "--names").read_text().splitlines()]
    with closing(sqlite3.connect(folder / RECORD)) as conn:
        rows = conn.execute("SELECT number, hash, bytes FROM journal ORDER BY number").fetchall()

    assert [(one["number"], one["hash"]) for one in lines] == [(number, hash_.hex()) for number, hash_, _ in rows]
    assert [one["operation"] for one in lines] == [json.loads(told) for _, _, told in rows]


def test_without_being_asked_for_no_name_goes_out(folder, tmp_path):
    """The person's name stands in the table of people and in the operation that adds them, and nowhere else."""
    bare = [exported(folder, tmp_path, f"bare.{end}") for end in ("zip", "jsonl", "xlsx")]
    named = exported(folder, tmp_path, "named.jsonl", "--names").read_text()

    assert "Olga Test" in named
    assert "Olga Test" not in bare[1].read_text()
    assert WITHHELD in bare[1].read_text()
    assert NAMES not in tables_in(bare[0])
    with zipfile.ZipFile(bare[2]) as archive:
        assert not any(b"Olga" in archive.read(name) for name in archive.namelist())
    (person,) = tables_in(exported(folder, tmp_path, "named.zip", "--names"))[NAMES]
    assert (person["person"], person["name"]) == ("OL1", "Olga Test")


@pytest.mark.parametrize(("name", "words"), [("all.ods", "ends in none of"), ("no/all.zip", "no folder")])
def test_a_file_that_cannot_be_is_told_and_nothing_is_written(folder, tmp_path, name, words):
    answer = CliRunner().invoke(main, ["export", str(folder), str(tmp_path / name)])

    assert answer.exit_code == 1
    assert words in answer.output
    assert list(tmp_path.iterdir()) == []


def test_a_file_that_is_there_is_not_written_over_and_a_running_server_does_not_matter(folder, tmp_path):
    file = exported(folder, tmp_path, "all.zip")
    before = file.read_bytes()
    answer = CliRunner().invoke(main, ["export", str(folder), str(file)])

    assert (answer.exit_code, file.read_bytes()) == (1, before)
    assert "is there already" in answer.output
    with open_journal(folder):
        exported(folder, tmp_path, "beside.zip")
    assert sorted(one.name for one in tmp_path.iterdir()) == ["all.zip", "beside.zip"]


def test_a_long_table_goes_on_in_another_sheet_with_no_row_lost(folder, tmp_path, monkeypatch):
    monkeypatch.setattr(files, "SHEET_ROWS", 4)
    book = CalamineWorkbook.from_path(exported(folder, tmp_path, "long.xlsx"))

    assert "defects 2" in book.sheet_names
    notes = [row[9] for name in ("defects", "defects 2") for row in book.get_sheet_by_name(name).to_python()[1:]]
    assert len(notes) == len(PLANTED)


class Discarded(io.RawIOBase):
    """A file that keeps nothing."""

    def writable(self):
        return True

    def write(self, data):
        return len(data)


def test_memory_does_not_grow_with_the_record(folder, monkeypatch):
    """Twenty times the rows, the same peak: pieces of 50 rows are read, written and forgotten."""
    monkeypatch.setattr(export_rows, "PIECE", 50)

    def peak(rows):
        with closing(sqlite3.connect(":memory:")) as conn:
            columns = "code TEXT, name TEXT, role TEXT, also TEXT, stations TEXT, ended INTEGER"
            conn.execute(f"CREATE TABLE person ({columns})")
            told = [(f"P{n}", "N" * 80, "inspector", "[]", "[]", 0) for n in range(rows)]
            conn.executemany("INSERT INTO person VALUES (?, ?, ?, ?, ?, ?)", told)
            del told
            tracemalloc.start()
            files.write_table(Source(conn, PLANT, ()), NAMES, io.BufferedWriter(Discarded()))
            most = tracemalloc.get_traced_memory()[1]
            tracemalloc.stop()
        return most

    few = peak(1000)
    assert peak(20_000) < 2 * few
