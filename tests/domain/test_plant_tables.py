"""A plant's tables are taken whole or refused with every fault at once, each with its place and a remedy."""

import csv
import io
import re
from itertools import chain
from pathlib import Path

import pytest

from qc.assets import folder
from qc.domain.tables import plant_parts
from qc.domain.tables.plant_tables import (
    FILES,
    OPTIONAL_FILES,
    PlantFaults,
    checked_plant,
    plant_from_tables,
    read_plant,
    revision_of,
    tables_of,
)

INVENTED = folder("demo_data") / "plant"
EVERY_FILE = (*FILES, *OPTIONAL_FILES)


EARLY_SAT = 'id = "early"\nother_hours = { sat = ["06:00", "10:00"] }'
EARLY_FRI = 'id = "early"\nother_hours = { fri = "06:00" }'
SHUT = "[[shutdown]]\nname = 'Rebuild'\nfirst = "
SHUT_AT = f"{SHUT}2026-08-03\nlast = 2026-08-03\nstations = "


def changed(file, *swaps):
    """The invented plant's tables with texts of one file swapped; each text must stand there."""
    tables = tables_of(INVENTED)
    for old, new in swaps:
        assert old in tables[file], old
        tables[file] = tables[file].replace(old, new, 1)
    return tables


def faults_of(tables):
    with pytest.raises(PlantFaults) as refused:
        plant_from_tables(tables)
    return refused.value.faults


def places(tables):
    return [(fault.file, fault.row, fault.column, fault.value) for fault in faults_of(tables)]


def test_the_invented_plant_has_no_fault_and_its_counts():
    plant = read_plant(INVENTED)

    assert (len(plant.models), len(plant.stations), len(plant.types), len(plant.tests)) == (3, 28, 69, 30)
    assert [len(plant.zones_of(model)) for model in plant.models] == [58, 61, 62]
    assert plant.end_points() == ("T01", "T02", "D01")
    assert plant.demo


def test_a_plant_may_say_what_share_its_vital_few_make():
    said = changed("plant.toml", ("[calendar]", "[review]\nvital_few_percent = 70\n\n[calendar]"))
    beyond = changed("plant.toml", ("[calendar]", "[review]\nvital_few_percent = 101\n\n[calendar]"))
    other = changed("plant.toml", ("[calendar]", "[review]\nvital = 70\n\n[calendar]"))

    assert read_plant(INVENTED).vital_few == 0.8
    assert plant_from_tables(said).vital_few == 0.7
    assert [fault.column for fault in faults_of(beyond)] == ["review.vital_few_percent"]
    assert [(fault.column, fault.value) for fault in faults_of(other)] == [("review.vital_few_percent", "vital")]


def test_every_reminder_and_the_standing_line_are_there():
    plant = read_plant(INVENTED)

    assert "".join(sorted(plant.cautions)) == "BATCHMELEGASHGTHOTLFTLONMOVPRSRLTSUNUNDWHL"
    assert plant.standing_line.startswith("Follow your site's rules and the law where you are.")
    assert {test.caution for test in plant.tests.values() if test.id[0] in "GM"} == {"GAS", "ELE"}


def test_a_repaired_group_voids_the_tests_tied_to_it():
    plant = read_plant(INVENTED)

    voided = {group: [t.id for t in plant.tests.values() if group in t.voided_by] for group in ("GAS", "MNS", "RLT")}

    assert voided == {"GAS": ["G1", "G2", "G3", "G4"], "MNS": ["M1", "M2", "M3", "M4", "M5", "M6"], "RLT": ["R1", "R2"]}


def test_tables_make_the_same_plant_as_their_folder_and_the_revision_follows_the_text():
    tables = tables_of(INVENTED)

    assert plant_from_tables(tables).revision == read_plant(INVENTED).revision == revision_of(tables)
    assert revision_of(changed("plant.toml", ("Quernby Works", "Quernby Yard"))) != revision_of(tables)


