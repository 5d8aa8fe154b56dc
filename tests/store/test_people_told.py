"""People and phones are told in the chain: who added, changed or ended whom, and each edit of their rows is found."""

import re
import sqlite3
from contextlib import closing

import pytest

from qc.domain.facts.people import Person, Roles
from qc.domain.facts.rule_set import CODES_BEGIN
from qc.store.checking.verify import verify
from qc.store.intake import door
from qc.store.intake.journal import Journal
from qc.store.intake.rebuild import rebuild
from qc.store.people import pins
from qc.store.people.devices import Devices, next_code
from qc.store.people.machines import Machines
from qc.store.people.persons import People, PersonExists
from qc.store.people.telling import Beside
from qc.store.record.connection import RECORD, open_reader, open_writer
from qc.store.record.own_word import By, NotTold
from tests.store.record_kit import PEOPLE, PLANT, TABLES, Clock, Phone
from tests.store.test_former_record import made

PIN, PHRASE = "284915", "seven blue tyres"
OLGA, MIA = Person("OL1", "Olga", "inspector"), Person("MI1", "Mia", "quality_manager")
ADA = Person("AD1", "Ada", "administrator")
BY_ADA = By("AD1", "a-session")


class Office:
    """A folder's people and phones, in a journal of their own or beside a server."""

    def __init__(self, folder, beside=False):
        self.folder, self.clock = folder, Clock()
        self.record = Beside(folder, self.clock) if beside else Journal(folder, PLANT, TABLES, self.clock)
        self.reader = open_reader(folder / RECORD)
        self.people = People(folder / "keys", self.record, lambda: self.reader)
        self.devices = Devices(self.record, lambda: self.reader)

    def told(self):
        return [tuple(row) for row in self.reader.execute("SELECT kind, author, device FROM journal ORDER BY number")]

    def bytes_told(self):
        return b"\n".join(data for (data,) in self.reader.execute("SELECT bytes FROM journal"))

    def close(self):
        self.reader.close()
        self.record.close()


@pytest.fixture
def office(tmp_path, monkeypatch):
    monkeypatch.setattr(pins, "_PIN", pins.PasswordHasher(time_cost=1, memory_cost=64, parallelism=1))
    monkeypatch.setattr(pins, "_PASSPHRASE", pins.PasswordHasher(time_cost=3, memory_cost=64, parallelism=1))
    office = Office(tmp_path / "plant")
    for person, secret in ((ADA, PHRASE), (OLGA, PIN), (MIA, PHRASE)):
        office.people.add(person, secret)
    yield office
    office.close()


def test_each_act_is_told_with_who_did_it(office):
    office.people.assign("OL1", "tester", by=BY_ADA)
    office.people.change_secret("OL1", "593018", BY_ADA)
    office.people.end("OL1", BY_ADA, "left the plant")
    office.people.take_back("OL1", BY_ADA)
    office.devices.enrol("P1", BY_ADA)
    office.devices.revoke("P1", True, BY_ADA, "lost at the test track")
    office.devices.revoke("P1", False, By(at_console="root"))

    assert office.told()[3:] == [
        ("person_assigned", "AD1", "DESK"),
        ("secret_changed", "AD1", "DESK"),
        ("person_ended", "AD1", "DESK"),
        ("person_returned", "AD1", "DESK"),
        ("device_enrolled", "AD1", "DESK"),
        ("device_revoked", "AD1", "DESK"),
        ("device_restored", "SERVER", "SERVER"),
    ]
    assert b'"at_console":"root"' in office.bytes_told()
    assert office.people.secret_set("OL1").by == "AD1"
    assert verify(office.folder).is_whole, verify(office.folder)


def test_no_secret_and_no_kept_form_of_one_stands_in_an_operation(office):
    """What is told is the SHA-256 of a form with a random salt: nobody can try PINs against it."""
    kept = [row[0] for row in office.reader.execute("SELECT kept FROM person_secret")]

    assert len(kept) == 3
    assert PIN.encode() not in office.bytes_told()
    assert not any(part.encode() in office.bytes_told() for one in kept for part in one.split("$") if len(part) > 15)


@pytest.mark.parametrize(
    ("person", "code", "words"),
    [
        (Person("ol1", "Otto", "inspector"), "code_not_in_capitals", "OL1"),
        (Person("L1", "Leo", "station_lead"), "station_needed", "name one or more"),
        (Person("L1", "Leo", "station_lead", ("S99",)), "unknown_code", "no station S99"),
        (Person("I9", "Ivo", "inspector", ("S05",)), "station_needed", "name none"),
        (Person("I9", "  ", "inspector"), "name_needed", "has a name"),
        (Person("I 9", "Ivo", "inspector"), "malformed", "person"),
        (Person("I9", "x" * 81, "inspector"), "malformed", "80"),
    ],
)
def test_who_cannot_be_added_is_refused_in_words_and_nothing_is_told(office, person, code, words):
    with pytest.raises(NotTold, match=words) as refused:
        office.people.add(person, PIN)

    assert refused.value.code == code
    assert len(office.told()) == 3


