"""What was set aside and waits for the quality manager's word: each entry, what it says, why, and for how long."""

from collections.abc import Callable
from dataclasses import dataclass

from qc.domain.line.line import NEVER_TAKEN_IN, OF_THE_HOUSE
from qc.domain.plant.plant import Plant
from qc.domain.words.speaking import say
from qc.reports.units.operation_words import OperationWords, has_shape
from qc.store.intake.quarantine import Entry

DAY_MS = 24 * 3_600_000


@dataclass(frozen=True, slots=True)
class AsideLine:
    """One entry. says: in words; days: whole days since it came; may_take_in: False for what is done anew instead."""

    entry: Entry
    says: str
    days: int
    may_take_in: bool


@dataclass(frozen=True, slots=True)
class SetAsideReport:
    """What waits, latest first, and what was left with a reason. oldest_days: of what waits, None for nothing."""

    waiting: tuple[AsideLine, ...]
    left: tuple[AsideLine, ...]
    oldest_days: int | None


def set_aside_report(
    waiting: list[Entry], left: list[Entry], plant: Plant, model_of: Callable[[str], str], now: int
) -> SetAsideReport:
    """Return the report. model_of: a unit's model, "" for one that is not planned; now: the server's clock."""
    lines = tuple(_line(one, plant, model_of, now) for one in waiting)
    kept = tuple(_line(one, plant, model_of, now) for one in left)
    return SetAsideReport(lines, kept, max((one.days for one in lines), default=None))


def _line(entry: Entry, plant: Plant, model_of: Callable[[str], str], now: int) -> AsideLine:
    op = entry.op
    if op is None:
        says = say("what cannot be read as an entry")
    else:
        says = OperationWords(plant, model_of(op.unit or "")).said(op, readable=has_shape(op))
    days = max(0, now - entry.received_ms) // DAY_MS
    return AsideLine(entry, says, days, op is not None and entry.kind not in NEVER_TAKEN_IN | OF_THE_HOUSE)
