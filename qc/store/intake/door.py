"""The door: each operation of a batch is recognised, numbered, admitted, appended and settled by the writer."""

import secrets
import sqlite3
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from qc.domain.acts.kinds import KINDS
from qc.domain.facts.operations import SCHEMA, Fault, Operation, code, uuid7, whole
from qc.domain.facts.people import SERVER, SERVER_ROLE, Person
from qc.domain.facts.proof import SIGNATURES
from qc.domain.facts.rule_set import RULES
from qc.domain.facts.standing import Standing, standing_of
from qc.domain.numbers.number_form import MOST as LONGEST_NUMBER
from qc.domain.tables.plant_rules import PlantRules
from qc.store.intake.admission import happened, quarantine
from qc.store.intake.settling import Settler
from qc.store.record import verdicts
from qc.store.record.arrivals import Arrival, read_envelope
from qc.store.record.entries import Entries
from qc.store.record.proofs import Kept, Proof
from qc.store.record.signing import ReleaseKey
from qc.store.record.tables_kept import keeps_tables
from qc.store.record.verdicts import PushAnswer, PushBatch, Verdict

People = Callable[[str], Person | None]

_NEXT = "SELECT next_seq FROM stream WHERE device = ? AND install_epoch = ?"
_TAKEN = """
SELECT 1 FROM journal
 WHERE device = ? AND install_epoch = ? AND seq = ? AND admission <> 'sequence_reused'
"""
_KEEP_NEXT = """
INSERT INTO stream (device, install_epoch, next_seq) VALUES (?, ?, ?)
ON CONFLICT (device, install_epoch) DO UPDATE SET next_seq = excluded.next_seq
"""
_REVOKED = "SELECT revoked FROM device WHERE code = ?"
_EPOCH = "SELECT value FROM store_setting WHERE name = 'server_epoch'"
_SET_EPOCH = """
INSERT INTO store_setting (name, value) VALUES ('server_epoch', ?)
ON CONFLICT (name) DO UPDATE SET value = excluded.value
"""

_seq = whole(1, 2**53 - 1)
_schema = whole(1, 1000)
_code40, _code32, _number = code(40), code(32), code(LONGEST_NUMBER)


@dataclass(slots=True)
class _Stream:
    """What holds for all operations of a batch. known: those of their ids that are in the journal already."""

    batch: PushBatch
    received_ms: int
    expected: int
    revoked: bool
    proved: Kept
    known: set[str]


