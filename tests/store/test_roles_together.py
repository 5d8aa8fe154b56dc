"""One person in several roles: what each allows adds up, and what one role checks of another's work never does.

Common practice of quality records, no source: nobody looks again at their own work, whatever they are called.
"""

import sqlite3
from contextlib import closing

import pytest

from qc.domain.facts.people import ROLES, Person, words_of
from qc.domain.facts.standing import Standing, standing_from
from qc.store.checking.verify import verify
from qc.store.intake.journal import Journal
from qc.store.intake.rebuild import rebuild
from qc.store.people.persons import ChangedMeanwhile, WeakSecret
from qc.store.people.pins import new_secret
from qc.store.record.connection import RECORD
from qc.store.record.own_word import By, NotTold
from tests.empty_record import laid_in
from tests.store.record_kit import PEOPLE, PLANT, TABLES, Clock, Phone, story_of
from tests.store.test_people_told import BY_ADA, PHRASE, PIN, office

__all__ = ["office"]

TOGETHER = {
    one.code: one
    for one in (
        Person("IT1", "Inspects and tests", "inspector", also=("tester", "repairer")),
        Person("RQ1", "Repairs and manages", "repairer", also=("quality_manager",)),
        Person("LQ7", "Leads S07 and manages", "station_lead", ("S07",), ("quality_manager",)),
        Person("DI2", "Sends out and inspects", "dispatch", also=("inspector",)),
        Person("QM2", "Another manager", "quality_manager"),
        Person("ALL", "Everything", ROLES[0], ("S07",), ROLES[1:]),
    )
}
CRITICAL, MINOR = "GAS-01", "EXT-01"


@pytest.fixture
def phone(tmp_path):
    people = PEOPLE | TOGETHER
    with Journal(laid_in(tmp_path), PLANT, TABLES, Clock(), people=people.get) as journal:
        yield Phone(journal)


@pytest.fixture
def unit(phone):
    return phone.plan()


def found(phone, unit, author="I1", severity="minor", type_=MINOR):
    where = {"point": "D01", "zone": "nearside.door"}
    return phone.must("defect_recorded", author, unit, **where, type=type_, severity=severity)


def repaired(phone, unit, author, *defects):
    return phone.must("repair_done", author, unit, defects=list(defects), method="rework", minutes=5)


def refused(phone, *made, **body):
    verdict = phone.do(*made, **body)[1]
    assert verdict.verdict == "refused", verdict
    return verdict.code


def test_a_standing_tells_every_role_and_is_read_again():
    for standing, told in (
        (Standing("inspector"), "inspector"),
        (Standing("inspector", (), ("tester",)), "inspector+tester"),
        (Standing("repairer", ("S07", "S08"), ("station_lead",)), "repairer+station_lead:S07,S08"),
        (Standing("station_lead", ("S07",)), "station_lead:S07"),
        (Standing(), ""),
    ):
        assert (str(standing), standing_from(told)) == (told, standing)
    assert words_of(("station_lead", "repairer", "dispatch")) == "station lead, repairer and dispatch"


def test_each_of_the_roles_lets_do_its_own_and_no_other(phone, unit):
    id_ = found(phone, unit, "IT1")
    repaired(phone, unit, "IT1", id_)

    verdict = phone.do("origin_settled", "IT1", unit, defect=id_, station="S07", reason="as seen")[1]
    assert (verdict.code, verdict.reason) == (
        "not_your_role",
        "IT1 is inspector, tester and repairer; origin settled is for: quality manager",
    )
    assert refused(
        phone, "unit_planned", "IT1", unit, model="T36", shop_number="X", sequence=2, planned_day="2026-03-02"
    )


def test_a_release_is_signed_in_the_other_role_and_all_is_derived_again(phone, unit, tmp_path):
    id_ = found(phone, unit, "IT1")
    repaired(phone, unit, "IT1", id_)
    phone.must("recheck_accepted", "DI2", unit, defect=id_)
    phone.look(unit, "DI2")
    phone.test_all(unit)
    phone.settle(unit)

    assert phone.sign(unit, "DX1").code == "not_your_role"
    assert phone.sign(unit, "DI2").verdict == "applied"
    phone.journal.close()
    assert verify(tmp_path).is_whole, verify(tmp_path)
    rebuild(tmp_path, PLANT)
    assert story_of_folder(tmp_path, unit).releases[-1].signed_by == "DI2"


@pytest.mark.parametrize("author", ["IT1", "ALL"])
def test_nobody_looks_again_at_what_they_repaired_in_another_role(phone, unit, author):
    id_ = found(phone, unit)
    repaired(phone, unit, author, id_)

    assert refused(phone, "recheck_accepted", author, unit, defect=id_) == "same_person"
    phone.must("recheck_accepted", "I2", unit, defect=id_)


