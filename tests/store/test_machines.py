"""Tokens of machines: told in the chain, kept as a hash alone, bound to a scope, ended at once, wrong ones counted."""

import hashlib
import sqlite3
from contextlib import closing

import pytest

from qc.domain.facts.people import Person
from qc.store.checking.verify import verify
from qc.store.intake.rebuild import rebuild
from qc.store.people.machines import WAIT_MS, WRONG_TRIES, Machines, NotItsScope, WrongToken
from qc.store.people.tries import TooManyTries
from qc.store.record.connection import RECORD
from qc.store.record.own_word import By, NotTold
from tests.store.record_kit import PLANT
from tests.store.test_people_told import ADA, BY_ADA, OLGA, PHRASE, PIN, Office
from tests.web.plant_server import cheap_hashes

PIA = Person("PL1", "Pia", "planner")
HERE = "192.0.2.7"


@pytest.fixture
def office(tmp_path):
    with cheap_hashes():
        office = Office(tmp_path / "plant")
        office.machines = Machines(office.record, lambda: office.reader, office.clock)
        for person, secret in ((ADA, PHRASE), (OLGA, PIN), (PIA, PIN)):
            office.people.add(person, secret)
        yield office
        office.close()


def test_a_token_is_told_with_who_made_it_and_ended_so(office):
    office.machines.make("night", ("plan",), "PL1", BY_ADA)
    office.machines.end("night", By(at_console="root"), "the old system is gone")

    assert office.told()[3:] == [("token_made", "AD1", "DESK"), ("token_ended", "SERVER", "SERVER")]
    (one,) = office.machines.all()
    assert (one.code, one.may, one.in_name_of, one.made_by, one.ended) == ("night", ("plan",), "PL1", "AD1", True)
    assert verify(office.folder).is_whole


def test_only_a_hash_of_it_is_kept_anywhere(office):
    token = office.machines.make("night", ("plan",), "PL1")
    office.machines.at_work(token, "plan", HERE)

    secret = token.rpartition(".")[2].encode()
    kept = b"".join(path.read_bytes() for path in office.folder.rglob("*") if path.is_file())
    assert len(secret) >= 43
    assert secret not in kept
    assert hashlib.sha256(token.encode()).hexdigest().encode() in kept


def test_the_machine_acts_in_its_planners_name_and_is_named_beside(office):
    token = office.machines.make("night", ("plan", "read"), "PL1")

    at_work = office.machines.at_work(token, "plan", HERE)
    assert (at_work.code, at_work.in_name_of, at_work.session) == ("night", PIA, "machine.night")
    assert office.machines.at_work(token, "read", HERE).in_name_of is None


def test_a_token_is_bound_to_its_scope(office):
    reads, plans = office.machines.make("report", ("read",)), office.machines.make("night", ("plan",), "PL1")

    with pytest.raises(NotItsScope, match="may read, not plan"):
        office.machines.at_work(reads, "plan", HERE)
    with pytest.raises(NotItsScope, match="may plan, not read"):
        office.machines.at_work(plans, "read", HERE)


def test_an_ended_token_opens_nothing_at_the_next_request(office):
    token = office.machines.make("report", ("read",))
    office.machines.at_work(token, "read", HERE)
    office.machines.end("report")

    with pytest.raises(WrongToken):
        office.machines.at_work(token, "read", HERE)


@pytest.mark.parametrize("act", ["end", "assign"])
def test_a_machine_hands_in_nothing_once_its_planner_has_left_or_plans_no_more(office, act):
    token = office.machines.make("night", ("plan", "read"), "PL1")
    office.people.end("PL1") if act == "end" else office.people.assign("PL1", "tester")

    with pytest.raises(NotItsScope, match="PL1"):
        office.machines.at_work(token, "plan", HERE)
    assert office.machines.all()[0].trouble
    assert office.machines.at_work(token, "read", HERE).code == "night"


