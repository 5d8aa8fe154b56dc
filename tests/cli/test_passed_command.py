"""`qc passed`: a list of passed stations is looked through, taken whole in a person's name, and again is harmless."""

import shutil
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
import xlsxwriter
from click.testing import CliRunner

from qc.cli import main
from qc.domain.facts.people import Person
from qc.store.checking.verify import verify
from qc.store.record.own_word import own_batch
from qc.web.house import open_house

PIN = "471926"
UNIT, SHOP = "0PC7T3600TW030001", "PC7130001"
PLANT_ZONE = ZoneInfo("Europe/London")


def run(*words, typed=""):
    return CliRunner().invoke(main, [str(word) for word in words], input=typed)


@pytest.fixture(scope="module")
def planned(tmp_path_factory):
    folder = tmp_path_factory.mktemp("passed") / "plant"
    assert run("init", folder).exit_code == 0
    house = open_house(folder)
    for person in (Person("L7", "Lead", "station_lead", ("S07",)), Person("DX1", "Dispatch", "dispatch")):
        house.people.add(person, PIN)
    house.people.add(Person("PL1", "Planner", "planner"), PIN)
    file = folder.parent / "plan.csv"
    file.write_text(f"chassis,planned day\n{UNIT},2026-03-02\n")
    house.close()
    assert run("plan", folder, file, "--take", "PL1", typed=f"{PIN}\n").exit_code == 0
    return folder


@pytest.fixture
def folder(planned, tmp_path):
    return shutil.copytree(planned, tmp_path / "plant")


def ago(**back):
    return datetime.now(PLANT_ZONE) - timedelta(**back)


def listed(tmp_path, *rows, heading="unit,station,passed at"):
    file = tmp_path / "passed.csv"
    file.write_text("\n".join((heading, *rows)) + "\n")
    return file


def passings(folder):
    house = open_house(folder)
    try:
        return house.reads.unit_story(UNIT).passings
    finally:
        house.close()


def test_it_is_looked_through_then_taken_and_again_is_harmless(folder, tmp_path):
    when = ago(days=2).replace(second=0, microsecond=0)
    file = listed(tmp_path, f"{SHOP},S07,{when:%Y-%m-%d %H:%M}", f"{UNIT},wall panels bond,{when:%Y-%m-%d %H:%M}")
    told = run("passed", folder, file)
    assert told.exit_code == 0, told.output
    assert f"new: row 2, {UNIT}: passed S07" in told.output
    assert "same: row 3" in told.output
    assert "Nothing was taken." in told.output
    assert passings(folder) == ()

    taken = run("passed", folder, file, "--take", "L7", typed=f"{PIN}\n")
    assert "Taken as L7: 1 row." in taken.output
    (one,) = passings(folder)
    assert (one.station, one.by, one.passed_ms) == ("S07", "L7", round(when.timestamp() * 1000))
    assert "There is nothing to take." in run("passed", folder, file, "--take", "L7").output
    assert verify(folder).is_whole


def test_what_was_taken_back_is_not_told_again_by_the_same_file(folder, tmp_path):
    file = listed(tmp_path, f"{UNIT},S07,{ago(days=2):%Y-%m-%d %H:%M}")
    assert run("passed", folder, file, "--take", "L7", typed=f"{PIN}\n").exit_code == 0
    (one,) = passings(folder)
    house = open_house(folder)
    back = {"kind": "passing_withdrawn", "unit": UNIT, "body": {"passing": one.id}, "author": "L7", "session": "s"}
    (verdict,) = house.journal.push(own_batch("DESK", "back", 1, house.clock(), back)).verdicts
    house.close()
    assert verdict.verdict == "applied"

    assert "taken back since; it stays so" in run("passed", folder, file).output
    assert "There is nothing to take." in run("passed", folder, file, "--take", "L7").output