@pytest.mark.parametrize("author", ["RQ1", "ALL"])
def test_who_repaired_a_critical_takes_it_not_out_of_the_way_of_its_recheck(phone, unit, author):
    """A manager alone repairs nothing, so one with two roles could close a critical that nobody else looked at."""
    id_ = found(phone, unit, severity="critical", type_=CRITICAL)
    repaired(phone, unit, author, id_)
    lower = {"defect": id_, "changes": {"severity": "minor"}, "reason": "not so bad"}
    withdraw = {"defect": id_, "why": "not_a_defect", "reason": "not so bad"}

    assert refused(phone, "defect_corrected", author, unit, **lower) == "same_person"
    assert refused(phone, "defect_withdrawn", author, unit, **withdraw) == "same_person"
    phone.must("recheck_failed", "I2", unit, defect=id_, reason="still there")
    assert refused(phone, "defect_withdrawn", author, unit, **withdraw) == "same_person"
    phone.must("defect_withdrawn", "QM1", unit, **withdraw)


def test_who_repaired_nothing_lowers_a_critical_as_ever(phone, unit):
    id_ = found(phone, unit, "RQ1", severity="critical", type_=CRITICAL)

    phone.must("defect_corrected", "RQ1", unit, defect=id_, changes={"severity": "minor"}, reason="a wrong type")


def settle(phone, author, unit, id_):
    return phone.do("origin_settled", author, unit, defect=id_, station="S06", reason="seen at the unit")[1]


@pytest.mark.parametrize("author", ["LQ7", "ALL"])
@pytest.mark.parametrize("word", ["none", "disputed", "confirmed", "passed_on"])
def test_who_leads_a_station_settles_nothing_that_stood_against_it(phone, unit, author, word):
    id_ = found(phone, unit)
    phone.must("origin_suspected", "I1", unit, defect=id_, station="S07")
    if word == "disputed":
        phone.must("origin_disputed", author, unit, defect=id_, reason="not ours")
    if word == "confirmed":
        phone.must("origin_confirmed", author, unit, defect=id_, station="S07")
    if word == "passed_on":
        phone.must("origin_passed_on", author, unit, defect=id_, station="S06", reason="theirs")

    verdict = settle(phone, author, unit, id_)
    assert (verdict.verdict, verdict.code) == ("refused", "same_person")
    assert "S07" in verdict.reason
    assert settle(phone, "QM1", unit, id_).verdict == "applied"


def test_nobody_settles_what_they_disputed(phone, unit):
    """A manager too can dispute; it is another one who settles it, or the word of the place it is passed on to."""
    id_ = found(phone, unit)
    phone.must("origin_suspected", "I1", unit, defect=id_, station="S07")
    phone.must("origin_disputed", "QM1", unit, defect=id_, reason="not theirs")

    assert settle(phone, "QM1", unit, id_).code == "same_person"
    assert settle(phone, "LQ7", unit, id_).code == "same_person"
    assert settle(phone, "QM2", unit, id_).verdict == "applied"


def test_a_dispute_that_was_passed_on_is_nobodys_any_more(phone, unit):
    id_ = found(phone, unit)
    phone.must("origin_suspected", "I1", unit, defect=id_, station="S07")
    phone.must("origin_disputed", "QM1", unit, defect=id_, reason="not theirs")
    phone.must("origin_passed_on", "QM1", unit, defect=id_, station="S06", reason="theirs")

    assert settle(phone, "QM1", unit, id_).verdict == "applied"


def test_who_leads_a_station_mutes_no_signal_of_it(phone):
    mute = {"type": "PAN", "direction": "up", "reason": "a new jig comes", "until": "2026-03-30"}

    assert refused(phone, "signal_muted", "LQ7", None, station="S07", **mute) == "same_person"
    phone.must("signal_muted", "LQ7", None, station="S06", **mute)
    phone.must("signal_muted", "QM1", None, station="S07", **mute)


def test_what_an_earlier_program_let_pass_stands(phone, unit, tmp_path):
    """Rows of the rule set before are judged by it for ever: a rebuild comes out as it was."""
    id_ = found(phone, unit)
    phone.must("origin_suspected", "I1", unit, defect=id_, station="S07")
    phone.must("origin_disputed", "QM1", unit, defect=id_, reason="not theirs")
    assert settle(phone, "QM1", unit, id_).verdict == "refused"
    phone.journal.close()
    with closing(sqlite3.connect(tmp_path / RECORD)) as conn:
        triggers = conn.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND tbl_name = 'journal'")
        for name, _ in triggers.fetchall():
            conn.execute(f"DROP TRIGGER {name}")
        conn.execute("UPDATE journal SET rules = 18")
        conn.commit()

    rebuild(tmp_path, PLANT)

    assert story_of_folder(tmp_path, unit).defects[-1].origin.state == "settled"


