"""Counting the dirty days again for many askers: those who come while it waits for the writer are served by one run."""

import itertools
import sqlite3
import threading
from collections.abc import Callable
from typing import Any


class Refreshing:
    """Lets one refresh run at a time. Who asks while one runs waits, and is served by any that began after they came.

    Every push waits for the writer too, so that ten pages which each count again at each question hold up the phones.
    """

    def __init__(self, write: Callable[[Callable[[sqlite3.Connection], Any]], Any]) -> None:
        """write: runs in the writer's transaction and returns when it is on disk."""
        self._write = write
        self._gate = threading.Lock()
        self._ticks = itertools.count(1)
        self._counted = 0  # the tick at which the last refresh that succeeded began

    def refresh(self, work: Callable[[sqlite3.Connection], Any]) -> None:
        """Return once a refresh that began after this call has been committed, by whomever it was asked."""
        came, began = next(self._ticks), 0

        def counted(conn: sqlite3.Connection) -> None:
            nonlocal began
            began = next(self._ticks)
            work(conn)

        with self._gate:
            if self._counted < came:
                self._write(counted)
                self._counted = began