class Door:
    """Takes batches in one connection, inside the writer's transaction. Made anew whenever that was undone."""

    def __init__(
        self,
        conn: sqlite3.Connection,
        plant_rules_of: Callable[[str], PlantRules],
        people: Callable[[sqlite3.Connection, str], Person | None],
        key: ReleaseKey,
    ) -> None:
        self._conn = conn  # for what no row that waits can change: streams, people, phones, the plant's tables
        self._key = key
        self._entries = Entries(conn)
        self._plant_rules_of = plant_rules_of
        self._settler = Settler(self._entries, plant_rules_of)
        self._people = people
        (self._epoch,) = conn.execute(_EPOCH).fetchone()
        self._standings: dict[str, tuple[Standing, str]] = {}

    def take(self, batch: PushBatch, received_ms: int, plant_rules: PlantRules) -> PushAnswer:
        """Append and settle what is new in a batch; return a verdict for each of its operations."""
        self._standings.clear()
        ids = [_id_of(parsed) for _, parsed in batch.operations]
        stream = self._stream(batch, received_ms, [id_ for id_ in ids if id_])
        begun = stream.expected
        proofs = batch.proofs if batch.proofs is not None else [None] * len(batch.operations)
        answers = tuple(
            self._one(stream, raw, parsed, plant_rules, proof) if id_ else _without_id(parsed)
            for (raw, parsed), id_, proof in zip(batch.operations, ids, proofs, strict=True)
        )
        self._settler.write()
        stream.proved.write(self._conn, self._key)
        if self._settler.released:
            self._key.sign(self._conn, self._settler.released)
            self._settler.released.clear()
        if stream.expected != begun:
            self._conn.execute(_KEEP_NEXT, (batch.device, batch.install_epoch, stream.expected))
        head = self._entries.head
        return PushAnswer(answers, self._epoch, head.size, head.hash.hex())

    def _stream(self, batch: PushBatch, received_ms: int, ids: list[str]) -> _Stream:
        row = self._conn.execute(_NEXT, (batch.device, batch.install_epoch)).fetchone()
        kept = Kept(batch.device, batch.install_epoch)
        revoked = self._conn.execute(_REVOKED, (batch.device,)).fetchone()
        known = verdicts.known_ids(self._conn, ids)
        return _Stream(batch, received_ms, row[0] if row else 1, bool(revoked and revoked[0]), kept, known)

    def _one(self, stream: _Stream, raw: bytes, parsed: Any, plant_rules: PlantRules, proof: Proof | None) -> Verdict:
        id_ = parsed["id"]
        if id_ in stream.known and (before := verdicts.known(self._entries.conn, id_, raw)):
            return before
        op, fault = read_envelope(parsed, RULES)
        if turned := _turned_away(stream, parsed):
            return turned
        seq = parsed["seq"]
        reused = seq < stream.expected and self._is_taken(stream.batch, seq)
        arrival = self._append(stream, raw, parsed, op, fault, plant_rules, proof, reused=reused)
        stream.known.add(id_)
        stream.expected = max(stream.expected, seq + 1)
        return self._settler.settle(arrival)

    def _append(
        self,
        stream: _Stream,
        raw: bytes,
        parsed: Mapping[str, Any],
        op: Operation | None,
        fault: Fault | None,
        plant_rules: PlantRules,
        proof: Proof | None,
        *,
        reused: bool,
    ) -> Arrival:
        author, kind, unit = _columns(parsed) if op is None else (op.author, op.kind, op.unit)
        standing, standing_told = self._standing(author, stream.batch)
        at_ms, suspect, future = happened(parsed.get("wall_ms"), stream.batch.sent_ms, stream.received_ms)
        admission = quarantine(
            at_ms,
            stream.received_ms,
            future=future,
            reused=reused,
            revoked=stream.revoked,
            unproved=_unproved(stream.batch, op, at_ms, proof) or _unknown(stream.batch, op, standing),
        )
        number = self._entries.head.size + 1
        plant_rules = self._made_under(op, plant_rules)
        if stream.batch.proofs is None:
            stream.proved.vouch(number, raw)
        elif proof is not None:
            stream.proved.add(number, proof)
        who = (parsed["id"], stream.batch.device, stream.batch.install_epoch, parsed["seq"], kind, unit)
        when = (author, standing_told, at_ms, stream.received_ms, int(suspect), admission)
        previous = self._entries.append((*who, *when, plant_rules.plant.revision, RULES, raw))
        times = (at_ms, stream.received_ms, suspect, admission)
        what = (number, parsed["id"], kind, unit, author, standing)
        return Arrival(*what, *times, plant_rules, previous, op, fault, number, RULES)

    def _made_under(self, op: Operation | None, in_force: PlantRules) -> PlantRules:
        """Return the tables by which an operation is judged: those that it names, where the record keeps them.

        A release is held against the tables in force, whatever a phone still has.
        """
        named = op.plant if op is not None and op.kind not in SIGNATURES else ""
        if named in ("", in_force.plant.revision) or not keeps_tables(self._conn, named):
            return in_force
        return self._plant_rules_of(named)

    def _is_taken(self, batch: PushBatch, seq: int) -> bool:
        """Tell whether a number has come before: one that the device kept back comes after later ones."""
        return self._entries.conn.execute(_TAKEN, (batch.device, batch.install_epoch, seq)).fetchone() is not None

    def _standing(self, author: str, batch: PushBatch) -> tuple[Standing, str]:
        """Return an author's standing, and the text that the journal keeps of it."""
        known = self._standings.get(author)
        if known is None:
            if author == SERVER:
                standing = Standing(SERVER_ROLE) if batch.proofs is None else Standing()
            else:
                standing = standing_of(self._people(self._conn, author))
            known = self._standings[author] = (standing, str(standing))
        return known


