"""A signal as a small drawing: the defects of each week beside what was to be expected, and where it stands out."""

from dataclasses import dataclass

from qc.charts.drawing.as_svg import drawing
from qc.charts.drawing.scene import Hover, Key, Line, Look, Mark, Marks, Places, Scene, Values
from qc.charts.kinds.week_notes import WeekNote, noted
from qc.domain.plant.calendar import iso_week
from qc.domain.plant.naming import with_name
from qc.domain.words.said_weeks import week_words
from qc.domain.words.speaking import say
from qc.reports.watch.signals import Signal

SHOWN_WEEKS = 26


@dataclass(frozen=True, slots=True)
class SignalPicture:
    """One signal drawn. svg: the drawing, titled for who does not see it; keys: what its marks mean.

    letters: of what was noted at the station, beside the signal's notes; "" for one outside the weeks drawn.
    """

    svg: str
    keys: tuple[Key, ...]
    letters: tuple[str, ...]


def signal_picture(signal: Signal, id_: str) -> SignalPicture:
    """Return the last 26 whole weeks of a signal; id_ is unique on its page."""
    weeks = list(zip(signal.weeks, signal.defects, signal.usual, strict=True))[-SHOWN_WEEKS:]

    def marks(look: Look, name: str, is_in: bool) -> Marks:
        own = [week for week in weeks if _is_in(signal, week[0]) is is_in]
        return Marks(
            look, name, tuple(Mark(x=week, y=found, hover=_hover(week, found, usual)) for week, found, usual in own)
        )

    scene = Scene(
        Places(say("week"), tuple(week for week, _, _ in weeks)),
        Values(say("defects")),
        (
            Line("line-second", say("expected on the same units"), tuple((week, usual) for week, _, usual in weeks)),
            Line("line", "", tuple((week, defects) for week, defects, _ in weeks)),
            marks("point", say("found"), False),
            marks("signal", say("in the signal"), True),
        ),
    )
    place = with_name(signal.station, signal.station_name)
    title = say("{place}: {type}, defects by week found", place=place, type=signal.type_name)
    notes = [WeekNote(iso_week(note.from_day), note.what) for note in signal.notes]
    scene, letters = noted(scene, notes)
    drawn = drawing(scene, id_, title, signal.sentence)
    return SignalPicture(drawn, scene.keys, tuple(letters.get(note, "") for note in notes))


def _hover(week: str, defects: int, usual: float) -> Hover:
    return f"{week_words(week)}: {defects}", say("{value:.1f} usual", value=usual)


def _is_in(signal: Signal, week: str) -> bool:
    return week >= signal.begun and not (signal.over and week > signal.over)