def test_a_plant_without_outlines_is_read_and_one_with_them_is_another_revision():
    tables = tables_of(INVENTED)
    without = {name: text for name, text in tables.items() if name != "outlines.csv"}

    assert plant_from_tables(without).outlines == ()
    assert {one.model for one in plant_from_tables(tables).outlines} == set(plant_from_tables(tables).models)
    assert revision_of(without) != revision_of(tables)


def test_every_view_of_every_model_has_the_body_that_its_zones_lie_on():
    plant = read_plant(INVENTED)
    drawn = {(one.model, one.view) for one in plant.outlines if one.part == "body"}

    assert drawn == {(zone.model, zone.view) for zone in plant.zones.values()}


def test_line_ends_and_a_byte_order_mark_change_nothing(tmp_path):
    for name in tables_of(INVENTED):
        text = (INVENTED / name).read_text(encoding="utf-8")
        (tmp_path / name).write_bytes(b"\xef\xbb\xbf" + text.replace("\n", "\r\n").encode())

    assert read_plant(tmp_path).revision == read_plant(INVENTED).revision


def test_all_faults_of_all_files_are_told_at_once():
    tables = changed("stations.csv", ("FU1,Furniture shop,feeder,furniture,4", "FU1,,fedder,furniture,-4"))
    tables["tests.csv"] = changed("tests.csv", ("M5,RCD trip time", "M4,RCD trip time"))["tests.csv"]
    tables["plant.toml"] = changed("plant.toml", ("Europe/London", "Europe/Pellowby"))["plant.toml"]

    assert places(tables) == [
        ("plant.toml", 0, "plant.time_zone", "Europe/Pellowby"),
        ("stations.csv", 4, "name", ""),
        ("stations.csv", 4, "kind", "fedder"),
        ("stations.csv", 4, "lead_days", "-4"),
        ("tests.csv", 10, "id", "M4"),
    ]


