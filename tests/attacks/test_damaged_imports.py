"""Files that somebody hands in, damaged in every way that chance finds: refused in words, or taken for what they are.

A phone's export, the plant's tables, and a build plan as CSV or XLSX; each begins as one that is right.
"""

import base64
import copy
import csv
import io

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from qc.assets import folder
from qc.cli.record import _photos, _pushed
from qc.domain.tables.plant_tables import PlantFaults, plant_from_tables, tables_of
from qc.domain.words.problems import Refused
from qc.store.folder.sheets import Sheet, UnreadableSheet, read_sheet
from qc.web.json_door import read_object_with_parts
from tests.attacks.conftest import PHOTO
from tests.web.plant_server import UNIT, sha, written_as

SHORT, LONG = 60, 3000
QUIET = {"suppress_health_check": list(HealthCheck), "phases": (Phase.generate, Phase.shrink), "deadline": None}
ODD_TEXT = st.sampled_from(
    ["", " ", "\x00", "\ufeff", "﻿x", "é" * 2000, "=1+1", "-1", "1e400", "NaN", "∞", "9" * 40, "2026-02-30",
     "9999-12-31", "0001-01-01", '"', "a;b;;c", "all;all", "../x", "\u202e", "x\ny", "\r", "yes no", "0,0", "0,0 1",
     "1,1 1,1 1,1"]
)  # fmt: skip
ODD = st.one_of(
    ODD_TEXT,
    st.sampled_from([None, True, -1, 0, 2**53, 2**70, 1.5, [], [[]], {}, {"a": 1}, [None], "AA==", "%%%"]),
)


def damaged(data, raw: bytes) -> bytes:
    """Return bytes cut, doubled, changed, or with others between."""
    how = data.draw(st.sampled_from(["cut", "twice", "flip", "put", "drop", "mark"]), label="how")
    at = data.draw(st.integers(0, max(0, len(raw) - 1)), label="at")
    if how == "cut":
        return raw[:at]
    if how == "twice":
        return raw + raw[at:]
    if how == "flip":
        return raw[:at] + bytes([raw[at] ^ data.draw(st.integers(1, 255), label="bits")]) + raw[at + 1 :]
    if how == "put":
        return raw[:at] + data.draw(st.binary(min_size=1, max_size=8), label="put") + raw[at:]
    if how == "drop":
        return raw[:at] + raw[at + data.draw(st.integers(1, 2000), label="many") :]
    return b"\xff\xfe" + raw


def places_in(value, path=()):
    parts = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [path, *(place for key, part in parts for place in places_in(part, (*path, key)))]


def exchanged(value, path, odd):
    if not path:
        return odd
    changed = copy.copy(value)
    changed[path[0]] = exchanged(value[path[0]], path[1:], odd)
    return changed


# A phone's export


@pytest.fixture(scope="module")
def export(attacked):
    """What a phone exports: operations of a look with their runs, a photo and a capture."""
    ivo = attacked.phones["inspector"]
    begun = ivo.operation("inspection_begun", UNIT, {"point": "D01", "purpose": "presentation", "light": "wet"})
    defect = {"point": "D01", "zone": "front.panel", "type": "PAN-03", "severity": "minor", "inspection": begun["id"]}
    recorded = ivo.operation("defect_recorded", UNIT, {**defect, "note": "x", "mark": [1, 2]})
    named = {"defect": recorded["id"], "sha256": sha(PHOTO), "bytes": len(PHOTO)}
    frame = ivo.frame([begun, recorded, ivo.operation("photo_attached", UNIT, named)])
    taken = {name: frame[name] for name in ("device", "install_epoch", "sent_ms", "runs")}
    photo = {"sha256": sha(PHOTO), "data": base64.b64encode(PHOTO).decode()}
    return {**taken, "photos": [photo], "captures": [photo], "operations": frame["operations"]}


