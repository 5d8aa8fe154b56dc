"""The one writer: a thread that takes what is waiting, commits it as a group, and only then answers."""

import contextlib
import logging
import sqlite3
import threading
import time
from collections.abc import Callable
from concurrent.futures import Future
from datetime import UTC, datetime
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import Any, NamedTuple, TypeVar

from qc.store.record.connection import RECORD, open_writer

_log = logging.getLogger("qc.store")

T = TypeVar("T")
GROUP = 64  # requests in one transaction; beyond it the first of them would wait for the last

_FULL = {sqlite3.SQLITE_FULL}
# Failures of the storage and not of a request: the transaction, or the connection, is no longer to be trusted.
_DISK = _FULL | {
    sqlite3.SQLITE_IOERR,
    sqlite3.SQLITE_CORRUPT,
    sqlite3.SQLITE_NOTADB,
    sqlite3.SQLITE_CANTOPEN,
    sqlite3.SQLITE_READONLY,
    sqlite3.SQLITE_NOMEM,
    sqlite3.SQLITE_BUSY,
}


class StorageFull(Exception):
    """The disk is full: nothing of the request was kept, nothing was acknowledged; it can be sent again."""


class StorageFailed(Exception):
    """Reading or writing the disk failed: nothing was acknowledged; the record was closed and opened again."""


class WriterClosed(Exception):
    """The writer has been closed; nothing is taken any more."""


class _Away(NamedTuple):
    """Since when the record cannot be opened for writing, by the monotonic clock and in words, and what failed last."""

    monotonic: float
    since: str
    error: Exception


_Request = tuple[Callable[[sqlite3.Connection], Any], "Future[Any]"]


