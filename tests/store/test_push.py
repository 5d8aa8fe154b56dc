"""Every operation gets its own verdict, the same for ever, and nothing is counted twice or skipped."""

import orjson
import pytest

from qc.store.intake.journal import PushBatch
from qc.web.desk import uuid7
from tests.store.record_kit import Clock, Phone, open_journal, unit_number


@pytest.fixture
def journal(tmp_path):
    with open_journal(tmp_path) as journal:
        yield journal


def verdicts(answers):
    return [one.verdict for one in answers]


def test_an_operation_sent_twice_is_stored_once(journal):
    phone = Phone(journal)
    phone.plan()
    made = phone.make("station_passed", "I1", unit_number(), station="S01")
    again = list(phone.unsent)
    first = phone.send()
    phone.unsent = again

    second = phone.send()

    assert verdicts(first) == ["applied"]
    assert [(v.verdict, v.code, v.number) for v in second] == [("duplicate", "applied", first[0].number)]
    assert journal.write(
        lambda c: c.execute("SELECT count(*) FROM journal WHERE id = ?", (made["id"],)).fetchone()
    ) == (1,)


def test_a_duplicate_carries_the_refusal_stored_the_first_time(journal):
    phone = Phone(journal)
    phone.make("station_passed", "I1", phone.plan(), station="S99")
    again = list(phone.unsent)
    phone.send()
    phone.unsent = again

    (verdict,) = phone.send()

    assert (verdict.verdict, verdict.code) == ("duplicate", "refused")
    assert verdict.reason.startswith("unknown_code: ")


def test_the_same_id_with_other_bytes_is_told_and_not_stored(journal):
    phone = Phone(journal)
    phone.plan()
    made = phone.make("station_passed", "I1", unit_number(), station="S01")
    phone.send()
    other = {**made, "seq": made["seq"] + 1, "body": {"station": "S02"}}
    phone.unsent = [(orjson.dumps(other), other)]

    assert verdicts(phone.send()) == ["id_reused"]
    assert journal.write(lambda c: c.execute("SELECT count(*) FROM journal").fetchone()) == (2,)


def test_a_gap_tells_what_is_expected_and_stores_nothing(journal):
    phone = Phone(journal)
    phone.plan()
    phone.seq += 1
    _, verdict = phone.do("station_passed", "I1", unit_number(), station="S01")

    assert (verdict.verdict, verdict.expected, verdict.number) == ("gap", 2, None)
    phone.seq = 1
    phone.must("station_passed", "I1", unit_number(), station="S01")


def test_a_kind_from_a_later_program_is_kept_by_the_phone(journal):
    phone = Phone(journal)
    phone.plan()
    phone.make("unit_teleported", "I1", unit_number())
    phone.make("station_passed", "I1", unit_number(), station="S01")

    assert verdicts(phone.send()) == ["too_new", "gap"]


def test_one_bad_operation_does_not_hold_up_the_batch(journal):
    phone = Phone(journal)
    unit = phone.plan()
    phone.make("station_passed", "I1", unit, station="S99")
    phone.make("station_passed", "I1", unit, station="S01", surprise=1)
    phone.make("station_passed", "I1", unit, station="S01", envelope={"tz_min": "east"})
    phone.unsent.append((b"7", 7))
    phone.make("station_passed", "I1", unit, station="S01")

    answers = phone.send()

    assert verdicts(answers) == ["refused", "refused", "refused", "refused", "applied"]
    assert [one.code for one in answers] == ["unknown_code", "malformed", "malformed", "malformed", ""]
    assert [one.number for one in answers] == [2, 3, 4, None, 5]


def test_operations_of_another_installation_are_not_taken_in_its_name(journal):
    phone = Phone(journal)
    phone.make("station_passed", "I1", unit_number(), station="S01", envelope={"device": "P9"})

    (verdict,) = phone.send()

    assert (verdict.code, verdict.number) == ("malformed", None)


def test_a_parked_operation_comes_into_effect_with_what_it_waits_for(journal):
    one, two = Phone(journal, "P1"), Phone(journal, "P2")
    unit = one.plan()
    made = one.make("defect_recorded", "I1", unit, point="D01", zone="front.gas", type="EXT-01", severity="minor")
    id_, early = two.do("repair_done", "RW1", unit, defects=[made["id"]], method="rework", minutes=5)
    one.send()

    row = journal.write(lambda c: c.execute("SELECT state, repaired_by FROM defect").fetchone())
    settled = journal.write(
        lambda c: c.execute("SELECT verdict FROM verdict JOIN journal USING (number) WHERE id = ?", (id_,)).fetchone()
    )
    assert early.verdict == "parked"
    assert row == ("repaired", "RW1")
    assert settled == ("applied",)


def test_a_parked_operation_is_refused_when_what_it_waits_for_is(journal):
    one, two = Phone(journal, "P1"), Phone(journal, "P2")
    unit = one.plan()
    made = one.make("defect_recorded", "DX1", unit, point="D01", zone="front.gas", type="EXT-01", severity="minor")
    id_, _ = two.do("repair_done", "RW1", unit, defects=[made["id"]], method="rework", minutes=5)
    one.send()

    settled = journal.write(
        lambda c: c.execute("SELECT verdict, code FROM verdict JOIN journal USING (number) WHERE id = ?", (id_,))
    ).fetchone()
    assert settled == ("refused", "depends_on_refused")


