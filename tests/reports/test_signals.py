"""The list of signals on rows that a reader can count. Invented rows; expected values by hand."""

import json
import re
from datetime import date, timedelta

import pytest
from record_rows import RowRecord, noon

from qc.assets import folder as asset_folder
from qc.domain.tables.plant_tables import revision_of, tables_of
from qc.reports.stations.station import station_report
from qc.reports.watch import signals
from qc.reports.watch.signals import signals_report
from qc.stats.answers import TooLittle
from qc.store.counts import Counts
from qc.store.reading.reads import Reads

MONDAY = date(2026, 3, 2)


@pytest.fixture
def record(tmp_path):
    record = RowRecord(tmp_path)
    yield record
    record.close()


def day_of(week, day=2):
    return (MONDAY + timedelta(weeks=week, days=day)).isoformat()


def fill(record, weeks, defects, station="S07", type_="PAN-06"):
    """Write weeks of twenty units; the first of them with one confirmed defect of the station each."""
    for week in weeks:
        for n in range(20):
            unit = f"U{week}-{n}"
            record.seen_through(unit, day_of(week))
            if n < defects(week):
                record.defect(f"{unit}-d", unit, day_of(week), inspection=f"{unit}-D01", confirmed=station, type_=type_)


def reported(record, week):
    reads = Reads(record.folder, record.plant)
    try:
        now = noon(day_of(week, 8))
        return signals_report(Counts(record), reads, record.plant, MONDAY + timedelta(weeks=week), now)
    finally:
        reads.close()


def noted(record, week, change="tool", types="[]", station="S07"):
    record.put(
        "change_note", id=f"n{week}", station=station, change=change, what="New jig", types=types,
        from_day=day_of(week, 0), noted_by="L-S07", number=record.number(),
    )  # fmt: skip


def doubled(week):
    return 6 if week < 11 else 18


def test_a_rise_is_listed_as_new_with_its_range_its_size_and_the_change_noted_there(record):
    fill(record, range(12), doubled)
    noted(record, 10)
    report = reported(record, 11)
    (signal,) = report.shown

    assert (signal.station, signal.type, signal.direction, signal.is_new) == ("S07", "PAN-06", "up", True)
    assert signal.begun == "2026-W21"
    assert signal.since[0] <= "2026-W21" <= signal.since[1]
    assert (signal.observed, round(signal.expected, 6)) == (18, 6)
    assert signal.low < 3 < signal.high
    assert [note.what for note in signal.notes] == ["New jig"]
    assert report.rate == pytest.approx(1 / 13)
    assert report.baseline.name == "8 weeks 2026-W10 to 2026-W17"


def test_scatter_beyond_chance_is_told_on_the_list_and_beside_the_signals_of_a_station(record):
    """By hand: weeks of 2 and 10 in turn, mean 6: chi-square 21.3 on 7 degrees, 3.05 times; once in 300 by chance."""
    fill(record, range(12), lambda week: 20 if week >= 9 else 2 + 8 * (week % 2))
    report = reported(record, 11)
    reads, day, now = Reads(record.folder, record.plant), MONDAY + timedelta(weeks=11), noon(day_of(11, 8))
    own, other = (
        station_report(Counts(record), reads, record.plant, station, day, now, report).scatter
        for station in ("S07", "S08")
    )
    reads.close()

    assert report.shown
    assert report.scatter == pytest.approx(64 / 21)
    assert "these counts scatter 3.0 times what chance gives" in report.scatter_told
    assert (own, other) == (report.scatter_told, "")


def test_what_is_asked_of_a_signal_beside_the_watch_takes_the_same_scatter(record, monkeypatch):
    given = []
    for name in ("work_stretch", "mute_of"):
        asked = getattr(signals, name)
        monkeypatch.setattr(
            signals, name, lambda *args, of=asked, called=name: given.append((called, args[-1])) or of(*args)
        )
    fill(record, range(12), lambda week: 20 if week >= 9 else 2 + 8 * (week % 2))

    scatter = reported(record, 11).scatter

    assert scatter > 3
    assert set(given) == {("work_stretch", scatter), ("mute_of", scatter)}


def test_a_week_later_it_is_not_new_any_more(record):
    fill(record, range(13), doubled)
    (signal,) = reported(record, 12).shown

    assert not signal.is_new
    assert signal.raised == "2026-W21"


def test_the_week_that_still_runs_is_left_out(record):
    fill(record, range(12), doubled)
    reads = Reads(record.folder, record.plant)
    report = signals_report(Counts(record), reads, record.plant, MONDAY + timedelta(weeks=11), noon(day_of(11, 3)))
    reads.close()

    assert report.judged.name == "2026-W20"
    assert report.shown == ()
    assert report.sentence == "Nothing moved beyond chance up to 2026-W20."


def test_a_young_record_watches_nothing_and_says_so(record):
    fill(record, range(4), doubled)
    report = reported(record, 3)

    assert isinstance(report.baseline, TooLittle)
    assert "8 whole weeks" in report.sentence


