"""Who acted is proved: nobody signs for another, whatever they read in a phone's file. Black box, over the API."""

import shutil
import sqlite3

import orjson
import pytest

from qc.domain.facts.people import Person
from qc.domain.facts.proof import CERTIFIED_MS, SIGNATURE_MS
from qc.store.checking.verify import verify
from qc.store.folder.plant_folder import set_clock_ahead
from qc.store.intake.journal import wall_ms
from qc.store.keeping.backup import back_up, restore
from tests.authors import Author, unproved
from tests.web import plant_server
from tests.web.plant_server import CAST, PIN, UNIT, PlantServer, cheap_hashes, invented_plant, written_as
from tests.web.test_sync import inspected

KEPT_ASIDE = ("quarantined", "unverified_author")
MINUTE = 60_000


@pytest.fixture
def planned(server):
    planner = server.phone("planner")
    assert [told["verdict"] for told in planner.push(planner.plan())] == ["applied"]
    return server


def outcomes(verdicts):
    return [(told["verdict"], told["code"]) for told in verdicts]


def passed(phone, **changes):
    return phone.operation("station_passed", UNIT, {"station": "S05"}, **changes)


def release(phone, **changes):
    return phone.operation("unit_released", UNIT, {"open_digest": "0" * 64, "against": "the rule"}, **changes)


def test_a_push_that_names_a_colleagues_device_and_ended_session_is_set_aside(planned):
    """All that a colleague's exported file tells: device, installation, session. The session has ended."""
    mia = planned.phone("quality_manager")
    planned.now += 11 * 60 * MINUTE
    thief = planned.phone("inspector", device=mia.signed["device"])
    stolen = release(thief, author="MI1", session=mia.signed["session"])

    (plain,) = thief.push(stolen)
    with_own_pin = release(thief, author="MI1", session=mia.signed["session"])
    assert thief.sign_anew(with_own_pin).status_code == 200

    assert (plain["verdict"], plain["code"]) == ("quarantined", "unproved_signature")
    assert outcomes(thief.push(with_own_pin)) == [("quarantined", "unproved_signature")]


def test_a_colleagues_certificate_is_worth_nothing_without_their_key(planned):
    mia = planned.phone("quality_manager")
    thief = planned.phone("inspector", device=mia.signed["device"])
    operation = passed(thief, author="MI1")
    thief.author.certificate = mia.author.certificate

    assert outcomes(thief.push(operation)) == [KEPT_ASIDE]


def test_a_certificate_that_another_key_made_is_none(planned):
    ivo = planned.phone()
    payload, signature = ivo.author.certificate.split(".")
    other = Author()
    for forged in (
        f"{payload}.{'A' * len(signature)}",
        f"{payload[:-4]}AAAA.{signature}",
        payload,
        "",
        f"{payload}.{other.signature('d', 'e', [b'x'])}",
    ):
        ivo.author.certificate = forged or "x"
        assert outcomes(ivo.push(passed(ivo))) == [KEPT_ASIDE], forged


def test_a_run_that_was_changed_after_it_was_signed_is_set_aside_whole(planned):
    ivo = planned.phone()
    operations = inspected(ivo)
    runs = ivo.runs(operations)
    operations[2]["body"]["severity"] = "major"

    assert outcomes(ivo.send(operations, runs=runs).json["verdicts"]) == [KEPT_ASIDE] * 4


def test_what_an_author_signs_on_another_device_is_set_aside(planned):
    ivo, other = planned.phone(), planned.phone()
    other.author = ivo.author

    assert outcomes(other.push(passed(other))) == [KEPT_ASIDE]


def test_a_run_without_a_proof_does_not_hold_up_the_others(planned):
    ivo = planned.phone()
    one, two, three = passed(ivo), passed(ivo), passed(ivo)
    runs = [*ivo.runs([one]), unproved(1), *ivo.runs([three])]

    told = ivo.send([one, two, three], runs=runs).json["verdicts"]

    assert outcomes(told) == [("applied", ""), KEPT_ASIDE, ("applied", "")]


def test_work_within_the_certificates_time_is_taken_however_late_and_later_work_is_not(planned):
    ivo = planned.phone()
    begun = planned.now
    planned.now += CERTIFIED_MS
    in_time = passed(ivo)
    planned.now += 11 * MINUTE
    too_late = passed(ivo)
    planned.now = begun + 5 * CERTIFIED_MS
    runs = ivo.runs([in_time, too_late])
    later = planned.phone(device=ivo.signed["device"])

    assert outcomes(later.send([in_time, too_late], runs=runs).json["verdicts"]) == [("applied", ""), KEPT_ASIDE]


