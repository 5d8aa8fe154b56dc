"""The journal: the one way into the record."""

import sqlite3
import time
from collections.abc import Callable, Mapping
from contextlib import closing
from pathlib import Path
from typing import Any, TypeVar

import orjson

from qc.domain.facts.people import Person
from qc.domain.plant.plant import Plant
from qc.domain.tables.plant_rules import PlantRevisions, PlantRules
from qc.store.intake.door import Door, new_server_epoch, server_epoch
from qc.store.intake.writer import StorageFailed, StorageFull, Writer, WriterClosed
from qc.store.record.certificates import Certificates
from qc.store.record.connection import RECORD, WriterLock, open_writer
from qc.store.record.own_word import BY_ITSELF, By, number_told, servers_word, word_of
from qc.store.record.signing import ReleaseKey
from qc.store.record.tables_kept import keep_tables, revision_in_force, tables_in, told_revision
from qc.store.record.verdicts import PushAnswer, PushBatch, Verdict
from qc.store.tables.adoption import adopt
from qc.store.tables.migrations import migrate

__all__ = [
    "Journal",
    "PushAnswer",
    "PushBatch",
    "StorageFailed",
    "StorageFull",
    "Verdict",
    "WriterClosed",
    "person_in_table",
    "wall_ms",
]

T = TypeVar("T")
KEYS = "keys"  # outside the record and its backups

_PERSON = "SELECT code, name, role, stations, also FROM person WHERE code = ?"
_END_PHONES = "DELETE FROM sign_in WHERE purpose = 'phone'"
_BEGUN = "SELECT EXISTS (SELECT 1 FROM journal)"
BY_HAND = "the tables in the plant's folder were changed while no server ran"


def wall_ms() -> int:
    """Return the server's clock in milliseconds since 1970 UTC."""
    return time.time_ns() // 1_000_000


def person_in_table(conn: sqlite3.Connection, code: str) -> Person | None:
    """Return the person of a code from the accounts, also one who has left; None for nobody."""
    row = conn.execute(_PERSON, (code,)).fetchone()
    if row is None:
        return None
    return Person(row[0], row[1], row[2], tuple(orjson.loads(row[3])), tuple(orjson.loads(row[4])))


