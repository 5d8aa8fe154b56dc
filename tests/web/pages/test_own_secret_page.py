"""One's own PIN or passphrase: told who gave it, and changed by oneself, on a page and on a phone."""

import json

import pytest

from qc.domain.facts.people import Person
from qc.store.checking.verify import verify
from qc.store.intake import door
from qc.store.record.own_word import By
from tests.web.pages.acting_kit import send
from tests.web.pages.reading import read
from tests.web.pages.test_people_page import secret_on
from tests.web.plant_server import CAST, NOW, OWN_PAGE, PHRASE, PIN
from tests.web.test_enrolment import code_of

NEW, OTHER_PHRASE = "730415", "eleven wet gloves"
DAY = 24 * 3_600_000


@pytest.fixture
def ivo(server):
    return server.page("inspector")


def change(page, old=PIN, new=NEW, again=None):
    return send(page, "/own-secret", secret=old, new=new, again=new if again is None else again)


def signs_in(server, secret, code="IV1"):
    return server.page(None).sign_in(code, secret).status_code == 303


def told(server, count=1):
    """Return who told the latest words in the journal: kind and author."""
    rows = server.house.reads.connection().execute("SELECT kind, author FROM journal ORDER BY number DESC")
    return [tuple(row) for row in rows.fetchmany(count)]


def test_a_pin_is_changed_by_its_own_person_and_the_chain_tells_it(server, ivo):
    elsewhere, phone = server.page("inspector"), server.phone("inspector")

    assert change(ivo).status_code == 303
    assert (signs_in(server, PIN), signs_in(server, NEW)) == (False, True)
    assert told(server) == [("secret_changed", "IV1")]
    assert ivo.get("/units").status_code == 200  # still signed in here
    assert elsewhere.get("/units").status_code == 303  # and nowhere else
    assert phone.get("plant").status_code == 401
    assert "chosen by yourself" in ivo.get("/own-secret").text
    assert verify(server.house.folder).is_whole, verify(server.house.folder)


@pytest.mark.parametrize(
    ("form", "words", "status"),
    [
        ({"old": "284916"}, "is not yours", 403),
        ({"old": ""}, "that you have now", 400),
        ({"old": "x" * 129}, "that you have now", 400),
        ({"again": "730416"}, "typed in two ways", 400),
        ({"new": "123456"}, "one that many take", 400),
        ({"new": ""}, "a PIN has 6 to 12 figures", 400),
        ({"new": "x" * 129}, "a PIN has 6 to 12 figures", 400),
        ({"new": PIN}, "the one that you have", 400),
    ],
)
def test_what_will_not_do_is_told_and_nothing_is_changed(server, ivo, form, words, status):
    answer = change(ivo, **form)

    assert answer.status_code == status
    assert words.lower() in read(answer).one("p", class_="wrong").text.lower()
    assert NEW not in answer.text
    assert signs_in(server, PIN)


def test_guessing_at_a_page_left_open_is_counted_and_told(server, ivo):
    answers = [change(ivo, old=f"28491{figure}") for figure in (0, 1, 2, 3, 4)]

    assert {answer.status_code for answer in answers} == {403}
    assert change(ivo).status_code == 429
    assert "5 wrong tries under your code" in ivo.get("/units").text


def test_a_manager_keeps_to_a_passphrase(server):
    mia = server.page("quality_manager")

    assert change(mia, PHRASE, "730415").status_code == 400
    assert change(mia, PHRASE, OTHER_PHRASE).status_code == 303
    assert signs_in(server, OTHER_PHRASE, "MI1")


def test_a_manager_with_a_pin_of_before_chooses_a_passphrase_first(server, monkeypatch):
    """An earlier program let a manager have a PIN; the record takes them over as they stood."""
    server.house.people.add(Person("MA2", "Max", "inspector"), PIN)
    with monkeypatch.context() as then:
        then.setattr("qc.domain.line.roster._demand_passphrase", lambda role, passphrase: None)
        server.house.people.assign("MA2", "quality_manager")
    max_ = server.page(None)

    assert max_.sign_in("MA2", PIN).status_code == 303
    for address in ("/review", "/units", "/set-aside", "/people"):
        assert (max_.get(address).status_code, max_.get(address).location) == (303, "/own-secret")
    assert "First a passphrase" in max_.get("/own-secret").text
    csrf = max_.form_token("/own-secret")
    refused = max_.client.post("/signals/mute", data={"csrf_token": csrf, "reason": "x"}, headers=OWN_PAGE)
    assert (refused.status_code, "choose one first" in refused.text) == (403, True)
    phone = server.enrolled()
    asked = {"person": "MA2", "pin": PIN, "device": phone, "device_secret": server.secrets[phone]}
    asked |= {"install_epoch": "e", "public_key": server.phone("inspector").author.public}
    assert code_of(server.client().post("/api/v1/sign-in", json=asked)) == (403, "passphrase_needed")

    form = {"csrf_token": csrf, "secret": PIN, "new": OTHER_PHRASE, "again": OTHER_PHRASE}
    assert max_.client.post("/own-secret", data=form, headers=OWN_PAGE).status_code == 303
    assert max_.get("/review").status_code == 200
    assert not signs_in(server, PIN, "MA2")