@pytest.mark.parametrize(
    ("name", "may", "person", "words"),
    [
        ("night", ("plan",), "", "name a planner"),
        ("night", ("plan",), "OL1", "OL1 is inspector"),
        ("night", ("plan",), "XX9", "nobody has the code XX9"),
        ("night", ("read",), "PL1", "name nobody"),
        ("night", ("read", "read"), "", "twice"),
        ("night", (), "", "may"),
        ("night", ("write",), "", "may"),
        ("n ight", ("read",), "", "machine"),
        ("x" * 33, ("read",), "", "machine"),
    ],
)
def test_what_cannot_be_a_token_is_refused_in_words_and_nothing_is_told(office, name, may, person, words):
    with pytest.raises(NotTold, match=words):
        office.machines.make(name, may, person)

    assert len(office.told()) == 3


def test_a_name_is_never_given_to_a_second_token(office):
    office.machines.make("night", ("read",))
    office.machines.end("night")

    for name in ("night", "NIGHT"):
        with pytest.raises(NotTold, match="never given to a second"):
            office.machines.make(name, ("read",))


def test_nobody_but_the_administrator_makes_one(office):
    for author in ("OL1", "PL1", "NOBODY"):
        with pytest.raises(NotTold, match="token made is for"):
            office.machines.make("night", ("plan",), "PL1", By(author, "x"))


def test_what_is_no_token_is_ended_with_the_known_names(office):
    office.machines.make("night", ("read",))
    with pytest.raises(NotTold, match="known are night"):
        office.machines.end("day")
    office.machines.end("night")
    with pytest.raises(NotTold, match="ended already"):
        office.machines.end("night")


@pytest.mark.parametrize(
    "change", ['may = \'["read","plan"]\'', "ended = 0", "secret = hex(zeroblob(32))", "in_name_of = 'AD1'"]
)
def test_an_edited_row_is_found(office, change):
    office.machines.make("night", ("plan",), "PL1")
    office.machines.end("night")
    with closing(sqlite3.connect(office.folder / RECORD)) as conn, conn:
        conn.execute(f"UPDATE machine SET {change}")

    report = verify(office.folder)
    assert not report.is_whole
    assert any("table machine" in str(check) and check.faults for check in report.checks), report


def test_it_comes_out_the_same_when_derived_anew(office):
    office.machines.make("night", ("plan",), "PL1", BY_ADA)
    before = office.machines.all()
    office.close()
    rebuild(office.folder, PLANT)
    office.__init__(office.folder)
    office.machines = Machines(office.record, lambda: office.reader, office.clock)

    assert office.machines.all() == before


def test_wrong_tokens_are_counted_by_address_and_wait_and_a_right_one_never_does(office):
    right = office.machines.make("report", ("read",))
    for wrong in ["", "report", "report.", "report.x", right[:-1], right + "x", "nobody.x", "\udcff.x"][:8]:
        with pytest.raises(WrongToken):
            office.machines.at_work(wrong, "read", HERE)
    for _ in range(WRONG_TRIES - 8):
        with pytest.raises(WrongToken):
            office.machines.at_work("report.x", "read", HERE)
    with pytest.raises(TooManyTries) as waits:
        office.machines.at_work("report.x", "read", HERE)

    assert waits.value.seconds == WAIT_MS // 1000
    assert office.machines.at_work(right, "read", HERE).code == "report"
    with pytest.raises(WrongToken):
        office.machines.at_work("report.x", "read", "192.0.2.8")
    assert [(one.address, one.tries) for one in office.machines.wrong_tokens()] == [("192.0.2.7", 20), ("192.0.2.8", 1)]
    office.clock.now_ms += WAIT_MS
    with pytest.raises(WrongToken):
        office.machines.at_work("report.x", "read", HERE)


def test_its_last_use_is_kept_to_the_minute(office):
    token = office.machines.make("report", ("read",))
    assert office.machines.all()[0].last_used_ms == 0
    office.machines.at_work(token, "read", HERE)
    first = office.clock.now_ms
    office.clock.now_ms += 30_000
    office.machines.at_work(token, "read", HERE)

    assert office.machines.all()[0].last_used_ms == first
    office.clock.now_ms += 60_000
    office.machines.at_work(token, "read", HERE)
    assert office.machines.all()[0].last_used_ms == office.clock.now_ms
