"""Cut a range of days into spans: whole blocks inside, weeks and days at the edges."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache
from types import MappingProxyType

from qc.domain.plant.calendar import BLOCK_ORIGIN, BLOCK_WEEKS, iso_week

WEEK_DAYS = 7
BLOCK_DAYS = BLOCK_WEEKS * WEEK_DAYS


@dataclass(frozen=True, slots=True)
class Spans:
    """Spans of one size, "D", "W" or "B", that begin on first <= start < end."""

    span: str
    first: date
    end: date


def day_week_spans(first: date, end: date) -> tuple[Spans, ...]:
    """Return the whole weeks of [first, end) and the days at its edges, in time order, empty ones left out."""
    return tuple(part for part in _weeks_and_days(first, end) if part.first < part.end)


def all_spans(first: date, end: date) -> tuple[Spans, ...]:
    """Return the whole blocks, weeks and days that make up [first, end), in time order, empty ones left out."""
    parts: list[Spans] = []
    for part in day_week_spans(first, end):
        parts += _blocks_and_weeks(part) if part.span == "W" else [part]
    return tuple(part for part in parts if part.first < part.end)


def _weeks_and_days(first: date, end: date) -> Iterator[Spans]:
    week_first, week_end = _up(first, WEEK_DAYS), _down(end, WEEK_DAYS)
    if week_first >= week_end:
        yield Spans("D", first, end)
        return
    yield Spans("D", first, week_first)
    yield Spans("W", week_first, week_end)
    yield Spans("D", week_end, end)


def _blocks_and_weeks(weeks: Spans) -> list[Spans]:
    block_first, block_end = _up(weeks.first, BLOCK_DAYS), _down(weeks.end, BLOCK_DAYS)
    if block_first >= block_end:
        return [weeks]
    return [
        Spans("W", weeks.first, block_first),
        Spans("B", block_first, block_end),
        Spans("W", block_end, weeks.end),
    ]


def _down(day: date, days: int) -> date:
    # BLOCK_ORIGIN is a Monday, so that weeks and blocks are whole multiples of days since it.
    return day - timedelta(days=(day - BLOCK_ORIGIN).days % days)


def _up(day: date, days: int) -> date:
    return day + timedelta(days=-(day - BLOCK_ORIGIN).days % days)


@lru_cache(maxsize=8192)
def monday_of(day: str) -> str:
    """Return the Monday of the ISO week of an ISO day."""
    return _down(date.fromisoformat(day), WEEK_DAYS).isoformat()


@lru_cache(maxsize=64)
def weeks_of(first: date, end: date) -> Mapping[str, str]:
    """Return Monday -> ISO week name of every week that [first, end) touches, in time order, none left out."""
    monday, weeks = _down(first, WEEK_DAYS), dict[str, str]()
    while monday < end:
        weeks[monday.isoformat()] = iso_week(monday)
        monday += timedelta(days=WEEK_DAYS)
    return MappingProxyType(weeks)  # shared by all who ask for the same range
