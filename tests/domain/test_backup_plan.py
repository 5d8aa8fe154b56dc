"""When a copy is due by the plant's own clock, over the days on which the clocks change too.

The changes of the clocks are those of the IANA time zone database (zoneinfo, tzdata), worked out here by hand for
Europe/London in 2026: forward on 29 March at 01:00, back on 25 October at 02:00.
"""

from datetime import UTC, datetime, time
from zoneinfo import ZoneInfo

import pytest

from qc.assets import folder
from qc.domain.plant.backup_plan import BackupPlan
from qc.domain.tables.plant_tables import PlantFaults, plant_from_tables, tables_of

LONDON = ZoneInfo("Europe/London")


def utc(text: str) -> int:
    return round(datetime.fromisoformat(text).replace(tzinfo=UTC).timestamp() * 1000)


@pytest.mark.parametrize(
    ("at", "now", "due"),
    [
        ("02:30", "2026-03-02T02:29:59", "2026-03-01T02:30:00"),
        ("02:30", "2026-03-02T02:30:00", "2026-03-02T02:30:00"),
        ("02:30", "2026-06-02T01:30:00", "2026-06-02T01:30:00"),  # summer time: an hour earlier
        ("00:00", "2026-03-02T00:00:00", "2026-03-02T00:00:00"),
        ("23:59", "2026-03-02T00:00:00", "2026-03-01T23:59:00"),
        ("01:30", "2026-03-29T00:59:00", "2026-03-28T01:30:00"),  # 01:30 does not come that day
        ("01:30", "2026-03-29T12:00:00", "2026-03-29T01:30:00"),
        ("01:30", "2026-10-25T00:45:00", "2026-10-25T00:30:00"),  # the first of two
        ("01:30", "2026-10-25T01:45:00", "2026-10-25T00:30:00"),
    ],
)
def test_the_last_time_at_which_a_copy_was_due(at, now, due):
    plan = BackupPlan("/copies", time.fromisoformat(at), 3)

    assert plan.latest_due_ms(LONDON, utc(now)) == utc(due)


def tables(section: str) -> dict[str, str]:
    found = tables_of(folder("demo_data") / "plant")
    return {**found, "plant.toml": f"{found['plant.toml']}\n{section}\n"}


def test_a_plant_that_says_nothing_has_no_plan_and_one_that_does_has_its_own():
    section = '[backup]\nfolder = "/srv/copies"\nat = "02:30"\nkeep = 14'

    assert plant_from_tables(tables("")).backup is None
    assert plant_from_tables(tables(section)).backup == BackupPlan("/srv/copies", time(2, 30), 14)
    windows = section.replace("/srv/copies", "D:\\\\copies")
    assert plant_from_tables(tables(windows)).backup == BackupPlan("D:\\copies", time(2, 30), 14)


@pytest.mark.parametrize(
    ("was", "now", "words"),
    [
        ('folder = "/srv/copies"', 'folder = "copies"', "is no absolute path"),
        ('at = "02:30"', 'at = "2.30"', "is no time of day"),
        ("keep = 14", "keep = 0", "from 1 to 3650"),
        ("keep = 14", "keeps = 14", "is missing"),
    ],
)
def test_what_is_wrong_in_it_is_told(was, now, words):
    section = '[backup]\nfolder = "/srv/copies"\nat = "02:30"\nkeep = 14'
    with pytest.raises(PlantFaults, match=words):
        plant_from_tables(tables(section.replace(was, now)))
