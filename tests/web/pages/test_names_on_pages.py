"""No page of any role shows a code where a name belongs, on the second plant, whose codes nobody can guess.

A code alone may stand where the same part of the page names it, as a chart's axis beside its table; a station's own
code on its own page; a caution's where the sheet lists its words. Doubled codes, the tables' own words ("FIELD",
"at_end_points") and zones by their keys stand nowhere.
"""

import re
from dataclasses import replace
from pathlib import Path

import pytest

from qc.domain.facts.operations import CHANGE_KINDS
from qc.domain.plant.chassis import full_number
from qc.domain.plant.plant import FIELD
from qc.domain.tables.plant_tables import plant_from_tables, tables_of
from qc.domain.unit.release import open_digest
from tests.web.pages.lived_in import LivedIn, code
from tests.web.pages.reading import Node, read
from tests.web.plant_server import CAST, PlantServer

OTHER = Path(__file__).parents[2] / "plants" / "other"
PARTS = ("section", "article", "figure", "table", "form", "aside", "tr", "li")
# What tells of the tables and files themselves, by their own columns.
OF_TABLES = ("/export", "/plant-tables")
SNAKE = re.compile(r"(?<![\w./-])[a-z]+(?:_[a-z]+)+(?![\w/.-])")


class Lived(LivedIn):
    """Two weeks of the second plant in which all happens that a page tells of."""

    def must(self, kind, role, unit=None, **body):
        return self.phone.must(kind, code(role), unit, **body)

    def clean_unit(self, sequence, model):
        unit = self.plan(sequence, model)
        self.test_all(unit, model)
        self.present(unit, "PST")
        looked = self.begin(unit, "ABN")
        self.look(unit, looked, model)
        self.end(unit, looked)
        digest = open_digest(self.server.house.reads.unit_story(unit))
        self.must("unit_released", "quality_manager", unit, open_digest=digest, against="Freigaberegel")
        return unit

    def live_here(self):
        self.at(1)
        late, tested, field = (self.clean_unit(50001 + n, model) for n, model in enumerate(("A21", "BRG34", "A21")))
        self.at(2)
        full = self.full(self.plan(50011, "BRG34"))
        self.at(3)
        where = {"point": "ABN", "zone": "seite.tuer", "type": "TUR-1", "severity": "minor"}
        self.must("defect_recorded", "inspector", late, **where)
        self.must("test_recorded", "tester", tested, test="DPR", value=30, instrument="IN-7", again="repair")
        for type_, severity, zone in (("BRG-1", "critical", "vorn.kasten"), ("WND-1", "minor", "seite.wand")):
            found = {"type": type_, "severity": severity, "zone": zone}
            self.must("field_finding", "dispatch", field, found_day="2026-03-05", **found)
        way = self.plan(50012, "A21")
        self.present(way, "PST")
        disputed = self.plan(50013, "A21")
        looked = self.begin(disputed, "TOR")
        defect = self.defect(disputed, looked, "seite.tuer", "TUR-1", "minor", point="TOR")
        self.suspect(disputed, defect, "B10")
        self.must("origin_disputed", "station_lead", disputed, defect=defect, reason="nicht von uns")
        note = {"station": "B10", "change": CHANGE_KINDS[0], "what": "Neue Lehre", "from_day": "2026-03-05"}
        self.must("change_noted", "station_lead", types=["TUR-1", "WND-1"], **note)
        gone = self.plan(50014, "A21")
        self.must("unit_cancelled", "planner", gone, reason="storniert")
        self.at(9)
        awaited = full_number(self.plant, "A21", 50099)
        assert self.phone.do("station_passed", code("inspector"), awaited, station="B10")[1].verdict == "parked"
        return [late, tested, field, full, way, disputed, gone]

    def full(self, unit):
        self.present(unit, "PST")
        looked, made = self.begin(unit, "ABN"), []
        for zone, type_, severity, origin in (
            ("vorn.kasten", "BRG-1", "critical", "ZUL"),
            ("seite.wand", "WND-1", "minor", "TRN"),
            ("seite.tuer", "TUR-1", "minor", "B10"),
            ("vorn.kasten", "BRG-2", "minor", "B20"),
            ("innen.tafel", "NSG-1", "critical", "UNK"),
            ("seite.tuer", "TUR-1", "minor", "DSN"),
        ):
            made.append(self.defect(unit, looked, zone, type_, severity, point="ABN"))
            self.suspect(unit, made[-1], origin)
        self.look(unit, looked, "BRG34", skip="innen.herd")
        self.end(unit, looked)
        self.photo(unit, made[2])
        self.must("origin_confirmed", "station_lead", unit, defect=made[2], station="B10")
        for defect in (made[1], made[3]):
            self.must("repair_done", "repairer", unit, defects=[defect], method="repair", minutes=5)
        self.must("recheck_failed", "inspector", unit, defect=made[1], reason="noch da")
        self.must("station_passed", "planner", unit, station="B10")
        for test, value in (("DPR", 30), ("SLW", 9)):
            self.must("test_recorded", "tester", unit, test=test, value=value, instrument="IN-7")
        self.must("inspection_begun", "inspector", unit, point="ABN", purpose="relook", light="bright")
        return unit