@pytest.mark.parametrize(
    ("file", "old", "new", "row", "column", "words"),
    [
        ("defect_types.csv", "hole;crooked", "hole;Crooked", 5, "words", "small letters"),
        ("defect_types.csv", "hole;crooked", "hole;hole", 5, "words", "twice"),
        # outlines of the drawings
        ("outlines.csv", "T36,front,roof", "T37,front,roof", 9, "model", "no model"),
        ("outlines.csv", "T36,front,roof", "T36,fron,roof", 9, "view", "no view"),
        ("outlines.csv", "T36,front,roof", "T36,front,rood", 9, "part", "not one of body"),
        ("outlines.csv", '"1550,110 1660,110"', '"1550,110"', 7, "points", "centre of the wheel"),
        ("outlines.csv", '"0,2300 2300,2300",', '"0,2300",', 9, "points", "two ends"),
        ("outlines.csv", '"0,2300 2300,2300",', '"0,2300 2300,2300",left', 9, "swing", "for a door"),
        # keys met twice
        ("stations.csv", "FL1,Floor", "CH1,Floor", 3, "id", "twice"),
        ("defect_types.csv", "PAN-02,PAN", "PAN-01,PAN", 3, "code", "twice"),
        ("zones.csv", "T36-02,T36,front,front.gas", "T36-02,T36,front,front.coupling", 3, "zone_key", "twice"),
        ("zones.csv", "T36-02,", "T36-01,", 3, "zone_id", "twice"),
        ("tests.csv", "G2,", "G1,", 3, "id", "twice"),
        ("cautions.csv", "ELE,", "GAS,", 3, "code", "twice"),
        ("plant.toml", 'code = "M50"', 'code = "T36"', 2, "model.code", "twice"),
        ("plant.toml", 'digit = "2"', 'digit = "1"', 0, "model.digit", "stands for T36 and for M50"),
        # codes that lead nowhere
        ("defect_types.csv", "120,D01,RP1", "120,D09,RP1", 2, "first_detect_point", "no station"),
        ("defect_types.csv", "S07;RP2;S10;HND", "S07;RP9;S10;HND", 4, "usual_origins", "no station"),
        ("defect_types.csv", "RP1,panel;roof,all", "RP1,panel;rouf,all", 2, "zone_kinds", "no kind of zone"),
        ("defect_types.csv", "drying,M50", "drying,M51", 63, "models", "no model"),
        ("defect_types.csv", "drying,M50", "drying,all", 63, "zone_kinds", "has no zone on model T36"),
        ("tests.csv", "T01,GAS-01", "T01,GAS-99", 2, "defect_on_fail", "no defect type"),
        ("tests.csv", "T01,GAS-01", "T09,GAS-01", 2, "point", "no station"),
        ("tests.csv", "GAS;APP", "GAZ;APP", 2, "voided_by", "no group of defect types"),
        # what a reading can be, and whether its failure is a hazard
        ("tests.csv", "GAS;APP,0,150,,yes", "GAS;APP,0,9,,yes", 2, "most", "below the limit 10"),
        ("tests.csv", "GAS;APP,0,150,,yes", "GAS;APP,11,150,,yes", 2, "least", "above the limit 10"),
        ("tests.csv", "GAS;APP,0,150,,yes", "GAS;APP,150,50,,yes", 2, "most", "below the least"),
        ("tests.csv", "GAS;APP,0,150,,yes", "GAS;APP,nil,150,,yes", 2, "least", "no number"),
        ("tests.csv", "GAS;APP,0,150,,yes", "GAS;APP,0,150,over,yes", 2, "beyond", "may only hold above, below"),
        ("tests.csv", "GAS;APP,,,,yes", "GAS;APP,0,,,yes", 3, "least", "leave it empty"),
        ("tests.csv", "GAS;APP,0,150,,yes", "GAS;APP,0,150,,sure", 2, "hazard", "not one of no, yes"),
        ("tests.csv", "T01,GAS-01,measure", "T01,GAS-02,measure", 2, "hazard", "does not stop the unit"),
        ("tests.csv", "T01,GAS-01,measure", "T01,,measure", 2, "defect_on_fail", "is empty"),
        ("tests.csv", "all,GAS,licensed", "all,GAZ,licensed", 2, "caution", "no caution"),
        ("zones.csv", '1250 0,1250",2,GAS', '1250 0,1250",2,GAZ', 3, "caution", "no caution"),
        ("zones.csv", "T36-01,T36,front", "T36-01,T63,front", 2, "model", "no model"),
        ("zones.csv", "T36-01,T36,front", "T36-01,T36,fronk", 2, "view", "no view"),
        ("plant.toml", '["S01", "S02"]', '["S01", "S20"]', 1, "links.flow", "no station"),
        ("plant.toml", '["D01", "R01"]', '["D01"]', 3, "links.rework", "no pair"),
        # outlines
        ("zones.csv", '"0,0 2300,0 2300,550 0,550",1,', '"0,0 2300,0",1,', 2, "points", "at least 3"),
        ("zones.csv", '"0,0 2300,0 2300,550 0,550",1,', '"0,0 2300,550 2300,0 0,550",1,', 2, "points", "crosses"),
        ("zones.csv", '"0,0 2300,0 2300,550 0,550",1,', '"0,0 2300,0 1100,0",1,', 2, "points", "no area"),
        ("zones.csv", '"0,0 2300,0 2300,550 0,550",1,', '"0,0 2300,0 2300,550 0,0",1,', 2, "points", "twice"),
        ("zones.csv", '"0,0 2300,0 2300,550 0,550",1,', '"0;0 2300;0 9;9",1,', 2, "points", "no outline"),
        (
            "zones.csv",
            "H62-01,H62,front,front.coupling",
            "H62-01,H62,rear,front.coupling",
            121,
            "zone_key",
            "one place",
        ),
        # numbers, limits, words
        ("tests.csv", "measure,Mohm,1.0,,", 'measure,Mohm,"1,0",,', 7, "lower", "no number"),
        ("tests.csv", "measure,Mohm,1.0,,", "measure,Mohm,nan,,", 7, "lower", "no number"),
        ("tests.csv", "measure,V,13.4,14.6", "measure,V,14.6,13.4", 12, "upper", "below the lower limit"),
        ("tests.csv", "measure,A,8,,", "measure,A,,,", 13, "upper", "needs a limit"),
        ("tests.csv", "measure,A,8,,", "measure,,8,,", 13, "unit", "needs its unit"),
        ("tests.csv", "GAS-01,pass,,,,", "GAS-01,pass,,3,,", 3, "kind", "has limits"),
        ("tests.csv", "EN 437,M", "EN 437,X", 4, "basis", "is not one of S, M, P"),
        ("defect_types.csv", "critical,yes", "critical,no", 16, "stop_unit", "must be yes"),
        ("defect_types.csv", "no,required,120", "no,sometimes,120", 2, "photo_rule", "asked, required"),
        ("stations.csv", "chassis,4,C-CH", "chassis,four,C-CH", 2, "lead_days", "whole number"),
        ("plant.toml", "length_mm = 3600", 'length_mm = "long"', 1, "model.length_mm", "whole number"),
        ("plant.toml", 'code = "T36"', 'code = "TI6"', 1, "model.code", "I, O and Q are not used"),
        ("plant.toml", 'world_code = "0PC"', 'world_code = "OPC"', 0, "chassis.world_code", "I, O and Q"),
        ("plant.toml", 'start = "06:00"', 'start = "6am"', 1, "shift.start", "HH:MM"),
        ("plant.toml", 'end = "14:00"', 'end = "06:00"', 1, "shift.end", "must have a length"),
        ("plant.toml", '"thu", "fri"]', '"thu", "fryday"]', 1, "shift.days", "must be a list of mon"),
        ("plant.toml", "2026-04-03,", '"Good Friday",', 1, "calendar.holidays", "no day"),
        ("plant.toml", 'id = "early"', 'id = "early"\nbelongs_to = "end"', 1, "shift.belongs_to", "crosses midnight"),
        ("plant.toml", 'id = "early"', 'id = "early"\nbelongs_to = "mon"', 1, "shift.belongs_to", "begin, end"),
        (
            "plant.toml",
            'id = "early"',
            f"{EARLY_SAT}",
            1,
            "shift.other_hours",
            "names sat, on which the shift",
        ),
        ("plant.toml", 'id = "early"', f"{EARLY_FRI}", 1, "shift.other_hours", "no start and end for fri"),
        ("plant.toml", "[calendar]", f"{SHUT}2026-08-07\nlast = 2026-08-03\n[calendar]", 1, "shutdown.last", "before"),
        ("plant.toml", "[calendar]", f"{SHUT}2025-08-07\nlast = 2026-08-08\n[calendar]", 1, "shutdown.last", "end the"),
        ("plant.toml", "[calendar]", f'{SHUT}"May"\nlast = 2026-08-03\n[calendar]', 1, "shutdown.first", "no day"),
        ("plant.toml", "[calendar]", f"{SHUT_AT}['S99']\n[calendar]", 1, "shutdown.stations", "is no station"),
        ("plant.toml", "[calendar]", f"{SHUT_AT}[]\n[calendar]", 1, "shutdown.stations", "names no station"),
        ("plant.toml", "[calendar]", f"{SHUT_AT}'S07'\n[calendar]", 1, "shutdown.stations", "must be a list"),
        ("plant.toml", "demo = true", "demo = 1", 0, "plant.demo", "true or false"),
        ("plant.toml", "stop_phone = ", "stop_fone = ", 0, "plant.stop_phone", "is missing"),
        # what can hurt, what is final, what lies outside the line
        ("defect_types.csv", "gas,all,no,GAS", "gas,all,no,", 31, "caution", "or write none"),
        ("defect_types.csv", "gas,all,no,GAS", "gas,all,no,GAZ", 31, "caution", "no caution"),
        (
            "defect_types.csv",
            "gas,all,no,GAS",
            "gas,all,no,none",
            31,
            "caution",
            "test G2, which fails into it, carries GAS",
        ),
        ("cautions.csv", "ask,I smell no gas here", "ask,", 2, "before_photo", "write what a person confirms"),
        ("cautions.csv", "ask,I smell no gas here", "free,I smell no gas here", 2, "before_photo", "only where"),
        ("cautions.csv", "ask,I smell no gas here", ",", 2, "camera", "is empty"),
        ("cautions.csv", "ask,I smell no gas here,yes", "ask,I smell no gas here,", 2, "move_away", "is empty"),
        ("cautions.csv", "free,,no,,,begin;unit", "free,,no,,,start", 12, "shown", "may only hold begin, unit"),
        ("cautions.csv", "SUN,", "none,", 14, "code", "kept for types without"),
        ("stations.csv", 'sign-off",all,,,,yes,', 'sign-off",all,,,,,', 23, "final", "is empty"),
        (
            "stations.csv",
            'sign-off",all,,,,yes,',
            'sign-off",all,,,,no,',
            0,
            "final",
            "no inspection station of model T36",
        ),
        ("stations.csv", "where found,all,,,,,", "where found,all,,,,yes,", 24, "final", "this is rework"),
        ("stations.csv", "all,,,,,supplied", "all,,,,,", 26, "outside", "is empty"),
        ("stations.csv", "all,,,,,supplied", "all,,,,,bought", 26, "outside", "supplied, handled"),
        (
            "stations.csv",
            "where found,all,,,,,",
            "where found,all,,,,,handled",
            24,
            "outside",
            "for an external origin",
        ),
        ("zones.csv", '540 950,540",1,,plate', '540 950,540",1,,', 0, "holds", "plate in no zone of model T36"),
        ("zones.csv", '540 950,540",1,,plate', '540 950,540",1,,sign', 8, "holds", "plate, whole"),
        ("plant.toml", 'stop_who = "the lead"', 'stop_who = ""', 0, "plant.stop_who", "is empty"),
        # shape of the files
        ("stations.csv", "id,name,kind", "id,title,kind", 1, "name", "is missing"),
        ("tests.csv", "who,voided_by", "who,voided-by", 1, "voided_by", "is missing"),
        ("stations.csv", "Floor sandwich bond,", "Floor, sandwich bond,", 3, "", "cells"),
    ],
)
def test_a_fault_is_told_with_its_row_column_and_remedy(file, old, new, row, column, words):
    found = faults_of(changed(file, (old, new)))

    assert [(fault.file, fault.row, fault.column) for fault in found] == [(file, row, column)], found  # once, no echo
    assert words in found[0].remedy


