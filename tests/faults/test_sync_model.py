"""Two phones and one server under everything that a plant's network does; and bugs planted, which the model catches.

The phones follow the protocol as the app does: dense numbers, whatever is unanswered is offered again, deletion only
on a verdict. The server is the real journal on a real file. The model knows what was made; at every moment what was
acknowledged must be on disk, and after the storm everything must be stored once, in order, and in effect.
"""

import shutil
import tempfile
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import orjson
import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule, run_state_machine_as_test

from qc.store.intake import door
from qc.store.intake.door import new_server_epoch
from qc.store.intake.journal import Journal, PushBatch, StorageFailed, WriterClosed
from qc.store.intake.writer import Writer
from qc.store.record import verdicts
from qc.store.record.connection import RECORD, open_reader, open_writer
from tests.store.record_kit import Clock, open_journal, unit_number
from tests.store.record_kit import Phone as Maker

# The order of events is tried here, not the disk (that is test_kill.py's): files in memory are ten times as quick.
MEMORY = "/dev/shm" if Path("/dev/shm").is_dir() else None
SETTLED = {"applied", "refused", "parked", "quarantined", "duplicate"}


class Crash(OSError):
    """The server dies here."""


class Phone:
    """A phone by the protocol: it keeps all it made, offers what has no verdict, drops nothing without one."""

    def __init__(self, device: str, author: str) -> None:
        self.maker = Maker(None, device, f"{device}-epoch")
        self.author = author
        self.made: list[tuple[bytes, dict]] = []
        self.answered: set[str] = set()
        self.server_epoch: str | None = None

    def record(self, clock: Clock, kind: str, **body) -> dict:
        self.maker.journal = _Clocked(clock)
        raw = self.maker.make(kind, self.author, unit_number(), **body)
        self.made.append(self.maker.unsent.pop())
        return raw

    def offer(self, size: int, start: int = 0) -> list[tuple[bytes, dict]]:
        waiting = [one for one in self.made if one[1]["id"] not in self.answered]
        return waiting[start : start + size]

    def hear(self, answer, sent) -> None:
        if self.server_epoch not in (None, answer.server_epoch):
            self.answered.clear()  # the server was restored: offer again what is still kept
        self.server_epoch = answer.server_epoch
        self.answered |= {one.id for one in answer.verdicts if one.verdict in SETTLED}


class ForgetfulPhone(Phone):
    """Planted bug: it clears the whole batch on any answer at all."""

    def hear(self, answer, sent) -> None:
        super().hear(answer, sent)
        self.answered |= {raw["id"] for _, raw in sent}


class _Clocked:
    def __init__(self, clock: Clock) -> None:
        self.clock = clock


