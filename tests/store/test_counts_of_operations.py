"""Counts of a record that was made by operations: what goes through the door is counted, and marks its day.

Random operations over a few units, read in between: the sums after refreshes equal a rebuild from nothing.
"""

from datetime import date, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from qc.domain.counted.counts import Slice
from qc.store.counts import LINE, Counts
from qc.store.tables.migrations import statements
from qc.store.tables.summaries import SummaryKeeper
from qc.store.tables.summary_schema import LINES
from qc.store.tables.summary_tables import SEEN_TABLES, WORK_TABLES
from tests.store.record_kit import PLANT, Clock, Phone, open_journal

WEEKS = Slice(date(2026, 2, 16), date(2026, 4, 6))
TABLES = [table.name for table in (*SEEN_TABLES, *WORK_TABLES)] + ["work_part", "work_point_part", "presented_unit"]
POINTS = PLANT.end_points()

steps = st.lists(
    st.one_of(
        st.tuples(st.just("look"), st.integers(0, 2), st.sampled_from(POINTS)),
        st.tuples(st.just("look_before"), st.integers(0, 2), st.sampled_from(POINTS)),
        st.tuples(st.just("end"), st.integers(0, 11)),
        st.tuples(st.just("find"), st.integers(0, 11), st.sampled_from(["EXT-01", "OPE-02", "GAS-01"])),
        st.tuples(st.just("found_before"), st.integers(0, 11)),
        st.tuples(st.just("correct"), st.integers(0, 11)),
        st.tuples(st.just("withdraw"), st.integers(0, 11)),
        st.tuples(st.just("suspect"), st.integers(0, 11), st.sampled_from(["S07", "S06", "SUP", "UNK"])),
        st.tuples(st.just("confirm"), st.integers(0, 11)),
        st.tuples(st.just("dispute"), st.integers(0, 11)),
        st.tuples(st.just("pass"), st.integers(0, 2), st.sampled_from(["S06", "S07"]), st.integers(0, 5)),
        st.tuples(st.just("test"), st.integers(0, 11), st.booleans()),
        st.tuples(st.just("field"), st.integers(0, 2)),
        st.tuples(st.just("wait"), st.integers(1, 30)),
        st.just(("read",)),
    ),
    max_size=25,
)


class Line:
    """Three units and what has been done to them; a step that names what is not there does nothing."""

    def __init__(self, journal, clock):
        self.clock, self.phone, self.counts = clock, Phone(journal), Counts(journal)
        self.units = [self.phone.plan(30001 + n) for n in range(3)]
        self.looks, self.defects = [], []

    def start(self):
        """Present each unit at three points, find something at two; one inspection still runs. Then read."""
        for unit in range(3):
            self.present(unit, "T02")
            for point in ("T01", "D01"):
                self.play(("look", unit, point))
                for type_ in ("EXT-01", "OPE-02"):
                    self.play(("find", len(self.looks) - 1, type_))
                self.play(("suspect", len(self.defects) - 1, "S07"))
                if (unit, point) != (2, "D01"):
                    self.play(("end", len(self.looks) - 1))
                self.clock.after(60 * 9)
        self.play(("read",))

    def present(self, unit, point):
        """Present a unit where nothing is found; no step names that inspection."""
        body = {"point": point, "purpose": "presentation", "light": "bright"}
        id_, _ = self.phone.do("inspection_begun", "I1", self.units[unit], **body)
        self.phone.do("inspection_ended", "I1", self.units[unit], inspection=id_)

    def play(self, step):
        match step:
            case ("look", unit, point):
                body = {"point": point, "purpose": "presentation", "light": "bright"}
                id_, _ = self.phone.do("inspection_begun", "I1", self.units[unit], **body)
                self.looks.append((id_, self.units[unit], point))
            case ("wait", hours):
                self.clock.after(60 * hours)
            case ("pass", unit, station, days):
                back = self.clock() - days * 86_400_000
                self.phone.do("station_passed", "PL1", self.units[unit], station=station, envelope={"wall_ms": back})
            case ("field", unit):
                self.phone.do(
                    "field_finding", "QM1", self.units[unit], zone="front.panel", type="EXT-01", severity="minor",
                    found_day="2026-03-02",
                )  # fmt: skip
            case ("found_before", n):
                # A phone that was offline brings what it found two days ago, on an inspection that has ended.
                id_, unit, point = self.looks[n % len(self.looks)]
                self.phone.do(
                    "defect_recorded", "I1", unit, point=point, zone="front.panel", type="OPE-02", severity="major",
                    inspection=id_, envelope={"wall_ms": self.clock() - 2 * 86_400_000},
                )  # fmt: skip
            case ("read",):
                self.counts.week_counts(WEEKS, LINE, self.clock())
            case ("look_before", unit, point):
                body = {"point": point, "purpose": "presentation", "light": "bright"}
                early = {"wall_ms": self.clock() - 5 * 86_400_000}
                id_, _ = self.phone.do("inspection_begun", "I2", self.units[unit], envelope=early, **body)
                self.looks.append((id_, self.units[unit], point))
            case (what, n, *rest) if what in ("end", "find", "test") and self.looks:
                self._in_look(what, *self.looks[n % len(self.looks)], *rest)
            case (what, n, *rest) if what not in ("end", "find", "test") and self.defects:
                self._on_defect(what, *self.defects[n % len(self.defects)], *rest)

    def _in_look(self, what, id_, unit, point, *rest):
        if what == "end":
            self.phone.do("inspection_ended", "I1", unit, inspection=id_)
        elif what == "test":
            self.phone.do("test_recorded", "TB1", unit, test="M3", instrument="IN-1", passed=rest[0], inspection=id_)
        else:
            body = {"point": point, "zone": "front.panel", "type": rest[0], "inspection": id_}
            severity = PLANT.types[rest[0]].default_severity
            defect, verdict = self.phone.do("defect_recorded", "I1", unit, severity=severity, **body)
            if verdict.verdict == "applied":
                self.defects.append((defect, unit))

    def _on_defect(self, what, defect, unit, *rest):
        do = self.phone.do
        if what == "correct":
            do("defect_corrected", "QM1", unit, defect=defect, changes={"severity": "major"}, reason="as seen again")
        elif what == "withdraw":
            do("defect_withdrawn", "I1", unit, defect=defect, why="not_a_defect", reason="dust only")
        elif what == "suspect":
            do("origin_suspected", "I1", unit, defect=defect, station=rest[0])
        elif what == "confirm":
            do("origin_confirmed", "L-S07", unit, defect=defect, station="S07")
        else:
            do("origin_disputed", "L-S07", unit, defect=defect, reason="not ours at all")