def story_of_folder(folder, unit):
    class At:
        pass

    at = At()
    at.folder = folder
    return story_of(at, unit)


# People


@pytest.mark.parametrize(
    ("person", "code", "words"),
    [
        (Person("X1", "Xaver", "inspector", also=("tester", "tester")), "malformed", "same value twice"),
        (Person("X1", "Xaver", "inspector", also=("inspector",)), "role_twice", "inspector is the first role already"),
        (Person("X1", "Xaver", "inspector", also=("cook",)), "malformed", "body.also"),
        (Person("X1", "Xaver", "inspector", also=("",)), "malformed", "body.also"),
        (Person("X1", "Xaver", "inspector", also=("station_lead",)), "station_needed", "name one or more"),
        (
            Person("X1", "Xaver", "inspector", ("S05",), ("tester",)),
            "station_needed",
            "inspector and tester's",
        ),
    ],
)
def test_roles_that_do_not_fit_are_refused_in_words_and_nothing_is_told(office, person, code, words):
    with pytest.raises(NotTold, match=words) as no:
        office.people.add(person, PIN)
    assert no.value.code == code
    with pytest.raises(NotTold, match=words):
        office.people.assign("OL1", person.role, person.stations, BY_ADA, also=person.also)

    assert len(office.told()) == 3


def test_further_roles_are_told_kept_and_derived_again(office):
    office.people.add(Person("X1", "Xaver", "inspector", also=("tester",)), PIN, BY_ADA)
    office.people.assign("OL1", "repairer", ("S05",), BY_ADA, also=("station_lead",))

    assert office.people.get("X1") == Person("X1", "Xaver", "inspector", (), ("tester",))
    assert office.people.get("OL1").also == ("station_lead",)
    office.record.close()
    rebuild(office.folder, PLANT)
    assert office.people.get("OL1").also == ("station_lead",)
    assert verify(office.folder).is_whole, verify(office.folder)


def test_a_word_without_further_roles_means_none(office):
    office.people.assign("OL1", "inspector", (), BY_ADA, also=("tester",))
    office.people.assign("OL1", "inspector", (), BY_ADA)

    assert office.people.get("OL1").also == ()
    assert office.bytes_told().count(b'"also"') == 1


@pytest.mark.parametrize("also", ["quality_manager", "administrator"])
def test_a_further_role_asks_for_a_passphrase_too(office, also):
    with pytest.raises(WeakSecret, match="passphrase"):
        office.people.add(Person("X1", "Xaver", "inspector", also=(also,)), PIN)
    with pytest.raises(NotTold, match="passphrase, not a PIN"):
        office.people.assign("OL1", "inspector", (), BY_ADA, also=(also,))
    office.people.assign("OL1", "inspector", (), BY_ADA, PHRASE, (also,))

    assert office.people.get("OL1").asks_passphrase
    assert not new_secret(office.people.get("OL1")).isdigit()


def test_all_eight_roles_are_one_persons(office):
    office.people.add(Person("ALL", "Alma", ROLES[0], ("S07",), ROLES[1:]), PHRASE, BY_ADA)

    alma = office.people.get("ALL")
    assert all(alma.has(role) for role in ROLES)
    assert alma in office.people.phone_people()


def test_an_administrator_gives_themselves_no_role_and_the_last_one_stays(office):
    with pytest.raises(NotTold, match="nobody changes their own role"):
        office.people.assign("AD1", "administrator", (), BY_ADA, also=("inspector",))
    with pytest.raises(NotTold, match="nobody changes their own role"):
        office.people.assign("AD1", "inspector", (), BY_ADA)
    assert office.people.get("AD1").has("administrator")


def test_two_administrators_who_take_each_others_role_away_leave_one(office):
    office.people.assign("MI1", "quality_manager", (), BY_ADA, also=("administrator",))
    by_mia = By("MI1", "b-session")
    office.people.assign("AD1", "dispatch", (), by_mia)

    with pytest.raises(NotTold, match="AD1 is dispatch; person assigned is for"):
        office.people.assign("MI1", "quality_manager", (), BY_ADA)
    assert office.people.get("MI1").has("administrator")


def test_of_two_who_change_one_person_at_once_the_second_looks_again(office):
    seen = office.people.secret_set("OL1").number
    office.people.assign("OL1", "inspector", (), BY_ADA, also=("tester",), looked_at=seen)

    with pytest.raises(ChangedMeanwhile, match="see what they are now"):
        office.people.assign("OL1", "inspector", (), BY_ADA, also=("repairer",), looked_at=seen)
    assert office.people.get("OL1").also == ("tester",)