def test_a_cycle_of_the_flow_is_told_with_its_stations():
    tables = changed("plant.toml", ('["D01", "X01"],', '["D01", "X01"], ["D01", "S11"],'))

    (fault,) = faults_of(tables)

    assert fault.column == "links.flow"
    assert set(fault.value.split(" > ")) == {"S11", "S12", "T01", "T02", "D01"}
    assert fault.value.split(" > ")[0] == fault.value.split(" > ")[-1]


def test_a_plant_without_not_yet_known_is_refused():
    tables = tables_of(INVENTED)
    lines = tables["stations.csv"].splitlines(keepends=True)
    tables["stations.csv"] = "".join(line for line in lines if not line.startswith("UNK,"))

    assert ("stations.csv", 0, "id", "UNK") in places(tables)


def test_a_key_that_is_missing_on_a_model_is_told_when_a_type_needs_it():
    tables = tables_of(INVENTED)
    lines = tables["zones.csv"].splitlines(keepends=True)
    tables["zones.csv"] = "".join(line for line in lines if "T36,unit,unit.whole" not in line)

    told = faults_of(tables)

    assert {(f.file, f.column, f.value) for f in told} == {("defect_types.csv", "zone_kinds", "whole")}
    assert all("no zone on model T36" in f.remedy for f in told)
    assert any("no zone on model T36" in f.remedy and "DOC-02" in f.remedy for f in told)


