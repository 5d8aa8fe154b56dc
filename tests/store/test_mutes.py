"""Muting a signal: by the quality manager, with a reason and an end; common practice, no source."""

import shutil
from datetime import date, timedelta

import pytest

from qc.domain.line.mutes import end_fault, last_end
from qc.store.checking import verify
from qc.store.intake.rebuild import rebuild
from qc.store.reading.reads import Reads
from qc.store.tables import migrations
from tests.store.record_kit import PLANT, Phone, open_journal

DAY = "2026-03-02"  # on which the tests' clock stands
SIGNAL = {"station": "S07", "type": "PAN-06", "direction": "up"}
MUTE = {**SIGNAL, "reason": "the new jig comes in week 13", "until": "2026-03-30"}


@pytest.fixture
def phone(tmp_path):
    with open_journal(tmp_path) as journal:
        yield Phone(journal, "DESK")


def standing(folder, day=DAY):
    reads = Reads(folder, PLANT)
    try:
        return reads.standing_mutes(day)
    finally:
        reads.close()


def refused(phone, kind, author="QM1", **body):
    verdict = phone.do(kind, author, None, **body)[1]
    assert verdict.verdict == "refused", verdict
    return verdict


def test_a_mute_is_kept_with_who_why_and_until_when(phone, tmp_path):
    id_ = phone.must("signal_muted", "QM1", None, **MUTE)

    assert standing(tmp_path) == [{**MUTE, "id": id_, "from_day": DAY, "muted_by": "QM1", "number": 1}]


@pytest.mark.parametrize("type_", ["PAN-06", "PAN", "rest"])
def test_each_kind_of_watched_sum_can_be_muted(phone, type_):
    phone.must("signal_muted", "QM1", None, **{**MUTE, "type": type_})


@pytest.mark.parametrize("author", ["L-S07", "I1", "TB1", "RW1", "DX1", "PL1", "AD1", "nobody"])
def test_nobody_but_the_quality_manager_mutes_or_unmutes(phone, tmp_path, author):
    assert refused(phone, "signal_muted", author, **MUTE).code == "not_your_role"
    mute = phone.must("signal_muted", "QM1", None, **MUTE)
    assert refused(phone, "signal_unmuted", author, mute=mute).code == "not_your_role"
    assert [one["id"] for one in standing(tmp_path)] == [mute]


@pytest.mark.parametrize(
    ("changed", "code", "said"),
    [
        ({"station": "S99"}, "unknown_code", "S99 is no station of this plant"),
        ({"type": "PAN-99"}, "unknown_code", "PAN-99 is no defect type or type group of this plant"),
        ({"reason": ""}, "reason_needed", "3 characters or more"),
        ({"reason": " a  "}, "reason_needed", "3 characters or more"),
        ({"until": DAY}, "until_out_of_range", "2026-03-02 is not after the day it is made"),
        ({"until": "2026-01-01"}, "until_out_of_range", "give a day from 2026-03-03 to 2026-08-31"),
        ({"until": "2026-09-01"}, "until_out_of_range", "2026-09-01 is more than 26 weeks after"),
        ({"until": "9999-12-31"}, "until_out_of_range", "more than 26 weeks"),
        ({"until": "soon"}, "malformed", "body.until must be a date"),
        ({"until": None}, "malformed", "body.until must be a date"),
        ({"direction": "sideways"}, "malformed", "must be one of up, down"),
    ],
)
def test_a_mute_that_cannot_be_is_refused_in_words(phone, tmp_path, changed, code, said):
    verdict = refused(phone, "signal_muted", **{**MUTE, **changed})

    assert verdict.code == code
    assert said in verdict.reason
    assert standing(tmp_path) == []


def test_the_longest_mute_is_26_weeks_and_the_shortest_ends_the_next_day():
    made = date(2026, 3, 2)

    assert last_end(made) == date(2026, 8, 31) == made + timedelta(days=182)
    assert [bool(end_fault(made, made + timedelta(days=days))) for days in (0, 1, 182, 183)] == [
        True,
        False,
        False,
        True,
    ]


def test_a_mute_ends_by_itself_after_its_day(phone, tmp_path):
    phone.must("signal_muted", "QM1", None, **MUTE)

    assert [len(standing(tmp_path, day)) for day in ("2026-03-30", "2026-03-31")] == [1, 0]


