"""New tables of a plant: faults of form first and alone, then what could be read and not used; each told once."""

import random
import re
from pathlib import Path

import pytest

from qc.domain.tables.outlines import overlap
from qc.domain.tables.plant_tables import PlantFaults, checked_plant, plant_from_tables, tables_of
from qc.domain.tables.plant_use import what_is_absent
from tests.domain.test_plant_tables import INVENTED, changed

OTHER, BARE = (Path(__file__).parents[1] / "plants" / name for name in ("other", "bare"))


def refused(tables):
    with pytest.raises(PlantFaults) as raised:
        checked_plant(tables)
    return raised.value


def damaged(file, damage):
    tables = tables_of(INVENTED)
    tables[file] = "\n".join(damage(tables[file].split("\n")))
    return tables


@pytest.mark.parametrize("folder", [INVENTED, OTHER, BARE])
def test_each_invented_plant_can_be_used(folder):
    assert checked_plant(tables_of(folder)).models


def test_what_a_plant_does_without_is_said_so_that_a_table_that_lost_its_rows_is_seen():
    told = {folder: what_is_absent(checked_plant(tables_of(folder))) for folder in (INVENTED, OTHER, BARE)}

    assert told[INVENTED] == ()
    assert told[OTHER] == ("View dach: no zone on A21, so it is not walked there.",)
    assert [one.partition(":")[0] for one in told[BARE]] == ["No tests", "No cautions"]


def test_a_view_or_a_model_without_any_zone_is_told_once():
    tables = tables_of(OTHER)
    lines = tables["zones.csv"].splitlines(keepends=True)
    without_view = "".join(line for line in lines if ",dach," not in line)
    without_model = "".join(line for line in lines if ",A21," not in line)

    for text, column, value in ((without_view, "view", "dach"), (without_model, "model", "A21")):
        (fault,) = refused({**tables, "zones.csv": text}).faults
        assert (fault.file, fault.column, fault.value) == ("zones.csv", column, value)