def imported(attacked, raw):
    """Take a file in as `qc import` does; return whether it was refused as a whole."""
    try:
        rest, parts = read_object_with_parts(raw, 100_000_000, "operations")
        for name in ("photos", "captures"):
            if not isinstance(rest.get(name, []), list):
                return True
        verdicts = _pushed(attacked.house, rest, parts)
        _photos(attacked.house.photos, rest)
    except Refused as refused:
        return bool(refused.problem.message)
    assert len(verdicts) == len(parts)
    return False


def import_damaged(attacked, export, examples):
    refused = []

    @settings(max_examples=examples, database=None, **QUIET)
    @given(data=st.data())
    def run(data):
        if data.draw(st.booleans(), label="bytes"):
            raw = damaged(data, written_as(export))
        else:
            path = data.draw(st.sampled_from(places_in(export)), label="path")
            raw = written_as(exchanged(export, path, data.draw(ODD, label="odd")))
        refused.append(imported(attacked, raw))

    run()
    assert 0 < sum(refused) < len(refused), "some are refused as a whole and some are not"
    page = attacked.page("quality_manager")
    opened = {one: page.get(one).status_code for one in (f"/units/{UNIT}", "/set-aside", "/review", "/backlog")}
    assert set(opened.values()) == {200}, opened


def test_a_damaged_export_is_refused_or_taken_and_ends_no_page(attacked, export):
    import_damaged(attacked, export, SHORT)


@pytest.mark.long
def test_a_damaged_export_at_length(attacked, export):
    import_damaged(attacked, export, LONG)


# The plant's tables

TABLES = tables_of(folder("demo_data") / "plant")


def read_damaged_tables(examples):
    told = []

    @settings(max_examples=examples, database=None, **QUIET)
    @given(data=st.data())
    def run(data):
        name = data.draw(st.sampled_from(sorted(TABLES)), label="table")
        if name.endswith(".csv") and data.draw(st.booleans(), label="cell"):
            rows = list(csv.reader(io.StringIO(TABLES[name])))
            row = data.draw(st.sampled_from(rows), label="row")
            row[data.draw(st.integers(0, len(row) - 1), label="column")] = data.draw(ODD_TEXT, label="odd")
            out = io.StringIO()
            csv.writer(out).writerows(rows)
            text = out.getvalue()
        else:
            text = damaged(data, TABLES[name].encode()).decode("utf-8", "replace")
        try:
            plant_from_tables({**TABLES, name: text})
        except PlantFaults as faults:
            told.append(str(faults))
            assert name in told[-1] or "plant.toml" in told[-1] or ".csv" in told[-1]

    run()
    assert told, "some damage is refused"


def test_damaged_tables_of_a_plant_are_told_or_are_a_plant():
    read_damaged_tables(SHORT)


@pytest.mark.long
def test_damaged_tables_of_a_plant_at_length():
    read_damaged_tables(LONG)


# A build plan


def workbook():
    import xlsxwriter

    out = io.BytesIO()
    with xlsxwriter.Workbook(out, {"in_memory": True}) as book:
        sheet = book.add_worksheet("plan")
        for row, cells in enumerate((("chassis", "model", "day"), (UNIT, "T36", "2026-03-02"), ("x", 12.5, True))):
            sheet.write_row(row, 0, cells)
        sheet.write_formula(3, 0, "=1+1", value=2)
    return out.getvalue()


def read_damaged_sheets(examples):
    made = {"csv": f"chassis;model;day\n{UNIT};T36;2026-03-02\n;;\n".encode(), "xlsx": workbook()}
    assert all(isinstance(read_sheet(raw), Sheet) for raw in made.values())
    told = []

    @settings(max_examples=examples * 2, database=None, **QUIET)
    @given(data=st.data())
    def run(data):
        raw = damaged(data, made[data.draw(st.sampled_from(sorted(made)), label="kind")])
        try:
            read_sheet(raw)
        except UnreadableSheet as why:
            told.append(str(why))

    run()
    assert all(told)
    assert told, "some damage is refused"


def test_a_damaged_plan_is_read_or_refused_in_words():
    read_damaged_sheets(SHORT)


@pytest.mark.long
def test_a_damaged_plan_at_length():
    read_damaged_sheets(LONG)
