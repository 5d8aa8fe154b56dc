"""What changed is drawn where it changed: the same letter on the figure, on the drawing, in the table and the list.

The numbers are made up to exercise the drawing; the checks from outside are plotly's schema and an XML parser.
"""

from xml.etree import ElementTree

from qc.charts.drawing.frame import Frame
from qc.charts.kinds.week_notes import WeekNote, with_notes
from qc.charts.pages.critical_gaps import gaps_picture
from qc.charts.pages.station import trend_picture
from tests.charts import made_reports as made

NOTES = (WeekNote("2026-W22", "New jig"), WeekNote("2026-W24", "New glue"), WeekNote("2026-W22", "A person"))


def noted(notes=NOTES):
    return trend_picture("S07", made.trend("work"), notes)


def test_a_picture_with_notes_is_sound(sound):
    sound(noted())


def test_each_note_has_its_letter_in_list_table_and_figure():
    picture = noted()

    assert picture.notes == ("A 2026-W22: A person", "B 2026-W22: New jig", "C 2026-W24: New glue")
    assert [row.head for row in picture.table.rows][::2] == ["2026-W24, C", "2026-W22, A B", "2026-W20"]
    layout = picture.figure["layout"]
    assert [shape["x0"] for shape in layout["shapes"]] == ["2026-W22", "2026-W24"]
    assert [sign["text"] for sign in layout["annotations"][:2]] == ["<b>A B</b>", "<b>C</b>"]
    assert layout["annotations"][0]["hovertext"] == "A 2026-W22: A person<br>B 2026-W22: New jig"


def test_the_line_stands_on_its_week():
    lines = [part for part in ElementTree.fromstring(noted().svg).iter() if part.get("class") == "note"]
    frame = Frame.of(noted().scene)

    assert [float(line.get("x1")) for line in lines] == [round(frame.x(week), 1) for week in ("2026-W22", "2026-W24")]


def test_a_note_of_a_week_that_is_not_shown_is_left_out():
    plain = noted(())

    assert with_notes(plain, (WeekNote("2025-W01", "Long ago"),)) is plain


def test_the_week_that_is_not_over_keeps_its_note():
    from qc.charts.pages.first_pass import first_pass_pictures

    picture = with_notes(first_pass_pictures(made.first_pass_both())[0], (WeekNote("2026-W24", "Scratch limit"),))

    assert picture.table.rows[0].head == "2026-W24, not over, A"


def test_on_a_picture_of_days_a_note_stands_at_the_first_day_from_its_week_on(sound):
    notes = (WeekNote("2026-W18", "Stricter"), WeekNote("2026-W27", "After the last"), WeekNote("2026-W01", "Before"))
    picture = with_notes(gaps_picture(made.gaps()), notes)
    sound(picture)

    assert [(note.place, note.letter) for note in picture.scene.notes] == [("2026-05-06", "A"), ("so far", "B")]
    assert {row.head for row in picture.table.rows if "," in row.head} == {"2026-05-06, A", "so far, B"}


def test_a_pointer_is_told_what_was_noted():
    (first, _) = noted().scene.notes

    assert first.hover == ("A 2026-W22: A person", "B 2026-W22: New jig")
    assert "<title>A 2026-W22: A person, B 2026-W22: New jig</title>" in noted().svg
