"""The plant's tables change: who put which in force, and each operation judged by the tables that it names."""

import json
import sqlite3
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing

import pytest

from qc.domain.tables.plant_tables import plant_from_tables, revision_of, tables_of
from qc.store.checking.verify import verify
from qc.store.folder.plant_folder import tables_folder
from qc.store.intake import revising
from qc.store.intake.journal import BY_HAND, Journal
from qc.store.intake.rebuild import rebuild
from qc.store.intake.revising import put_in_force
from qc.store.intake.writer import StorageFailed
from qc.store.people.telling import Beside, latest_tables
from qc.store.reading.reads import Reads
from qc.store.record.connection import RECORD, open_writer
from qc.store.record.own_word import BY_ITSELF, By, NotTold
from qc.store.record.tables_kept import owed_tables, revision_in_force
from tests.store.record_kit import PEOPLE, PLANT, TABLES, Clock, Phone, open_journal
from tests.store.test_former_record import made

BY_ADA = By("AD1", "a-session")
DAY = "2026-03-02"
NEW_TYPE = "PAN-77,PAN,Panels and bonding,Blister under the film,minor,no,asked,20,D01,RP1,panel,all,no,none,blister"


def with_type(tables=TABLES, line=NEW_TYPE):
    return {**tables, "defect_types.csv": tables["defect_types.csv"].rstrip("\n") + f"\n{line}\n"}


def renamed(tables=TABLES, name="Another maker"):
    return {**tables, "plant.toml": tables["plant.toml"].replace(f'maker = "{PLANT.maker}"', f'maker = "{name}"')}


@pytest.fixture
def journal(tmp_path):
    with open_journal(tmp_path / "plant") as journal:
        yield journal


@pytest.fixture
def phone(journal):
    return Phone(journal)


def revise(record, tables, previous=PLANT.revision, **changed):
    told = {"reason": "blisters are told apart", "from_day": DAY, "by": BY_ADA, **changed}
    return put_in_force(record, record.folder, tables, previous, **told)


def rows(journal, kind="plant_revised"):
    ask = "SELECT number, author, plant_revision FROM journal WHERE kind = ? ORDER BY number"
    return journal.write(lambda conn: conn.execute(ask, (kind,)).fetchall())


def a_defect(phone, unit, type_, **envelope):
    where = {"point": "D01", "zone": zone_of(type_), "type": type_, "severity": "minor"}
    return phone.do("defect_recorded", "I1", unit, **where, severity_reason="seen at once", envelope=envelope)[1]


def zone_of(type_):
    kinds = plant_from_tables(with_type()).types[type_].zone_kinds
    return next(zone.key for zone in PLANT.zones_of("T36") if zone.kind in kinds)


