"""The week in a few lines: what it says of new signals, of the data and of what is most."""

from dataclasses import replace
from types import SimpleNamespace

import pytest

from qc.reports.week.glance import data_words, glance, signals_words
from qc.stats.answers import TooLittle
from tests.charts import made_reports as made


def signal(station, name, *, is_new, direction="up"):
    return SimpleNamespace(station=station, station_name="Bond", type_name=name, is_new=is_new, direction=direction)


def signals(*shown, muted=(), baseline=made.WEEK):
    return SimpleNamespace(
        shown=shown, muted=muted, baseline=baseline, judged=made.WEEK, sentence="Nothing is watched yet: 3 weeks."
    )


THROUGH = made.follow_up()
NEW = [signal(f"S0{n}", "Panel gap", is_new=True) for n in range(1, 6)]


def test_new_signals_are_named_and_older_ones_counted():
    told = signals_words(signals(*NEW[:2], signal("S08", "Seam", is_new=False, direction="down")))

    assert told == (
        "2 new signals in 2026-W24: S01 Bond: Panel gap (more) and S02 Bond: Panel gap (more); 1 known before."
    )  # fmt: skip


def test_many_new_signals_do_not_fill_the_screen():
    assert "and 2 more" in signals_words(signals(*NEW))


def test_no_new_signal_is_said_with_what_is_muted():
    told = signals_words(signals(signal("S08", "Seam", is_new=False), muted=(1, 2)))

    assert told == "No new signal in 2026-W24; 1 known before, 2 muted."


def test_a_watch_that_has_not_begun_says_why():
    young = signals(baseline=TooLittle("baseline", "3 weeks", 3, 8))

    assert signals_words(young) == "Nothing is watched yet: 3 weeks."


def test_data_beyond_its_limit_is_named_with_its_counts_and_who_looked_too():
    quality = made.quality()
    moved = replace(quality, inspector_mix=(replace(quality.inspector_mix[0], moved=True),))

    assert data_words(moved) == (
        "1 of 1 questions of fitness are beyond the limit: unknown origin (9 of 65). Who looked has changed at D01."
    )


def test_a_week_without_anything_recorded_is_not_called_as_usual():
    quality = made.quality()
    empty = tuple(replace(line, whole=0, have=0, concern=False) for line in quality.lines)

    assert data_words(replace(quality, lines=empty)).startswith("Nothing has been recorded in this week yet")


def test_criticals_alone_leave_no_rate_among_the_lines():
    lines = glance(replace(made.review(), has_rates=False), signals(), THROUGH)

    assert [line.section for line in lines] == ["origin", "signals", "safety", "data"]


@pytest.mark.parametrize(("criticals", "heed"), [((), False), ((made.critical(),), True)])
def test_a_critical_of_the_week_asks_to_be_looked_at(criticals, heed):
    line = {one.section: one for one in glance(made.review(criticals), signals(), THROUGH)}["safety"]

    assert (line.heed, line.reading) == (heed, "1 found" if heed else "none found")


def test_the_lines_of_counts_say_their_week_and_their_units():
    lines = {line.head: line.sentence for line in glance(made.review(), signals(), THROUGH)}

    assert "of 65 defects in 2026-W24" in lines["The three types"]
    assert "of 65 defects in 2026-W24" in lines["Where from"]
    assert lines["Got through"] == THROUGH.sentence


def test_each_line_leads_to_a_section_and_says_something():
    for line in glance(made.review(), signals(*NEW), THROUGH):
        assert line.section
        assert line.sentence.endswith(".")


def test_each_reading_says_how_the_week_stands_in_a_few_words():
    readings = {line.section: line.reading for line in glance(made.review(), signals(*NEW[:2]), THROUGH)}

    assert readings["signals"] == "2 new, 0 known"
    assert readings["data"] == "1 of 1 beyond the limit"
    assert all(len(reading) <= 28 for reading in readings.values())
    assert [section for section, reading in readings.items() if not reading] == []
