"""Days whose summaries no longer hold."""

import sqlite3

_MARK = "INSERT OR IGNORE INTO dirty_day (production_day) VALUES (?)"


def mark_dirty(conn: sqlite3.Connection, *days: str | None) -> None:
    """Mark found production days (ISO) whose counts changed; None stands for no day."""
    for day in days:
        if day is not None:
            conn.execute(_MARK, (day,))