class TestPuttingInForce:
    def test_the_record_tells_who_put_which_tables_in_force_and_why(self, journal, phone):
        unit, new = phone.plan(), with_type()

        number = revise(journal, new)

        ask = "SELECT revision, previous, reason, from_day, revised_by, at_console, number FROM plant_change"
        told = (revision_of(new), PLANT.revision, "blisters are told apart", DAY, "AD1", "", number)
        assert journal.write(lambda conn: conn.execute(ask).fetchall()) == [told]
        assert journal.write(revision_in_force) == revision_of(new)
        assert latest_tables(journal.folder) == new
        assert a_defect(phone, unit, "PAN-77").verdict == "applied"

    def test_before_it_the_new_type_is_unknown(self, journal, phone):
        verdict = a_defect(phone, phone.plan(), "PAN-77")

        assert (verdict.verdict, verdict.code) == ("refused", "unknown_code")

    def test_the_same_tables_twice_tell_nothing_more(self, journal):
        revise(journal, with_type())

        assert revise(journal, with_type()) is None
        assert revise(journal, with_type(), previous=revision_of(with_type())) is None
        assert len(rows(journal)) == 1

    def test_of_two_administrators_at_once_the_second_is_refused_and_nothing_of_theirs_is_kept(self, journal):
        revise(journal, with_type())

        with pytest.raises(NotTold) as second:
            revise(journal, renamed())

        assert second.value.code == "tables_overtaken"
        assert len(rows(journal)) == 1
        kept = journal.write(lambda conn: conn.execute("SELECT count(*) FROM plant_revision").fetchone())
        assert kept == (2,)

    def test_the_rule_itself_refuses_what_follows_other_tables(self, journal):
        revise(journal, with_type())
        revise(journal, renamed(with_type()), previous=revision_of(with_type()))
        body = {
            "revision": revision_of(TABLES),
            "previous": revision_of(with_type()),
            "reason": "back",
            "from_day": DAY,
        }

        with pytest.raises(NotTold) as told:
            journal.write(lambda conn: journal.tell(conn, "plant_revised", body, BY_ADA))

        assert told.value.code == "tables_overtaken"
        assert "AD1 put other tables in force" in str(told.value)

    def test_tables_may_go_back_to_what_they_were(self, journal):
        revise(journal, with_type())
        revise(journal, TABLES, previous=revision_of(with_type()))

        assert journal.write(revision_in_force) == PLANT.revision

    @pytest.mark.parametrize(
        ("day", "code"),
        [("9999-01-01", "day_out_of_range"), ("2024-01-01", "day_out_of_range"), ("tomorrow", "malformed")],
    )
    def test_a_day_that_cannot_be_is_refused(self, journal, day, code):
        with pytest.raises(NotTold) as told:
            revise(journal, with_type(), from_day=day)

        assert told.value.code == code
        assert journal.write(revision_in_force) == PLANT.revision

    def test_a_day_before_that_of_the_tables_before_is_refused(self, journal):
        revise(journal, with_type())

        with pytest.raises(NotTold) as told:
            revise(journal, renamed(with_type()), previous=revision_of(with_type()), from_day="2026-03-01")

        assert told.value.code == "day_before_last"

    @pytest.mark.parametrize("author", ["I1", "QM1", "PL1"])
    def test_only_the_administrator_and_the_console_do_it(self, journal, author):
        with pytest.raises(NotTold) as told:
            revise(journal, with_type(), by=By(author, "s"))

        assert told.value.code == "not_your_role"

    def test_no_phone_does_it(self, journal, phone):
        revise(journal, with_type())
        body = {"revision": PLANT.revision, "previous": revision_of(with_type()), "reason": "back", "from_day": DAY}

        assert phone.do("plant_revised", "AD1", None, **body)[1].code == "not_on_a_phone"

    def test_tables_that_the_record_does_not_keep_are_refused(self, journal):
        body = {"revision": "ab" * 32, "previous": PLANT.revision, "reason": "unseen", "from_day": DAY}

        with pytest.raises(NotTold) as told:
            journal.write(lambda conn: journal.tell(conn, "plant_revised", body, BY_ADA))

        assert told.value.code == "unknown_tables"

    def test_two_revisions_close_on_each_other_leave_the_files_of_the_one_in_force(self, journal, monkeypatch):
        """A page and a command at once: the first is held up as its files are written, the second comes meanwhile."""
        first, second, held = with_type(), renamed(with_type()), threading.Event()
        plain = revising.lay_out

        def slow(folder, tables):
            if not held.is_set():
                held.set()
                time.sleep(0.5)
            plain(folder, tables)

        monkeypatch.setattr(revising, "lay_out", slow)
        with ThreadPoolExecutor(2) as both, Beside(journal.folder, journal.clock) as beside:
            one = both.submit(revise, journal, first)
            assert held.wait(20)
            other = both.submit(revise, beside, second, previous=revision_of(first), by=BY_ITSELF)
            assert other.result(20) > one.result(20)

        assert tables_of(tables_folder(journal.folder)) == second
        assert journal.write(owed_tables) is None

    def test_what_is_undone_after_it_leaves_the_tables_before_in_force(self, journal, phone):
        unit = phone.plan()

        def half(conn):
            put_in_force(_Inside(journal, conn), journal.folder, with_type(), PLANT.revision, "half done", DAY, BY_ADA)
            raise StorageFailed("the disk went away")

        with pytest.raises(StorageFailed):
            journal.write(half)

        assert a_defect(phone, unit, "PAN-77").code == "unknown_code"


