"""Is the data fit to be read? What is missing, late, not looked at, of unknown origin, and who looked."""

from dataclasses import dataclass

from qc.stats.answers import TooLittle
from qc.stats.intervals import ShareInterval


@dataclass(frozen=True, slots=True)
class QualityLine:
    """One question of fitness. have of whole in words; share with interval where it is a share, else TooLittle.

    code: "no_record", "not_looked_at", "unknown_origin", "unconfirmed", "late_synced", "duplicates",
    "field_without_record", "unfinished". concern: have is above what the plant lives with (limit in words, "" none).
    """

    code: str
    title: str
    have: int
    whole: int
    share: ShareInterval | TooLittle
    concern: bool
    limit: str
    sentence: str


@dataclass(frozen=True, slots=True)
class InspectorMix:
    """First presentations by inspector at one point: this week and the weeks before, in code order."""

    point: str
    inspectors: tuple[str, ...]
    week: tuple[int, ...]
    before: tuple[int, ...]
    sentence: str


@dataclass(frozen=True, slots=True)
class DataQuality:
    """The answers for one period; partial_sentence is "" when the week is over."""

    lines: tuple[QualityLine, ...]
    inspector_mix: tuple[InspectorMix, ...]
    partial_sentence: str
