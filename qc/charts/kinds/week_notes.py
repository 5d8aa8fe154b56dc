"""What changed and when, drawn on a picture of weeks: a dotted line with a letter, the same letter in the table."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from string import ascii_uppercase

from qc.charts.drawing.picture import Picture
from qc.charts.drawing.scene import Note, Places, Scene
from qc.charts.drawing.table import Row, Table
from qc.domain.plant.calendar import iso_week
from qc.domain.words.said_weeks import week_words

DAY, WEEK = re.compile(r"\d{4}-\d\d-\d\d"), re.compile(r"\d{4}-W\d\d")


@dataclass(frozen=True, slots=True)
class WeekNote:
    """Something noted from a day in this ISO week ("2026-W24") on, in words."""

    week: str
    words: str


def with_notes(picture: Picture, notes: Sequence[WeekNote]) -> Picture:
    """Return the picture with the notes of its time; notes from before or after it are left out.

    picture: one of weeks or of days, heading its rows; on days a note stands at the first from its week on.
    """
    scene, shown = noted(picture.scene, notes)
    letters = {week_words(note.place): note.letter for note in scene.notes}
    lines = tuple(_hover(note, letter) for note, letter in shown.items())
    return replace(picture, scene=scene, table=_noted_table(picture.table, letters), notes=lines) if shown else picture


def noted(scene: Scene, notes: Sequence[WeekNote]) -> tuple[Scene, dict[WeekNote, str]]:
    """Return the scene with the notes of its time, and the letter of each of them in time order."""
    assert isinstance(scene.x, Places)
    weeks = {label: _week_of(label) for label in scene.x.labels}
    placed = {note: _place(note, weeks) for note in sorted(notes, key=lambda note: (note.week, note.words))}
    shown = [note for note, place in placed.items() if place]
    letters = {note: _letter(n) for n, note in enumerate(shown)}
    together: dict[str, list[WeekNote]] = {}
    for note in shown:
        together.setdefault(placed[note], []).append(note)
    drawn = tuple(
        Note(place, " ".join(letters[note] for note in own), tuple(_hover(note, letters[note]) for note in own))
        for place, own in together.items()
    )
    return replace(scene, notes=drawn), letters


def _hover(note: WeekNote, letter: str) -> str:
    return f"{letter} {week_words(note.week)}: {note.words}"


def _place(note: WeekNote, weeks: Mapping[str, str]) -> str:
    """Return the first period of the note's week or after it, "" where the note lies before or after all of them."""
    if not weeks or note.week < min(weeks.values()):
        return ""
    return next((label for label, week in weeks.items() if week >= note.week), "")


def _week_of(label: str) -> str:
    """Return the ISO week of a week or a day; a period of neither kind is the last, still running."""
    if day := DAY.match(label):  # the second of a day says so behind it
        return iso_week(date.fromisoformat(day[0]))
    return label if WEEK.fullmatch(label) else "9999-W53"


def week_of(row: Row) -> str:
    """Return the week that a row is of, as it is called; its head may say more after a comma."""
    return row.head.partition(",")[0]


def _letter(place: int) -> str:
    return ascii_uppercase[place] if place < len(ascii_uppercase) else f"{place + 1}"


def _noted_table(table: Table, letters: dict[str, str]) -> Table:
    rows = [replace(row, head=f"{row.head}, {letters[week_of(row)]}") if week_of(row) in letters else row
            for row in table.rows]  # fmt: skip
    return replace(table, rows=tuple(rows))
