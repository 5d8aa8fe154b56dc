"""Whether the journal still holds the history that a phone was told of before."""

import sqlite3

from qc.store.chain import GENESIS

_HASH = "SELECT hash FROM journal WHERE number = ?"


def holds(conn: sqlite3.Connection, size: int, head: str) -> bool:
    """Tell whether the chain's row ``size`` has the hash ``head`` (hex).

    False means that rows which a phone has seen acknowledged were changed or taken away.
    """
    if size == 0:
        return head == GENESIS.hex()
    row = conn.execute(_HASH, (size,)).fetchone()
    return row is not None and bytes(row[0]).hex() == head