def _id_of(parsed: Any) -> str:
    """Return an operation's id, "" where it has none."""
    id_ = parsed.get("id") if isinstance(parsed, dict) else None
    return id_ if isinstance(id_, str) and uuid7(id_) is None else ""


def _without_id(parsed: Any) -> Verdict:
    claimed = parsed.get("id") if isinstance(parsed, dict) else None
    return _not_stored(claimed[:40] if isinstance(claimed, str) else "", Fault("id", "must be a version 7 UUID"))


def _columns(parsed: Mapping[str, Any]) -> tuple[str, str, str | None]:
    """Return author, kind and unit of a malformed envelope as far as each is well shaped, "", "" and None if not."""
    author, kind = _shaped(parsed.get("author"), _code32) or "", _shaped(parsed.get("kind"), _code40) or ""
    return author, kind, _shaped(parsed.get("unit"), _number)


def _turned_away(stream: _Stream, parsed: Mapping[str, Any]) -> Verdict | None:
    """Return the verdict on what is not stored: of another installation, unreadable number, too new, out of turn."""
    id_, kind, seq = parsed["id"], parsed.get("kind"), parsed.get("seq")
    if parsed.get("device") != stream.batch.device:
        return _not_stored(id_, Fault("device", "is not that of the batch"))
    if parsed.get("install_epoch") != stream.batch.install_epoch:
        return _not_stored(id_, Fault("install_epoch", "is not that of the batch"))
    if why := _seq(seq):
        return _not_stored(id_, Fault("seq", why))
    if _is_too_new(kind, parsed.get("schema")):
        return Verdict(
            id_, "too_new", "too_new", "this server does not know this kind yet; keep it, it can be sent later"
        )
    assert isinstance(seq, int)
    if seq > stream.expected and (missing := _first_missing(stream.expected, seq, stream.batch.held)) < seq:
        return Verdict(id_, "gap", "gap", f"number {missing} has not arrived", expected=missing)
    return None


def _first_missing(expected: int, seq: int, held: Sequence[tuple[int, int]]) -> int:
    """Return the first number from the expected one on that the device does not keep back, at most ``seq``."""
    for first, last in held:
        if first <= expected <= last:
            expected = last + 1
    return min(expected, seq)


def _is_too_new(kind: Any, schema: Any) -> bool:
    newer = schema != SCHEMA and not _schema(schema) and schema > SCHEMA
    return newer or (isinstance(kind, str) and kind not in KINDS and _code40(kind) is None)


def _not_stored(id_: str, fault: Fault) -> Verdict:
    return Verdict(id_, "refused", "malformed", f"{fault.field} {fault.message}")


def _shaped(value: Any, check: Callable[[Any], str | None]) -> str | None:
    return value if check(value) is None else None


def _unproved(batch: PushBatch, op: Operation | None, happened_ms: int, proof: Proof | None) -> str:
    """Return why an operation's author is not proved, "" where it is, or where nothing can come of it."""
    if op is None or batch.proofs is None or (proof is not None and proof.covers(op, happened_ms)):
        return ""
    return "unproved_signature" if op.kind in SIGNATURES else "unverified_author"


def _unknown(batch: PushBatch, op: Operation | None, standing: Standing) -> str:
    """Return why what a phone proved to be somebody's is not let in where nobody is of that code, else "".

    This server's key certified them, so the record went back to a time before they were added. Refused, their work
    would be lost for good; let in once the code is given anew, it might be another's.
    """
    is_nobodys = op is not None and batch.proofs is not None and not standing.roles
    return "author_not_known" if is_nobodys else ""


def new_server_epoch(conn: sqlite3.Connection) -> str:
    """Give the record a new epoch, as at its making and at each restore, so that phones offer what they kept."""
    epoch = secrets.token_hex(8)
    conn.execute(_SET_EPOCH, (epoch,))
    return epoch


def server_epoch(conn: sqlite3.Connection) -> str | None:
    """Return the record's epoch, None before it has one."""
    row = conn.execute(_EPOCH).fetchone()
    return None if row is None else str(row[0])
