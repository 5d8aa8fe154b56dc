"""Journal rows and their verdicts on their way into a record: numbered, hashed, written together."""

import sqlite3
from dataclasses import dataclass

from qc.store.record import verdicts
from qc.store.record.chain import GENESIS, row_hash
from qc.store.record.verdicts import Verdict

_HEAD = "SELECT number, hash FROM journal ORDER BY number DESC LIMIT 1"
_APPEND = """
INSERT INTO journal (number, id, device, install_epoch, seq, kind, unit, author, author_standing, happened_ms,
                     received_ms, clock_suspect, admission, plant_revision, rules, bytes, previous, hash)
VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
"""
MOST = 1000  # rows that wait at most: a rebuild settles millions and asks for few of them


@dataclass(slots=True)
class Head:
    """Where the chain stands: how many rows, and the last row's hash."""

    size: int
    hash: bytes


def head_of(conn: sqlite3.Connection) -> Head:
    """Return where the chain stands; an empty journal has size 0 and 32 zero bytes."""
    row = conn.execute(_HEAD).fetchone()
    return Head(0, GENESIS) if row is None else Head(*row)


class Entries:
    """What a transaction appends, each table's rows in one statement, since one a row costs twice as much.

    Whoever asks the record does it by `conn`, which first writes what waits: nothing that was appended or settled is
    ever missing from an answer. Whoever undoes a part of the transaction drops the whole of this.
    """

    def __init__(self, conn: sqlite3.Connection) -> None:
        self._conn = conn
        self.head = head_of(conn)
        self._rows: list[tuple[str | int | bytes | None, ...]] = []
        self._verdicts: list[verdicts.Row] = []

    @property
    def conn(self) -> sqlite3.Connection:
        """The connection, in which all that was appended and settled so far stands."""
        self.write()
        return self._conn

    def append(self, columns: tuple[str | int | bytes | None, ...]) -> bytes:
        """Append a row whose columns, in the order of ``HASHED_COLUMNS``, begin after the number; move the head.

        Returns the previous hash.
        """
        previous, number = self.head.hash, self.head.size + 1
        values = (number, *columns)
        digest = row_hash(previous, values)
        self._rows.append((*values, previous, digest))
        self.head.size, self.head.hash = number, digest
        return previous

    def settle(self, number: int, verdict: Verdict, place: int | None) -> None:
        """Give a row its first verdict; place is its order of coming into effect, None without."""
        self._verdicts.append(verdicts.row_of(number, verdict, place))
        if len(self._verdicts) >= MOST:
            self.write()

    def write(self) -> None:
        """Write what waits."""
        if self._rows:
            self._conn.executemany(_APPEND, self._rows)
            self._rows.clear()
        if self._verdicts:
            verdicts.store(self._conn, self._verdicts)
            self._verdicts.clear()