@pytest.fixture(scope="module")
def lived(tmp_path_factory):
    tables = tables_of(OTHER)
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(CAST, "station_lead", replace(CAST["station_lead"], stations=("B10",)))
        server = PlantServer(tmp_path_factory.mktemp("names") / "other", (tables, plant_from_tables(tables)))
        lived = Lived(server)
        lived.units = lived.live_here()
        yield lived
        server.house.close()


def names_of(plant):
    """Each code of the tables with its name."""
    names = {key: zone.name for (_, key), zone in plant.zones.items()} | {z.id: z.name for z in plant.zones.values()}
    names |= {one.group: one.group_name for one in plant.types.values()}
    for table in (plant.types, plant.stations, plant.tests):
        names |= {code: one.name for code, one in table.items()}
    return names | {code: one.short for code, one in plant.cautions.items()}


def parts_of(node, holding=()):
    """Yield each text of a page with the elements that hold it, the innermost last."""
    for child in node.children:
        if isinstance(child, Node):
            yield from parts_of(child, (*holding, child))
        elif child.strip():
            yield " ".join(child.split()), holding


def bare(page, names, own=""):
    """Return each code that stands in a page without its name near it, doubled ones and the tables' own words too."""
    codes = re.compile("|".join(rf"(?<![\w.-]){re.escape(c)}(?![\w-]|\.\w)" for c in sorted(names, key=len)[::-1]))
    wrong = [f"doubled: {found.group(1)}" for found in re.finditer(rf"({codes.pattern}) \1(?![\w.-])", page.text)]
    for text, holding in parts_of(page):
        wrong += [f"{word} in “{text[:70]}”" for word in SNAKE.findall(text)]
        wrong += [f"{FIELD} in “{text[:70]}”"] if re.search(rf"\b{FIELD}\b", text) else []
        for found in codes.finditer(text):
            told = names[found.group()]
            near = [one for one in holding if one.tag in PARTS]
            listed = f"{found.group()} {told}" in page.text and told.endswith(
                "."
            )  # a sheet's cautions stand at its end
            if found.group() != own and not listed and not any(told in one.text for one in near) and told not in text:
                wrong.append(f"{found.group()} in “{text[max(0, found.start() - 40) : found.end() + 30]}”")
    return wrong


def addresses(lived):
    weeks = ("", "/by-model", "/by-point")
    reviews = [f"/review{one}?week=2026-W10" for one in weeks]
    orders = [f"/review?week=2026-W10&order={one}" for one in ("minutes", "severity")]
    units = [f"/units/{one}" for one in lived.units]
    desks = ("/review", "/backlog", "/stations", "/signals", "/units", "/inspectors", "/inspectors/me", "/set-aside")
    own = ("/sign-ins", "/people", "/plan", "/plan/range", "/labels", "/own-secret", "/own-mail", "/paper", "/help")
    stations = [f"/stations/{one}" for one in lived.plant.stations]
    return [*reviews, *orders, *units, *desks, *own, *stations, "/paper?model=A21", "/paper?model=BRG34"]


@pytest.mark.parametrize("role", sorted(CAST))
def test_no_page_shows_a_code_where_a_name_belongs(lived, role):
    page, names = lived.server.page(role), names_of(lived.plant)
    seen, wrong = 0, {}
    for address in addresses(lived):
        answer = page.get(address)
        if answer.status_code != 200:
            assert answer.status_code in (302, 303, 403, 404), (address, answer.status_code)
            continue
        seen += 1
        if found := bare(read(answer).one("main"), names, address.removeprefix("/stations/")):
            wrong[address] = found

    assert wrong == {}
    assert seen > 8


def test_a_bare_code_a_doubled_one_and_a_word_of_the_tables_are_found_out():
    class Page:
        first = "<main><section><p>Found at ABN.</p><p>B10 B10</p></section>"
        text = f"{first}<p>FIELD at_end_points TUR-1 Tür klemmt</p></main>"

    found = bare(read(Page()).one("main"), {"ABN": "Abnahme im Hof", "B10": "Aufbau", "TUR-1": "Tür klemmt"})
    assert sorted(one.partition(" in ")[0] for one in found) == [
        "ABN", "B10", "B10", "FIELD", "at_end_points", "doubled: B10",
    ]  # fmt: skip