def test_text_that_looks_like_a_formula_stays_the_text_that_it_is():
    tables = changed("stations.csv", ("FL1,Floor sandwich bond", "FL1,=1+1|cmd"))

    assert plant_from_tables(tables).stations["FL1"].name == "=1+1|cmd"


def test_a_missing_file_and_a_wrong_encoding_are_both_told(tmp_path):
    for name in FILES:
        (tmp_path / name).write_bytes((INVENTED / name).read_bytes())
    (tmp_path / "tests.csv").unlink()
    stations = (tmp_path / "stations.csv").read_bytes().replace(b"Furniture shop", b"M\xf6bel shop")
    (tmp_path / "stations.csv").write_bytes(stations)

    with pytest.raises(PlantFaults) as refused:
        read_plant(tmp_path)

    told = {fault.file: (fault.row, fault.remedy) for fault in refused.value.faults}
    assert "is missing from" in told["tests.csv"][1]
    assert told["stations.csv"][0] == 4
    assert "save the file as UTF-8" in told["stations.csv"][1]


@pytest.mark.parametrize("damage", ['"' + "x" * 140_000, "\r" + "x", 'a"b\rc'])
def test_a_table_that_is_no_csv_is_told_with_its_row(damage):
    """As chance found it: a lone carriage return, or a quotation mark left open, ended the check with a trace."""
    tables = tables_of(INVENTED)
    (fault, *_) = faults_of({**tables, "cautions.csv": tables["cautions.csv"] + damage})

    assert (fault.file, fault.row) == ("cautions.csv", tables["cautions.csv"].count("\n") + 1)