def test_a_standing_mute_is_not_replaced_but_its_neighbours_can_be_muted(phone, tmp_path):
    phone.must("signal_muted", "QM1", None, **MUTE)

    again = refused(phone, "signal_muted", **{**MUTE, "until": "2026-04-06"})
    assert (again.code, again.reason) == ("already_muted", "QM1 has muted it until 2026-03-30; unmute it first")
    for other in ({"station": "S06"}, {"type": "PAN"}, {"direction": "down"}):
        phone.must("signal_muted", "QM1", None, **{**MUTE, **other})
    assert len(standing(tmp_path)) == 4


def test_once_it_is_over_the_signal_can_be_muted_again(phone, tmp_path):
    phone.must("signal_muted", "QM1", None, **MUTE)
    phone.journal.clock.after(29 * 24 * 60)

    phone.must("signal_muted", "QM1", None, **{**MUTE, "until": "2026-05-01"})
    assert [one["until"] for one in standing(tmp_path, "2026-03-31")] == ["2026-05-01"]


def test_an_unmuted_signal_is_listed_again_and_the_mute_stays_in_the_record(phone, tmp_path):
    mute = phone.must("signal_muted", "QM1", None, **MUTE)
    other = phone.must("signal_muted", "QM1", None, **{**MUTE, "station": "S06"})
    phone.must("signal_unmuted", "QM1", None, mute=mute)

    assert [one["id"] for one in standing(tmp_path)] == [other]
    row = "SELECT reason, ended_day, ended_by FROM signal_mute WHERE id = ?"
    kept = phone.journal.write(lambda conn: conn.execute(row, (mute,)).fetchone())
    assert tuple(kept) == (MUTE["reason"], DAY, "QM1")


def test_a_mute_is_ended_once(phone):
    mute = phone.must("signal_muted", "QM1", None, **MUTE)
    phone.must("signal_unmuted", "QM1", None, mute=mute)
    again = refused(phone, "signal_unmuted", mute=mute)

    assert (again.code, again.reason) == ("not_muted", f"QM1 ended this mute on {DAY} already")


def test_a_mute_that_is_over_is_not_ended(phone):
    mute = phone.must("signal_muted", "QM1", None, **MUTE)
    phone.journal.clock.after(29 * 24 * 60)

    assert "ended by itself after 2026-03-30" in refused(phone, "signal_unmuted", mute=mute).reason


def test_what_is_no_mute_is_not_ended(phone):
    note = phone.must("change_noted", "QM1", None, station="S07", change="tool", what="new jig", from_day=DAY)

    assert refused(phone, "signal_unmuted", mute=note).code == "not_muted"


def test_an_end_that_arrives_before_its_mute_waits_for_it(phone, tmp_path):
    other = Phone(phone.journal, "P2")
    made = other.make("signal_muted", "QM1", None, **MUTE)
    assert phone.do("signal_unmuted", "QM1", None, mute=made["id"])[1].verdict == "parked"
    other.send()

    assert standing(tmp_path) == []


def test_a_rebuild_keeps_mutes_and_their_ends(tmp_path):
    with open_journal(tmp_path) as journal:
        phone = Phone(journal, "DESK")
        ended = phone.must("signal_muted", "QM1", None, **MUTE)
        phone.must("signal_unmuted", "QM1", None, mute=ended)
        kept = phone.must("signal_muted", "QM1", None, **{**MUTE, "station": "S06"})

    rebuild(tmp_path, PLANT)
    assert [one["id"] for one in standing(tmp_path)] == [kept]
    assert verify.verify(tmp_path).is_whole


def test_a_record_of_the_program_before_mutes_is_verified_as_it_is(tmp_path, monkeypatch):
    """A backup made before an update is verified after it; it has no table of mutes, and that is no fault.

    It holds no operation, which this program would keep in tables that came later; `test_former_record` has many.
    """
    before = tmp_path / "before"
    with monkeypatch.context() as earlier:
        earlier.setattr(migrations, "MIGRATIONS", migrations.MIGRATIONS[:4])
        with open_journal(before):
            pass
    shutil.copytree(before, tmp_path / "changed")

    assert verify.verify(before).is_whole
    assert migrations.version_of(Reads(before, PLANT).connection()) == 4
    with open_journal(tmp_path / "changed") as journal:
        Phone(journal, "DESK").must("signal_muted", "QM1", None, **MUTE)
    assert verify.verify(tmp_path / "changed").is_whole


def test_a_restarted_server_knows_the_mutes_that_stand(tmp_path):
    with open_journal(tmp_path) as journal:
        mute = Phone(journal).must("signal_muted", "QM1", None, **MUTE)
    with open_journal(tmp_path) as journal:
        assert Phone(journal, epoch="e2").do("signal_muted", "QM1", None, **MUTE)[1].code == "already_muted"
        Phone(journal, epoch="e3").must("signal_unmuted", "QM1", None, mute=mute)
