"""Whatever is pushed in whatever order, the tables rebuilt from the journal equal those that grew with it."""

import sqlite3
from contextlib import closing

from qc.store.intake.rebuild import rebuild
from qc.store.tables.migrations import PROJECTION_TABLES, ROSTER_TABLES
from tests.store.random_days import a_random_day
from tests.store.record_kit import PLANT, open_journal


def tables(folder):
    with closing(sqlite3.connect(folder / "record.sqlite")) as conn:
        return {name: sorted(conn.execute(f"SELECT * FROM {name}"), key=repr) for name in PROJECTION_TABLES}


def settle_two_that_were_set_aside(day):
    phone = day.phones[0]
    phone.send()
    for word in ("quarantine_taken", "quarantine_left"):
        ahead = {"wall_ms": day.journal.clock() + 3 * 86_400_000}  # a clock three days ahead
        made, verdict = phone.do("station_passed", "I1", day.units[0], station="S06", envelope=ahead)
        assert verdict.verdict == "quarantined"
        phone.must(word, "QM1", operation=made, reason="seen at the line")


def test_a_rebuild_equals_what_grew(tmp_path):
    """And no table is empty on every day, or nothing would be compared."""
    filled = set()
    for seed in range(5):
        folder = tmp_path / str(seed)
        with open_journal(folder) as journal:
            day = a_random_day(journal, seed, 150)
            settle_two_that_were_set_aside(day)
        grown = tables(folder)

        rebuilt = rebuild(folder, PLANT)

        assert rebuilt.operations > 100
        assert tables(folder) == grown
        filled |= {name for name, rows in grown.items() if rows}
    # filled and compared in test_people_told, test_machines and test_revisions
    assert filled == set(PROJECTION_TABLES) - ROSTER_TABLES - {"machine", "plant_change"}
