"""`qc mail`: shows what the server would mail to a person, beside a running server, and sends nothing."""

import socket

import pytest
from click.testing import CliRunner

from qc.cli import main
from qc.domain.facts.people import Person
from qc.store.people.mail import sends
from qc.web.house import open_house
from tests.empty_record import laid_in
from tests.web.plant_server import cheap_hashes


def run(*words):
    return CliRunner().invoke(main, [str(word) for word in words])


@pytest.fixture
def house(tmp_path):
    folder = tmp_path / "plant"
    assert run("init", folder).exit_code == 0
    house = open_house(laid_in(folder))
    with cheap_hashes():
        house.people.add(Person("MI1", "Mia Malone", "quality_manager"), "seven blue tyres")
        house.people.add(Person("L-S05", "Leo Lund", "station_lead", ("S05",)), "471926")
        house.people.add(Person("IV1", "Ivo Ince", "inspector"), "471926")
    yield house
    house.close()


@pytest.mark.parametrize(
    ("code", "kind"), [("MI1", ()), ("MI1", ("--monday",)), ("L-S05", ()), ("L-S05", ("--monday",))]
)
def test_it_shows_a_mail_of_an_empty_record_beside_its_server_and_sends_none(house, code, kind, monkeypatch):
    def connects(*_, **__):
        raise AssertionError("a connection was made")

    monkeypatch.setattr(socket, "create_connection", connects)
    shown = run("mail", house.folder, "--to", code, *kind)

    assert shown.exit_code == 0, shown.output
    assert shown.output.startswith("Subject: ")
    assert "OPEN CRITICALS: NONE" in shown.output
    assert max(len(line) for line in shown.output.splitlines()[1:]) <= 76
    assert sends(house.reads.connection(), 0) == []
    for name in ("Mia", "Leo", "Ivo"):
        assert name not in shown.output


def test_a_lead_for_whom_nothing_waits_reads_that(house):
    assert run("mail", house.folder, "--to", "L-S05").output.startswith("Subject: S05: no defect waits for your word\n")


@pytest.mark.parametrize("code", ["IV1", "NOBODY", "", "mi1"])
def test_it_names_whom_mail_is_written_to_where_the_code_is_none_of_theirs(house, code):
    shown = run("mail", house.folder, "--to", code)

    assert shown.exit_code == 1
    assert "it is to: L-S05, MI1" in shown.output


def test_a_folder_without_a_record_is_told(tmp_path):
    assert run("init", tmp_path / "plant").exit_code == 0
    shown = run("mail", tmp_path / "plant", "--to", "MI1")

    assert shown.exit_code == 1
    assert "not written" in shown.output
