"""The commands for people, phones, serving and certificates, as an administrator types them."""

import os
import re
import sqlite3

import pytest
from click.testing import CliRunner

from qc.cli import main
from qc.store.intake.journal import Journal, wall_ms
from qc.store.people.devices import Devices
from qc.store.people.persons import People
from qc.store.people.sign_ins import SignIns, WrongSignIn
from tests.web.plant_server import cheap_hashes


@pytest.fixture(autouse=True)
def _cheap_hashes():
    with cheap_hashes():
        yield


@pytest.fixture(autouse=True)
def _umask():
    kept = os.umask(0o022)
    yield
    os.umask(kept)


@pytest.fixture
def plant(tmp_path):
    folder = tmp_path / "works"
    assert qc("init", folder).exit_code == 0
    return folder


def qc(*words, typed=None):
    return CliRunner().invoke(main, [str(word) for word in words], input=typed)


class Accounts:
    """The accounts of a folder, opened beside the commands as a running server has them."""

    def __init__(self, folder):
        from qc.domain.tables.plant_tables import plant_from_tables, tables_of
        from qc.store.folder.plant_folder import tables_folder

        tables = tables_of(tables_folder(folder))
        self.journal = Journal(folder, plant_from_tables(tables), tables)
        self.conn = sqlite3.connect(folder / "record.sqlite", check_same_thread=False)
        self.people = People(folder / "keys", self.journal, lambda: self.conn)
        self.sign_ins = SignIns(self.people, self.journal, lambda: self.conn, wall_ms, self.journal.certificates)
        self.devices = Devices(self.journal, lambda: self.conn)

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.conn.close()
        self.journal.close()


def test_the_first_administrator_begins_on_the_console(plant):
    answer = qc("user", "add", plant, "AD1", "--name", "Ada", "--role", "administrator")

    assert answer.exit_code == 0, answer.output
    secret = re.search(r"Shown once: (\S+)", answer.output).group(1)
    assert len(secret) >= 15
    assert (plant / "record.sqlite").stat().st_mode & 0o777 == 0o600
    with Accounts(plant) as accounts:
        assert accounts.sign_ins.open("AD1", secret, "DESK", "page")[0].person.name == "Ada"


def test_a_pin_can_be_typed_and_is_then_not_shown(plant):
    answer = qc("user", "add", plant, "IV1", "--name", "Ivo", "--role", "inspector", "--ask", typed="284915\n284915\n")

    assert answer.exit_code == 0
    assert "284915" not in answer.output
    with Accounts(plant) as accounts:
        assert accounts.sign_ins.open("IV1", "284915", None, "phone")[0].device == "P1"


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("IV1", "--name", "Ivo", "--role", "inspector", "--ask"), "a run, a repeat or a mirror"),
        (("a b", "--name", "Ivo", "--role", "inspector"), "CODE must be a code"),
        (("--name", "Ivo", "--role", "inspector", "--", "-5"), "CODE must begin with a letter or a figure"),
        ((".", "--name", "Ivo", "--role", "inspector"), "CODE must begin with a letter or a figure"),
        (("console", "--name", "Ivo", "--role", "inspector"), "CONSOLE is taken"),
        (("IV1", "--name", "", "--role", "inspector"), "--name must have"),
        (("IV1", "--name", "Ivo", "--role", "king"), "'king' is not one of"),
        (("L1", "--name", "Leo", "--role", "station_lead", "--station", "XX9"), "no station 'XX9'"),
        (("IV1", "--name", "Ivo", "--role", "inspector", "--station", "S05"), "for a station lead"),
        (("IV1", "--name", "Ivo", "--role", "inspector", "--also", "king"), "'king' is not one of"),
        (("IV1", "--name", "Ivo", "--role", "inspector", "--also", "inspector"), "inspector is named twice"),
        (("IV1", "--name", "Ivo", "--role", "inspector", *("--also", "tester") * 2), "tester is named twice"),
        (("IV1", "--name", "Ivo", "--role", "inspector", "--also", "station_lead"), "with --station"),
    ],
)
def test_what_cannot_be_a_person_is_refused_by_name_and_nothing_is_added(plant, words, told):
    answer = qc("user", "add", plant, *words, typed="123456\n123456\n")

    assert answer.exit_code != 0
    assert told in answer.output
    assert "Nobody yet" in qc("user", "list", plant).output