def test_an_author_who_was_not_signed_in_has_no_effect(journal):
    phone = Phone(journal)
    phone.make("station_passed", "I1", unit_number(), station="S01")

    (verdict,) = phone.send(proofs=[None])

    assert (verdict.verdict, verdict.code) == ("quarantined", "unverified_author")


def test_a_revoked_device_is_kept_without_effect(journal):
    journal.write(lambda c: c.execute("INSERT INTO device (code, enrolled_ms, revoked) VALUES ('P1', 0, 1)"))
    phone = Phone(journal)

    _, verdict = phone.do("station_passed", "I1", unit_number(), station="S01")

    assert (verdict.verdict, verdict.code) == ("quarantined", "device_revoked")


def test_a_number_used_twice_is_kept_in_quarantine_and_the_stream_goes_on(journal):
    phone = Phone(journal)
    unit = phone.plan()
    phone.seq = 0
    _, reused = phone.do("station_passed", "I1", unit, station="S01")
    _, after = phone.do("station_passed", "I1", unit, station="S02")

    assert (reused.verdict, reused.code) == ("quarantined", "sequence_reused")
    assert after.verdict == "applied"


DAY = 24 * 60


@pytest.mark.parametrize(
    ("wall_minutes", "sent_minutes", "expected", "happened_minutes", "suspect"),
    [
        pytest.param(-30, 0, "applied", -30, 0, id="offline half an hour"),
        pytest.param(-37, -37, "applied", 0, 0, id="clock 37 minutes slow"),
        pytest.param(9, 0, "applied", 0, 0, id="nine minutes ahead is cut off"),
        pytest.param(11, 0, "applied", 0, 1, id="eleven minutes ahead is told"),
        pytest.param(DAY + 1, 0, "from_future", 0, 1, id="more than a day ahead"),
        pytest.param(-60 * DAY, 0, "applied", -60 * DAY, 0, id="sixty days old"),
        pytest.param(-60 * DAY - 1, 0, "late", -60 * DAY - 1, 0, id="older than sixty days"),
    ],
)
def test_when_it_happened_is_told_by_the_servers_clock(
    journal, wall_minutes, sent_minutes, expected, happened_minutes, suspect
):
    phone, now = Phone(journal), journal.clock()
    phone.plan()
    wall = now + wall_minutes * 60_000
    phone.make("station_passed", "I1", unit_number(), station="S01", envelope={"wall_ms": wall})

    (verdict,) = phone.send(sent_ms=now + sent_minutes * 60_000)

    row = journal.write(
        lambda c: c.execute("SELECT happened_ms, clock_suspect FROM journal WHERE number = 2").fetchone()
    )
    assert (verdict.code or verdict.verdict) == expected
    assert row == (now + happened_minutes * 60_000, suspect)


def test_the_answer_tells_epoch_and_chain(journal):
    phone = Phone(journal)
    phone.plan()

    answer = journal.push(PushBatch("P1", "e1", 0, []))

    size, head = journal.write(lambda c: c.execute("SELECT number, hex(hash) FROM journal").fetchone())
    assert (answer.chain_size, answer.chain_head) == (size, head.lower())
    assert len(answer.server_epoch) == 16


def test_a_second_process_is_refused_by_the_lock(tmp_path):
    from qc.store.record.connection import RecordInUse

    with open_journal(tmp_path), pytest.raises(RecordInUse, match="in use by process"):
        open_journal(tmp_path, Clock())
    open_journal(tmp_path).close()


def test_what_a_phone_keeps_back_holds_up_nothing_and_comes_later_in_any_order(journal):
    phone = Phone(journal)
    phone.plan()
    made = [phone.make("station_passed", "I1", unit_number(), station=f"S0{number}") for number in range(1, 6)]
    sent = dict(zip([one["seq"] for one in made], phone.unsent, strict=True))  # numbers 2 to 6

    def push(*numbers, held=()):
        batch = PushBatch(phone.device, phone.epoch, journal.clock(), [sent[one] for one in numbers], held=held)
        return [(one.verdict, one.expected) for one in journal.push(batch).verdicts]

    assert push(5, held=[(2, 2), (4, 4)]) == [("gap", 3)]  # 3 is not kept back: it is missing
    assert push(3, 6, held=[(2, 2), (4, 5)]) == [("applied", None), ("applied", None)]
    assert push(5, held=[(2, 2), (4, 4)]) == [("applied", None)]
    assert push(4, 2) == [("applied", None), ("applied", None)]
    assert push(2, 3, 4, 5, 6) == [("duplicate", None)] * 5

    other = {**made[0], "id": uuid7(journal.clock())}
    again = PushBatch(phone.device, phone.epoch, journal.clock(), [(orjson.dumps(other), other)], held=[(2, 9)])
    assert [one.code for one in journal.push(again).verdicts] == ["sequence_reused"]  # 2 has come
    next_up = {**made[0], "id": uuid7(journal.clock()), "seq": 7}
    assert [
        one.verdict
        for one in journal.push(
            PushBatch(phone.device, phone.epoch, journal.clock(), [(orjson.dumps(next_up), next_up)])
        ).verdicts
    ] == ["applied"]
