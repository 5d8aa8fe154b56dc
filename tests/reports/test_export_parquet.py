"""Parquet holds what the CSV holds, typed and explained in the file; where it cannot be written that is said plainly.

Read back with pyarrow, which wrote it: the format's own library (Apache Arrow). Values are held against the CSV.
"""

import builtins
import csv
import io
import json
import tracemalloc
import zipfile
from datetime import datetime
from zoneinfo import ZoneInfo

import pytest
from click.testing import CliRunner

from qc.cli import main
from qc.reports.export import parquet as writer
from qc.reports.export.columns import TABLES, tables_for
from tests.web.pages.lived_in import LivedIn
from tests.web.plant_server import PlantServer, cheap_hashes

pytestmark = pytest.mark.skipif(
    not __import__("importlib.util").util.find_spec("pyarrow"), reason="pyarrow, an optional part, is not installed"
)


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    with cheap_hashes():
        server = PlantServer(tmp_path_factory.mktemp("parquet") / "plant")
        LivedIn(server).live()
        yield server
        server.house.close()


@pytest.fixture(scope="module")
def manager(server):
    return server.page("quality_manager")


def read(data):
    from pyarrow import parquet

    return parquet.read_table(io.BytesIO(data))


@pytest.mark.parametrize("table", tables_for(names=True))
def test_a_table_holds_what_its_csv_holds(server, manager, table):
    held = read(manager.get(f"/export/file?what={table}&names=yes&form=parquet").data)
    told = manager.get(f"/export/file?what={table}&names=yes").data.decode("utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(told, newline="")))

    assert held.column_names == [one.name for one in TABLES[table]]
    assert held.num_rows == len(rows) > 0
    for parquet_row, row in zip(held.to_pylist(), rows, strict=True):
        assert "" not in parquet_row.values()  # what is empty is null
        for column in TABLES[table]:
            assert as_csv(parquet_row[column.name], column.sort) == plain(row[column.name], column.sort), column


def as_csv(value, sort):
    if value is None or value == []:
        return ""
    if sort == "yes or no":
        return "yes" if value else "no"
    if sort == "list":
        return ";".join(value)
    if sort == "instant":
        return value.astimezone(ZoneInfo("UTC")).replace(microsecond=0)
    return float(value) if sort == "number" else str(value)


def plain(text, sort):
    if sort == "instant" and text:
        return datetime.fromisoformat(text).astimezone(ZoneInfo("UTC"))
    return float(text) if sort == "number" and text else text.removeprefix("'")


def test_each_column_is_explained_in_the_file_for_arrow_and_for_others(manager):
    from pyarrow import parquet

    data = manager.get("/export/file?what=defects&form=parquet").data
    told = {one.name: one.words for one in TABLES["defects"]}

    assert {field.name: field.metadata[b"words"].decode() for field in read(data).schema} == told
    assert json.loads(parquet.ParquetFile(io.BytesIO(data)).metadata.metadata[b"columns"]) == told


def test_values_have_their_own_types(manager):
    schema = read(manager.get("/export/file?what=tests&form=parquet").data).schema
    units = read(manager.get("/export/file?what=units&form=parquet").data).schema

    assert str(schema.field("value").type) == "double"
    assert str(schema.field("passed").type) == "bool"
    assert str(schema.field("production_day").type) == "date32[day]"
    assert str(schema.field("tested_at").type).startswith("timestamp[ms, tz=")
    assert str(units.field("options").type).startswith("list<")
    assert str(units.field("sequence").type) == "int64"


def test_everything_goes_out_as_an_archive_without_names_unless_asked(manager):
    for asked, names in (("", False), ("&names=yes", True)):
        answer = manager.get(f"/export/file?what=parquet{asked}")
        with zipfile.ZipFile(io.BytesIO(answer.data)) as archive:
            assert archive.namelist() == ["columns.csv", *(f"{table}.parquet" for table in tables_for(names=names))]
            assert read(archive.read("units.parquet")).num_rows > 0


def test_the_command_writes_it(server, tmp_path):
    folder = server.house.folder
    if not (folder / "plant").exists():
        from qc.assets import folder as asset_folder

        (folder / "plant").symlink_to(asset_folder("demo_data") / "plant")
    for name, options in (("all.parquet.zip", ()), ("defects.parquet", ("--table", "defects"))):
        answer = CliRunner().invoke(main, ["export", str(folder), str(tmp_path / name), *options])
        assert answer.exit_code == 0, answer.output
    assert read((tmp_path / "defects.parquet").read_bytes()).num_rows > 0


def test_memory_does_not_grow_with_the_rows(tmp_path):
    """Python's own; Arrow's buffers are of one piece as well, which tests/bench measures on a million rows."""
    plain = {"text": "words", "number": 7, "day": "2026-03-02", "instant": 1_770_000_000_000, "yes or no": 1}

    def piece():
        return [
            tuple(f"{plain[column.sort]}{row}" if column.sort == "text" else plain[column.sort] for row in rows)
            for column in TABLES["defects"]
        ]

    rows = range(writer.ROWS // 8)  # an eighth of an export's piece, since each allocation is traced
    sizes = []
    for many in (2, 8):
        tracemalloc.start()
        with (tmp_path / f"{many}.parquet").open("wb") as target:
            writer.write_parquet("defects", (piece() for _ in range(many)), "UTC", target)
        sizes.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()

    assert sizes[1] < 1.2 * sizes[0]


def test_where_pyarrow_is_missing_page_and_command_say_so_plainly(server, manager, tmp_path, monkeypatch):
    imported = builtins.__import__

    def without(name, *more):
        if name.startswith("pyarrow"):
            raise ImportError(name)
        return imported(name, *more)

    monkeypatch.setattr(builtins, "__import__", without)
    for asked in ("what=parquet", "what=defects&form=parquet"):
        answer = manager.get(f"/export/file?{asked}")
        assert (answer.status_code, "daybay[parquet]" in answer.text) == (501, True)
    answer = CliRunner().invoke(main, ["export", str(server.house.folder), str(tmp_path / "no.parquet.zip")])
    assert answer.exit_code == 1
    assert "daybay[parquet]" in answer.output
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("name", "options", "words"),
    [
        ("defects.parquet", (), "--table"),
        ("all.parquet.zip", ("--table", "defects"), ".csv, .parquet with --table"),
        ("defects.parquet", ("--table", "nothing"), "there is no table nothing"),
        ("people.parquet", ("--table", "people"), "with --names people"),
    ],
)
def test_what_cannot_be_written_is_told(server, tmp_path, name, options, words):
    answer = CliRunner().invoke(main, ["export", str(server.house.folder), str(tmp_path / name), *options])

    assert answer.exit_code == 1
    assert words in answer.output
    assert list(tmp_path.iterdir()) == []