class SyncStorm(RuleBasedStateMachine):
    """Records, sends, losses, repeats, reordering, crashes before and after the commit, restarts, a restore."""

    phone_class = Phone

    def __init__(self) -> None:
        super().__init__()
        self.folder = Path(tempfile.mkdtemp(prefix="storm-", dir=MEMORY))
        self.clock = Clock()
        self.journal: Journal = open_journal(self.folder / "plant", self.clock)
        self.acknowledged: set[str] = set()
        self.late: list[tuple[Phone, list]] = []
        self.copy_acknowledged: set[str] | None = None
        planner = Maker(self.journal, "DESK", "desk")
        planner.plan()
        self.phones = [self.phone_class("P1", "I1"), self.phone_class("P2", "I2")]
        self.defects: list[str] = []

    # what people do
    @rule(which=st.integers(0, 1))
    def a_defect_is_recorded(self, which):
        self.clock.after(1)
        body = {"point": "D01", "zone": "front.panel", "type": "PAN-03", "severity": "minor"}
        self.defects.append(self.phones[which].record(self.clock, "defect_recorded", **body)["id"])

    @precondition(lambda self: self.defects)
    @rule(which=st.integers(0, 1), data=st.data())
    def a_defect_perhaps_of_the_other_phone_gets_a_suspected_origin(self, which, data):
        defect = data.draw(st.sampled_from(self.defects))
        self.phones[which].record(self.clock, "origin_suspected", defect=defect, station="S07")

    # what the network and the server do
    @rule(which=st.integers(0, 1), size=st.integers(1, 5))
    def a_batch_is_sent_and_answered(self, which, size):
        phone = self.phones[which]
        self._send(phone, phone.offer(size), heard=True)

    @rule(which=st.integers(0, 1), size=st.integers(1, 5))
    def a_batch_arrives_and_its_answer_is_lost(self, which, size):
        phone = self.phones[which]
        self._send(phone, phone.offer(size), heard=False)

    @rule(which=st.integers(0, 1), size=st.integers(1, 3), start=st.integers(1, 4))
    def a_later_batch_overtakes_an_earlier_one(self, which, size, start):
        phone = self.phones[which]
        self.late.append((phone, phone.offer(start)))
        self._send(phone, phone.offer(size, start), heard=True)

    @precondition(lambda self: self.late)
    @rule()
    def a_batch_that_was_delayed_arrives(self):
        phone, batch = self.late.pop()
        self._send(phone, batch, heard=True)

    @rule(which=st.integers(0, 1))
    def the_server_dies_before_the_commit(self, which):
        phone = self.phones[which]
        with dying_at_commit():
            self._send(phone, phone.offer(5), heard=True)
        self._restart()

    @rule(which=st.integers(0, 1))
    def the_server_dies_after_the_commit(self, which):
        phone = self.phones[which]
        self._send(phone, phone.offer(5), heard=False)
        self._restart()

    @precondition(lambda self: self.copy_acknowledged is None)
    @rule()
    def a_backup_is_taken(self):
        with (
            closing(open_reader(self.folder / "plant" / RECORD)) as source,
            closing(open_writer(self.folder / "backup.sqlite")) as copy,
        ):
            source.backup(copy)
        self.copy_acknowledged = set(self.acknowledged)

    @precondition(lambda self: self.copy_acknowledged is not None)
    @rule()
    def the_backup_is_restored_with_a_new_epoch(self):
        self.journal.close()
        for leftover in (self.folder / "plant").glob(f"{RECORD}*"):
            leftover.unlink()
        shutil.copy(self.folder / "backup.sqlite", self.folder / "plant" / RECORD)
        with closing(open_writer(self.folder / "plant" / RECORD)) as conn:
            new_server_epoch(conn)
        self.journal = open_journal(self.folder / "plant", self.clock)
        self.acknowledged = self.copy_acknowledged or set()
        self.copy_acknowledged = None
        self.late.clear()

    # what must hold
    @invariant()
    def what_was_acknowledged_is_on_disk(self):
        assert self.acknowledged <= set(self._stored()), "what was acknowledged is stored"

    def teardown(self) -> None:
        try:
            self._drain()
            self._judge()
        finally:
            self.journal.close()
            shutil.rmtree(self.folder)

    def _drain(self) -> None:
        for _ in range(200):
            if not any(phone.offer(1) for phone in self.phones):
                # the last answer may have come before a restore: one empty push tells the epoch
                epochs = {self._send(phone, [], heard=True) for phone in self.phones}
                if len(epochs) == 1 and not any(phone.offer(1) for phone in self.phones):
                    return
            for phone in self.phones:
                self._send(phone, phone.offer(20), heard=True)
        raise AssertionError("the phones do not drain")

    def _judge(self) -> None:
        made = [raw for phone in self.phones for _, raw in phone.made]
        rows = self._stored()

        assert {raw["id"] for raw in made} <= set(rows), "all that was made is stored"
        assert {rows[raw["id"]][1] for raw in made} <= {"applied"}, "nothing parked, refused or quarantined is left"
        for phone in self.phones:
            numbers = [rows[raw["id"]][0] for _, raw in phone.made]
            assert numbers == sorted(numbers), "a phone's own order is the journal's"
        with closing(open_reader(self.folder / "plant" / RECORD)) as conn:
            counted = conn.execute("SELECT count(*) FROM defect").fetchone()[0]
        assert counted == len(self.defects), "each defect counts once"

    def _send(self, phone: Phone, batch, *, heard: bool) -> str | None:
        push = PushBatch(phone.maker.device, phone.maker.epoch, self.clock(), batch)
        try:
            answer = self.journal.push(push)
        except (StorageFailed, WriterClosed):
            return None
        if heard:
            phone.hear(answer, batch)
            self.acknowledged |= {one.id for one in answer.verdicts if one.verdict in SETTLED}
        return answer.server_epoch

    def _restart(self) -> None:
        self.journal.close()
        self.journal = open_journal(self.folder / "plant", self.clock)

    def _stored(self) -> dict[str, tuple[int, str]]:
        with closing(open_reader(self.folder / "plant" / RECORD)) as conn:
            rows = conn.execute("SELECT id, j.number, verdict FROM journal AS j JOIN verdict AS v USING (number)")
            return {row[0]: (row[1], row[2]) for row in rows}


