"""Pictures of weeks down a page: one axis, the same margins, each line named at its end and never over another.

The numbers are made up to exercise the drawing.
"""

from dataclasses import replace
from itertools import pairwise
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.charts.drawing.frame import Frame
from qc.charts.drawing.scene import spread
from qc.charts.kinds.week_axis import on_one_axis
from qc.charts.pages.critical_gaps import gaps_picture
from qc.charts.pages.level import per_unit_picture
from qc.charts.pages.review import review_pictures
from qc.charts.pages.rework import rework_picture
from tests.charts import made_reports as made
from tests.charts.test_other_pictures import two_lines


def test_a_week_stands_below_itself_down_the_page(sound):
    short = replace(made.rework(), weeks=made.rework().weeks[3:])
    pictures = on_one_axis((per_unit_picture(made.per_unit()), rework_picture(short)))
    one, other = (Frame.of(picture.scene) for picture in pictures)
    week = short.weeks[0].week

    assert one.x(week) == other.x(week)
    assert len(pictures[1].table.rows) == len(short.weeks)
    for picture in pictures:
        sound(picture)
        assert picture.figure["layout"]["margin"] == pictures[0].figure["layout"]["margin"]
        assert picture.figure["layout"]["xaxis"]["categoryarray"] == list(pictures[0].scene.x.labels)


def test_a_picture_of_anything_but_weeks_keeps_its_axis():
    gaps = gaps_picture(made.gaps())
    pictures = review_pictures(made.review())

    assert on_one_axis((gaps, pictures.per_unit))[0] is gaps
    assert {picture.scene.x.labels for picture in (pictures.per_unit, pictures.rework, *pictures.first_pass)} == {
        pictures.per_unit.scene.x.labels
    }


def test_lines_are_named_at_their_ends_instead_of_in_a_legend():
    picture = two_lines()
    words = [part.text for part in ElementTree.fromstring(picture.svg).iter() if part.tag.endswith("}text")]
    shown = [trace["name"] for trace in picture.figure["data"] if trace["showlegend"]]

    assert picture.scene.ends == {"no critical or major": 0.4, "nothing at all": 0.1}
    assert {"no critical", "or major", "nothing at", "all"} <= set(words)
    assert [sign["text"] for sign in picture.figure["layout"]["annotations"]] == [
        "nothing at<br>all", "no critical<br>or major",
    ]  # fmt: skip
    assert shown == ["this week, not over"]
    assert [key.mark for key in picture.keys] == ["hollow"]


@given(st.dictionaries(st.text("ab", min_size=1, max_size=8), st.floats(0, 100), max_size=6))
def test_words_at_ends_keep_their_order_and_never_lie_over_each_other(ends):
    placed = spread(ends, 7, 100)
    heights = [height for _, height in placed]

    assert [lines[0] for lines, _ in placed] == [word for _, word in sorted((at, word) for word, at in ends.items())]
    assert all(above - below >= 7 - 1e-9 for below, above in pairwise(heights))
    assert max(heights, default=0) <= 100
    if len(ends) == 1:
        assert heights == pytest.approx(list(ends.values()))
