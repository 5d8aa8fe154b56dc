"""A signal's drawing: every week once, those of the signal told by another mark, and the words for who cannot see it.

Invented counts: what is checked is the drawing, not a statistic.
"""

from dataclasses import replace
from datetime import date
from xml.etree import ElementTree

import pytest

from qc.charts.pages.signal_picture import SHOWN_WEEKS, signal_picture
from qc.charts.pages.signals import weeks_table
from qc.reports.watch.signals import NotedChange, Signal

SVG = "{http://www.w3.org/2000/svg}"


def signal(weeks=30, begun=25, over=""):
    names = tuple(f"2026-W{week:02d}" for week in range(10, 10 + weeks))
    defects = tuple(3 if place < begun else 9 for place in range(weeks))
    return Signal(
        station="S07",
        station_name="Wall panels",
        type="PAN",
        type_name="Panels & joints",
        types=(("PAN-01", "Step"),),
        direction="up",
        rule="cusum",
        is_new=True,
        raised=names[-1],
        since=(names[begun], names[begun]),
        begun=names[begun],
        over=over,
        observed=45,
        expected=15.0,
        ratio=3.0,
        low=2.1,
        high=4.2,
        by_chance=0.001,
        work=None,
        notes=(),
        photos=(),
        other_names=(),
        sentence="S07 <more> than usual.",
        mute=None,
        weeks=names,
        defects=defects,
        usual=(3.0,) * weeks,
    )


def marks(svg, name, class_):
    return [one for one in ElementTree.fromstring(svg).iter(SVG + name) if one.get("class") == class_]


def test_every_shown_week_has_one_mark_and_the_signals_have_another():
    drawn = signal_picture(signal(), "signal-0")

    assert len(marks(drawn.svg, "polygon", "signal")) == 5
    assert len(marks(drawn.svg, "circle", "point")) == SHOWN_WEEKS - 5


def test_weeks_after_the_signal_was_over_are_plain_again():
    drawn = signal_picture(signal(over="2026-W36"), "signal-0")

    assert len(marks(drawn.svg, "polygon", "signal")) == 2


def test_the_drawing_tells_its_sentence_and_each_weeks_numbers():
    drawn = signal_picture(signal(), "signal-0")

    root = ElementTree.fromstring(drawn.svg)
    assert root.find(SVG + "desc").text == "S07 <more> than usual."
    assert marks(drawn.svg, "polygon", "signal")[0].find(SVG + "title").text == "2026-W35: 9, 3.0 usual"
    assert {key.mark for key in drawn.keys} == {"line-second", "point", "signal"}


@pytest.mark.parametrize("weeks", [1, 2, SHOWN_WEEKS, 40])
def test_the_table_has_the_weeks_that_are_drawn(weeks):
    shown = signal(weeks, begun=weeks - 1)

    drawn = signal_picture(shown, "signal-0")

    all_marks = marks(drawn.svg, "polygon", "signal") + marks(drawn.svg, "circle", "point")
    assert len(all_marks) == len(weeks_table(shown).rows) == min(weeks, SHOWN_WEEKS)


def test_what_was_noted_stands_in_its_week_with_the_letter_of_the_list():
    notes = (
        NotedChange(from_day=date(2026, 8, 26), change="method", what="New jig", noted_by="L-S07"),
        NotedChange(from_day=date(2025, 1, 6), change="method", what="Long ago", noted_by="L-S07"),
    )
    drawn = signal_picture(replace(signal(), notes=notes), "signal-0")

    assert drawn.letters == ("A", "")
    assert len(marks(drawn.svg, "line", "note")) == 1
    assert "<title>A 2026-W35: New jig</title>" in drawn.svg