def test_a_code_is_given_once_whatever_its_case(office):
    for code in ("OL1", "DESK", "SERVER"):
        with pytest.raises(PersonExists, match="taken"):
            office.people.add(Person(code, "Otto", "inspector"), PIN)


def test_who_is_promoted_needs_a_passphrase_in_the_same_step(office):
    assert office.people.needs_passphrase("OL1", Roles("quality_manager"))
    with pytest.raises(NotTold, match="passphrase, not a PIN"):
        office.people.assign("OL1", "quality_manager")
    office.people.assign("OL1", "quality_manager", secret=PHRASE)

    assert not office.people.needs_passphrase("OL1", Roles("administrator"))
    assert office.people.pins.matches(kept_of(office, "OL1"), PHRASE)
    assert verify(office.folder).is_whole


def kept_of(office, code):
    return office.reader.execute("SELECT kept FROM person_secret WHERE person = ?", (code,)).fetchone()[0]


def test_nobody_changes_their_own_role_or_ends_themselves(office):
    for act in (lambda: office.people.end("AD1", BY_ADA), lambda: office.people.assign("AD1", "tester", by=BY_ADA)):
        with pytest.raises(NotTold, match="another administrator"):
            act()
    office.people.end("AD1")  # on the console, which can begin anew


@pytest.mark.parametrize("author", ["OL1", "MI1", "NOBODY"])
def test_only_an_administrator_says_who_is_there(office, author):
    with pytest.raises(NotTold):
        office.people.end("OL1", By(author, "s"))
    with pytest.raises(NotTold):
        office.devices.enrol("P7", By(author, "s"))


@pytest.mark.parametrize("kind", ["person_stood", "device_stood", "person_added"])
def test_a_phone_cannot_tell_of_people_whoever_signs(office, kind):
    phone = Phone(office.record)
    body = {"person": "XX1", "name": "X", "role": "inspector", "stations": [], "secret": None, "passphrase": False}
    body = {"enrolled": "P9", "out_of_use": False} if kind == "device_stood" else body
    phone.make(kind, "AD1", None, **body, **({"ended": False} if kind == "person_stood" else {}))
    (verdict,) = phone.send(proofs=[None])
    assert verdict.verdict == "quarantined"

    id_ = office.reader.execute("SELECT id FROM journal ORDER BY number DESC").fetchone()[0]
    taken = Phone(office.record, "DESK").do("quarantine_taken", "MI1", None, operation=id_, reason="it looks right")[1]

    assert (taken.verdict, taken.code) == ("refused", "not_taken_in")
    assert office.people.get("XX1") is None


@pytest.mark.parametrize(
    ("edit", "check"),
    [
        ("UPDATE person SET role = 'quality_manager' WHERE code = 'OL1'", "table person"),
        ("UPDATE person SET ended = 1 WHERE code = 'MI1'", "table person"),
        ("INSERT INTO person (code, name, role) VALUES ('ZZ1', 'Zoe', 'quality_manager')", "table person"),
        ("UPDATE person_secret SET kept = (SELECT kept FROM person_secret WHERE person = 'MI1')", "secrets"),
        ("DELETE FROM person_secret WHERE person = 'OL1'", "secrets"),
        ("INSERT INTO person_secret VALUES ('ZZ1', 'x')", "secrets"),
        ("UPDATE device SET revoked = 0", "table device"),
        ("DELETE FROM device", "table device"),
    ],
)
def test_an_edit_of_people_secrets_or_phones_is_found(office, edit, check):
    office.devices.enrol("P1")
    office.devices.revoke("P1")
    assert verify(office.folder).is_whole
    with closing(sqlite3.connect(office.folder / RECORD, isolation_level=None)) as conn:
        conn.execute(edit)

    assert check in {one.name for one in verify(office.folder).checks if one.faults}


def test_people_are_the_same_after_a_rebuild(office):
    office.people.end("OL1")
    before = [office.people.all(ended=True), office.people.secret_set("OL1"), office.devices.all()]
    office.record.close()

    rebuild(office.folder, PLANT)

    assert [office.people.all(ended=True), office.people.secret_set("OL1"), office.devices.all()] == before
    assert verify(office.folder).is_whole


