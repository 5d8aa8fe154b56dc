"""The server's clock is doubted on the pages of who keeps it: by the record's latest entries and by the phones."""

import sqlite3
from contextlib import closing

import pytest

from qc.store.people.devices import Word
from qc.store.reading.clock_doubt import HEARD_MS, clock_doubt
from tests.web.plant_server import NOW

MINUTE, HOUR = 60_000, 3_600_000
DAY = 24 * HOUR
TOLD = "<strong>Clock.</strong>"


@pytest.fixture
def real(server):
    """A plant that is not invented, with a unit planned now."""
    server.house.demo = False
    planner = server.phone("planner")
    planner.push(planner.plan())
    return server


def say(server, *behind_ms: int) -> None:
    """Let so many phones say how far their clocks stand behind the server's."""
    for number, behind in enumerate(behind_ms):
        code = server.enrolled(f"P{40 + number}")
        server.house.devices.note(code, Word("", 0, behind), server.now)


def shown(server, role: str = "quality_manager") -> str:
    return server.page(role).get("/units").text


def test_while_nothing_speaks_against_it_nothing_is_told(real):
    say(real, 0, 9 * MINUTE, -9 * MINUTE, 9 * MINUTE)
    real.now += 3 * MINUTE

    assert TOLD not in shown(real)


@pytest.mark.parametrize("back", [DAY, 26 * 365 * DAY])
def test_a_clock_behind_the_record_is_told_to_who_keeps_it_and_to_nobody_else(real, back):
    real.now -= back

    for role in ("quality_manager", "administrator"):
        told = shown(real, role)
        assert TOLD in told
        assert "What came last to the record is dated 2026-02-02 02:40: the clock is behind, or was ahead then." in told
    for role in ("inspector", "station_lead", "dispatch", "planner"):
        assert TOLD not in shown(real, role)
    real.now += back
    assert TOLD not in shown(real)


@pytest.mark.parametrize(
    ("off", "words"),
    [
        (11 * MINUTE, "11 minutes ahead"),
        (-25 * HOUR, "25 hours behind"),
        (370 * DAY, "370 days ahead"),
    ],
)
def test_three_phones_that_agree_on_another_time_are_told_of(real, off, words):
    say(real, off, off + MINUTE // 2)
    assert TOLD not in shown(real)  # two may be wrong together

    say(real, off, off + MINUTE // 2, 0, off)
    assert f"By most of the 4 phones heard within the hour it is {words}." in shown(real)


def test_phones_that_differ_or_were_heard_long_ago_or_are_out_of_use_count_for_nothing(real):
    say(real, -DAY, 0, 0, 0, DAY)
    assert TOLD not in shown(real)
    real.now += 6 * MINUTE  # the same is written down again after five
    say(real, DAY, DAY, DAY)
    assert TOLD in shown(real)
    for code in ("P40", "P41", "P42"):
        real.house.devices.revoke(code)
    assert TOLD not in shown(real)
    for code in ("P40", "P41", "P42"):
        real.house.devices.revoke(code, False)
    real.now += HEARD_MS + 1
    assert TOLD not in shown(real)


def test_an_invented_plant_lives_at_another_time_than_its_phones(real):
    real.house.demo = True
    say(real, DAY, DAY, DAY)

    assert TOLD not in shown(real)


def test_a_clock_that_was_ahead_once_is_told_for_days_of_work_and_not_for_as_long():
    with closing(sqlite3.connect(":memory:")) as conn:
        conn.execute("CREATE TABLE journal (number INTEGER PRIMARY KEY, received_ms INTEGER)")
        conn.execute("INSERT INTO journal (received_ms) VALUES (?)", (NOW + 400 * DAY,))
        conn.executemany("INSERT INTO journal (received_ms) VALUES (?)", [(NOW,)] * 4_999)
        doubt = clock_doubt(conn, NOW, ask_phones=False)
        assert doubt is not None
        assert doubt.last_ms == NOW + 400 * DAY

        conn.execute("INSERT INTO journal (received_ms) VALUES (?)", (NOW,))
        assert clock_doubt(conn, NOW, ask_phones=False) is None