def test_a_table_with_line_ends_of_old_is_read(tmp_path):
    for name in tables_of(INVENTED):
        (tmp_path / name).write_bytes((INVENTED / name).read_bytes().replace(b"\n", b"\r"))

    assert read_plant(tmp_path).revision == read_plant(INVENTED).revision


def test_a_broken_toml_file_is_told_with_its_line():
    (fault,) = faults_of({**tables_of(INVENTED), "plant.toml": "[plant\n"})

    assert "line 1" in fault.remedy


def test_an_empty_table_is_refused():
    tables = {**tables_of(INVENTED), "stations.csv": "id,name,kind,line,lead_days,crew,can_detect,note\n"}

    assert ("stations.csv", 0, "", "") in places(tables)


def test_a_table_of_cautions_that_lost_its_rows_is_told_once():
    (fault,) = faults_of({**tables_of(INVENTED), "cautions.csv": "code,short,more\n"})

    assert (fault.file, fault.row, fault.column) == ("cautions.csv", 0, "code")
    assert "other tables name its codes" in fault.remedy


def test_a_fault_reads_as_one_sentence_with_place_value_and_remedy():
    (fault,) = faults_of(changed("stations.csv", ("chassis,4,C-CH", "chassis,-4,C-CH")))

    assert str(fault) == "stations.csv, row 2, lead_days: '-4' must be a whole number from 0 to 400"


def test_the_readme_beside_the_tables_names_each_of_them():
    readme = (Path(INVENTED).parent / "README.md").read_text(encoding="utf-8")

    assert [name for name in EVERY_FILE if f"`{name}`" not in readme] == []


