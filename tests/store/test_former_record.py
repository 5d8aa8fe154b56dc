"""A record that the program before this one made is opened, told and verified as it was then.

``former_record.jsonl.gz`` holds seven units of the invented plant as operations: the journal's rows with the bytes as
received, the plant's tables, the releases that were frozen and signed, and of each table that was derived from them
then the number of its rows and the SHA-256 of all of them. That program's effects were statements over tables.
"""

import gzip
import hashlib
import json
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from qc.domain.tables.plant_tables import plant_from_tables
from qc.store.checking.verify import verify
from qc.store.intake.door import new_server_epoch
from qc.store.intake.rebuild import rebuild
from qc.store.record.connection import RECORD, open_writer
from qc.store.tables import migrations

FORMER = Path(__file__).parent / "former_record.jsonl.gz"
SAID = ("id", "device", "install_epoch", "seq", "kind", "unit", "author")  # journal columns that the bytes tell


def lines():
    with gzip.open(FORMER, "rt") as file:
        return [json.loads(line) for line in file]


def value(told):
    return bytes.fromhex(told["hex"]) if isinstance(told, dict) else told


def made(folder):
    """Make the record's file as it was when it was made, without what is derived; return what was derived then."""
    head, *told = lines()
    folder.mkdir()
    with closing(open_writer(folder / RECORD)) as conn, pytest.MonkeyPatch.context() as earlier:
        earlier.setattr(migrations, "MIGRATIONS", migrations.MIGRATIONS[: head["version"]])
        migrations.migrate(conn, folder)
        previous = bytes(32)
        for row in told:
            table = row.pop("of")
            if table == "journal":
                row = {name: json.loads(row["bytes"]).get(name) for name in SAID} | row | {"previous": previous}
                row |= {"bytes": row["bytes"].encode(), "hash": bytes.fromhex(row["hash"])}
                previous = row["hash"]
            names, values = ", ".join(row), [value(one) for one in row.values()]
            conn.execute(f"INSERT INTO {table} ({names}) VALUES ({', '.join('?' * len(values))})", values)
        new_server_epoch(conn)
        return head["tables"], conn.execute("SELECT tables FROM plant_revision").fetchone()[0]


SINCE = {
    "defect": {"grade", "lot"},
    "defect_photo": {"circle"},
    "unit": {"met_by", "line"},
}  # columns that the former program had not, empty of what it recorded


def derived(folder, tables):
    """Return of each table the number of its rows and the digest of all of them."""
    found = {}
    with closing(sqlite3.connect(folder / RECORD)) as conn:
        for name in tables:
            columns = [column for _, column, *_ in conn.execute(f"PRAGMA table_info({name})")]
            then = ", ".join(column for column in columns if column not in SINCE.get(name, ()))
            rows = sorted((list(row) for row in conn.execute(f"SELECT {then} FROM {name}")), key=repr)
            for column in SINCE.get(name, ()):
                assert conn.execute(f"SELECT count(nullif({column}, '')) FROM {name}").fetchone() == (0,)
            found[name] = [len(rows), hashlib.sha256(json.dumps(rows).encode()).hexdigest()]
    return found


def test_it_is_derived_to_the_same_rows_and_verified_with_its_releases(tmp_path):
    wanted, tables = made(tmp_path / "record")

    rebuilt = rebuild(tmp_path / "record", plant_from_tables(json.loads(tables)))

    assert (rebuilt.operations, rebuilt.in_effect) == (509, 508)
    assert derived(tmp_path / "record", wanted) == wanted
    report = verify(tmp_path / "record")
    assert report.is_whole, report
    looked_at = {check.name: check.looked_at for check in report.checks}
    assert (looked_at["journal chain"], looked_at["releases judged again"]) == (509, 7)


def test_a_changed_word_in_it_is_found(tmp_path):
    """The check can fail: another severity in one row's bytes breaks the chain, and the table differs."""
    wanted, tables = made(tmp_path / "record")
    with closing(open_writer(tmp_path / "record" / RECORD)) as conn:
        conn.execute("DROP TRIGGER journal_no_update")
        changed = "CAST(replace(CAST(bytes AS TEXT), '\"minor\"', '\"major\"') AS BLOB)"
        conn.execute(f"UPDATE journal SET bytes = {changed} WHERE kind = 'defect_recorded'")
    rebuild(tmp_path / "record", plant_from_tables(json.loads(tables)))

    assert derived(tmp_path / "record", wanted)["defect"] != wanted["defect"]
    assert not verify(tmp_path / "record").is_whole
