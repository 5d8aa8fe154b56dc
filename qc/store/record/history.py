"""Whether the journal still holds the history that a phone was told of before, and the alarms of those it does not."""

import sqlite3
from dataclasses import dataclass
from datetime import UTC, datetime

from qc.store.record.chain import GENESIS

_HASH = "SELECT hash FROM journal WHERE number = ?"
_NOTE = """
INSERT INTO history_alarm (server_epoch, device, size, head, person, first_ms, last_ms)
VALUES ((SELECT value FROM store_setting WHERE name = 'server_epoch'), :device, :size, :head, :person, :now, :now)
ON CONFLICT (server_epoch, device) DO UPDATE SET last_ms = :now
"""
_ALARMS = """
SELECT device, size, person, first_ms, last_ms
  FROM history_alarm
 WHERE server_epoch = (SELECT value FROM store_setting WHERE name = 'server_epoch')
 ORDER BY first_ms, device
"""


@dataclass(frozen=True, slots=True)
class HistoryAlarm:
    """A phone that saw row ``size`` acknowledged with another hash than the record holds, or where it holds none.

    person: who was signed in on it when it was first told. Instants in milliseconds since 1970 UTC.
    """

    device: str
    size: int
    person: str
    first_ms: int
    last_ms: int

    @property
    def words(self) -> str:
        """Return the alarm in one sentence, without a remedy."""
        since = datetime.fromtimestamp(self.first_ms / 1000, UTC).strftime("%Y-%m-%d %H:%M UTC")
        return (
            f"phone {self.device} was told of row {self.size} with another hash than the record now holds "
            f"(first met {since}, {self.person} signed in): rows were changed or taken away, or the phone errs"
        )


def holds(conn: sqlite3.Connection, size: int, head: str) -> bool:
    """Tell whether the chain's row ``size`` has the hash ``head`` (hex).

    False means that rows which a phone has seen acknowledged were changed or taken away.
    """
    if size == 0:
        return head == GENESIS.hex()
    row = conn.execute(_HASH, (size,)).fetchone()
    return row is not None and bytes(row[0]).hex() == head


def note_alarm(conn: sqlite3.Connection, device: str, person: str, size: int, head: str, now_ms: int) -> None:
    """Keep that a phone saw another history; what it told first stays, with when it last told so."""
    conn.execute(_NOTE, {"device": device, "size": size, "head": head, "person": person, "now": now_ms})


def history_alarms(conn: sqlite3.Connection) -> list[HistoryAlarm]:
    """Return the alarms of the record's present epoch, oldest first; a restore ends those before it."""
    return [HistoryAlarm(*row) for row in conn.execute(_ALARMS)]
