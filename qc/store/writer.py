"""The one writer: a thread that takes what is waiting, commits it as a group, and only then answers."""

import contextlib
import sqlite3
import threading
from collections.abc import Callable
from concurrent.futures import Future
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import Any, TypeVar

from qc.store.connection import RECORD, open_writer

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


_Request = tuple[Callable[[sqlite3.Connection], Any], "Future[Any]"]


class Writer:
    """Runs functions of the writing connection in a thread of its own, several to a transaction.

    Each request has its savepoint: one that raises is undone alone and gets its exception; the others are kept.
    An answer is given after COMMIT has returned with ``synchronous=FULL``, never before.
    """

    def __init__(self, folder: Path, forget: Callable[[], None]) -> None:
        """forget is called when a transaction or a request was undone: what was remembered of it is void."""
        self._path = folder / RECORD
        self._forget = forget
        self._queue: SimpleQueue[_Request | None] = SimpleQueue()
        self._closed = False
        self._gate = threading.Lock()  # orders the last request before the word to stop
        self._conn: sqlite3.Connection = open_writer(self._path)
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
                self._settle(group)
            except Exception as error:  # the record could not be opened again: nobody may go on waiting for it
                self._give_up(_told(error))
                return
            if last:
                break
        with contextlib.suppress(sqlite3.Error):
            self._conn.execute("PRAGMA optimize")
        self._conn.close()

    def _give_up(self, failed: Exception) -> None:
        with self._gate:
            self._closed = True
            waiting, _ = self._waiting(None, everything=True)
        for _, future in waiting:
            future.set_exception(failed)

    def _waiting(self, first: _Request | None, everything: bool = False) -> tuple[list[_Request], bool]:
        """Return the requests that wait, a group of them or everything, and whether the word to stop came."""
        group = [] if first is None else [first]
        while everything or len(group) < GROUP:
            try:
                request = self._queue.get_nowait()
            except Empty:
                break
            if request is None:
                return group, True
            group.append(request)
        return group, False

    def _settle(self, group: list[_Request]) -> None:
        try:
            answers = self._transact(group)
        except Exception as error:
            failed = _told(error)
            try:
                self._undo(error)
            finally:
                for _, future in group:
                    future.set_exception(failed)
            return
        for (_, future), (answer, raised) in zip(group, answers, strict=True):
            if raised is None:
                future.set_result(answer)
            else:
                future.set_exception(raised)

    def _transact(self, group: list[_Request]) -> list[tuple[Any, BaseException | None]]:
        self._conn.execute("BEGIN IMMEDIATE")
        answers = [self._one(work) for work, _ in group]
        self._conn.execute("COMMIT")
        return answers

    def _one(self, work: Callable[[sqlite3.Connection], Any]) -> tuple[Any, BaseException | None]:
        self._conn.execute("SAVEPOINT request")
        try:
            answer = work(self._conn)
        except BaseException as raised:
            if _code(raised) in _DISK or not self._conn.in_transaction:
                raise  # the disk, not the request: SQLite may have undone the whole transaction already
            self._conn.execute("ROLLBACK TO request")
            self._conn.execute("RELEASE request")
            self._forget()
            return None, raised
        self._conn.execute("RELEASE request")
        return answer, None

    def _undo(self, error: Exception) -> None:
        self._forget()
        if _code(error) in _FULL:
            with contextlib.suppress(sqlite3.Error):
                if self._conn.in_transaction:
                    self._conn.execute("ROLLBACK")
            if not self._conn.in_transaction:
                return
        with contextlib.suppress(sqlite3.Error):
            self._conn.close()
        self._conn = _opened_anew(self._path)


def _opened_anew(path: Path) -> sqlite3.Connection:
    """Open the record after a failed write or sync, and believe nothing of what only the memory may still hold.

    The kernel may call pages clean that never reached the disk, so a later sync of the WAL would not write them:
    everything in it goes into the file itself, synced, before anything more is acknowledged.
    """
    conn = open_writer(path)
    busy, _, _ = conn.execute("PRAGMA wal_checkpoint (RESTART)").fetchone()
    if busy:
        conn.close()
        raise StorageFailed("the record is being read and could not be written through; start the server again")
    return conn


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
