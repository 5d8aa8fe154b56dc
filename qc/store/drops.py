"""What became of the files of the drop folder: kept in the transaction that takes one, so that none is taken twice."""

import json
import os
import sqlite3
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Literal

DropOutcome = Literal["taken", "refused"]
KEPT = 500  # files; a night's export has one
NOTED = "drop-folder.json"  # in the data folder, for pages and `qc doctor`

_KNOWN = "SELECT outcome, words FROM drop_file WHERE name = ? AND size = ? AND mtime_ns = ? AND digest = ?"
_KEEP = """
INSERT INTO drop_file (name, size, mtime_ns, digest, at_ms, outcome, words)
VALUES (:name, :size, :mtime_ns, :digest, :at_ms, :outcome, :words)
ON CONFLICT (name, size, mtime_ns, digest)
DO UPDATE SET at_ms = excluded.at_ms, outcome = excluded.outcome, words = excluded.words
"""
_KEEP_FEW = "DELETE FROM drop_file WHERE rowid IN (SELECT rowid FROM drop_file ORDER BY rowid DESC LIMIT -1 OFFSET ?)"
_LATEST = "SELECT name, at_ms, outcome, words FROM drop_file ORDER BY rowid DESC LIMIT ?"


@dataclass(frozen=True, slots=True)
class Dropped:
    """A file as it lay in the folder: the same name, size, time and content is the same file, whenever it is met."""

    name: str
    size: int
    mtime_ns: int
    digest: str


@dataclass(frozen=True, slots=True)
class DropWord:
    """What became of a file. at_ms: when, in milliseconds since 1970 UTC; words: its report's first line."""

    name: str
    at_ms: int
    outcome: DropOutcome
    words: str


def known_drop(conn: sqlite3.Connection, file: Dropped) -> tuple[DropOutcome, str] | None:
    """Return what became of this very file, None where nothing did: it is known until it lies elsewhere."""
    row = conn.execute(_KNOWN, (file.name, file.size, file.mtime_ns, file.digest)).fetchone()
    return None if row is None else (row[0], str(row[1]))


def keep_drop(conn: sqlite3.Connection, file: Dropped, outcome: DropOutcome, words: str, at_ms: int) -> None:
    """Keep what became of a file, in the writer's transaction."""
    conn.execute(_KEEP, {**asdict(file), "at_ms": at_ms, "outcome": outcome, "words": words})
    conn.execute(_KEEP_FEW, (KEPT,))


def latest_drops(conn: sqlite3.Connection, limit: int) -> list[DropWord]:
    """Return what became of the latest files, latest first."""
    return [DropWord(*row) for row in conn.execute(_LATEST, (limit,))]


def note_trouble(folder: Path, trouble: str) -> None:
    """Note in a data folder what is wrong with its drop folder, "" for nothing. Raises OSError."""
    half = folder / f"{NOTED}.making"
    half.write_text(json.dumps({"trouble": trouble}) + "\n", encoding="utf-8")
    os.replace(half, folder / NOTED)


def drop_trouble(folder: Path) -> str | None:
    """Return what the server noted of the drop folder last, "" where all is well; None where none has looked yet."""
    try:
        return str(json.loads((folder / NOTED).read_text(encoding="utf-8"))["trouble"])
    except FileNotFoundError:
        return None
    except (OSError, ValueError, KeyError, TypeError) as error:
        return f"what the server noted of it cannot be read ({type(error).__name__})"
