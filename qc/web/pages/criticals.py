"""The criticals that are not settled: whatever a page is narrowed to, they stand beside every chart of it."""

from dataclasses import dataclass
from datetime import date

from qc.charts import words
from qc.web.house import House
from qc.web.pages.rooms import counts_of


@dataclass(frozen=True, slots=True)
class OpenCritical:
    """One critical that is open or waits for its re-check. origins: stations suspected or confirmed, if any."""

    unit: str
    shop_number: str
    what: str
    found_day: date
    point: str
    state: str
    origins: tuple[str, ...]


def open_criticals(house: House) -> tuple[OpenCritical, ...]:
    """Return every critical of the record that is not settled, in the order found: no filter hides one."""
    return tuple(
        OpenCritical(
            one.unit,
            one.shop_number,
            f"{one.type} {house.plant.types[one.type].name}" if one.type in house.plant.types else one.type,
            one.found_day,
            one.point,
            one.state,
            tuple(code for code in (one.suspected, one.confirmed) if code),
        )
        for one in counts_of(house).open_criticals()
    )


def open_words(lines: tuple[OpenCritical, ...]) -> str:
    """Return "1 critical is open." or "3 criticals are open."."""
    return f"{words.counted(len(lines), 'critical')} {'is' if len(lines) == 1 else 'are'} open."
