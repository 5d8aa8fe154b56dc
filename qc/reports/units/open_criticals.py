"""The criticals that are not settled: whatever a page is narrowed to, they stand beside every chart of it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from qc.domain.words.speaking import say_many
from qc.reports.asking import Asking


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenCritical:
    """One critical that is open or waits for its re-check. origins: stations suspected or confirmed, if any."""

    unit: str
    shop_number: str
    what: str
    found_day: date
    point: str
    state: str
    origins: tuple[str, ...]


def open_criticals(ask: Asking) -> tuple[OpenCritical, ...]:
    """Return every critical of the record that is not settled, in the order found: no narrowing hides one."""
    return tuple(
        OpenCritical(
            unit=one.unit,
            shop_number=one.shop_number,
            what=ask.names.critical(one.type, one.grade),
            found_day=one.found_day,
            point=one.point,
            state=one.state,
            origins=tuple(code for code in (one.suspected, one.confirmed) if code),
        )
        for one in ask.counts.open_criticals()
    )


def open_words(lines: Sequence[OpenCritical]) -> str:
    """Return "1 critical is open." or "3 criticals are open."."""
    return say_many("{number} critical is open.", "{number} criticals are open.", len(lines))
