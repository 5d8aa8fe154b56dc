"""A phone proves that it is one of the plant's: enrolled by an offer that serves once, known again by its secret."""

import pytest

from qc.store.checking.verify import verify
from qc.store.people import enrolment as enrolments
from qc.store.people.enrolment import OFFER_MS, parted, plain
from qc.store.record.own_word import By
from tests.authors import Author
from tests.web.plant_server import CAST, PIN, UNIT

BY_ADA = By(CAST["administrator"].code, "a-session")


def enrol(server, letters, device=None, secret=""):
    asked = {"letters": letters, "device": device, "device_secret": secret}
    return server.client().post("/api/v1/enrol", json=asked)


def sign_in(server, device, secret, pin=PIN):
    asked = {"person": CAST["inspector"].code, "pin": pin, "device": device, "install_epoch": "e"}
    asked |= {"public_key": Author().public} | ({} if secret is None else {"device_secret": secret})
    return server.client().post("/api/v1/sign-in", json=asked)


def code_of(answer):
    return answer.status_code, answer.json["error"]["code"]


def told(server):
    query = "SELECT kind, author FROM journal WHERE kind LIKE 'device%' ORDER BY number"
    return [tuple(row) for row in server.house.reads.connection().execute(query)]


def bytes_told(server):
    return b"".join(row[0] for row in server.house.reads.connection().execute("SELECT bytes FROM journal"))


def test_an_offer_gives_one_phone_a_code_and_a_secret_with_which_people_sign_in(server):
    letters = server.house.enrolment.offer(BY_ADA).letters

    given = enrol(server, parted(letters).upper()).json  # as somebody types them
    again = enrol(server, letters)

    assert code_of(again) == (410, "offer_over")
    assert given["device"] == "P1"
    answer = sign_in(server, "P1", given["device_secret"])
    assert answer.status_code == 200
    assert answer.json["device"] == "P1"
    assert told(server) == [("device_enrolled", "AD1")]
    assert given["device_secret"].split(".")[0].encode() not in bytes_told(server)
    assert verify(server.house.folder).is_whole


@pytest.mark.parametrize(
    ("device", "secret"), [(None, ""), ("P1", ""), ("P1", None), ("P1", "x"), ("P9", ""), ("P1", "a.b"), ("DESK", "")]
)
def test_who_does_not_prove_the_phone_signs_in_nowhere_and_locks_nobody_out(server, device, secret):
    enrol(server, server.house.enrolment.offer().letters)

    for _ in range(40):
        assert code_of(sign_in(server, device, secret, "111222")) == (403, "not_enrolled")

    assert server.page("inspector").get("/units").status_code == 200
    assert server.house.sign_ins.wrong_tries() == []


def test_an_offer_is_over_after_ten_minutes_and_when_the_clock_was_set_back(server):
    late, early = (server.house.enrolment.offer().letters for _ in range(2))
    server.now -= 1
    assert code_of(enrol(server, early)) == (410, "offer_over")
    server.now += 1

    fresh = server.house.enrolment.offer().letters
    server.now += OFFER_MS
    assert code_of(enrol(server, late)) == (410, "offer_over")
    assert code_of(enrol(server, fresh)) == (410, "offer_over")
    assert told(server) == []


def test_a_revoked_phone_comes_back_neither_as_itself_nor_as_a_new_one(server):
    given = enrol(server, server.house.enrolment.offer().letters).json
    server.house.devices.revoke("P1")

    assert code_of(sign_in(server, "P1", given["device_secret"])) == (403, "device_revoked")
    assert code_of(sign_in(server, None, "")) == (403, "not_enrolled")
    letters = server.house.enrolment.offer().letters
    assert code_of(enrol(server, letters, "P1", given["device_secret"])) == (403, "device_revoked")
    server.house.devices.revoke("P1", False)
    assert enrol(server, letters, "P1", given["device_secret"]).json["device"] == "P1"  # the offer was not used up