def test_a_later_sign_in_of_the_author_vouches_for_what_they_recorded_before(planned):
    """A phone whose key was lost with its store's, or that recorded before keys were: the author signs in again."""
    ivo = planned.phone()
    operations = inspected(ivo)
    planned.now += 3 * CERTIFIED_MS
    again = planned.phone(device=ivo.signed["device"])

    assert outcomes(again.push(*operations)) == [("applied", "")] * 4


def test_a_release_needs_the_pin_again_and_its_certificate_is_for_it_alone(planned):
    ivo = planned.phone()
    first = release(ivo)
    unsigned = ivo.push(first)
    second, third = release(ivo), release(ivo)
    assert ivo.sign_anew(second).status_code == 200
    ivo.signed_for[third["id"]] = ivo.signed_for[second["id"]]

    told = ivo.push(second, third)

    assert outcomes(unsigned) == [("quarantined", "unproved_signature")]
    assert outcomes(told) == [("refused", "sign_off_stale"), ("quarantined", "unproved_signature")]


def test_a_signatures_certificate_proves_nothing_else_and_not_for_long(planned):
    ivo = planned.phone()
    other, late = passed(ivo), release(ivo, seq=2)
    for one in (other, late):
        assert ivo.sign_anew(one).status_code == 200
    planned.now += SIGNATURE_MS + 11 * MINUTE
    late["wall_ms"] = planned.now

    assert outcomes(ivo.push(other, late)) == [KEPT_ASIDE, ("quarantined", "unproved_signature")]


def test_a_wrong_pin_signs_nothing_and_counts_as_a_try(planned):
    ivo = planned.phone()
    told = [ivo.sign_anew(release(ivo), "111222").json["error"]["code"] for _ in range(6)]

    assert told == ["wrong_sign_in"] * 5 + ["too_many_tries"]


@pytest.mark.parametrize("key", ["", "x", "A" * 87, "BA", "=" * 20])
def test_what_is_no_key_is_refused_in_words(server, key):
    asked = {"person": CAST["inspector"].code, "pin": PIN, "device": server.enrolled(), "install_epoch": "e"}
    asked |= {"public_key": key, "device_secret": server.secrets[asked["device"]]}

    answer = server.client().post("/api/v1/sign-in", json=asked)

    assert (answer.status_code, answer.json["error"]["code"]) == (400, "malformed")


def test_an_app_of_before_is_told_to_take_the_new_version(planned):
    ivo = planned.phone()
    old = {name: value for name, value in ivo.frame([]).items() if name != "runs"}
    asked = {"person": CAST["inspector"].code, "pin": PIN, "device": None, "install_epoch": "e"}

    pushed = ivo.post("push", orjson.dumps({**old, "protocol": 1}))
    signed = planned.client().post("/api/v1/sign-in", json=asked)

    for answer in (pushed, signed):
        assert (answer.status_code, answer.json["error"]["code"]) == (400, "protocol_unknown")
        assert "new version" in answer.json["error"]["message"]


def lived(planned):
    """Let two people record on one phone and one at the desk, and close the record; return its folder."""
    ivo = planned.phone()
    ivo.push(*inspected(ivo))
    tess = planned.phone("tester", device=ivo.signed["device"])
    tess.seq = ivo.seq
    assert outcomes(tess.push(passed(tess))) == [("applied", "")]
    planned.house.close()
    return planned.house.folder


def changed(folder, *statements):
    with sqlite3.connect(folder / "record.sqlite") as conn:
        for name in ("journal_no_update", "author_run_no_update", "author_run_no_delete"):
            conn.execute(f"DROP TRIGGER {name}")
        for statement in statements:
            assert conn.execute(statement).rowcount > 0, statement
    conn.close()
    return {check.name: check.told for check in verify(folder).checks if check.faults}


def test_verify_checks_every_proof(planned):
    assert verify(lived(planned)).is_whole


