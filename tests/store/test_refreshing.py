"""Many who read while the record is written: dirty days are counted once for all who wait; nobody misses a write."""

import threading
from concurrent.futures import ThreadPoolExecutor
from datetime import date

import pytest
from record_rows import RowRecord

from qc.domain.counted.counts import Slice
from qc.store.counts import Counts
from qc.store.counts.refreshing import Refreshing

WEEK = Slice(date(2026, 3, 2), date(2026, 3, 9))


class Ticks:
    """Counts up, and lets a test wait until so many were taken."""

    def __init__(self):
        self.taken, self.more = 0, threading.Condition()

    def __next__(self):
        with self.more:
            self.taken += 1
            self.more.notify_all()
            return self.taken

    def reached(self, many):
        with self.more:
            return self.more.wait_for(lambda: self.taken >= many, 20)


@pytest.fixture
def record(tmp_path):
    record = RowRecord(tmp_path)
    yield record
    record.close()


def test_the_counts_of_a_moment_count_dirty_days_once_however_much_is_asked(record, monkeypatch):
    """As met: a page that asks thirty things counted the running day thirty times, and pushes waited for each."""
    written, real = [], record.write
    monkeypatch.setattr(record, "write", lambda work: written.append(1) or real(work))
    counts = Counts(record)
    counts.first_week()
    written.clear()
    moment = counts.moment()
    for number in range(3):
        record.seen_through(f"U{number}", "2026-03-04")
        assert sum(moment.seen_units(WEEK).values()) == 1, "as it stood at the first question"

    assert len(written) == 1
    assert len(counts.moment().criticals(WEEK)) == 0
    assert len(written) == 2, "the next page counts what came since"


def test_who_asks_outside_a_moment_sees_each_write(record):
    counts = Counts(record)
    for number in range(3):
        record.seen_through(f"U{number}", "2026-03-04")
        assert counts.seen_units(WEEK)["T36"] == number + 1


def test_those_who_wait_together_are_served_by_one_refresh():
    """One runs while ten come: these share one more, which began after they came."""
    begun, go_on, runs = threading.Event(), threading.Event(), []

    def write(work):
        work(None)

    def slow(conn):
        runs.append(1)
        begun.set()
        assert go_on.wait(20)

    refreshing = Refreshing(write)
    ticks = refreshing._ticks = Ticks()
    with ThreadPoolExecutor(11) as pool:
        first = pool.submit(refreshing.refresh, slow)
        assert begun.wait(20)
        rest = [pool.submit(refreshing.refresh, slow) for _ in range(10)]
        assert ticks.reached(12), "one came and began, ten came"
        go_on.set()
        for future in (first, *rest):
            future.result(20)

    assert len(runs) == 2
    runs.clear()
    refreshing.refresh(slow)
    assert len(runs) == 1, "who comes afterwards is not served by what was counted before"


def test_a_refresh_that_failed_serves_nobody():
    refreshing, runs = Refreshing(lambda work: work(None)), []

    def fails(conn):
        raise OSError("disk")

    with pytest.raises(OSError, match="disk"):
        refreshing.refresh(fails)
    refreshing.refresh(lambda conn: runs.append(1))
    assert runs == [1]
