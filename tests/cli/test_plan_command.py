"""`qc plan`: looks a file through beside a running server, takes it in with the planner's secret."""

from contextlib import closing

import pytest
from click.testing import CliRunner

from qc.cli import main
from qc.domain.facts.people import Person
from qc.store.checking.verify import verify
from qc.web.house import open_house
from tests.empty_record import laid_in
from tests.web.plant_server import cheap_hashes

PIN = "471926"
TWO = "chassis,planned day\n0PC7T3600TW030001,2026-03-02\n0PC7M5000TW030002,2026-03-03\n"


def run(*words, typed=""):
    return CliRunner().invoke(main, [str(word) for word in words], input=typed)


@pytest.fixture
def folder(tmp_path):
    folder = tmp_path / "plant"
    assert run("init", folder).exit_code == 0
    with cheap_hashes(), closing(open_house(laid_in(folder))) as house:
        house.people.add(Person("PL1", "Planner", "planner"), PIN)
        house.people.add(Person("I1", "Inspector", "inspector"), PIN)
    return folder


@pytest.fixture
def file(tmp_path):
    file = tmp_path / "plan.csv"
    file.write_text(TWO)
    return file


def test_without_a_planner_it_only_tells(folder, file):
    told = run("plan", folder, file)

    assert told.exit_code == 0
    assert "new: row 2, 0PC7T3600TW030001: planned for 2026-03-02" in told.output
    assert "2 rows: 2 new" in told.output
    assert "Nothing was taken." in told.output
    assert "2 new" in run("plan", folder, file).output


def test_it_is_taken_with_the_planners_secret_and_again_is_harmless(folder, file):
    taken = run("plan", folder, file, "--take", "PL1", typed=f"{PIN}\n")

    assert taken.exit_code == 0, taken.output
    assert "Taken as PL1: 2 rows." in taken.output
    assert "There is nothing to take." in run("plan", folder, file, "--take", "PL1").output
    assert verify(folder).is_whole


@pytest.mark.parametrize(
    ("code", "secret", "words"),
    [("PL1", "000000", "nothing was taken"), ("I1", PIN, "I1 is inspector"), ("NOBODY", PIN, "nothing was taken")],
)
def test_nobody_else_takes_it(folder, file, code, secret, words):
    answer = run("plan", folder, file, "--take", code, typed=f"{secret}\n")

    assert answer.exit_code == 1
    assert words in answer.output
    assert "2 new" in run("plan", folder, file).output


def test_beside_a_server_it_looks_and_does_not_take(folder, file):
    house = open_house(folder)
    try:
        assert "2 new" in run("plan", folder, file).output
        answer = run("plan", folder, file, "--take", "PL1", typed=f"{PIN}\n")
    finally:
        house.close()

    assert answer.exit_code == 1
    assert "Build plan" in answer.output


def test_wrong_rows_end_with_one_and_are_left_out_on_demand(folder, file):
    file.write_text(f"{TWO}0PC7T3600TW03000I,2026-03-02\n")
    none = run("plan", folder, file, "--take", "PL1", typed=f"{PIN}\n")
    some = run("plan", folder, file, "--take", "PL1", "--leave-wrong", typed=f"{PIN}\n")

    assert (none.exit_code, some.exit_code) == (1, 1)
    assert "wrong: row 4, 0PC7T3600TW03000I" in none.output
    assert "Taken" not in none.output
    assert "Taken as PL1: 2 rows." in some.output


def test_a_file_that_is_no_plan_is_told(folder, file):
    file.write_text("a;b\n1;2\n")
    answer = run("plan", folder, file)

    assert answer.exit_code == 1
    assert "no column tells a chassis number" in answer.output