@pytest.mark.parametrize("table", plant_parts.COLUMNS)
def test_the_readme_beside_the_tables_names_each_column_in_its_tables_row(table):
    """Who makes a plant of their own learns there what a column is for; `qc init` says where it stands."""
    readme = (Path(INVENTED).parent / "README.md").read_text(encoding="utf-8")
    (row,) = [line for line in readme.splitlines() if line.startswith(f"| `{table}` |")]

    assert [name for name in chain(*plant_parts.COLUMNS[table]) if f"`{name}`" not in row] == []


def test_without_the_columns_a_test_that_fails_into_a_stop_is_a_hazard_and_nothing_is_asked_about():
    tables = tables_of(INVENTED)
    rows = list(csv.reader(io.StringIO(tables["tests.csv"])))
    cut = io.StringIO()
    csv.writer(cut, lineterminator="\n").writerows(row[:-4] for row in rows)

    plant = plant_from_tables({**tables, "tests.csv": cut.getvalue()})

    stops = [one.id for one in plant.tests.values() if plant.types[one.defect_on_fail].stop_unit]
    assert [one.id for one in plant.tests.values() if one.hazard] == stops
    assert {(one.least, one.most, one.beyond) for one in plant.tests.values()} == {(None, None, ())}


def test_a_type_that_requires_a_photo_where_its_caution_forbids_the_camera_is_told():
    found = faults_of(changed("cautions.csv", ("ask,I smell no gas here", "no,")))

    assert {(one.file, one.row, one.column, one.value) for one in found} == {
        ("defect_types.csv", row, "photo_rule", "GAS") for row in (31, 32, 33, 34)
    }
    assert "GAS-01 requires a photo" in found[0].remedy


LATER = {
    "stations.csv": ("final", "outside"),
    "defect_types.csv": ("caution",),
    "zones.csv": ("holds",),
    "cautions.csv": ("camera", "before_photo", "move_away", "call", "phone", "shown"),
}


def of_before():
    """The invented plant's tables as they were written before what can hurt had columns."""
    tables = tables_of(INVENTED)
    for name, columns in LATER.items():
        rows = list(csv.DictReader(io.StringIO(tables[name])))
        out = io.StringIO()
        writer = csv.DictWriter(out, [one for one in rows[0] if one not in columns], extrasaction="ignore")
        writer.writeheader()
        writer.writerows(rows)
        tables[name] = out.getvalue()
    tables["plant.toml"] = tables["plant.toml"].replace('stop_who = "the lead"', "")
    return tables


def test_tables_of_before_load_and_what_they_do_not_say_is_never_taken_as_harmless():
    plant, now = plant_from_tables(of_before()), read_plant(INVENTED)

    assert {one.caution for one in plant.types.values()} == {None}
    assert {(one.camera, one.move_away, one.shown) for one in plant.cautions.values()} == {("", True, None)}
    # What no zone, type or test carries would be lost: it shows when a look begins.
    assert plant.shown_at("begin") == ("MOV", "CHM", "SUN", "LON")
    assert plant.end_points() == now.end_points()
    assert [one.id for one in plant.final_inspections("T36")] == ["D01"]
    assert {key: one.holds for key, one in plant.zones.items()} == {key: one.holds for key, one in now.zones.items()}
    assert plant.outside("supplied", "handled") == now.outside("supplied", "handled") == ("SUP", "HND")
    assert plant.stop_who == now.stop_who == "the lead"


def test_the_second_invented_plant_has_no_fault_and_shares_no_code_with_the_first():
    other, demo = read_plant(Path(__file__).parents[1] / "plants" / "other"), read_plant(INVENTED)

    for one in ("models", "zones", "types", "tests", "cautions", "views", "shifts"):
        assert not set(getattr(other, one)) & set(getattr(demo, one)), one
    assert set(other.stations) & set(demo.stations) == {"UNK", "DSN"}  # words of the record, as FIELD is
    assert other.end_points() == ("PST", "ABN")
    assert other.outside("handled", "supplied") == ("TRN", "ZUL")


