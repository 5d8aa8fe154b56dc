"""A signal as a small drawing: the defects of each week beside what was to be expected, and where it stands out."""

from dataclasses import dataclass

from qc.charts.drawing import svg, words
from qc.charts.drawing.frame import Frame, frame_for
from qc.charts.drawing.picture import Key
from qc.charts.kinds.run_chart import tick_words
from qc.reports.watch.signals import Signal

SHOWN_WEEKS = 26


@dataclass(frozen=True, slots=True)
class SignalPicture:
    """One signal drawn. svg: the drawing, titled for who does not see it; keys: what its marks mean."""

    svg: str
    keys: tuple[Key, ...]


def signal_picture(signal: Signal, id_: str) -> SignalPicture:
    """Return the last 26 whole weeks of a signal; id_ is unique on its page."""
    last = slice(-SHOWN_WEEKS, None)
    weeks, defects, usual = signal.weeks[last], signal.defects[last], signal.usual[last]
    frame = frame_for(weeks, [*defects, *usual])
    expected = [(frame.x(place), frame.y(value)) for place, value in enumerate(usual)]
    seen = [(frame.x(place), frame.y(value)) for place, value in enumerate(defects)]
    marks = [
        _mark(frame, place, defects[place], _is_in(signal, week), f"{week}: {defects[place]}, {usual[place]:.1f} usual")
        for place, week in enumerate(weeks)
    ]
    title = f"{signal.station} {signal.type_name}, defects by week found"
    axes = frame.axes(tick_words(False), words.week, "defects a week")
    lines = (svg.path(expected, "line-second"), svg.path(seen, "line"))
    keys = (Key("line-second", "expected on the same units"), Key("point", "found"), Key("signal", "in the signal"))
    return SignalPicture(svg.drawing(id_, 360, frame.height, title, signal.sentence, *axes, *lines, *marks), keys)


def _is_in(signal: Signal, week: str) -> bool:
    return week >= signal.begun and not (signal.over and week > signal.over)


def _mark(frame: Frame, place: int, value: int, is_in: bool, says: str) -> str:
    draw = svg.diamond if is_in else svg.dot
    return draw(frame.x(place), frame.y(value), 5.0 if is_in else 3.0, "signal" if is_in else "point", says)