def test_a_person_may_have_several_roles_given_and_ended(plant):
    added = qc("user", "add", plant, "IV1", "--name", "Ivo", "--role", "inspector", "--also", "tester")
    assert "Added IV1, inspector and tester." in added.output
    changed = qc(
        "user", "role", plant, "IV1", "tester", "--also", "station_lead", "--also", "planner", "--station", "S05"
    )
    assert "IV1 is tester, station lead and planner from now on." in changed.output
    assert "IV1  Ivo, tester, station lead of S05 and planner" in qc("user", "list", plant).output

    assert qc("user", "role", plant, "IV1", "tester").exit_code == 0

    assert "IV1  Ivo, tester\n" in qc("user", "list", plant).output


def test_people_change_role_leave_and_stay_in_the_list(plant):
    qc("user", "add", plant, "IV1", "--name", "Ivo", "--role", "inspector")
    qc("user", "role", plant, "IV1", "station_lead", "--station", "S05")
    assert "IV1  Ivo, station lead of S05" in qc("user", "list", plant).output

    assert qc("user", "end", plant, "IV1").exit_code == 0

    assert "IV1  Ivo, station lead of S05, has left" in qc("user", "list", plant).output
    assert "is taken" in qc("user", "add", plant, "IV1", "--name", "Otto", "--role", "inspector").output


def test_nobody_is_changed_under_an_unknown_code(plant):
    qc("user", "add", plant, "IV1", "--name", "Ivo", "--role", "inspector")
    for words in (("end", plant, "XX"), ("secret", plant, "XX"), ("role", plant, "XX", "tester")):
        answer = qc("user", *words)
        assert answer.exit_code == 1
        assert "nobody has the code 'XX'; known are IV1" in answer.output


def test_commands_work_beside_a_running_server_and_count_at_the_next_request(plant):
    first = qc("user", "add", plant, "IV1", "--name", "Ivo", "--role", "inspector")
    secret = re.search(r"Shown once: (\S+)", first.output).group(1)
    with Accounts(plant) as server:
        signed, token = server.sign_ins.open("IV1", secret, None, "phone")

        assert qc("device", "revoke", plant, signed.device).exit_code == 0
        assert server.sign_ins.by_token(token, "phone").revoked
        assert "P1  last signed in" in qc("device", "list", plant).output
        assert ", out of use" in qc("device", "list", plant).output
        qc("device", "revoke", plant, signed.device, "--undo")
        assert not server.sign_ins.by_token(token, "phone").revoked

        again = qc("user", "secret", plant, "IV1")
        assert server.sign_ins.by_token(token, "phone") is None
        with pytest.raises(WrongSignIn):
            server.sign_ins.open("IV1", secret, None, "phone")
        server.sign_ins.open("IV1", re.search(r"Shown once: (\S+)", again.output).group(1), None, "phone")


def test_a_phone_that_never_signed_in_cannot_be_revoked(plant):
    qc("user", "add", plant, "IV1", "--name", "Ivo", "--role", "inspector")

    assert "No phone is enrolled yet." in qc("device", "list", plant).output
    assert "no device has the code P9" in qc("device", "revoke", plant, "P9").output


def test_a_folder_without_a_plant_is_told_how_to_begin(tmp_path):
    answer = qc("user", "list", tmp_path)

    assert answer.exit_code == 1
    assert "qc init" in answer.output
    assert list(tmp_path.iterdir()) == []


def test_a_certificate_is_made_with_the_next_steps(tmp_path):
    answer = qc("certificate", tmp_path / "tls", "record.plant.example")

    assert answer.exit_code == 0
    assert "Put" in answer.output
    assert "root.key away from this machine" in answer.output
    assert sorted(path.name for path in (tmp_path / "tls").iterdir()) == [
        "root.crt",
        "root.key",
        "server.crt",
        "server.key",
    ]
    for words, told in ((("10.0.0.5",), "no name"), (("record.plant.example",), "is there already")):
        again = qc("certificate", tmp_path / "tls", *words)
        assert again.exit_code == 1
        assert told in again.output


def test_serving_plain_beyond_this_machine_is_refused_with_the_way_out(plant):
    answer = qc("serve", plant, "--host", "0.0.0.0")

    assert answer.exit_code == 1
    assert "plain HTTP on 0.0.0.0 is refused" in answer.output
    assert "qc certificate" in answer.output


def test_serving_faulty_tables_names_every_fault(plant):
    table = plant / "plant" / "stations.csv"
    table.write_text(table.read_text().replace("feeder", "fodder"))

    answer = qc("serve", plant)

    assert answer.exit_code == 1
    assert "nothing was served" in answer.output
    assert "stations.csv" in answer.output


def test_a_station_that_is_named_twice_is_told_by_its_option(plant):
    answer = qc("user", "add", plant, "L1", "--name", "Leo", "--role", "station_lead", *("--station", "S05") * 2)

    assert answer.exit_code == 1
    assert "S05 is named twice with --station; name each once" in answer.output
