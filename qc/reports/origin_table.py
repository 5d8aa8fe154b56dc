"""Origin × detection: where defects were made against where they were found, and what each point let through."""

from dataclasses import dataclass

from qc.domain.counts import OriginDetection
from qc.stats.answers import TooLittle
from qc.stats.escapes import EscapeMatrix
from qc.stats.intervals import ShareInterval


@dataclass(frozen=True, slots=True)
class OriginRow:
    """One origin. confirmed, suspected: defects by point, in the order of the table's points; total: all of them.

    is_station: supplier, handling and design are not. share: of all defects whose origin is known, with interval.
    """

    origin: str
    name: str
    is_station: bool
    confirmed: tuple[int, ...]
    suspected: tuple[int, ...]
    total: int
    share: ShareInterval | TooLittle


@dataclass(frozen=True, slots=True)
class PointLine:
    """One detection point. found here, passed (found later), share passed = passed / (found + passed), interval.

    Counts defects whose origin lies before the point, known origins only. unknown: found here, origin not known.
    """

    point: str
    name: str
    found: int
    passed: int
    share_passed: ShareInterval | TooLittle
    unknown: int


@dataclass(frozen=True, slots=True)
class OriginTable:
    """The table for units presented in one period. matrix: the statistics' evidence, TooLittle without defects.

    unknown_total: defects of unknown or disputed origin, in no row. follow_up: how long the units have been out,
    in words: recent units always look good until dealers have reported. denominator, sentence in words.
    """

    counts: OriginDetection
    points: tuple[str, ...]
    rows: tuple[OriginRow, ...]
    detection: tuple[PointLine, ...]
    matrix: EscapeMatrix | TooLittle
    known_total: int
    unknown_total: int
    unknown_share: ShareInterval | TooLittle
    follow_up: str
    denominator: str
    sentence: str