class Journal:
    """A folder's record, open for writing by this process alone.

    Thread-safe. Nothing is answered before the commit that holds it is on disk. Close it, or use it in a ``with``.
    """

    def __init__(
        self,
        folder: Path,
        plant: Plant,
        tables: dict[str, str],
        clock: Callable[[], int] = wall_ms,
        people: Callable[[str], Person | None] | None = None,
        *,
        lost_key: bool = False,
    ) -> None:
        """Open the record, made or migrated where needed, and note the plant's revision.

        people: who a code is; without it the accounts in the record are asked. lost_key: the server's key is gone for
        good, make another, which the journal then tells. Raises RecordInUse where another
        process has the folder, NewerRecord where the record is ahead of this program, KeyLost without its key.
        """
        folder.mkdir(parents=True, exist_ok=True)
        self.folder = folder
        self.plant = plant
        self.clock = clock
        self._lookup = people
        self._key = ReleaseKey(folder / KEYS)
        self.certificates = Certificates(self._key, clock)
        self._lock = WriterLock(folder)
        self._door: Door | None = None
        self._in_force = plant.revision
        self._changed_by_hand = False  # until that is told: then these tables hold, whatever the journal told last
        self._connection: sqlite3.Connection | None = None  # the writer's, as it was last used
        self._seen = 0  # what SQLite calls the data's version: it changes when another connection has written
        self._writer: Writer | None = None
        try:
            _migrated(folder)
            self._writer = Writer(folder, self._forget)
            self._revisions = PlantRevisions(plant, self._kept_tables)
            self.server_epoch = self.write(lambda conn: self._begun(conn, tables, lost_key=lost_key))
        except BaseException:
            self.close()
            raise

    def _begun(self, conn: sqlite3.Connection, tables: dict[str, str], *, lost_key: bool) -> str:
        """Make a record ready to be written and return its epoch, in one transaction: nothing of it stays half told."""
        if lost_key:
            self._key.replace_lost(conn)
        else:
            self._key.load(conn)
        epoch, before = _prepared(conn, self.plant, tables)
        self._changed_by_hand = before is not None
        adopt(conn, self.tell)
        if before is not None:
            self._tell_changed_by_hand(conn, before)
        if lost_key:
            self._tell_key(conn, "the key before it was lost")
        return epoch

    def push(self, batch: PushBatch) -> PushAnswer:
        """Append and settle a batch; return, once it is on disk, a verdict for each operation in order.

        Raises StorageFull, StorageFailed or WriterClosed: then nothing was acknowledged, and it can be sent again.
        """
        received = self.clock() if batch.received_ms is None else batch.received_ms
        return self.write(lambda conn: self._at_door(conn).take(batch, received, self._rules_in_force()))

    def push_whole(
        self,
        batch: PushBatch,
        demand: Callable[[tuple[Verdict, ...]], None],
        beside: Callable[[sqlite3.Connection], None] | None = None,
    ) -> tuple[Verdict, ...]:
        """Append and settle a batch whole or not at all; return its verdicts once they are on disk.

        demand: raises where a verdict will not do; that undoes the batch and is raised here. beside: what is written in
        the same transaction. For what this process makes itself: a phone's operations are kept whatever becomes of
        them.
        """

        def work(conn: sqlite3.Connection) -> tuple[Verdict, ...]:
            received = self.clock() if batch.received_ms is None else batch.received_ms
            verdicts = self._at_door(conn).take(batch, received, self._rules_in_force()).verdicts
            demand(verdicts)
            if beside is not None:
                beside(conn)
            return verdicts

        return self.write(work)

    def write(self, work: Callable[[sqlite3.Connection], T]) -> T:
        """Run ``work`` in the writer's transaction and return its answer once that is on disk.

        For what is kept beside the journal (people, summaries). What ``work`` raises undoes it alone and is raised
        here. It must not commit.
        """
        assert self._writer is not None
        return self._writer.submit(work).result()

    def tell(self, conn: sqlite3.Connection, kind: str, body: Mapping[str, Any], by: By = BY_ITSELF) -> int:
        """Append an operation on the plant's people or phones in the writer's transaction; return its number.

        Raises NotTold where the record does not allow it: then the whole request is undone.
        """
        now = self.clock()
        answer = self._at_door(conn).take(word_of(by, kind, body, now), now, self._rules_in_force())
        return number_told(answer)

    def begin_anew(self) -> None:
        """Judge by the tables that are in force from the next operation on. For who put some in force, in `write`."""
        self._door = None

    def _tell_changed_by_hand(self, conn: sqlite3.Connection, before: str) -> None:
        now = self.clock()
        day = self._revisions.of(self.plant.revision).calendar_day(now).isoformat()
        body = {"revision": self.plant.revision, "previous": before, "reason": BY_HAND, "from_day": day}
        self.tell(conn, "plant_revised", body)
        self._changed_by_hand = False

    def _rules_in_force(self) -> PlantRules:
        return self._revisions.of(self._in_force)

    def away_seconds(self) -> float:
        """Return for how long the record could not be opened for writing after a failure, 0.0 while it can."""
        return 0.0 if self._writer is None else self._writer.away_seconds()

    def change_release_key(self) -> str:
        """Sign with a new key from now on, vouched for by the present one; return the new one's id.

        Certificates under the old one count no longer, so every phone's sign-in ends: at the next one each person's key
        is certified anew and proves what they have not sent yet.
        """

        def work(conn: sqlite3.Connection) -> str:
            key_id = self._key.change(conn)
            self._tell_key(conn, "the key was changed on the server's console")
            return key_id

        return self.write(work)

    def _tell_key(self, conn: sqlite3.Connection, reason: str) -> None:
        now = self.clock()
        conn.execute(_END_PHONES)
        word = servers_word("key_changed", self._key.told(conn, reason), now)
        self._at_door(conn).take(word, now, self._rules_in_force())

    def close(self) -> None:
        """Finish what is queued, close the record and give its lock back. Closing twice is once."""
        if self._writer is not None:
            self._writer.close()
        self._lock.release()

    def __enter__(self) -> "Journal":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _forget(self) -> None:
        self._door = None

    def _at_door(self, conn: sqlite3.Connection) -> Door:
        self._connection = conn
        (seen,) = conn.execute("PRAGMA data_version").fetchone()
        if self._door is None or seen != self._seen:  # a command beside this server has told something
            self._seen = seen
            self._in_force = self._follow(conn)
            self._door = Door(conn, self._revisions.of, self._person, self._key)
        return self._door

    def _follow(self, conn: sqlite3.Connection) -> str:
        """Return the revision in force: the one told last, this process's own where none was."""
        return self.plant.revision if self._changed_by_hand else told_revision(conn) or self.plant.revision

    def _kept_tables(self, revision: str) -> str | None:
        return None if self._connection is None else tables_in(self._connection)(revision)

    def _person(self, conn: sqlite3.Connection, code: str) -> Person | None:
        return person_in_table(conn, code) if self._lookup is None else self._lookup(code)


def _migrated(folder: Path) -> None:
    with closing(open_writer(folder / RECORD)) as conn:
        migrate(conn, folder)


def _prepared(conn: sqlite3.Connection, plant: Plant, tables: dict[str, str]) -> tuple[str, str | None]:
    """Keep the plant's tables; return the record's epoch, made for a new one, and what was in force before, if others.

    A record without any operation has nothing that other tables were in force for.
    """
    epoch, before = server_epoch(conn) or new_server_epoch(conn), revision_in_force(conn)
    keep_tables(conn, plant.revision, tables)
    (begun,) = conn.execute(_BEGUN).fetchone()
    return epoch, before if begun and before != plant.revision else None