class dying_at_commit:  # noqa: N801 - reads as a sentence in a with
    """While it lasts the server's transactions are undone at the moment of their commit, as when the process dies."""

    def __enter__(self):
        self._conn_execute = Writer._transact

        def die(writer, group):
            writer._conn.execute("BEGIN IMMEDIATE")
            for work, _ in group:
                writer._one(work)
            writer._conn.execute("ROLLBACK")
            raise Crash("the server died before the commit")

        Writer._transact = die

    def __exit__(self, *_):
        Writer._transact = self._conn_execute


STORM = settings(
    max_examples=30,
    stateful_step_count=30,
    deadline=None,
    derandomize=True,
    database=None,
    suppress_health_check=list(HealthCheck),
)
# A planted bug has to be met, not made small: no shrinking.
PLANTED = settings(STORM, max_examples=150, phases=[Phase.generate], report_multiple_bugs=False)


def test_the_storm_loses_tears_and_doubles_nothing():
    run_state_machine_as_test(SyncStorm, settings=STORM)


@pytest.mark.long
def test_a_long_storm_loses_tears_and_doubles_nothing():
    run_state_machine_as_test(SyncStorm, settings=settings(STORM, max_examples=600, stateful_step_count=60))


def test_the_model_catches_a_server_without_dedupe(monkeypatch):
    def as_new(conn, id_, raw):
        """A server that takes every arrival for a new one: another id, so that the table does not stop it."""
        return

    real = door.Door._one

    def doubling(self, stream, raw, parsed, plant_rules, proof):
        own = None
        if verdicts_known(self._entries.conn, parsed["id"], raw):
            own = parsed["id"]
            parsed = {**parsed, "id": parsed["id"][:-4] + f"{self._entries.head.size:04x}", "seq": stream.expected}
            raw = orjson.dumps(parsed)
        return replace(real(self, stream, raw, parsed, plant_rules, proof), id=parsed["id"] if own is None else own)

    verdicts_known = verdicts.known
    monkeypatch.setattr(verdicts, "known", as_new)
    monkeypatch.setattr(door.Door, "_one", doubling)

    assert_caught(SyncStorm, "each defect counts once", "nothing parked, refused or quarantined is left")


def test_the_model_catches_a_server_without_a_gap_check(monkeypatch):
    real = door._turned_away

    def lax(stream, parsed):
        turned = real(stream, parsed)
        if turned is not None and turned.verdict == "gap":
            stream.expected = parsed["seq"]
            return None
        return turned

    monkeypatch.setattr(door, "_turned_away", lax)

    # A number that comes after later ones is one that was kept back: taken, so out of its order.
    assert_caught(SyncStorm, "nothing parked, refused or quarantined is left", "a phone's own order is the journal's")


def test_the_model_catches_a_phone_that_clears_a_batch_on_any_answer():
    assert_caught(
        type("StormOfForgetfulPhones", (SyncStorm,), {"phone_class": ForgetfulPhone}), "all that was made is stored"
    )


def test_the_model_catches_a_server_that_acknowledges_before_the_commit(monkeypatch):
    def hasty(self, conn, group):
        # The answers are settled by the work alone; whether the commit then holds does not change them. They are
        # given last only so that the storm sees the same thing at each run.
        conn.execute("BEGIN IMMEDIATE")
        answers = [work(conn) for work, _ in group]
        dies = Writer._transact.__name__ == "die"
        conn.execute("ROLLBACK" if dies else "COMMIT")
        if dies:
            self._forget()
        for (_, future), answer in zip(group, answers, strict=True):
            future.set_result(answer)

    monkeypatch.setattr(Writer, "_settle", hasty)

    assert_caught(SyncStorm, "what was acknowledged is stored", "all that was made is stored")


def assert_caught(machine, *checks: str) -> None:
    """Fail unless the storm ends in failed checks of the model, one of them such as the bug can break."""
    with pytest.raises((AssertionError, ExceptionGroup)) as met:
        run_state_machine_as_test(machine, settings=PLANTED)
    # In the storm and in its teardown a check can fail: then both come, as a group.
    failed = met.value.exceptions if isinstance(met.value, ExceptionGroup) else (met.value,)

    assert any(check in str(one) for one in failed for check in checks), failed