FORM = {
    "semicolons": (lambda lines: [line.replace(",", ";") for line in lines], 1, "", "divided by semicolons"),
    "tabs": (lambda lines: [line.replace(",", "\t") for line in lines], 1, "", "divided by tabs"),
    "a heading misspelt": (lambda lines: ["X" + lines[0], *lines[1:]], 1, "first", "write"),
    "a heading lost": (lambda lines: [lines[0].partition(",")[2], *lines[1:]], None, "", ""),
    "a comma lost": (lambda lines: [*lines[:3], lines[3].replace(",", "", 1), *lines[4:]], 4, "", "cells, the heading"),
    "a comma too many": (lambda lines: [*lines[:3], lines[3] + ",", *lines[4:]], 4, "", "cells, the heading"),
    "a quotation mark not closed": (lambda lines: [*lines[:3], '"' + lines[3], *lines[4:]], 4, "", "does not close it"),
    "half a file": (lambda lines: [*lines[:5], lines[5][: len(lines[5]) // 2]], 6, "", ""),
    "a heading twice": (lambda lines: [lines[0] + "," + lines[0].partition(",")[0], *lines[1:]], None, "", ""),
}


@pytest.mark.parametrize("file", ["stations.csv", "zones.csv", "tests.csv", "defect_types.csv", "cautions.csv"])
@pytest.mark.parametrize("damage", FORM)
def test_a_fault_of_form_is_told_first_and_alone(file, damage):
    change, row, column, words = FORM[damage]
    found = refused(damaged(file, change))
    first = tables_of(INVENTED)[file].partition(",")[0]

    assert found.of_form
    assert {fault.file for fault in found.faults} == {file}  # nothing that hangs on the table is told as missing
    if row is not None:
        assert [(fault.row, fault.column) for fault in found.faults] == [(row, first if column else "")]
        assert words in found.faults[0].remedy


def test_the_form_is_told_alone_where_a_server_opens_the_tables_too():
    tables = damaged("stations.csv", FORM["semicolons"][0])
    with pytest.raises(PlantFaults) as opened:
        plant_from_tables(tables)

    assert [str(fault) for fault in opened.value.faults] == [str(fault) for fault in refused(tables).faults]


def test_tables_that_a_record_was_made_under_open_whatever_is_asked_of_new_ones():
    """A doubled mark inside a cell was read as text before, and a zone may lie where it lay."""
    old = changed("stations.csv", ("Floor sandwich bond,", '"Floor" sandwich bond,'))
    far = changed("zones.csv", ('"0,550 1150,550', '"0,550 160000,550'))

    assert plant_from_tables(old).stations["FL1"].name == "Floor sandwich bond"
    assert plant_from_tables(far).zones
    assert refused(old).of_form
    assert not refused(far).of_form


USE = [
    # a point that finds nothing
    ("defect_types.csv", "no,required,120,D01", "no,required,120,S03", 2, "first_detect_point", "can detect nothing"),
    # a failure that nobody could record
    ("tests.csv", "T01,APP-03,measure", "T01,APP-02,measure", 19, "defect_on_fail", "is no type of model T36, H62"),
    # zones that nobody could touch, or in which nothing has a name
    ("zones.csv", '"0,550 1150,550 1150,1250', '"0,550 160000,550 1150,1250', 3, "points", "reaches 160 m out"),
    ("zones.csv", '"0,550 1150,550 1150,1250 0,1250"', '"0,540 1150,540 1150,1250 0,1250"', 3, "points", "same layer"),
    ("zones.csv", '"0,550 1150,550 1150,1250 0,1250"', '"0,0 1150,0 1150,550 0,550"', 3, "points", "same layer"),
    ("zones.csv", "Gas locker,gas,0", "Gas locker,gass,0", 3, "zone_key", "a key means one place"),
]


@pytest.mark.parametrize(("file", "old", "new", "row", "column", "words"), USE)
def test_what_can_be_read_and_not_used_is_told_once(file, old, new, row, column, words):
    found = refused(changed(file, (old, new)))

    assert [(fault.file, fault.row, fault.column) for fault in found.faults] == [(file, row, column)], found.faults
    assert words in found.faults[0].remedy
    assert not found.of_form


def test_a_kind_of_zone_that_no_type_names_is_told_once_a_model():
    tables = tables_of(INVENTED)
    tables["zones.csv"] = tables["zones.csv"].replace("Gas locker,gas,0", "Gas locker,gass,0")
    found = refused(tables).faults

    assert [(fault.column, fault.value) for fault in found] == [("kind", "gass")] * 3
    assert [f"model {model} names" in fault.remedy for model, fault in zip(("T36", "M50", "H62"), found, strict=True)]


def test_a_test_that_fails_into_a_retired_type_is_told():
    tables = tables_of(INVENTED)
    lines = tables["defect_types.csv"].split("\n")
    place = next(place for place, line in enumerate(lines) if line.startswith("GAS-04,"))
    cells = lines[place].rsplit(",", 3)
    assert cells[1] == "no"
    lines[place] = ",".join([cells[0], "yes", *cells[2:]])
    tables["defect_types.csv"] = "\n".join(lines)

    found = refused(tables).faults

    assert {(fault.file, fault.column, fault.value) for fault in found} == {("tests.csv", "defect_on_fail", "GAS-04")}
    assert all("is retired" in fault.remedy for fault in found)


def box(x0, y0, x1, y1):
    return ((x0, y0), (x1, y0), (x1, y1), (x0, y1))


def test_boxes_overlap_as_their_intervals_do():
    """Upright boxes have an area in common exactly where their intervals on both axes do (elementary geometry)."""
    chance = random.Random(7)
    met = 0
    for _ in range(2000):
        (a, b), (c, d), (e, f), (g, h) = (sorted(chance.sample(range(12), 2)) for _ in range(4))
        expected = max(a, e) < min(b, f) and max(c, g) < min(d, h)
        met += expected
        one, other = box(a, c, b, d), box(e, g, f, h)
        for first, second in ((one, other), (one[::-1], other), (one, other[2:] + other[:2])):
            assert overlap(first, second) is expected, (one, other)
    assert 300 < met < 1700


@pytest.mark.parametrize(
    ("other", "expected"),
    [
        (((4, 1), (6, 1), (6, 2), (4, 2)), False),  # in the mouth of the U, touching nothing
        (((2, 1), (8, 1), (8, 9), (2, 9)), False),  # fills the mouth: shared edges are no area
        (((3, -2), (4, -2), (4, 3)), True),  # a corner through the floor
        (((0, 0), (10, 0), (10, 9), (8, 9), (8, 1), (2, 1), (2, 9), (0, 9)), True),  # the same outline again
        (((-1, -1), (11, -1), (11, 10), (-1, 10)), True),  # all round it
    ],
)
def test_a_zone_round_a_corner_overlaps_only_where_it_has_an_area(other, expected):
    u = ((0, 0), (10, 0), (10, 9), (8, 9), (8, 1), (2, 1), (2, 9), (0, 9))

    assert overlap(u, other) is expected
    assert overlap(other, u) is expected


ODD_CODES = {
    "a station": ("stations.csv", "id", "S10", "-10"),
    "a zone's key": ("zones.csv", "zone_key", "front.gas", ".gas"),
    "a zone's id": ("zones.csv", "zone_id", "T36-01", "_T36-01"),
    "a type": ("defect_types.csv", "code", "PAN-05", "-05"),
    "a test": ("tests.csv", "id", "G1", "-1"),
    "a view": ("plant.toml", "view.id", "front", "-front"),
    "a shift": ("plant.toml", "shift.id", "early", "_early"),
    "a station as all of them": ("stations.csv", "id", "S10", "line"),
}


def renamed(code, other):
    """Return the invented plant's tables with a code that is another wherever it stands."""
    whole = re.compile(rf"(?<![\w.-]){re.escape(code)}(?![\w.-])")
    return {name: whole.sub(other, text) for name, text in tables_of(INVENTED).items()}


@pytest.mark.parametrize(("file", "column", "code", "odd"), ODD_CODES.values(), ids=ODD_CODES)
def test_a_code_that_reads_as_something_else_is_told_once_for_each_row(file, column, code, odd):
    tables = renamed(code, odd)
    faults = [fault for fault in refused(tables).faults if fault.value == odd]

    assert faults
    assert {(one.file, one.column) for one in faults} == {(file, column)}
    assert all("take another code" in one.remedy or "begins with" in one.remedy for one in faults)
    assert all(one.row for one in faults)
    assert plant_from_tables(tables).models  # what a record was made under still opens


def test_a_test_may_be_called_what_no_test_is_told_from():
    """`line` is the end points together where stations are named, and nothing where tests are."""
    assert "line" in checked_plant(renamed("G1", "line")).tests


def test_what_a_plant_has_in_force_under_an_odd_code_does_not_bar_its_next_tables():
    before = renamed("front", "-front")
    after = {**before, "stations.csv": before["stations.csv"].replace("Final", "Last")}

    assert checked_plant(after, before).views
    with pytest.raises(PlantFaults):
        checked_plant(after)
