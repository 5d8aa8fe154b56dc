"""Sheets of labels: the units asked for, each once, on the sheets that they need; what cannot be is told."""

import pytest

from qc.reports.units.labels import SIZES, label_sheets
from qc.store.reading.numbered import NumberedUnit
from tests.web.pages.reading import read
from tests.web.plant_server import UNIT


def labels(answer):
    """Return the chassis numbers of a page's labels in order, and how many sheets there are."""
    page = read(answer)
    squares = [one.attrs["aria-label"].removeprefix("QR code of ") for one in page.all("div", class_="square")]
    return squares, len(page.all("div", class_="label-sheet"))


def test_a_unit_has_one_label_by_any_of_its_numbers(lived):
    page = lived.server.page("inspector")
    for number in (UNIT, UNIT.lower(), "PC7130001", "30001"):
        assert labels(page.get(f"/labels?unit={number}")) == ([UNIT], 1)
    assert f"/labels?unit={UNIT}" in page.get(f"/units/{UNIT}").text


def test_a_range_has_each_of_its_units_once_in_order(lived):
    page = lived.server.page("planner")
    own = [lived.ids[name] for name in ("released", "waiting", "critical")]

    assert labels(page.get("/labels?first=PC7130001&last=PC7130003")) == (own, 1)
    assert labels(page.get("/labels?first=PC7130002")) == ([own[1]], 1)
    assert labels(page.get("/labels?from_day=2026-03-02&to_day=2026-03-02")) == ([*own, lived.ids["planned"]], 1)


def test_a_cancelled_unit_is_left_out_of_a_range_and_told(lived):
    page, unit = lived.server.page("planner"), lived.ids["waiting"]
    page.post(f"/units/{unit}/cancel", csrf_token=page.form_token(f"/units/{unit}"), reason="no longer ordered")
    answer = page.get("/labels?first=PC7130001&last=PC7130003")

    assert unit not in labels(answer)[0]
    assert "1 cancelled unit left out" in answer.text
    assert labels(page.get(f"/labels?unit={unit}")) == ([unit], 1)


@pytest.mark.parametrize(("size", "many", "used", "sheets"), [
    ("a4-3x8", 24, 0, 1), ("a4-3x8", 25, 0, 2), ("a4-3x8", 1, 23, 1), ("a4-3x8", 2, 23, 2), ("roll-62", 5, 0, 5),
    ("a4-3x7", 0, 0, 0),
])  # fmt: skip
def test_a_sheet_is_filled_before_the_next_begins(size, many, used, sheets):
    units = [NumberedUnit(f"0PC7T3600TW0{30001 + n}", f"PC71{30001 + n}", "T36", "planned") for n in range(many)]
    made = label_sheets(units, SIZES[size], used)

    assert len(made) == sheets
    assert [one.chassis for sheet in made for one in sheet if one] == [unit.chassis for unit in units]
    assert [one for sheet in made for one in sheet][:used] == [None] * used


@pytest.mark.parametrize(("query", "words"), [
    ("unit=99999", "No unit has a number ending in"),
    ("unit=0", "No unit has a number ending in"),
    ("first=PC7130003&last=PC7130001", "is no range"),
    ("first=PC7&last=PC7130001", "is no range"),
    ("first=PC7190001&last=PC7199999", "No unit is planned there"),
    ("from_day=9999-99-99", "is no day"),
    ("from_day=2026-03-03&to_day=2026-03-01", "is after"),
    ("unit=30001&first=PC7130001", "Ask in one way"),
    ("unit=30001&size=a0", "There is no size"),
    ("unit=30001&used=24", "0 to 23"),
    ("unit=30001&used=-1", "0 to 23"),
    ("unit=30001&used=1e9", "0 to 23"),
])  # fmt: skip
def test_what_cannot_be_is_told_with_what_would_do(server, lived, query, words):
    answer = lived.server.page("planner").get(f"/labels?{query}")

    assert answer.status_code == 400
    assert words in answer.text
    assert labels(answer)[1] == 0


def test_a_stranger_is_sent_to_the_sign_in_and_no_other_method_is_taken(server):
    assert server.client().get("/labels").status_code == 303
    page = server.page("dispatch")
    assert "Which labels" in page.get("/labels").text
    assert page.post("/labels", csrf_token=page.form_token("/units")).status_code == 405
