"""`qc revise`: what would change is told, and with --take it is in force, beside a server too."""

import re

import pytest

from qc.domain.tables.names_table import NAMES
from qc.domain.tables.plant_tables import tables_of
from qc.store.people.telling import latest_tables
from qc.store.reading.reads import Reads
from qc.web.house import open_house
from tests.cli.revising import PHRASE, run
from tests.store.record_kit import PLANT
from tests.store.record_kit import TABLES as DEMO

TABLES = {name: text for name, text in DEMO.items() if name != NAMES}  # as `qc init` begins

TYPES = "defect_types.csv"
NEW_TYPE = "PAN-77,PAN,Panels and bonding,Blister under the film,minor,no,asked,20,D01,RP1,panel,all,no,none,blister\n"


@pytest.fixture
def more(tmp_path):
    path = tmp_path / TYPES
    path.write_text(TABLES[TYPES] + NEW_TYPE)
    return path


def revisions(folder):
    reads = Reads(folder, PLANT)
    told = [(one.reason, one.from_day, one.revised_by, one.at_console != "") for one in reads.revisions()]
    reads.close()
    return told


def test_tables_that_can_be_read_and_not_used_are_not_put_in_force(folder, today, tmp_path):
    path = tmp_path / "zones.csv"
    path.write_text(TABLES["zones.csv"].replace('"0,550 1150,550 1150,1250', '"0,540 1150,540 1150,1250', 1))
    told = run("revise", folder, path, "--take", "AD1", "--reason", "zones moved", "--from", today, typed=PHRASE)

    assert told.exit_code != 0
    assert "zones.csv, row 3, points: 'front.gas' lies over front.coupling in the same layer" in told.output
    assert "1 fault." in told.output
    assert revisions(folder) == []


def test_without_take_it_tells_and_changes_nothing(folder, more):
    told = run("revise", folder, more)

    assert told.exit_code == 0, told.output
    assert "defect_types.csv:\n  PAN-77 Blister under the film: added\n" in told.output
    assert "counts before and after are not of the same thing: types and their severities: PAN-77" in told.output
    assert "Nothing was changed. Put them in force with" in told.output
    assert revisions(folder) == []
    assert tables_of(folder / "plant") == TABLES


def test_with_take_they_are_in_force_and_the_files_follow(folder, more, today):
    told = run("revise", folder, more, "--reason", "blisters", "--from", today, "--take", "AD1", typed=f"{PHRASE}\n")

    assert told.exit_code == 0, told.output
    assert revisions(folder) == [("blisters", today, "AD1", False)]
    assert tables_of(folder / "plant")[TYPES] == TABLES[TYPES] + NEW_TYPE
    assert tables_of(folder / "plant-before") == TABLES
    house = open_house(folder)
    assert "PAN-77" in house.plant.types
    house.close()
    assert len(revisions(folder)) == 1, "the next start tells nothing more"
    again = run("revise", folder, more, "--reason", "blisters", "--from", today, "--take", "AD1")
    assert "There is nothing to put in force." in again.output
    assert len(revisions(folder)) == 1
    assert run("verify", folder).exit_code == 0


def test_beside_a_server_it_goes_by_them_at_once(folder, more, today):
    house = open_house(folder)
    try:
        told = run("revise", folder, more, "--reason", "blisters", "--from", today, "--take", "console")
        assert told.exit_code == 0, told.output
        house.follow_tables()
        assert "PAN-77" in house.plant.types
        assert "PAN-77" in house.journal.plant.types
    finally:
        house.close()
    assert revisions(folder) == [("blisters", today, "SERVER", True)]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--from", "2026-01-01"), "say in three characters or more why"),
        (("--reason", "x"), "say in three characters or more why"),
        (("--reason", "blisters"), "must be a date"),
        (("--reason", "blisters", "--from", "9999-12-31"), "9999-12-31 is outside"),
        (("--reason", "blisters", "--from", "2026-02-30"), "is not a day of the calendar"),
    ],
)
def test_it_needs_a_reason_and_a_day(folder, more, words, said):
    told = run("revise", folder, more, *words, "--take", "console")

    assert told.exit_code == 1
    assert said in told.output
    assert "othing was changed" in told.output
    assert revisions(folder) == []


@pytest.mark.parametrize(("who", "typed", "said"), [("QM1", PHRASE, "is quality manager"), ("AD1", "wrong one", "")])
def test_another_than_the_administrator_does_not(folder, more, today, who, typed, said):
    told = run("revise", folder, more, "--reason", "blisters", "--from", today, "--take", who, typed=f"{typed}\n")

    assert told.exit_code == 1
    assert said in told.output
    assert revisions(folder) == []


def test_a_code_that_is_gone_is_not_taken(folder, more, today):
    more.write_text(re.sub(r"^PAN-02,.*\n", "", TABLES[TYPES], flags=re.M))

    told = run("revise", folder, more, "--reason", "shorter", "--from", today, "--take", "console")

    assert told.exit_code == 1
    assert "not allowed: defect_types.csv: PAN-02" in told.output
    assert revisions(folder) == []


def test_faults_are_told_as_check_plant_tells_them(folder, more, today):
    more.write_text(TABLES[TYPES] + NEW_TYPE.replace(",panel,", ",sail,"))

    told = run("revise", folder, more, "--reason", "sails", "--from", today, "--take", "console")

    assert told.exit_code == 1
    assert "defect_types.csv, row 71, zone_kinds: 'sail' is no kind of zone of this plant" in told.output
    assert revisions(folder) == []


def test_a_folder_without_a_record_is_edited_as_before(tmp_path, more):
    run("init", tmp_path / "new")

    told = run("revise", tmp_path / "new", more)

    assert told.exit_code == 1
    assert "has no record yet" in told.output


def test_ended_between_the_record_and_the_files_the_next_start_lays_them(folder, more, today, monkeypatch):
    with monkeypatch.context() as then:
        then.setattr("qc.store.intake.revising.lay_out", cut_short)
        told = run("revise", folder, more, "--reason", "blisters", "--from", today, "--take", "console")
    assert "the tables are in force" in told.output
    assert tables_of(folder / "plant") == TABLES
    assert latest_tables(folder)[TYPES] == TABLES[TYPES] + NEW_TYPE

    house = open_house(folder)
    assert "PAN-77" in house.plant.types
    house.close()

    assert tables_of(folder / "plant")[TYPES] == TABLES[TYPES] + NEW_TYPE
    assert len(revisions(folder)) == 1, "it was not taken for a change by hand"


def cut_short(*_):
    raise OSError("no room")


def test_what_a_running_server_does_not_take_up_is_told(folder, tmp_path):
    file = tmp_path / "plant.toml"
    file.write_text(f'{TABLES["plant.toml"]}\n[drop]\nfolder = "/srv/drop"\nin_name_of = "PL1"\n')

    assert "A server goes by [drop] once it is started anew." in run("revise", folder, file).output
