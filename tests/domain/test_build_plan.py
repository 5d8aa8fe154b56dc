"""A build plan's rows held against the plant and the record: what each would do, and what is told of a wrong one.

Numbers follow the invented plant's pattern (demo_data/plant/plant.toml); every expected outcome is worked out by hand.
"""

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.domain.handed.build_plan import PlannedUnit, UnusablePlan, columns_of, plan_lines
from qc.domain.plant.plan_form import COLUMNS, PlanForm, is_day_format
from tests.store.record_kit import PLANT

TODAY = date(2026, 3, 1)
U1, U2 = "0PC7T3600TW030001", "0PC7M5000TW030002"
HEADING = ("chassis", "planned day", "options", "build sheet")


def known(chassis=U1, shop="PC7130001", day="2026-03-02", options=("awning",), sheet=None, released=False):
    return PlannedUnit(
        chassis=chassis, shop_number=shop, options=options, build_sheet=sheet, planned_day=day, is_released=released
    )


def lines(*rows, heading=HEADING, plant=PLANT, planned=()):
    columns = columns_of(heading, plant)
    told = {unit.chassis: unit for unit in planned}
    return plan_lines(list(enumerate(rows, start=2)), columns, plant, told, TODAY)


def one(*cells, **given):
    (line,) = lines(cells, **given)
    return line


def test_a_new_unit_is_planned_with_what_its_number_says():
    line = one(U1, "2026-03-02", "awning; heater", "B-7")

    assert (line.outcome, line.kind, line.unit, line.row) == ("new", "unit_planned", U1, 2)
    assert line.body == {
        "model": "T36", "shop_number": "PC7130001", "sequence": 30001, "planned_day": "2026-03-02",
        "options": ["awning", "heater"], "build_sheet": "B-7",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("heading", "cells"),
    [
        (("Chassis-No", "Day"), (U2, "2026-03-02")),
        (("shop_number", "build day"), ("PC7230002", "2026-03-02")),
        (("MODEL", "Sequence", "planned for"), ("M50", "30002", "2026-03-02")),
        (("model", "sequence", "planned day"), ("mossgill 50", "30002", "2026-03-02")),
        (("chassis number", "day"), (" 0pc7 m500 0tw0-30002 ", "2026-03-02")),
    ],
)
def test_a_unit_is_told_by_any_of_its_numbers(heading, cells):
    line = one(*cells, heading=heading)

    assert (line.unit, line.outcome) == (U2, "new"), line
    assert (line.body["shop_number"], line.body["model"]) == ("PC7230002", "M50")


def test_the_plants_own_names_and_days_are_known():
    own = replace(PLANT, plan=PlanForm({"chassis": "Frame no", "planned_day": "Due"}, "DD.MM.YYYY"))

    assert one(U1, "2.3.2026", heading=("frame NO", "due"), plant=own).body["planned_day"] == "2026-03-02"
    assert one(U1, "2026-03-02", heading=("Frame no", "Due"), plant=own).outcome == "new"
    assert "DD.MM.YYYY" in one(U1, "3/2/2026", heading=("Frame no", "Due"), plant=own).words


def test_what_is_planned_so_already_does_nothing():
    line = one(U1, "2026-03-02", "awning", planned=[known()])

    assert (line.outcome, line.kind, dict(line.body)) == ("same", "", {})


def test_a_column_that_the_file_has_not_changes_nothing():
    assert one(U1, "2026-03-02", heading=("chassis", "day"), planned=[known(sheet="B-7")]).outcome == "same"