def test_a_station_that_names_a_shift_of_no_plant_is_told_with_its_row():
    tables = tables_of(Path(__file__).parents[1] / "plants" / "other")
    tables["stations.csv"] = tables["stations.csv"].replace("tag;nacht", "tag;spaet", 1)

    (fault,) = faults_of(tables)
    assert (fault.row, fault.column, fault.value) == (2, "shifts", "spaet")
    assert fault.remedy == "is no shift of this plant"


def test_a_key_of_thousands_of_dots_is_refused_before_it_is_read_and_a_text_of_them_is_none():
    """The reader of TOML took nine seconds to refuse the first of them."""
    tables = tables_of(INVENTED)
    many = ".".join(["a"] * 20_000)
    for endless in (f"{many} = 1", f"[{many}]", f"x = {{{many}=1}}"):
        (fault,) = faults_of({**tables, "plant.toml": endless + "\n" + tables["plant.toml"]})
        assert (fault.row, "has more than 64 dots" in fault.remedy) == (1, True)

    dotted = tables["plant.toml"].replace('site = "Quernby Works"', f'site = "Quernby {"." * 100} Works" # {"." * 100}')
    assert plant_from_tables({**tables, "plant.toml": dotted}).site.startswith("Quernby ....")


def test_equal_texts_are_read_once_and_a_changed_letter_anew():
    again, other = tables_of(INVENTED), changed("stations.csv", ("Furniture shop", "Furniture room"))

    assert plant_from_tables(again) is plant_from_tables(dict(reversed(again.items())))
    assert {one.name for one in plant_from_tables(again).stations.values()} ^ {
        one.name for one in plant_from_tables(other).stations.values()
    } == {"Furniture shop", "Furniture room"}
    assert plant_from_tables(other).revision == revision_of(other)


def test_tables_with_faults_are_refused_each_time():
    wrong = changed("stations.csv", ("FU1,Furniture shop,feeder", "FU1,Furniture shop,fedder"))

    assert faults_of(wrong) == faults_of(wrong) != ()


@pytest.mark.parametrize(
    ("file", "damage", "told"),
    [
        ("stations.csv", lambda text: "", "stations.csv is empty; its first line is id,name,kind"),
        ("zones.csv", lambda text: text.partition("\n")[0] + "\n", "zones.csv has no rows; a plant needs at least one"),
        ("zones.csv", lambda text: text.partition("\n")[2], "names no column of this table; its first line is zone_id"),
        ("stations.csv", lambda text: text.replace("id,name", "ID,NAME", 1).upper(), "write them in small letters"),
        ("stations.csv", lambda text: text.replace("id,name", "id,id,name", 1), "names a column twice; keep one"),
        ("plant.toml", lambda text: "", "plant.toml says nothing of a plant; begin with the one that qc init"),
    ],
)
def test_a_table_that_lost_its_form_is_one_fault(file, damage, told):
    """An empty plant.toml was 934 faults, a zones.csv without its rows 147, of which the cause was somewhere amid."""
    tables = tables_of(INVENTED)

    with pytest.raises(PlantFaults) as refused:
        checked_plant({**tables, file: damage(tables[file])})

    assert len(refused.value.faults) == 1
    assert told in str(refused.value)


@pytest.mark.parametrize("section", ["model", "view", "shift"])
def test_a_section_that_is_missing_is_told_once_and_not_at_each_code_that_it_held(section):
    tables = tables_of(INVENTED)
    sections = re.compile(rf"^\[\[{section}\]\]\n(?:.+\n)+", re.MULTILINE)
    assert len(sections.findall(tables["plant.toml"])) > 1

    with pytest.raises(PlantFaults) as refused:
        checked_plant({**tables, "plant.toml": sections.sub("", tables["plant.toml"])})

    assert [(fault.file, fault.column) for fault in refused.value.faults] == [("plant.toml", section)]
