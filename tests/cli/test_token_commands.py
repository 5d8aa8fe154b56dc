"""`qc token`: made and shown once, listed with its last use, ended; beside a running server too."""

import re
from contextlib import closing

import pytest
from click.testing import CliRunner

from qc.cli import main
from qc.domain.facts.people import Person
from qc.store.people.machines import WrongToken
from qc.web.house import open_house
from tests.empty_record import laid_in
from tests.web.plant_server import cheap_hashes


def qc(*words):
    return CliRunner().invoke(main, [str(word) for word in words])


@pytest.fixture
def folder(tmp_path):
    folder = tmp_path / "plant"
    assert qc("init", folder).exit_code == 0
    with cheap_hashes(), closing(open_house(laid_in(folder))) as house:
        house.people.add(Person("PL1", "Pia", "planner"), "471926")
    return folder


def secret_in(answer):
    return re.search(r"Shown once: (\S+)", answer.output).group(1)


def test_it_is_shown_once_and_opens_what_it_may(folder):
    made = qc("token", "make", folder, "night", "--may", "plan", "--in-name-of", "pl1")
    listed = qc("token", "list", folder)

    assert made.exit_code == 0, made.output
    assert "night  plan in the name of PL1, not used yet" in listed.output
    assert secret_in(made) not in listed.output
    with closing(open_house(folder)) as house:
        assert house.machines.at_work(secret_in(made), "plan", "").in_name_of.code == "PL1"
    assert "last used" in qc("token", "list", folder).output


def test_beside_a_running_server_it_is_ended_at_the_next_request(folder):
    with closing(open_house(folder)) as house:
        token = secret_in(qc("token", "make", folder, "report", "--may", "read"))
        assert house.machines.at_work(token, "read", "").code == "report"
        assert qc("token", "end", folder, "report").exit_code == 0
        with pytest.raises(WrongToken):
            house.machines.at_work(token, "read", "192.0.2.9")
    listed = qc("token", "list", folder).output
    assert ", ended" in listed
    assert "Wrong tokens from 192.0.2.9: 1" in listed


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("make", "night", "--may", "plan", "--in-name-of", "XX"), "nobody has the code XX"),
        (("make", "night", "--may", "plan"), "name a planner with --in-name-of CODE"),
        (("make", "night", "--may", "write"), "not one of"),
        (("make", "night"), "--may"),
        (("make", "n ight", "--may", "read"), "NAME must be a code"),
        (("make", "--may", "read", "--", "-night"), "NAME must begin with a letter or a figure"),
        (("end", "night"), "no token has the name night"),
    ],
)
def test_what_cannot_be_done_is_told(folder, words, told):
    answer = qc("token", words[0], folder, *words[1:])

    assert answer.exit_code != 0
    assert told in answer.output
    assert "No machine has a token" in qc("token", "list", folder).output