class Writer:
    """Runs functions of the writing connection in a thread of its own, several to a transaction.

    Each request has its savepoint: one that raises is undone alone and gets its exception; the others are kept.
    An answer is given after COMMIT has returned with ``synchronous=FULL``, never before. Where the record cannot be
    opened again after a failure, each later request tries anew, and is told since when it could not.
    """

    def __init__(self, folder: Path, forget: Callable[[], None]) -> None:
        """forget is called when a transaction or a request was undone: what was remembered of it is void."""
        self._path = folder / RECORD
        self._forget = forget
        self._queue: SimpleQueue[_Request | None] = SimpleQueue()
        self._closed = False
        self._gate = threading.Lock()  # orders the last request before the word to stop
        self._conn: sqlite3.Connection | None = open_writer(self._path)
        self._away: _Away | None = None
        self._thread = threading.Thread(target=self._run, name="record-writer", daemon=True)
        self._thread.start()

    def submit(self, work: Callable[[sqlite3.Connection], T]) -> "Future[T]":
        """Queue ``work``; its future is done when what it wrote is on disk. Raises WriterClosed."""
        future: Future[T] = Future()
        with self._gate:
            if self._closed:
                raise WriterClosed("the record is closed; start the server again, what you sent is kept on the phone")
            self._queue.put((work, future))
        return future

    def away_seconds(self) -> float:
        """Return for how long the record could not be opened for writing, 0.0 while it can."""
        away = self._away
        return 0.0 if away is None else time.monotonic() - away.monotonic

    def close(self) -> None:
        """Finish what is queued, then close the connection, which folds the WAL back into the file."""
        with self._gate:
            if self._closed:
                return
            self._closed = True
            self._queue.put(None)
        self._thread.join()

    def _run(self) -> None:
        while (request := self._queue.get()) is not None:
            group, last = self._waiting(request)
            try:
                conn = self._conn or self._opened_again()
                if conn is not None:
                    self._settle(conn, group)
                else:
                    self._refuse(group)
            except Exception as error:
                self._fault(group, error)
            if last:
                break
        if self._conn is not None:
            with contextlib.suppress(sqlite3.Error):
                self._conn.execute("PRAGMA optimize")
            self._conn.close()

    def _fault(self, group: list[_Request], error: Exception) -> None:
        """Tell who still waits of a fault of the program itself, and begin anew: this thread must not end by it."""
        _log.error("the writer met a fault of its own", exc_info=error)
        if self._conn is not None:
            self._undo(self._conn, error)
        for _, future in group:
            if not future.done():
                failed = StorageFailed(
                    f"the server met a fault of its own ({error}); nothing was acknowledged, send it again"
                )
                failed.__cause__ = error
                future.set_exception(failed)

    def _opened_again(self) -> sqlite3.Connection | None:
        """Return the record opened anew, None where it still cannot be; what failed is kept to be told."""
        try:
            self._conn = _opened_anew(self._path)
        except Exception as error:
            self._away = (
                _Away(time.monotonic(), _now(), error) if self._away is None else self._away._replace(error=error)
            )
        else:
            self._away = None
        return self._conn

    def _refuse(self, group: list[_Request]) -> None:
        assert self._away is not None
        for _, future in group:
            failed = StorageFailed(
                f"the record cannot be written since {self._away.since} ({self._away.error}); nothing was "
                "acknowledged: what was sent stays on the phone, send it again"
            )
            failed.__cause__ = self._away.error
            future.set_exception(failed)

    def _waiting(self, first: _Request) -> tuple[list[_Request], bool]:
        """Return the requests that wait, a group of them, and whether the word to stop came."""
        group = [first]
        while len(group) < GROUP:
            try:
                request = self._queue.get_nowait()
            except Empty:
                break
            if request is None:
                return group, True
            group.append(request)
        return group, False

    def _settle(self, conn: sqlite3.Connection, group: list[_Request]) -> None:
        try:
            answers = self._transact(conn, group)
        except Exception as error:
            self._undo(conn, error)
            for _, future in group:
                future.set_exception(_told(error))
            return
        for (_, future), (answer, raised) in zip(group, answers, strict=True):
            if raised is None:
                future.set_result(answer)
            else:
                future.set_exception(raised)

    def _transact(self, conn: sqlite3.Connection, group: list[_Request]) -> list[tuple[Any, BaseException | None]]:
        conn.execute("BEGIN IMMEDIATE")
        answers = [self._one(conn, work) for work, _ in group]
        conn.execute("COMMIT")
        return answers

    def _one(
        self, conn: sqlite3.Connection, work: Callable[[sqlite3.Connection], Any]
    ) -> tuple[Any, BaseException | None]:
        conn.execute("SAVEPOINT request")
        try:
            answer = work(conn)
        except BaseException as raised:
            if _code(raised) in _DISK or not conn.in_transaction:
                raise  # the disk, not the request: SQLite may have undone the whole transaction already
            conn.execute("ROLLBACK TO request")
            conn.execute("RELEASE request")
            self._forget()
            return None, raised
        conn.execute("RELEASE request")
        return answer, None

    def _undo(self, conn: sqlite3.Connection, error: Exception) -> None:
        self._forget()
        if _code(error) in _FULL:
            with contextlib.suppress(sqlite3.Error):
                if conn.in_transaction:
                    conn.execute("ROLLBACK")
            if not conn.in_transaction:
                return
        with contextlib.suppress(sqlite3.Error):
            conn.close()
        self._conn = None
        self._opened_again()


def _opened_anew(path: Path) -> sqlite3.Connection:
    """Open the record after a failed write or sync, and believe nothing of what only the memory may still hold.

    The kernel may call pages clean that never reached the disk, so a later sync of the WAL would not write them:
    everything in it goes into the file itself, synced, before anything more is acknowledged.
    """
    conn = open_writer(path)
    busy, _, _ = conn.execute("PRAGMA wal_checkpoint (RESTART)").fetchone()
    if busy:
        conn.close()
        raise StorageFailed("the record is being read and could not be written through yet")
    return conn


def _now() -> str:
    return datetime.now(UTC).isoformat(sep=" ", timespec="seconds").replace("+00:00", " UTC")


def _code(error: BaseException) -> int:
    return getattr(error, "sqlite_errorcode", 0) & 0xFF


def _told(error: Exception) -> Exception:
    if isinstance(error, StorageFailed):
        return error
    if _code(error) in _FULL:
        full = StorageFull(
            "the server's disk is full; nothing was lost: what was sent stays on the phone, send it again"
        )
        full.__cause__ = error
        return full
    failed = StorageFailed(f"the server's disk failed ({error}); nothing was acknowledged, send it again")
    failed.__cause__ = error
    return failed
