"""What changed and when, drawn on a picture of weeks: a dotted line with a letter, the same letter in the table."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from string import ascii_uppercase

from qc.charts.drawing.picture import Picture
from qc.charts.drawing.scene import Note
from qc.charts.drawing.table import Row, Table


@dataclass(frozen=True, slots=True)
class WeekNote:
    """Something noted from a day in this ISO week ("2026-W24") on, in words."""

    week: str
    words: str


def with_notes(picture: Picture, notes: Sequence[WeekNote]) -> Picture:
    """Return the picture with the notes of its weeks; notes of other weeks are left out.

    picture: one made from weeks, whose rows are headed by their week, newest first.
    """
    weeks = {week_of(row) for row in picture.table.rows}
    shown = [note for note in sorted(notes, key=lambda note: (note.week, note.words)) if note.week in weeks]
    if not shown:
        return picture
    letters = _letters(shown)
    return replace(
        picture,
        scene=replace(picture.scene, notes=tuple(Note(week, letter) for week, letter in letters.items())),
        table=_noted_table(picture.table, letters),
        notes=tuple(f"{_letter(place)} {note.week}: {note.words}" for place, note in enumerate(shown)),
    )


def week_of(row: Row) -> str:
    """Return the week that a row is of; its head may say more after a comma."""
    return row.head.partition(",")[0]


def _letter(place: int) -> str:
    return ascii_uppercase[place] if place < len(ascii_uppercase) else f"{place + 1}"


def _letters(notes: Sequence[WeekNote]) -> dict[str, str]:
    """Return for each week its notes' letters: a week may have several."""
    letters: dict[str, str] = {}
    for place, note in enumerate(notes):
        letters[note.week] = f"{letters.get(note.week, '')} {_letter(place)}".strip()
    return letters


def _noted_table(table: Table, letters: dict[str, str]) -> Table:
    rows = [replace(row, head=f"{row.head}, {letters[week_of(row)]}") if week_of(row) in letters else row
            for row in table.rows]  # fmt: skip
    return replace(table, rows=tuple(rows))