def everything(journal):
    return journal.write(lambda conn: {name: conn.execute(f"SELECT * FROM {name}").fetchall() for name in TABLES})


def refreshed_and_rebuilt(folder, plays):
    """Play steps on a record that has been read; return the sums after a refresh and after a rebuild."""
    clock = Clock()
    with open_journal(folder, clock) as journal:
        line = Line(journal, clock)
        line.start()
        for step in plays:
            line.play(step)
        line.counts.week_counts(WEEKS, LINE, clock())
        refreshed = everything(journal)
        journal.write(SummaryKeeper(PLANT).rebuild)
        return refreshed, everything(journal)


@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(plays=steps)
def test_whatever_is_recorded_marks_its_day(tmp_path_factory, plays):
    refreshed, rebuilt = refreshed_and_rebuilt(tmp_path_factory.mktemp("record"), plays)

    assert refreshed == rebuilt


@pytest.mark.parametrize(
    "plays",
    [
        [("end", 5)],
        [("find", 5, "GAS-01"), ("end", 5)],
        [("look", 0, "T02"), ("end", 6)],
        [("look_before", 0, "D01")],
        [("look_before", 0, "D01"), ("end", 6)],
        [("found_before", 0)],
        [("correct", 0)],
        [("withdraw", 0)],
        [("suspect", 0, "SUP")],
        [("confirm", 1)],
        [("confirm", 1), ("read",), ("dispute", 1)],
        [("pass", 0, "S07", 3)],
        [("pass", 0, "S07", 1), ("read",), ("pass", 0, "S07", 4)],
        [("test", 0, False)],
        [("field", 0)],
    ],
    ids=str,
)
def test_each_kind_of_operation_marks_its_day(tmp_path, plays):
    refreshed, rebuilt = refreshed_and_rebuilt(tmp_path, plays)

    assert refreshed == rebuilt


def test_a_recorded_defect_is_counted_with_its_unit(tmp_path):
    clock = Clock()
    with open_journal(tmp_path, clock) as journal:
        line = Line(journal, clock)
        line.present(0, "T01")
        line.present(0, "T02")
        steps_ = [("look", 0, "D01"), ("find", 0, "OPE-02"), ("suspect", 0, "S07"), ("end", 0), ("read",)]
        for step in [*steps_, ("confirm", 0)]:
            line.play(step)
        week = line.counts.week_counts(WEEKS, LINE, clock())
        station = line.counts.station_weeks(WEEKS, "S07", "found", clock() + int(timedelta(days=60).total_seconds()))
        passed = line.counts.first_pass_weeks(WEEKS, "D01", clock())

    here = week.weeks.index("2026-W10")
    assert (week.inspected[here], week.defectives[here], week.defects[here]) == (1, 1, 1)
    assert (station.confirmed[here], station.suspected[here]) == (1, 0)
    assert (passed.presented[here], passed.clean_major[here]) == (1, 0)


def test_a_pass_that_arrives_twice_on_a_day_already_marked_is_taken(tmp_path):
    # Met by the property above: an upsert's own conflict rule reaches into the triggers that it fires.
    clock = Clock()
    with open_journal(tmp_path, clock) as journal:
        line = Line(journal, clock)
        line.start()
        for days in (1, 3):
            line.play(("pass", 0, "S07", days))
        marked = journal.write(lambda conn: conn.execute("SELECT count(*) FROM dirty_day").fetchone()[0])

    assert marked >= 1


def test_the_step_that_reshapes_the_sums_has_every_day_counted_again(tmp_path):
    clock = Clock()
    with open_journal(tmp_path, clock) as journal:
        line = Line(journal, clock)
        line.start()
        before = line.counts.all_station_weeks(WEEKS, "work", clock())
        assert any(sum(weeks.suspected) for weeks in before.values())
        anew = [one for one in statements(LINES) if "ADD COLUMN" not in one]
        journal.write(lambda conn: [conn.execute(one) for one in anew])

        assert line.counts.all_station_weeks(WEEKS, "work", clock()) == before