def test_who_gave_it_is_told_until_the_person_chooses_their_own(server):
    ada = server.page("administrator")
    first = secret_on(send(ada, "/people/secret", person="IV1"))
    server.now += DAY
    misused = server.page(None)
    misused.sign_in("IV1", first)
    change(misused, first, NEW)  # whoever had it given uses it, and would hide that
    assert "was set by" not in misused.get("/units").text
    server.now += DAY
    again = secret_on(send(server.page("administrator"), "/people/secret", person="IV1"))
    ivo = server.page(None)
    ivo.sign_in("IV1", again)

    notice = " ".join(read(ivo.get("/units")).one("p", class_="notice").text.split())
    assert notice.count("AD1") == 2
    assert "before that by yourself" in notice
    assert change(ivo, again, "904172").status_code == 303
    assert "was set by" not in ivo.get("/units").text


def test_the_console_is_told_too_but_not_that_it_began_somebody(server, ivo):
    assert "was set by" not in ivo.get("/units").text
    server.house.people.change_secret("IV1", NEW, By(at_console="root"))
    anew = server.page(None)
    anew.sign_in("IV1", NEW)

    assert "was set by the server's console" in anew.get("/units").text.replace("&#39;", "'")


def test_a_manager_asks_the_administrator_and_everybody_else_the_manager(server, ivo):
    manager, phrase = CAST["quality_manager"].code, "four lamps over a wet bench"
    for code, secret in (("IV1", NEW), (manager, phrase)):
        server.house.people.change_secret(code, secret, By(at_console="root"))
        page = server.page(None)
        page.sign_in(code, secret)
        asked = "administrator" if code == manager else "quality manager"

        assert f"Tell the {asked}." in page.get("/units").text


def secret(phone, pin=PIN, new=NEW):
    return phone.post("secret", json.dumps({"pin": pin, "new": new}).encode())


def test_a_phone_changes_it_and_is_told_who_gave_it(server):
    server.house.people.change_secret("IV1", "593018", By("AD1", "a-session"))
    server.house.people.change_secret("IV1", PIN, By("AD1", "a-session"))
    phone = server.phone("inspector")

    assert [(one["by"], one["at_ms"]) for one in phone.signed["secret_given"]] == [
        ("AD1", NOW),
        ("AD1", NOW),
        ("SERVER", NOW),
    ]
    assert code_of(secret(phone, pin="284916")) == (401, "wrong_sign_in")
    assert code_of(secret(phone, new="111111")) == (400, "weak_secret")
    assert secret(phone).json == {"person": "IV1"}
    assert phone.get("plant").status_code == 200
    assert (signs_in(server, PIN), signs_in(server, NEW)) == (False, True)
    assert told(server) == [("secret_changed", "IV1")]
    phone.push(phone.operation("change_noted", None, {}))  # its certificate goes on to prove what is recorded
    assert verify(server.house.folder).is_whole, verify(server.house.folder)
    server.house.people.change_secret("IV1", PIN, By("IV1", "a-session"))
    assert server.phone("inspector").signed["secret_given"] == []


def test_no_phone_tells_of_a_secret_itself(server):
    """It would stand in the chain beside a kept form that it does not fit."""
    phone = server.phone("inspector")
    body = {"secret": "0" * 64, "passphrase": False}
    verdicts = phone.push(
        phone.operation("secret_changed", None, {"person": "IV1", **body}),
        phone.operation("secret_changed", None, {"person": "TE1", **body}),
    )

    assert [(one["verdict"], one["code"]) for one in verdicts] == [("refused", "not_your_role")] * 2
    assert verify(server.house.folder).is_whole


def test_what_an_earlier_program_refused_stays_refused_in_its_words(server, monkeypatch):
    phone = server.phone("inspector")
    operation = phone.operation("secret_changed", None, {"person": "IV1", "secret": None, "passphrase": False})
    monkeypatch.setattr(door, "RULES", 5)
    (verdict,) = phone.push(operation)

    assert verdict["reason"] == "IV1 is inspector; secret changed is for: administrator, server"
    assert verify(server.house.folder).is_whole


@pytest.mark.parametrize("role", CAST)
def test_everybody_finds_it_from_their_code(server, role):
    page = server.page(role)

    assert 'href="/own-secret"' in page.get("/units").text
    assert read(page.get("/own-secret")).one("h1").text == "Your PIN or passphrase"