class _Inside:
    """The journal, inside a transaction that runs already."""

    def __init__(self, journal, conn):
        self.journal, self.conn = journal, conn
        self.tell, self.begin_anew = journal.tell, journal.begin_anew

    def write(self, work):
        return work(self.conn)


class TestOldWork:
    def test_it_is_judged_by_the_tables_that_it_names(self, journal, phone):
        unit, old = phone.plan(), PLANT.revision
        new = revision_of(with_type())
        revise(journal, with_type())

        assert a_defect(phone, unit, "PAN-77", plant=old).code == "unknown_code"
        assert a_defect(phone, unit, "PAN-77", plant=new).verdict == "applied"
        assert a_defect(phone, unit, "PAN-01", plant=old).verdict == "applied"
        named = [revision for _, _, revision in rows(journal, "defect_recorded")]
        assert named == [old, new, old]

    def test_a_value_is_held_against_the_limits_of_the_tables_that_it_names(self, journal, phone):
        unit = phone.plan()
        test = next(one for one in PLANT.tests_of("T36") if one.kind == "measure" and one.upper is not None)
        lower = with_limit(test.id, "upper", test.upper - 1, test)
        revise(journal, lower)
        value = test.upper - 0.5

        for plant in (PLANT.revision, revision_of(lower)):
            phone.must(
                "test_recorded",
                "TB1",
                unit,
                test=test.id,
                instrument="IN-1",
                value=value,
                envelope={"plant": plant},
                **({"again": "method"} if plant != PLANT.revision else {}),
            )

        results = Reads(journal.folder, PLANT).unit_story(unit).tests
        assert [one.passed for one in results] == [True, False]

    def test_tables_that_the_record_lacks_are_as_none_named(self, journal, phone):
        assert a_defect(phone, phone.plan(), "PAN-01", plant="cd" * 32).verdict == "applied"
        assert [revision for _, _, revision in rows(journal, "defect_recorded")] == [PLANT.revision]

    @pytest.mark.parametrize("wrong", ["", "abc", 7, None, ["ab" * 32]])
    def test_what_is_no_digest_is_refused_and_kept(self, journal, phone, wrong):
        unit = phone.plan()

        verdict = a_defect(phone, unit, "PAN-01", plant=wrong)

        assert (verdict.code, "plant" in verdict.reason) == ("malformed", True)

    def test_an_earlier_program_did_not_know_the_field_and_its_answer_stands(self, journal, phone, monkeypatch):
        unit = phone.plan()
        with monkeypatch.context() as then:
            then.setattr("qc.store.intake.door.RULES", 8)
            verdict = a_defect(phone, unit, "PAN-01", plant=PLANT.revision)

        assert verdict.code == "malformed"
        journal.close()
        rebuild(journal.folder, PLANT)
        assert verify(journal.folder).is_whole

    def test_a_release_signed_under_other_tables_is_signed_anew(self, journal, phone):
        unit = ready(journal, phone)
        revise(journal, renamed())

        stale = phone.sign(unit, envelope={"plant": PLANT.revision})
        again = phone.sign(unit, envelope={"plant": revision_of(renamed())})

        assert (stale.code, "tables changed" in stale.reason) == ("sign_off_stale", True)
        assert again.verdict == "applied"

    def test_a_release_that_names_no_tables_is_held_against_those_in_force(self, journal, phone):
        unit = ready(journal, phone)
        revise(journal, renamed())

        assert phone.sign(unit).verdict == "applied"
        assert [revision for _, _, revision in rows(journal, "unit_released")] == [revision_of(renamed())]


