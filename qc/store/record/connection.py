"""Opening the record: SQLite as it must be opened, asserted each time, and the lock that keeps one writer."""

import os
import sqlite3
import sys
import time
from pathlib import Path
from typing import IO

RECORD = "record.sqlite"
LOCK = "writer.lock"
LEAST_SQLITE = (3, 37, 0)  # STRICT tables (sqlite.org, release notes of 3.37.0; from memory)
READ_SECONDS = 20.0  # a page's longest query takes milliseconds; more is a mistake that must not hold a thread

# What each connection is set to, and what it must then answer. A setting that silently does not hold (a read-only
# folder keeps its journal mode, an old library does not know trusted_schema) is found here and not at the first loss.
# temp_store 2 is memory: what a failed request would restore is a few pages, and made a file at each push.
_COMMON: dict[str, str | int] = {"foreign_keys": 1, "recursive_triggers": 1, "trusted_schema": 0, "busy_timeout": 5000}
_WRITER: dict[str, str | int] = {"journal_mode": "wal", "synchronous": 2, "temp_store": 2, **_COMMON}


class RecordInUse(Exception):
    """Another process holds the record's writer lock."""


class SettingRefused(Exception):
    """SQLite did not take a setting that the record's promises rest on."""


def require_sqlite(version: tuple[int, ...] = sqlite3.sqlite_version_info) -> None:
    """Raise SettingRefused where Python's SQLite is older than the record's tables need."""
    if version < LEAST_SQLITE:
        have, need = (".".join(map(str, one)) for one in (version, LEAST_SQLITE))
        raise SettingRefused(f"Python's SQLite is {have}, the record needs {need} (STRICT tables): use a newer Python")


def open_writer(path: Path) -> sqlite3.Connection:
    """Open the one connection that writes: WAL, every commit synced to disk, transactions begun by hand.

    Creates the file where it is missing. Hold a `WriterLock` first. Raises SettingRefused.
    """
    require_sqlite()
    conn = sqlite3.connect(path, isolation_level=None, cached_statements=512, check_same_thread=False)
    _settle(conn, _WRITER)
    return conn


def open_reader(path: Path, seconds: float = READ_SECONDS) -> sqlite3.Connection:
    """Open a read-only connection whose queries end with OperationalError "interrupted" after ``seconds``.

    Rows come as sqlite3.Row. Raises sqlite3.OperationalError where there is no record, SettingRefused.
    """
    conn = sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True, isolation_level=None, cached_statements=256)
    conn.row_factory = sqlite3.Row
    _settle(conn, {"query_only": 1, **_COMMON})
    limit_time(conn, seconds)
    return conn


def is_read_only(error: Exception) -> bool:
    """Whether SQLite failed since this account may not write: the record, or beside it, which reading in WAL needs."""
    return getattr(error, "sqlite_errorcode", 0) & 0xFF == sqlite3.SQLITE_READONLY


# What SQLite says where the disk of a record has no room for its index of the write-ahead log, which reading needs too.
_NO_ROOM_BESIDE = frozenset(
    {sqlite3.SQLITE_IOERR_SHMOPEN, sqlite3.SQLITE_IOERR_SHMSIZE, sqlite3.SQLITE_IOERR_SHMMAP, sqlite3.SQLITE_FULL}
)


def no_room_beside(error: Exception, folder: Path | None = None) -> str:
    """Return in words that a record cannot even be read since its disk is full, "" for any other failure."""
    if getattr(error, "sqlite_errorcode", 0) not in _NO_ROOM_BESIDE:
        return ""
    where = f"the disk of {folder}" if folder else "the record's disk"
    return (
        f"{where} has no room left for what SQLite lays beside a record that is read or written ({error}); nothing is "
        "known of the record by that. Make room there, a few megabytes do, and try again"
    )


def limit_time(conn: sqlite3.Connection, seconds: float) -> None:
    """Let each statement of the connection run for ``seconds`` at most, counted from when it starts."""
    started = 0.0

    def begin(_statement: str) -> None:
        nonlocal started
        started = time.monotonic()

    conn.set_trace_callback(begin)
    conn.set_progress_handler(lambda: int(time.monotonic() - started > seconds), 10_000)


def _settle(conn: sqlite3.Connection, settings: dict[str, str | int]) -> None:
    for name, wanted in settings.items():
        conn.execute(f"PRAGMA {name} = {wanted}")
        (got,) = conn.execute(f"PRAGMA {name}").fetchone()
        if got != wanted:
            conn.close()
            raise SettingRefused(f"SQLite answered {name} = {got!r}, the record needs {wanted!r}")


class WriterLock:
    """The lock file that lets one process write a folder's record; given back by `release` or by the process's end."""

    def __init__(self, folder: Path) -> None:
        """Take the lock. Raises RecordInUse naming the folder and the process that holds it.

        What this process makes from now on is its account's alone: copies of the record and photos hold names too.
        """
        os.umask(0o077)
        self._file: IO[str] = open(folder / LOCK, "a+")  # noqa: SIM115 - held for as long as the writer lives
        try:
            _take(self._file)
        except OSError:
            self._file.seek(0)
            holder = self._file.read().strip() or "unknown"
            self._file.close()
            raise RecordInUse(f"{folder} is in use by process {holder}; stop that server first") from None
        self._file.truncate(0)
        self._file.write(str(os.getpid()))
        self._file.flush()

    def release(self) -> None:
        """Give the lock back; the file stays, since removing it would let two processes lock two files."""
        self._file.close()


def holder_of(folder: Path) -> str | None:
    """Return the number of the process that holds a folder's writer lock, "unknown" or None for nobody."""
    try:
        file = open(folder / LOCK, "r+")  # noqa: SIM115 - closed below, which gives back what was taken to ask
    except FileNotFoundError:
        return None
    with file:
        try:
            _take(file)
        except OSError:
            file.seek(0)
            return file.read().strip() or "unknown"
    return None


def _take(file: IO[str]) -> None:
    """Lock an open file for this process alone. Raises OSError where another holds it."""
    if sys.platform == "win32":
        import msvcrt

        file.seek(1_000_000)  # Windows keeps others from reading what is locked; the number before it stays readable
        msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        file.seek(0)
    else:
        import fcntl

        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
