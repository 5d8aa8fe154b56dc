"""No screen of the app shows a code of the plant where a name belongs: each that stands there is named on the screen.

The journey is that which visits every screen the app's modules name (`test_screens`), on the invented plant.
"""

import re

import pytest

from qc.assets import folder
from qc.domain.plant.plant import FIELD
from qc.domain.tables.plant_tables import read_plant
from tests.browser.app.frame import painted
from tests.browser.app.test_screens import SCREENS, journey, walk_through, what_others_see

pytestmark = pytest.mark.browser

PLANT = read_plant(folder("demo_data") / "plant")
SNAKE = re.compile(r"(?<![\w./-])[a-z]+(?:_[a-z]+)+(?![\w/.-])")


def names():
    """Each code of the tables with its name; a caution's are its first words."""
    found = {key: zone.name for (_, key), zone in PLANT.zones.items()} | {z.id: z.name for z in PLANT.zones.values()}
    for table in (PLANT.types, PLANT.stations, PLANT.tests):
        found |= {code: one.name for code, one in table.items()}
    return found | {code: re.split("[.:]", one.short)[0] for code, one in PLANT.cautions.items()}


NAMES = names()
CODES = re.compile("|".join(rf"(?<![\w.-]){re.escape(c)}(?![\w-]|\.\w)" for c in sorted(NAMES, key=len)[::-1]))


def bare(text):
    """Return the codes of a screen's text that it names nowhere, doubled ones and the tables' own words."""
    found = {code for code in CODES.findall(text) if NAMES[code] not in text}
    doubled = {f"doubled: {one.group(1)}" for one in re.finditer(rf"({CODES.pattern})\s+\1(?![\w.-])", text)}
    return sorted({*found, *doubled, *SNAKE.findall(text), *re.findall(rf"\b{FIELD}\b", text)})


def test_no_screen_shows_a_code_where_a_name_belongs(phone):
    wrong, seen = {}, []

    def look(screen):
        painted(phone)
        seen.append(screen)
        if found := bare(phone.page.locator("body").inner_text()):
            wrong[screen] = found

    walk_through(phone, look)
    journey(phone, look)
    what_others_see(phone, look)

    assert wrong == {}
    assert len(seen) == SCREENS


def test_a_bare_code_is_found_out():
    text = "I1 at D01, yesterday · Gap between panels PAN-05 PAN-05 in nearside.door · low_sun"
    assert bare(text) == ["D01", "PAN-05", "doubled: PAN-05", "low_sun", "nearside.door"]
