"""A build plan taken in: what is planned already, and the operations of a plan as one batch, all or none."""

import secrets
import sqlite3
from collections.abc import Callable, Sequence
from typing import Any

import orjson

from qc.domain.handed.build_plan import PlanLine, PlannedUnit
from qc.domain.words.speaking import say, told
from qc.store.intake.journal import Journal
from qc.store.people.persons import DESK
from qc.store.record.own_word import own_batch
from qc.store.record.verdicts import Verdict

_PLANNED = "SELECT chassis, shop_number, options, build_sheet, planned_day, state, met_by, line FROM unit"


class PlanOvertaken(Exception):
    """Since the plan was looked through the record changed, so that a row cannot be taken; nothing of it was."""

    def __init__(self, line: PlanLine, verdict: Verdict) -> None:
        super().__init__(line, verdict)
        self._line, self._why = line, verdict.reason

    def __str__(self) -> str:
        # Raised by the writer, said by whoever shows it
        return say("row {row}, {unit}: {why}", row=self._line.row, unit=self._line.unit, why=told(self._why))


def planned_units(conn: sqlite3.Connection) -> dict[str, PlannedUnit]:
    """Return every unit on record by its chassis number."""
    return {
        row[0]: PlannedUnit(
            chassis=row[0],
            shop_number=row[1],
            options=tuple(orjson.loads(row[2])),
            build_sheet=row[3],
            planned_day=row[4],
            is_released=row[5] == "released",
            is_cancelled=row[5] == "cancelled",
            met_by=row[6] or "",
            line=row[7],
        )
        for row in conn.execute(_PLANNED)
    }


def take_plan(
    journal: Journal,
    lines: Sequence[PlanLine],
    author: str,
    session: str,
    now: Callable[[], int],
    beside: Callable[[sqlite3.Connection], None] | None = None,
) -> tuple[Verdict, ...]:
    """Enter what the new and changed lines ask in one transaction, and return its verdicts, all applied.

    beside: what is written in the same transaction, also where no line asks for anything.
    Raises PlanOvertaken, StorageFull or StorageFailed: then nothing was taken, and the plan can be taken again.
    """
    doing = [line for line in lines if line.kind]
    if not doing:
        if beside is not None:
            journal.write(beside)
        return ()
    epoch = f"plan-{secrets.token_hex(8)}"  # a stream of its own: the plan is one act
    wanted: list[dict[str, Any]] = [
        {"kind": line.kind, "unit": line.unit, "body": dict(line.body), "author": author, "session": session}
        for line in doing
    ]
    return journal.push_whole(own_batch(DESK, epoch, 1, now(), *wanted), _none_refused(doing), beside)


def _none_refused(doing: Sequence[PlanLine]) -> Callable[[tuple[Verdict, ...]], None]:
    def demand(verdicts: tuple[Verdict, ...]) -> None:
        for line, verdict in zip(doing, verdicts, strict=True):
            if verdict.verdict != "applied":
                raise PlanOvertaken(line, verdict)

    return demand