def test_a_workbook_with_day_and_time_apart_and_another_time_of_the_same_station(folder, tmp_path):
    first, second = ago(days=3), ago(days=1)
    file = tmp_path / "passed.xlsx"
    with xlsxwriter.Workbook(file) as book:
        sheet = book.add_worksheet()
        sheet.write_row(0, 0, ("Unit", "Station", "Day", "Time"))
        for row, one in enumerate((first, second), start=1):
            sheet.write_row(row, 0, (UNIT, "s07", f"{one:%Y-%m-%d}", f"{one:%H:%M}"))
    assert run("passed", folder, file, "--take", "L7", typed=f"{PIN}\n").exit_code == 0
    third = listed(tmp_path, f"{UNIT},S07,{ago(hours=5):%Y-%m-%d %H:%M}")

    assert len(passings(folder)) == 2
    assert "the earliest counts" in run("passed", folder, third).output


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("0PC7T3600TW039999,S07,2026-03-02 07:00", "is no unit on record"),
        (f"{UNIT},S99,2026-03-02 07:00", "'S99' is no station of this plant"),
        (f"{UNIT},SUP,2026-03-02 07:00", "no place that a unit can pass"),
        (f"{UNIT},S07,2026-03-02", "tells no day and time"),
        (f"{UNIT},S07,2026-02-30 07:00", "is no day"),
        (f"{UNIT},S07,9999-12-31 23:59", "has not come yet"),
        (f"{UNIT},S07,0001-01-01 00:00", "more than 60 days ago"),
        (f"{UNIT},S07,2026-03-02 24:61", "tells no day and time"),
        (f'{UNIT},"=S07",-5', "is no station of this plant"),
    ],
)
def test_a_wrong_row_says_why_and_nothing_is_taken(folder, tmp_path, row, words):
    right = f"{UNIT},S06,{ago(days=1):%Y-%m-%d %H:%M}"
    file = listed(tmp_path, right, row)
    told = run("passed", folder, file)

    assert told.exit_code == 1, told.output
    assert words in told.output
    assert run("passed", folder, file, "--take", "L7", typed=f"{PIN}\n").exit_code == 1
    assert passings(folder) == ()
    left = run("passed", folder, file, "--take", "L7", "--leave-wrong", typed=f"{PIN}\n")
    assert "Taken as L7: 1 row." in left.output


@pytest.mark.parametrize(
    ("code", "secret", "words"), [("DX1", PIN, "DX1 is dispatch"), ("L7", "000000", "nothing was taken")]
)
def test_nobody_else_takes_it(folder, tmp_path, code, secret, words):
    file = listed(tmp_path, f"{UNIT},S06,{ago(days=1):%Y-%m-%d %H:%M}")
    answer = run("passed", folder, file, "--take", code, typed=f"{secret}\n")

    assert answer.exit_code == 1
    assert words in answer.output
    assert passings(folder) == ()


@pytest.mark.parametrize(
    ("heading", "words"),
    [
        ("unit,when", "no column tells the station"),
        ("station,passed at", "no column tells the unit"),
        ("unit,station,day", "no column tells when it passed"),
        ("unit,chassis,station,passed at", "two columns of the file mean unit"),
    ],
)
def test_a_heading_that_says_too_little_is_told(folder, tmp_path, heading, words):
    answer = run("passed", folder, listed(tmp_path, "a,b,c,d", heading=heading))

    assert answer.exit_code == 1
    assert words in answer.output


def test_beside_a_server_it_looks_and_does_not_take(folder, tmp_path):
    file = listed(tmp_path, f"{UNIT},S06,{ago(days=1):%Y-%m-%d %H:%M}")
    house = open_house(folder)
    try:
        assert "1 new" in run("passed", folder, file).output
        answer = run("passed", folder, file, "--take", "L7", typed=f"{PIN}\n")
    finally:
        house.close()

    assert answer.exit_code == 1
    assert "a server has this folder open" in answer.output


@pytest.mark.parametrize("command", ["passed", "plan"])
@pytest.mark.parametrize("text", ["", "a,b\n1,2\n", 'unit,"x\n'], ids=["empty", "another table", "half"])
def test_beside_a_server_a_file_that_is_no_such_list_is_told_in_words(folder, tmp_path, command, text):
    file = tmp_path / "passed.csv"
    file.write_text(text)
    house = open_house(folder)
    try:
        answer = run(command, folder, file)
    finally:
        house.close()

    assert answer.exit_code == 1
    assert answer.output.startswith("Error: passed.csv: ")
    assert answer.output.endswith("Nothing was taken\n")
