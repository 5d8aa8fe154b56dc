"""Faults that are put into the program on purpose, in a test alone, and the invariant that must break for each.

Nothing in the product switches them on: they change the loaded modules of the test's own process. Each stands for a
mistake that somebody could make; a suite that does not see it would not see the mistake.

    python -m tests.faults.planted FAULT FOLDER EPOCH BATCHES   pushes in this process with the fault, for strace
"""

import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, replace

import pytest

from qc.store.folder import photos
from qc.store.intake import door, journal, settling, writer
from qc.store.people import sign_ins, tries
from qc.store.record import chain, connection, entries
from qc.web import page_session
from qc.web.api import push
from tests.web import plant_server

Patch = pytest.MonkeyPatch


@dataclass(frozen=True)
class Planted:
    """A fault. breaks: the invariant of `tests.faults.round` (or the test named) that must see it."""

    plant: Callable[[Patch], None]
    breaks: str


def answered_before_the_commit(patch: Patch) -> None:
    def hasty(self, conn, group):
        conn.execute("BEGIN IMMEDIATE")
        for work, future in group:
            try:
                future.set_result(work(conn))
            except Exception as error:
                future.set_exception(error)
        time.sleep(0.1)  # longer than it takes to look whether the answer is true
        if conn.in_transaction:
            conn.execute("COMMIT")

    patch.setattr(writer.Writer, "_settle", hasty)


def not_synced(patch: Patch) -> None:
    patch.setitem(connection._WRITER, "synchronous", 1)


def no_dedupe(patch: Patch) -> None:
    patch.setattr(door.verdicts, "known", lambda conn, id_, raw: None)


def gaps_taken(patch: Patch) -> None:
    real = door._turned_away

    def lax(stream, parsed):
        turned = real(stream, parsed)
        if turned is not None and turned.verdict == "gap":
            stream.expected = parsed["seq"]
            return None
        return turned

    patch.setattr(door, "_turned_away", lax)


def any_role_may_author(patch: Patch) -> None:
    patch.setattr(settling, "_require_role", lambda kind, a: None)


def any_role_may_read(patch: Patch) -> None:
    real = page_session.current_person

    def manager():
        found = real()
        return found and replace(found, role="quality_manager")

    patch.setattr(page_session, "current_person", manager)


def anybody_is_the_author(patch: Patch) -> None:
    patch.setattr(door, "_unproved", lambda batch, op, happened_ms, proof: "")


def sign_out_does_nothing(patch: Patch) -> None:
    patch.setattr(sign_ins.SignIns, "end", lambda self, token: None)


def tries_not_counted(patch: Patch) -> None:
    patch.setattr(tries, "wait_ms", lambda conn, name, place, now: 0)


def strangers_counted_with_phones(patch: Patch) -> None:
    patch.setattr(sign_ins, "place_of", lambda conn, source: tries.Place("stranger", ""))


def foreign_forms_taken(patch: Patch) -> None:
    patch.setattr(page_session, "_from_own_page", lambda: True)


def pictures_not_decoded(patch: Patch) -> None:
    patch.setattr(photos, "checked", lambda sha256, data: ("image/jpeg", 640, 480))


def photo_rowed_without_its_file(patch: Patch) -> None:
    patch.setattr(photos, "_keep", lambda part, target: part.unlink())


def two_writers(patch: Patch) -> None:
    patch.setattr(connection, "_take", lambda file: None)


def hash_over_less(patch: Patch) -> None:
    patch.setattr(entries, "row_hash", lambda previous, values: chain.row_hash(previous, values[:-1]))


def row_derived_wrong(patch: Patch) -> None:
    real = door.Door.take

    def taking(self, *asked):
        answer = real(self, *asked)
        self._conn.execute("UPDATE defect SET severity = 'minor' WHERE severity = 'major'")
        return answer

    patch.setattr(door.Door, "take", taking)


def index_lost(patch: Patch) -> None:
    real = journal.migrate

    def losing(conn, folder):
        version = real(conn, folder)
        conn.execute("DROP INDEX journal_stream")
        return version

    patch.setattr(journal, "migrate", losing)


def other_history_passed_over(patch: Patch) -> None:
    patch.setattr(push, "holds", lambda conn, size, head: True)


def texts_not_escaped(patch: Patch) -> None:
    from flask import Flask

    patch.setattr(Flask, "select_jinja_autoescape", lambda self, filename: False)
    patch.setattr(plant_server, "COMPILED", plant_server.Compiled())  # each has its own way written into it


def full_disk_acknowledged(patch: Patch) -> None:
    real = writer.Writer._transact

    def deaf(self, conn, group):
        try:
            return real(self, conn, group)
        except writer.sqlite3.OperationalError:
            conn.execute("ROLLBACK") if conn.in_transaction else None
            return [(None, None) for _ in group]

    patch.setattr(writer.Writer, "_transact", deaf)


FAULTS: dict[str, Planted] = {
    "an answer before the commit": Planted(answered_before_the_commit, "what was acknowledged is stored"),
    "no dedupe": Planted(no_dedupe, "what is sent again is a duplicate"),
    "gaps taken": Planted(gaps_taken, "nothing is taken out of turn"),
    "any role may author": Planted(any_role_may_author, "only who may mutes a signal"),
    "any role may read": Planted(any_role_may_read, "pages are for their roles"),
    "anybody is the author": Planted(anybody_is_the_author, "nobody signs for another"),
    "sign-out does nothing": Planted(sign_out_does_nothing, "an ended sign-in opens nothing"),
    "tries not counted": Planted(tries_not_counted, "guessing is stopped"),
    "strangers counted with phones": Planted(strangers_counted_with_phones, "strangers hold up strangers alone"),
    "foreign forms taken": Planted(foreign_forms_taken, "a foreign form does nothing"),
    "pictures not decoded": Planted(pictures_not_decoded, "half a picture is not kept"),
    "a photo rowed without its file": Planted(photo_rowed_without_its_file, "verify finds the record whole"),
    "two writers": Planted(two_writers, "one process writes"),
    "a hash over less than the row": Planted(hash_over_less, "verify finds the record whole"),
    "a row derived wrong": Planted(row_derived_wrong, "verify finds the record whole"),
    "an index lost": Planted(index_lost, "verify finds the record whole"),
    "another history passed over": Planted(other_history_passed_over, "another history is told"),
    "texts not escaped": Planted(texts_not_escaped, "a hostile text is only a text"),
    "a full disk acknowledged": Planted(full_disk_acknowledged, "a full disk acknowledges nothing"),
    "no sync": Planted(not_synced, "tests/faults/test_strace_order.py"),
}


def main() -> None:
    """Push as `pushing_process` does, with one of the faults in this process."""
    fault = sys.argv.pop(1)
    FAULTS[fault].plant(pytest.MonkeyPatch())
    from tests.faults import pushing_process

    pushing_process.main()


if __name__ == "__main__":
    main()
