"""Charts in the language of who reads them: the words and the figures are theirs, what binds rows to marks is not.

The numbers are made up; a point before decimals in English and a comma in German is what CLDR has for both.
"""

from dataclasses import replace

import pytest

from qc.charts.drawing import words
from qc.charts.kinds.week_axis import on_one_axis
from qc.charts.kinds.week_notes import WeekNote
from qc.charts.pages.station import trend_picture
from qc.domain.words.speaking import spoken
from qc.web.languages import tongue_of
from tests.charts import made_reports as made


@pytest.fixture
def german():
    with spoken(tongue_of("de")):
        yield


def test_rows_are_called_as_their_reader_writes_weeks_and_bound_by_the_iso_week(german):
    picture = trend_picture("S07", made.trend("work"))

    assert [row.head for row in picture.table.rows][-1] == f"KW\u00a0{made.WEEKS[-5][-2:]}/{made.WEEKS[-5][:4]}"
    assert [row.mark for row in picture.table.rows] == list(reversed(made.WEEKS[-5:]))
    assert [column.head for column in picture.table.columns][1:3] == ["Fehler (bestätigt + vermutet)", "Üblich"]


def test_an_axis_has_the_readers_weeks_and_figures_the_readers_signs(german):
    layout = trend_picture("S07", made.trend("work")).figure["layout"]

    assert layout["xaxis"]["tickvals"] == list(made.WEEKS[-5:])
    assert layout["xaxis"]["ticktext"] == [f"KW\u00a0{week[-2:]}" for week in made.WEEKS[-5:]]
    assert layout["separators"] == ",\u00a0"
    assert (words.percent(0.125), words.rate(1.5), words.decimal(0.25), words.figures(0.00214)) == (
        "12,5\u00a0%", "1,50", "0,25", "0,00214",
    )  # fmt: skip


def test_english_leaves_plotlys_own_signs():
    assert "separators" not in trend_picture("S07", made.trend("work")).figure["layout"]


def test_a_note_finds_its_week_and_weeks_stand_on_one_axis_in_any_language(german):
    noted = trend_picture("S07", made.trend("work"), (WeekNote(made.WEEKS[-3], "Neue Lehre"),))
    short = replace(noted.scene.x, labels=noted.scene.x.labels[2:])
    one, other = on_one_axis((noted, replace(noted, scene=replace(noted.scene, x=short))))

    assert noted.notes == (f"A KW\u00a0{made.WEEKS[-3][-2:]}/{made.WEEKS[-3][:4]}: Neue Lehre",)
    assert [row.head for row in noted.table.rows if row.head.endswith(", A")] == [
        f"KW\u00a0{made.WEEKS[-3][-2:]}/{made.WEEKS[-3][:4]}, A"
    ]
    assert one.scene.x.labels == other.scene.x.labels