def test_a_command_beside_the_server_and_the_server_append_to_one_chain(office):
    office.people.add(PEOPLE["PL1"], PIN)
    Phone(office.record, epoch="a").plan()
    beside = Office(office.folder, beside=True)
    try:
        beside.people.add(Person("I9", "Ivo", "inspector"), PIN)
        Phone(office.record, epoch="b").plan(30002)
        beside.people.end("I9")
        office.people.take_back("I9")
    finally:
        beside.close()

    assert [kind for kind, *_ in office.told()[4:]] == [
        "unit_planned",
        "person_added",
        "unit_planned",
        "person_ended",
        "person_returned",
    ]
    assert verify(office.folder).is_whole, verify(office.folder)


def test_a_record_of_an_earlier_program_takes_its_people_and_phones_into_the_chain(tmp_path):
    folder = tmp_path / "record"
    made(folder)
    with closing(open_writer(folder / RECORD)) as conn:
        kept = "$argon2id$v=19$m=65536,t=3,p=1$c2FsdHNhbHRzYWx0c2FsdA$aGFzaA"
        for person in PEOPLE.values():
            stations = str(list(person.stations)).replace("'", '"')
            values = (person.code, person.name, person.role, stations, kept, int(person.code == "RW2"))
            conn.execute("INSERT INTO person VALUES (?, ?, ?, ?, ?, ?)", values)
        conn.execute("INSERT INTO person VALUES ('lower', 'Old lead', 'station_lead', '[]', '', 0)")
        conn.execute("INSERT INTO device VALUES ('P1', 1, 2, 0, 0), ('PHONE_9', 3, 4, 0, 1)")
    rebuild(folder, PLANT)  # of a record whose people nobody has told of yet: they stay
    before = verify(folder)
    assert before.is_whole, before
    assert any("in no chain yet" in note for note in before.notes)

    Journal(folder, PLANT, TABLES, lost_key=True).close()  # what was kept of it has no keys folder
    Journal(folder, PLANT, TABLES).close()  # once, whatever is opened again

    with closing(open_reader(folder / RECORD)) as conn:
        kinds = conn.execute("SELECT kind, count(*) FROM journal WHERE rules >= 5 GROUP BY kind ORDER BY kind")
        assert [tuple(row) for row in kinds] == [
            ("device_stood", 2),
            ("key_changed", 1),
            ("person_stood", len(PEOPLE) + 1),
            ("plant_revised", 1),  # its tables were others than today's
        ]
        assert tuple(conn.execute("SELECT ended, passphrase FROM person WHERE code = 'RW2'").fetchone()) == (1, 1)
        assert conn.execute("SELECT revoked FROM device WHERE code = 'PHONE_9'").fetchone()[0] == 1
    after = verify(folder)
    assert [one for one in after.checks if one.faults] == []
    assert any(re.search(r"12 people and 2 phones stood", note) for note in after.notes)


def test_a_given_code_is_never_longer_than_what_is_taken(tmp_path, office):
    for code in ("P7", "P" + "9" * 31, "P999999"):
        office.devices.enrol(code)

    with closing(open_writer(office.folder / RECORD)) as conn:
        assert next_code(conn) == "P1"


ODD = ("-5", ".", "_X", "--ROLE")


@pytest.mark.parametrize("code", ODD)
def test_an_odd_code_is_refused_by_the_rule_whoever_asks(office, code):
    """The page and the command refuse it before; what reaches the record by another door meets the rule."""
    with pytest.raises(NotTold, match="must begin with a letter or a figure"):
        office.people.add(Person(code, "Ivo", "inspector"), PIN, BY_ADA)
    with pytest.raises(NotTold, match="must begin with a letter or a figure"):
        office.devices.enrol(code, BY_ADA)
    with pytest.raises(NotTold, match="must begin with a letter or a figure"):
        Machines(office.record, lambda: office.reader, office.clock).make(code, ("read",))

    assert [person.code for person in office.people.all()] == ["AD1", "MI1", "OL1"]
    assert verify(office.folder).is_whole


def test_a_record_that_holds_odd_codes_goes_on(office, monkeypatch):
    with monkeypatch.context() as earlier:
        earlier.setattr(door, "RULES", CODES_BEGIN - 1)
        for code in (*ODD, "CONSOLE"):
            office.people.add(Person(code, "Ivo", "inspector"), PIN, BY_ADA)
            office.devices.enrol(code, BY_ADA)
    office.people.change_secret("-5", "593018", BY_ADA)
    office.people.end("--ROLE", BY_ADA, "left the plant")
    office.devices.revoke("-5", True, BY_ADA)
    assert verify(office.folder).is_whole, verify(office.folder)

    before = [tuple(row) for row in office.reader.execute("SELECT * FROM person ORDER BY code")]
    office.close()
    rebuild(office.folder, PLANT)
    office.record, office.reader = (
        Journal(office.folder, PLANT, TABLES, office.clock),
        open_reader(office.folder / RECORD),
    )
    assert [tuple(row) for row in office.reader.execute("SELECT * FROM person ORDER BY code")] == before
    assert verify(office.folder).is_whole
