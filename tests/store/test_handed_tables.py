"""The plant's tables as they are handed in: what is read, what stays, and bad files told with nothing lost."""

import csv
import io
import zipfile

import pytest
import xlsxwriter

from qc.domain.tables.plant_changes import plant_changes
from qc.domain.tables.plant_tables import PlantFaults, plant_from_tables
from qc.store.folder.handed_tables import files_in, read_handed
from qc.store.folder.sheets import MOST_BYTES, UnreadableSheet
from tests.store.record_kit import TABLES

NEW_TYPE = "PAN-77,PAN,Panels and bonding,Blister under the film,minor,no,asked,20,D01,RP1,panel,all,no,none,blister\n"
TYPES = "defect_types.csv"
MORE = TABLES[TYPES] + NEW_TYPE


def handed(*files):
    return read_handed(files, TABLES)


def words(found):
    return [one.words for one in plant_changes(TABLES, found.tables).changes]


def workbook(**sheets):
    held = io.BytesIO()
    with xlsxwriter.Workbook(held) as book:
        for name, text in sheets.items():
            sheet = book.add_worksheet(name)
            for row, cells in enumerate(csv.reader(io.StringIO(text))):
                for column, cell in enumerate(cells):
                    sheet.write(row, column, float(cell) if cell.isdigit() else cell)
    return held.getvalue()


def with_divider(text, divider):
    held = io.StringIO()
    csv.writer(held, delimiter=divider).writerows(csv.reader(io.StringIO(text)))
    return held.getvalue()


@pytest.mark.parametrize(
    "data",
    [
        MORE.encode(),
        MORE.encode("utf-8-sig"),
        MORE.encode("utf-16"),
        MORE.replace("\n", "\r\n").encode(),
        with_divider(MORE, ";").encode(),
        with_divider(MORE, "\t").encode("utf-16"),
    ],
)
def test_a_table_in_every_form_that_a_spreadsheet_saves_says_the_same(data):
    assert words(handed((TYPES, data))) == ["PAN-77 Blister under the film: added"]


def test_a_workbook_with_a_sheet_for_each_table_says_the_same():
    found = handed(("tables.xlsx", workbook(defect_types=MORE, Stations=TABLES["stations.csv"])))

    assert words(found) == ["PAN-77 Blister under the film: added"]
    assert set(found.came) == {TYPES, "stations.csv"}


def test_what_does_not_come_stays_as_it_is():
    found = handed((TYPES, MORE.encode()))

    assert {name: text for name, text in found.tables.items() if name != TYPES} == {
        name: text for name, text in TABLES.items() if name != TYPES
    }


def test_a_folder_is_all_of_its_tables(tmp_path):
    for name, text in TABLES.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    (tmp_path / "README.md").write_text("no table")

    assert read_handed(files_in(tmp_path), {}).tables == TABLES


class TestBadFiles:
    def refused(self, *files):
        with pytest.raises(UnreadableSheet) as told:
            handed(*files)
        return str(told.value)

    def test_nothing_at_all(self):
        assert "no file came" in self.refused()

    def test_an_empty_file(self):
        assert "defect_types.csv: the file is empty" in self.refused((TYPES, b""))

    def test_another_name(self):
        assert "types.csv: its name is none of a table" in self.refused(("types.csv", MORE.encode()))

    def test_a_name_with_a_path_is_only_a_name(self):
        assert handed((f"C:\\plant\\{TYPES}", MORE.encode())).came == (TYPES,)
        assert handed((f"../../{TYPES}", MORE.encode())).came == (TYPES,)

    def test_a_table_twice(self):
        assert "came twice" in self.refused((TYPES, MORE.encode()), ("a.xlsx", workbook(defect_types=MORE)))

    def test_a_picture(self):
        assert "neither text nor an XLSX" in self.refused((TYPES, b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR"))

    def test_too_large_a_file(self):
        assert "bytes" in self.refused((TYPES, b"a" * (MOST_BYTES + 1)))

    def test_a_sheet_of_another_name(self):
        assert "the sheet 'Sheet1' is none of a table" in self.refused(("t.xlsx", workbook(Sheet1=MORE)))

    def test_half_a_workbook(self):
        whole = workbook(defect_types=MORE)
        assert "damaged workbook" in self.refused(("t.xlsx", whole[: len(whole) // 2]))

    def test_a_workbook_that_inflates(self):
        held = io.BytesIO()
        with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr("xl/worksheets/sheet1.xml", b"0" * 300_000_000)

        assert len(held.getvalue()) < 1_000_000
        assert "too large" in self.refused(("t.xlsx", held.getvalue()))

    def test_a_sheet_of_too_many_rows(self):
        held = io.BytesIO()
        with xlsxwriter.Workbook(held, {"constant_memory": True}) as book:
            sheet = book.add_worksheet("defect_types")
            for row in range(20_002):
                sheet.write(row, 0, "a")

        assert "more than 20000 rows" in self.refused(("t.xlsx", held.getvalue()))


class TestFaultsAsCheckPlantTellsThem:
    def faults(self, *files):
        with pytest.raises(PlantFaults) as told:
            plant_from_tables(handed(*files).tables)
        return [str(fault) for fault in told.value.faults]

    @pytest.mark.parametrize("divider", [",", ";"])
    def test_a_lost_separator_is_told_with_its_row_and_nothing_is_filled_up(self, divider):
        line = NEW_TYPE.replace(",minor,no,", ",minor no,").replace(",", divider)
        data = (TABLES[TYPES] if divider == "," else with_divider(TABLES[TYPES], divider)) + line

        (told,) = self.faults((TYPES, data.encode()))
        assert "row 71" in told
        assert "has 14 cells, the heading 15" in told

    def test_a_wrong_heading_is_told_with_its_name(self):
        told = self.faults((TYPES, MORE.replace("default_severity", "severity", 1).encode()))

        assert any("'severity'" in one and "default_severity is missing" in one for one in told)

    def test_half_a_row_is_told(self):
        told = self.faults((TYPES, MORE.encode()[:-40]))

        assert any("row 71" in one and "cells" in one for one in told)

    def test_half_a_file_cut_between_rows_lacks_codes(self):
        half = "\n".join(TABLES["cautions.csv"].split("\n")[:4]) + "\n"

        assert self.faults(("cautions.csv", half.encode()))

    def test_a_cell_beyond_the_heading_of_a_sheet_is_told(self):
        more = MORE.rstrip("\n") + ",one more\n"

        assert any("has 16 cells" in one for one in self.faults(("t.xlsx", workbook(defect_types=more))))

    def test_a_broken_plant_toml_is_told(self):
        assert any("is no TOML" in one for one in self.faults(("plant.toml", b"[plant\nmaker = 3")))

    @pytest.mark.parametrize("end", [b"\nx = " + b"[" * 100_000, b"\nx = " + b"9" * 5_000], ids=["deep", "figures"])
    def test_a_plant_toml_that_the_reader_trips_over_is_told(self, end):
        assert any("is no TOML" in one for one in self.faults(("plant.toml", TABLES["plant.toml"].encode() + end)))


def test_a_table_that_is_two_sheets_of_a_workbook_is_refused():
    data = workbook(**{"defect_types": MORE, "defect_types ": TABLES[TYPES]})
    with pytest.raises(UnreadableSheet, match=r"two of its sheets are defect_types\.csv"):
        read_handed([("t.xlsx", data)], TABLES)
