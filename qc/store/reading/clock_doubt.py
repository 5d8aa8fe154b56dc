"""Whether the server's clock can be believed: what the record's latest entries and the phones say against it.

Everything that comes in is dated by that clock for good. A machine that starts without the network may stand days or
years back, and nobody on a page would see it.
"""

import sqlite3
import statistics
from dataclasses import dataclass

AHEAD_MS = 5 * 60_000  # how far the latest entries may lie ahead of the clock
OFF_MS = 10 * 60_000  # how far phones may be off: from there on what they record is marked as of a suspect clock
HEARD_MS = 60 * 60_000
LEAST_PHONES = 3  # one or two may be wrong together

# So many rows, that a clock which was ahead once is told for some days of work and not for as long as it was ahead.
_LAST = "SELECT coalesce(max(received_ms), 0) FROM (SELECT received_ms FROM journal ORDER BY number DESC LIMIT 5000)"
_HEARD = """
SELECT w.behind_ms
  FROM device_word AS w
  JOIN device AS d ON d.code = w.device AND d.revoked = 0
 WHERE w.at_ms BETWEEN :since AND :now
"""


@dataclass(frozen=True, slots=True)
class ClockDoubt:
    """What speaks against the clock. last_ms: when what came last to the record came, 0 where that is not later.

    phones: how many were heard within the hour where most show another time, else 0; ahead_ms: how far the clock stands
    ahead of theirs, below 0 behind. Instants in milliseconds since 1970 UTC by the server's clock.
    """

    last_ms: int
    phones: int
    ahead_ms: int


def clock_doubt(conn: sqlite3.Connection, now_ms: int, *, ask_phones: bool) -> ClockDoubt | None:
    """Return what speaks against the clock, which shows ``now_ms``; None where nothing does."""
    (last,) = conn.execute(_LAST).fetchone()
    last = last if last > now_ms + AHEAD_MS else 0
    heard = [row[0] for row in conn.execute(_HEARD, {"since": now_ms - HEARD_MS, "now": now_ms})] if ask_phones else []
    ahead = int(statistics.median_low(heard)) if len(heard) >= LEAST_PHONES else 0
    phones = len(heard) if abs(ahead) > OFF_MS else 0
    return ClockDoubt(last, phones, ahead if phones else 0) if last or phones else None
