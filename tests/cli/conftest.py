"""A begun plant with an administrator and a quality manager; test files with a folder of their own name it alike."""

import pytest

from qc.domain.facts.people import Person
from qc.store.people import pins
from qc.web.house import open_house
from tests.cli.revising import PHRASE, run
from tests.empty_record import laid_in
from tests.store.record_kit import PLANT


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.setattr(pins, "_PIN", pins.PasswordHasher(time_cost=1, memory_cost=64, parallelism=1))
    monkeypatch.setattr(pins, "_PASSPHRASE", pins.PasswordHasher(time_cost=3, memory_cost=64, parallelism=1))
    folder = tmp_path / "plant"
    assert run("init", folder).exit_code == 0
    house = open_house(laid_in(folder))
    for person in (Person("AD1", "Ada", "administrator"), Person("QM1", "Mia", "quality_manager")):
        house.people.add(person, PHRASE)
    house.close()
    return folder


@pytest.fixture
def today(folder):
    from qc.domain.tables.plant_rules import PlantRules
    from qc.store.folder.plant_folder import folder_clock

    return PlantRules(PLANT).calendar_day(folder_clock(folder)()).isoformat()
