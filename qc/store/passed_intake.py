"""A list of passed stations taken in: its operations as one batch, all or none, each of when the unit passed."""

import secrets
from collections.abc import Callable, Sequence

from qc.domain.handed.passed_list import PassedLine
from qc.domain.words.speaking import say, told
from qc.store.intake.journal import Journal
from qc.store.people.persons import DESK
from qc.store.record.own_word import own_batch
from qc.store.record.verdicts import Verdict


class ListOvertaken(Exception):
    """Since the list was looked through the record changed, so that a row cannot be taken; nothing of it was."""

    def __init__(self, line: PassedLine, verdict: Verdict) -> None:
        super().__init__(line, verdict)
        self._line, self._why = line, verdict.reason

    def __str__(self) -> str:
        # Raised by the writer, said by whoever shows it
        return say("row {row}, {unit}: {why}", row=self._line.row, unit=self._line.unit, why=told(self._why))


def take_passed(
    journal: Journal, lines: Sequence[PassedLine], author: str, session: str, now: Callable[[], int]
) -> tuple[Verdict, ...]:
    """Enter the passings that are new in one transaction, and return its verdicts, all applied.

    Raises ListOvertaken, StorageFull or StorageFailed: then nothing was taken, and the list can be taken again.
    """
    doing = [line for line in lines if line.kind]
    if not doing:
        return ()

    def none_refused(verdicts: tuple[Verdict, ...]) -> None:
        for line, verdict in zip(doing, verdicts, strict=True):
            if verdict.verdict != "applied":
                raise ListOvertaken(line, verdict)

    wanted = [
        {
            "kind": line.kind,
            "unit": line.unit,
            "body": dict(line.body),
            "author": author,
            "session": session,
            "wall_ms": line.passed_ms,
        }
        for line in doing
    ]
    epoch = f"passed-{secrets.token_hex(8)}"  # a stream of its own: the list is one act
    return journal.push_whole(own_batch(DESK, epoch, 1, now(), *wanted), none_refused)