def test_another_phone_cannot_take_a_code_that_is_proved_unless_the_offer_is_for_it(server):
    first = enrol(server, server.house.enrolment.offer().letters).json
    letters = server.house.enrolment.offer().letters

    assert code_of(enrol(server, letters, "P1", "")) == (409, "device_taken")
    assert sign_in(server, "P1", first["device_secret"]).status_code == 200

    anew = enrol(server, server.house.enrolment.offer(BY_ADA, "P1").letters, None, "").json
    assert anew["device"] == "P1"
    assert code_of(sign_in(server, "P1", first["device_secret"])) == (403, "not_enrolled")
    assert sign_in(server, "P1", anew["device_secret"]).status_code == 200
    assert told(server)[-1] == ("device_secret_given", "AD1")


def test_another_phones_stream_cannot_be_gone_on_with(server):
    ivo, tess = server.phone("inspector"), server.phone("tester")
    foreign = tess.operation("station_passed", UNIT, {"station": "S05"}, device=ivo.signed["device"])

    answer = tess.send([foreign], device=ivo.signed["device"])

    assert code_of(answer) == (403, "wrong_device")


OWN = "o" * 43  # what a phone of before makes itself


def test_a_phone_of_before_sends_its_secret_at_its_next_sign_in_and_needs_it_from_then_on(server):
    server.house.devices.enrol("P3")  # as it was taken into the chain: without a secret
    for secret in (None, "", "short"):  # the app of before would keep none
        assert sign_in(server, "P3", secret).status_code == 200

    for _ in range(2):  # the first answer may be lost
        assert sign_in(server, "P3", OWN).status_code == 200

    for secret in (None, "", "short", "p" * 43):
        assert code_of(sign_in(server, "P3", secret)) == (403, "not_enrolled")
    assert told(server) == [("device_enrolled", "SERVER"), ("device_secret_given", "SERVER")]
    assert code_of(sign_in(server, "P3", OWN, "111222")) == (401, "wrong_sign_in")


def test_a_wrong_pin_lets_no_secret_count_for_a_phone_of_before(server):
    server.house.devices.enrol("P3")

    assert code_of(sign_in(server, "P3", OWN, "111222")) == (401, "wrong_sign_in")
    assert told(server) == [("device_enrolled", "SERVER")]


def test_a_server_that_went_back_to_a_backup_knows_a_phone_again_by_what_its_key_signed(server):
    """The record of before knows no such phone; a secret made up, or of another phone, proves nothing."""
    secret = server.house.enrolment.new_secret("P5")

    assert code_of(sign_in(server, "P6", secret)) == (403, "not_enrolled")
    assert code_of(sign_in(server, "P5", secret[:-4] + "AAAA")) == (403, "not_enrolled")
    for _ in range(2):
        assert sign_in(server, "P5", secret).status_code == 200
    assert code_of(sign_in(server, "P5", OWN)) == (403, "not_enrolled")


def test_letters_are_long_enough_and_are_read_however_they_are_typed(server, monkeypatch):
    offer = server.house.enrolment.offer()

    assert len(set(offer.letters) - set(enrolments.LETTERS)) == 0
    assert len(enrolments.LETTERS) ** enrolments.LENGTH > 2**78
    assert plain(f" {parted(offer.letters).upper()} ") == offer.letters
    assert code_of(enrol(server, "x" * 40)) == (410, "offer_over")
    assert enrol(server, "").status_code == enrol(server, "x" * 41).status_code == 400


def test_who_names_a_phone_of_before_is_told_no_names_and_locks_nobody_out_on_it(server):
    """Its code is short and easily guessed, and nothing proves it yet."""
    server.house.devices.enrol("P3")
    stranger, owner = {"REMOTE_ADDR": "10.0.0.66"}, {"REMOTE_ADDR": "10.0.0.7"}

    def tried(where, pin):
        asked = {"person": "IV1", "pin": pin, "device": "P3", "install_epoch": "e"}
        asked |= {"public_key": Author().public, "device_secret": OWN}
        return server.client().post("/api/v1/sign-in", json=asked, environ_overrides=where).status_code

    for secret in ("", OWN):
        names = server.client().get("/api/v1/people", auth=("P3", secret))
        assert code_of(names) == (403, "not_enrolled")
        assert "IV1" not in names.text
    assert {tried(stranger, "111222") for _ in range(12)} == {401, 429}
    assert tried(owner, PIN) == 200
    assert server.client().get("/api/v1/people", auth=("P3", OWN)).status_code == 200