def with_limit(test, column, value, plain):
    lines = TABLES["tests.csv"].split("\n")
    heading = lines[0].split(",")
    place = next(place for place, line in enumerate(lines) if line.startswith(f"{test},"))
    old = f"{plain.upper:g}"
    assert column in heading
    assert f",{old}," in lines[place]
    lines[place] = lines[place].replace(f",{old},", f",{value:g},", 1)
    return {**TABLES, "tests.csv": "\n".join(lines)}


def ready(journal, phone):
    unit = phone.plan()
    phone.test_all(unit)
    phone.look(unit)
    phone.settle(unit)
    return unit


class TestBesideAServer:
    def test_the_server_judges_by_what_a_command_beside_it_put_in_force(self, journal, phone):
        unit = phone.plan()

        with Beside(journal.folder, journal.clock) as beside:
            revise(beside, with_type(), by=By(at_console="root"))

        assert a_defect(phone, unit, "PAN-77").verdict == "applied"

    def test_readers_follow_it(self, journal, phone):
        reads = Reads(journal.folder, PLANT)
        phone.plan()
        assert reads.follow() is None

        revise(journal, with_type())

        assert "PAN-77" in reads.follow().types
        assert reads.follow() is None


class TestOpening:
    def test_tables_changed_in_the_folder_are_told_by_the_server(self, tmp_path):
        with open_journal(tmp_path / "plant") as journal:
            Phone(journal).plan()
        new = with_type()
        with Journal(tmp_path / "plant", plant_from_tables(new), new, Clock(), people=PEOPLE.get) as journal:
            ask = "SELECT revision, previous, reason, from_day, revised_by FROM plant_change"
            told = (revision_of(new), PLANT.revision, BY_HAND, DAY, "SERVER")
            assert journal.write(lambda conn: conn.execute(ask).fetchall()) == [told]
        with Journal(tmp_path / "plant", plant_from_tables(new), new, Clock(), people=PEOPLE.get) as journal:
            assert len(rows(journal)) == 1

    def test_a_record_without_an_operation_tells_nothing(self, tmp_path):
        with open_journal(tmp_path / "plant"):
            pass
        new = with_type()
        with Journal(tmp_path / "plant", plant_from_tables(new), new, Clock(), people=PEOPLE.get) as journal:
            assert rows(journal) == []

    def test_a_former_record_opens_with_the_rows_that_it_had(self, tmp_path):
        _, tables = made(tmp_path / "plant")
        plant = plant_from_tables(json.loads(tables))
        with closing(open_writer(tmp_path / "plant" / RECORD)) as conn:
            (before,) = conn.execute("SELECT count(*) FROM journal").fetchone()

        with Journal(tmp_path / "plant", plant, json.loads(tables), Clock(), lost_key=True) as journal:
            told = journal.write(
                lambda conn: conn.execute("SELECT kind FROM journal WHERE number > ?", (before,)).fetchall()
            )

        assert {kind for (kind,) in told} <= {"person_stood", "device_stood", "key_changed"}


class TestVerifying:
    @pytest.fixture
    def revised(self, journal, phone):
        unit = ready(journal, phone)
        revise(journal, with_type())
        a_defect(phone, unit, "PAN-77")
        a_defect(phone, unit, "PAN-01", plant=PLANT.revision)
        journal.close()
        return journal.folder

    def test_a_revised_record_is_whole_and_rebuilt_the_same(self, revised):
        assert verify(revised).is_whole
        rebuild(revised, PLANT)
        assert verify(revised).is_whole

    @pytest.mark.parametrize(
        "edit",
        [
            "UPDATE plant_change SET from_day = '2026-02-02'",
            "UPDATE plant_change SET reason = 'because'",
            "DELETE FROM plant_change",
            "DELETE FROM plant_revision WHERE revision IN (SELECT revision FROM plant_change)",
            "UPDATE plant_revision SET tables = replace(tables, 'Blister', 'Bubble')",
        ],
    )
    def test_an_edit_is_found(self, revised, edit):
        with closing(sqlite3.connect(revised / RECORD)) as conn:
            conn.execute(edit)
            conn.commit()

        assert not verify(revised).is_whole