def test_a_change_is_told_from_what_to_what():
    line = one(U1, "2026-03-09", "", "B-7", planned=[known()])

    assert line.kind == "plan_changed"
    assert line.body == {"changes": {"planned_day": "2026-03-09", "options": [], "build_sheet": "B-7"}}
    assert line.words == "planned day 2026-03-02 → 2026-03-09; options awning → none; build sheet none → B-7"


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        (("0PC7T3600TW03000I", "2026-03-02"), "never holds I"),
        (("0PC7T3600TW0300", "2026-03-02"), "17 characters, this has 15"),
        (("0PC7X9900TW030001", "2026-03-02"), "no model of this plant; it has T36, M50, H62"),
        (("0PD7T3600TW030001", "2026-03-02"), "0PC7T3600TW030001"),
        (("0PC7T3600TW0000AB", "2026-03-02"), "'000AB' is no sequence"),
        (("0PC7T3600TW000000", "2026-03-02"), "sequence must be 1 to 99999"),
        ((U1, "02.03.2026"), "'02.03.2026' is no day; write it as YYYY-MM-DD, or let [plan] in plant.toml tell"),
        ((U1, "2026/03/02"), "'2026/03/02' is no day; write it as YYYY-MM-DD, or let [plan] in plant.toml tell"),
        ((U1, ""), "'' is no day; write it as YYYY-MM-DD"),
        ((U1, "2026-02-30"), "'2026-02-30' is no day; write it as YYYY-MM-DD"),
        ((U1, "9999-12-31"), "9999-12-31 is outside"),
        ((U1, "2026-03-02", "x" * 50), "options"),
        ((U1, "2026-03-02", "", "two words"), "build sheet"),
        ((), "no model of this plant"),
    ],
)
def test_a_wrong_row_tells_the_value_and_what_would_do(cells, words):
    line = one(*cells)

    assert (line.outcome, line.kind) == ("wrong", "")
    assert words in line.words


def test_only_a_day_in_another_form_is_told_that_the_plant_can_name_its_form():
    assert [one(U1, day).words.endswith("(day_format)") for day in ("02.03.2026", "2026-02-30", "", "soon")] == [
        *(True, False, False, False)
    ]


def test_a_unit_stands_once_in_a_plan():
    first, second = lines((U1, "2026-03-02"), (U1, "2026-03-03"))

    assert (first.outcome, second.outcome) == ("new", "wrong")
    assert "row 2 names" in second.words


def test_a_shop_number_that_another_unit_has_is_wrong():
    other = known(chassis="0PC7T3600SW030001")
    line = one(U1, "2026-03-02", planned=[other])

    assert line.outcome == "wrong"
    assert other.chassis in line.words


def test_a_released_unit_keeps_its_plan():
    released = known(released=True)

    assert one(U1, "2026-03-02", "awning", planned=[released]).outcome == "same"
    assert "is released" in one(U1, "2026-03-09", "awning", planned=[released]).words


@pytest.mark.parametrize(
    ("heading", "words"),
    [
        (("frame", "day"), "no column tells a chassis number, a shop number or a model with a sequence"),
        (("chassis", "when"), "no column tells the planned day; the heading has 'chassis', 'when'"),
        (("chassis", "day", "planned day"), "two columns of the file mean planned day"),
        ((), "the heading has nothing"),
    ],
)
def test_a_heading_that_says_too_little_is_told(heading, words):
    with pytest.raises(UnusablePlan, match=words):
        columns_of(heading, PLANT)


def test_columns_that_no_plan_has_are_named():
    assert columns_of(("chassis", "Colour", "day", ""), PLANT).left_out == ("Colour",)


@given(st.lists(st.lists(st.text(max_size=30), max_size=6), max_size=6))
def test_any_cells_end_in_an_outcome_in_words(rows):
    for line in lines(*map(tuple, rows), heading=("chassis", "model", "sequence", "day", "options", "build sheet")):
        assert line.outcome == "wrong"
        assert line.words


@pytest.mark.parametrize("told", ["DD.MM.YYYY", "MM/DD/YYYY", "YYYY-MM-DD", "DD MM YYYY"])
def test_a_form_of_day_names_each_part_once(told):
    assert is_day_format(told)
    text = told.replace("DD", "02").replace("MM", "03").replace("YYYY", "2026")
    assert PlanForm({}, told).day_of(text) == date(2026, 3, 2)


@pytest.mark.parametrize("told", ["", "DD.MM", "DD.DD.YYYY", "D.M.Y", "DD.MM/YYYY", "%d.%m.%Y", "(DD.MM.YYYY"])
def test_another_form_of_day_is_none(told):
    assert not is_day_format(told)


def test_every_column_can_have_the_plants_own_name():
    own = replace(PLANT, plan=PlanForm({column: f"Our {column}" for column in COLUMNS}))

    assert sorted(columns_of([f"our {column.upper()}" for column in COLUMNS], own).at) == sorted(COLUMNS)
