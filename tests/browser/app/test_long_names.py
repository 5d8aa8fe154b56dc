"""Names of sixty letters without a blank: each screen of the app holds them at every size, none is cut or runs out."""

import csv
import hashlib
import shutil
from pathlib import Path

import pytest

from qc.assets import folder
from qc.domain.tables.names_table import NAME_COLUMNS, NAMED
from qc.domain.tables.plant_tables import read_plant
from tests.browser.app.frame import painted, wrong_at_each_size
from tests.browser.app.test_languages import CATALOGUE, speak
from tests.browser.app.test_screens import journey, walk_through, what_others_see

pytestmark = pytest.mark.browser

LETTERS = 60
TABLES = folder("demo_data") / "plant"


def long_name(code: str) -> str:
    """Return a name of one long word, another for each code, as a language writes them that joins its nouns."""
    own = "".join(chr(ord("a") + int(sign, 16)) for sign in hashlib.sha256(code.encode()).hexdigest())
    return ("Q" + "verbindungs" * 4 + own)[:LETTERS]


def codes(plant):
    zones = dict.fromkeys(zone.key for zone in plant.zones.values())
    groups = dict.fromkeys(one.group for one in plant.types.values())
    return {
        "zone": zones, "type": plant.types, "group": groups, "station": plant.stations, "test": plant.tests,
        "model": plant.models,
    }  # fmt: skip


@pytest.fixture(scope="module")
def filled_folder(tmp_path_factory):
    from tests.browser.plant_server import fill

    tables = Path(shutil.copytree(TABLES, tmp_path_factory.mktemp("long") / "plant"))
    rows = [
        ("de", table, code, NAMED[table][0], long_name(code))
        for table, all_ in codes(read_plant(TABLES)).items()
        for code in all_
    ]
    with (tables / "names.csv").open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([NAME_COLUMNS, *rows])
    data = tables.parent / "data"
    fill(data, tables)
    return data


def test_names_of_sixty_letters_stay_within_every_screen(phone):
    out_of_frame: list[str] = []
    seen: list[str] = []

    def look(screen: str) -> None:
        speak(phone, "de", CATALOGUE["words"], CATALOGUE["server"])
        painted(phone)
        seen.append(long_name("front.gas") in phone.page.locator("body").inner_text())
        out_of_frame.extend(wrong_at_each_size(phone, screen))
        speak(phone, "en", {}, {})

    walk_through(phone, look)
    journey(phone, look)
    what_others_see(phone, look)

    assert any(seen)
    assert "\n".join(out_of_frame) == ""