def muted(record, week=12, **changed):
    """Mute the rise of PAN-06 at S07 on the Monday of a week, for four weeks."""
    row = {"station": "S07", "type": "PAN-06", "direction": "up", "from_day": day_of(week, 0), **changed}
    row = {"until": day_of(week + 4, 0), "reason": "jig ordered", "muted_by": "QM1", **row}
    record.put("signal_mute", id=f"m{record.number()}", number=record.number(), **row)


def test_a_muted_signal_is_apart_with_its_reason_and_counted_in_the_sentence(record):
    fill(record, range(12), doubled)
    muted(record)
    report = reported(record, 11)

    assert (report.shown, report.idle) == ((), ())
    (signal,) = report.muted
    assert (signal.mute.reason, signal.mute.muted_by, signal.mute.until) == ("jig ordered", "QM1", date(2026, 6, 22))
    assert report.sentence == "Nothing else moved beyond chance up to 2026-W21. 1 muted until 2026-06-22."


@pytest.mark.parametrize(
    ("changed", "shown"),
    [
        ({"until": "2026-06-02"}, 0),  # the day on which the report is made
        ({"until": "2026-06-01"}, 1),
        ({"ended_day": "2026-06-02", "ended_by": "QM1"}, 1),
    ],
)
def test_a_mute_ends_by_itself_after_its_day_or_when_it_is_ended(record, changed, shown):
    fill(record, range(13), doubled)
    muted(record, **changed)

    assert len(reported(record, 12).shown) == shown


@pytest.mark.parametrize("other", [{"station": "S06"}, {"type": "PAN-01"}, {"type": "rest"}, {"direction": "down"}])
def test_a_mute_of_something_else_keeps_nothing_back_and_is_still_told(record, other):
    fill(record, range(12), doubled)
    muted(record, **other)
    report = reported(record, 11)

    assert len(report.shown) == 1
    assert [getattr(report.idle[0], name) for name in other] == list(other.values())
    assert "muted" not in report.sentence


def test_a_muted_signal_that_gets_clearly_worse_is_listed_again(record):
    """From 12 a week to 20, for five weeks: not a change of its own, but clearly more than when it was muted."""
    fill(record, range(19), lambda week: 6 if week < 11 else 12 if week < 14 else 20)
    muted(record, 14, until=day_of(30, 0))

    assert reported(record, 13).shown == ()
    (signal,) = reported(record, 18).shown
    assert signal.begun == "2026-W21"


def test_a_further_move_at_a_muted_place_is_listed_from_its_first_week(record):
    fill(record, range(16), lambda week: 3 if week < 10 else 9 if week < 14 else 20)
    muted(record, 14, until=day_of(30, 0))

    assert reported(record, 13).shown == ()
    (signal,) = reported(record, 15).shown
    assert signal.begun == "2026-W24"


def test_no_rule_runs_across_a_change_of_criteria(record):
    fill(record, range(12), doubled)
    noted(record, 11, "criteria", '["PAN-06"]', "D01")
    report = reported(record, 11)

    assert report.shown == ()
    assert [one.types for one in report.left_out] == [("PAN-06",)]


def revised(record, week, before, after):
    """Put tables in force from the first day of a week."""
    for tables in (before, after):
        record.put("plant_revision", revision=revision_of(tables), since_number=1, tables=json.dumps(tables))
    record.put(
        "plant_change", id=f"r{week}", revision=revision_of(after), previous=revision_of(before), reason="why",
        from_day=day_of(week, 0), revised_by="AD1", at_console="", revised_ms=1, number=record.number(),
    )  # fmt: skip


TABLES = tables_of(asset_folder("demo_data") / "plant")
OTHER = {"minor": "major", "major": "minor"}
GRAVER = re.sub(
    r"^(PAN-06,.*?),(minor|major),",
    lambda found: f"{found[1]},{OTHER[found[2]]},",
    TABLES["defect_types.csv"],
    flags=re.M,
)


def test_no_rule_runs_across_tables_that_change_what_a_type_is(record):
    fill(record, range(12), doubled)
    revised(record, 11, TABLES, {**TABLES, "defect_types.csv": GRAVER})
    report = reported(record, 11)

    assert report.shown == ()
    assert [one.types for one in report.left_out] == [("PAN-06",)]


def test_tables_that_change_names_alone_leave_the_watch_as_it_is(record):
    fill(record, range(12), doubled)
    revised(record, 11, TABLES, {**TABLES, "plant.toml": TABLES["plant.toml"].replace('maker = "', 'maker = "New ')})
    report = reported(record, 11)

    assert len(report.shown) == 1
    assert report.left_out == ()


def test_unknown_origins_are_no_stations_signal(record):
    fill(record, range(12), doubled, station="UNK")

    assert reported(record, 11).shown == ()


def test_after_26_weeks_a_new_baseline_takes_over(record):
    fill(record, range(36), lambda week: 6 if week < 11 else 12)
    report = reported(record, 35)

    assert report.baseline.name == "13 weeks 2026-W31 to 2026-W43"
    assert report.shown == ()
