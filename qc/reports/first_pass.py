"""First-pass both ways, by end point and at the line: first presentations only, the severity always said."""

from dataclasses import dataclass

from qc.domain.counts import FirstPassWeeks
from qc.stats.answers import TooLittle
from qc.stats.yields import FirstPass

NO_MAJOR = "no critical or major"
NOTHING = "nothing at all"


@dataclass(frozen=True, slots=True)
class FirstPassLine:
    """One point (or "line": every end point, counted unit by unit).

    weeks: the trend's counts. week_*: the week; before_*: the weeks before it, both as shares with intervals
    (.share .low .high .units .clean) or TooLittle. Suffix major: no critical or major and no test failed; all:
    nothing at all and no test failed. sentence in words.
    """

    point: str
    name: str
    weeks: FirstPassWeeks
    week_major: FirstPass | TooLittle
    before_major: FirstPass | TooLittle
    week_all: FirstPass | TooLittle
    before_all: FirstPass | TooLittle
    sentence: str


@dataclass(frozen=True, slots=True)
class FirstPassBoth:
    """First-pass of the week: the line first, then the end points in flow order; denominator in words."""

    lines: tuple[FirstPassLine, ...]
    denominator: str