@pytest.mark.parametrize(
    ("statement", "words"),
    [
        ("DELETE FROM author_run WHERE first = {ivo}", "nothing proves that IV1 made it"),
        ("UPDATE author_run SET signature = zeroblob(64) WHERE first = {ivo}", "not its author's"),
        (
            "UPDATE author_run SET hashes = zeroblob(128) WHERE first = {ivo}",
            "begin and end with operations that it proves",
        ),
        (
            (
                "UPDATE author_run SET certificate = (SELECT certificate FROM author_run WHERE first = {tess}) "
                "WHERE first = {ivo}"
            ),
            "not",
        ),
        ("UPDATE author_run SET certificate = '' WHERE first = {ivo}", "not the server's word"),
        ("UPDATE author_run SET key_id = 'other' WHERE first = {ivo}", "no key of this record"),
        ("UPDATE author_run SET first = {ivo} + 1 WHERE first = {ivo}", "nothing proves that IV1 made it"),
        ("UPDATE journal SET author = 'TE1' WHERE number = {ivo}", "another's than TE1's"),
        ("UPDATE journal SET rules = 3 WHERE number = {tess}", "older than proofs"),
    ],
)
def test_verify_finds_a_proof_that_was_changed(planned, statement, words):
    folder = lived(planned)
    with sqlite3.connect(folder / "record.sqlite") as conn:
        runs = conn.execute("SELECT first FROM author_run WHERE certificate <> '' ORDER BY first").fetchall()
    _, (ivo,), (tess,) = runs
    told = changed(folder, statement.format(ivo=ivo, tess=tess))

    assert any(words in one for one in told["authors"]), told


@pytest.mark.parametrize(("proved", "verdict"), [(True, "applied: 4"), (False, "quarantined: 4")])
def test_an_exported_file_is_taken_by_its_proofs_after_every_session_is_gone(planned, tmp_path, proved, verdict):
    from click.testing import CliRunner

    from qc.cli import main

    ivo = planned.phone()
    frame = {**ivo.frame(inspected(ivo)), "photos": [], "exported_ms": planned.now}
    file = tmp_path / "phone.json"
    file.write_bytes(written_as({name: value for name, value in frame.items() if proved or name != "runs"}))
    planned.house.journal.write(lambda conn: conn.execute("DELETE FROM sign_in").rowcount)
    planned.house.close()
    (planned.house.folder / "plant").mkdir()
    for name, text in invented_plant()[0].items():
        (planned.house.folder / "plant" / name).write_text(text)
    three_days_on = planned.now + 3 * CERTIFIED_MS
    set_clock_ahead(planned.house.folder, three_days_on - wall_ms())

    assert verdict in CliRunner().invoke(main, ["import", str(planned.house.folder), str(file)]).output


def test_work_of_who_was_added_after_the_backup_is_set_aside_and_not_refused_for_good(tmp_path, monkeypatch):
    """It was acknowledged once; and under a code that is given anew it might be taken for another person's."""
    nova, secrets_of = Person("IV9", "Nova", "inspector"), plant_server.secret_of
    monkeypatch.setitem(CAST, "nova", nova)
    monkeypatch.setattr(plant_server, "secret_of", lambda role: "593817" if role == "nova" else secrets_of(role))
    with cheap_hashes():
        server = PlantServer(tmp_path / "plant")
        planner = server.phone("planner")
        planner.push(planner.plan())
        back_up(tmp_path / "plant", tmp_path / "backup")
        server.house.people.add(nova, "593817")
        phone = server.phone("nova")
        begun = inspected(phone)[0]
        assert phone.push(begun)[0]["verdict"] == "applied"
        server.house.close()
        shutil.copytree(tmp_path / "plant" / "keys", restore(tmp_path / "backup", tmp_path / "again").folder / "keys")

        again = PlantServer(tmp_path / "again")
        again.secrets = server.secrets
        other = again.phone("inspector", phone.signed["device"])
        (told,) = other.post("push", written_as(phone.frame([begun]))).json["verdicts"]
        again.house.people.add(Person("IV9", "Noel", "inspector"), "593818")
        (later,) = other.post("push", written_as(phone.frame([begun]))).json["verdicts"]

    assert (told["verdict"], told["code"]) == ("quarantined", "author_not_known")
    assert (later["verdict"], later["code"]) == ("duplicate", "quarantined")
    page = again.page("quality_manager")
    assert "nobody of this record has its author" in page.get("/set-aside").text
    assert verify(tmp_path / "again").is_whole
    again.house.close()
