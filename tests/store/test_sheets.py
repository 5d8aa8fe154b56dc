"""Files that people hand in, read as rows of text: what stands in a cell stays as it was written.

The archive and workbook are made by other libraries (zipfile, xlsxwriter) than the one that reads them.
"""

import io
import struct
import time
import zipfile
from concurrent.futures import ThreadPoolExecutor
from datetime import date

import pytest
import xlsxwriter

from qc.store.folder import sheets
from qc.store.folder.sheet_reach import reach_of
from qc.store.folder.sheets import UnreadableSheet, read_sheet

TABLE = "chassis,planned day\n00123,2026-03-02\n1E5,2026-03-03\n"


def workbook(*rows, sheets=("Plan",)):
    whole = io.BytesIO()
    book = xlsxwriter.Workbook(whole, {"in_memory": True})
    day = book.add_format({"num_format": "dd.mm.yyyy"})
    for name in sheets:
        sheet = book.add_worksheet(name)
        for row, cells in enumerate(rows):
            for column, cell in enumerate(cells):
                if isinstance(cell, date):
                    sheet.write_datetime(row, column, cell, day)
                elif isinstance(cell, str) and not cell.startswith("="):
                    sheet.write_string(row, column, cell)
                else:
                    sheet.write(row, column, cell)
    book.close()
    return whole.getvalue()


def cells(data):
    return [row for _, row in read_sheet(data).rows]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "latin-1"])
@pytest.mark.parametrize("divider", [",", ";", "\t"])
def test_text_stays_text_in_every_encoding_and_with_every_divider(encoding, divider):
    text = TABLE.replace(",", divider).replace("chassis", "Tür")
    read = read_sheet(text.encode(encoding))

    assert read.heading == ("Tür", "planned day")
    assert [row for _, row in read.rows] == [("00123", "2026-03-02"), ("1E5", "2026-03-03")]
    assert any("Windows-1252" in note for note in read.notes) == (encoding == "latin-1")


def test_cells_of_a_workbook_stay_as_they_are_written():
    data = workbook(["a", "b", "c", "d"], ["00123", "1E5", 30001, date(2026, 3, 2)], [1.5, True, "", "=1+1"])

    assert cells(data) == [("00123", "1E5", "30001", "2026-03-02"), ("1.5", "yes", "", "0")]


def test_rows_keep_their_places_and_blank_ones_are_left_out():
    read = read_sheet(b"\n\na,b\n\n1,2\n,\n3,\n")

    assert read.heading == ("a", "b")
    assert read.rows == ((5, ("1", "2")), (7, ("3",)))


def test_a_quoted_cell_may_hold_dividers_and_line_ends():
    assert cells(b'a,b\n"x, y\nz",2\n') == [("x, y\nz", "2")]


def test_only_the_first_sheet_is_read_and_the_note_says_so():
    (note,) = read_sheet(workbook(["a"], ["1"], sheets=("Plan", "Notes", "Old"))).notes

    assert note == "only its first sheet, Plan, was read; it has 2 more"


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "is empty"),
        (b"\n \n,,\n", "holds no row"),
        (b'a,b\n"1,2\n', "quotation mark"),
        (b"PK\x03\x04 half of a workbook", "damaged workbook"),
        (workbook(["a"], ["1"])[:2000], "damaged workbook"),
        (b"a,b\x00\n1,2\n", "neither a CSV nor an XLSX"),
        (b"\xff\xfea", "UTF-16"),
        (b"a\n" + b"1\n" * (sheets.MOST_ROWS + 1), f"more than {sheets.MOST_ROWS} rows"),
        (b"," .join([b"a"] * 201) + b"\n1\n", "at most 200"),
        (b"a\n" * (sheets.MOST_BYTES // 2 + 1), "bytes"),
    ],
    ids=["empty", "blank", "quote", "no archive", "half", "bytes", "half utf-16", "rows", "columns", "large"],
)  # fmt: skip
def test_what_is_no_table_is_told_with_what_would_do(data, words):
    with pytest.raises(UnreadableSheet, match=words):
        read_sheet(data)


def test_an_archive_that_is_no_workbook_is_told():
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w") as archive:
        archive.writestr("letter.txt", "hello")

    with pytest.raises(UnreadableSheet, match="no workbook"):
        read_sheet(whole.getvalue())


def bomb(size, told=None):
    """An archive of one member of many zeros; told: the size that it claims, where that is not the true one."""
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/worksheets/sheet1.xml", bytes(size))
    data = bytearray(whole.getvalue())
    if told is not None:
        struct.pack_into("<L", data, 22, told)
        struct.pack_into("<L", data, data.index(b"PK\x01\x02") + 24, told)
    return bytes(data)


def test_a_workbook_that_grows_without_end_is_refused_before_it_does(monkeypatch):
    monkeypatch.setattr(sheets, "MOST_INFLATED", 1_000_000)
    with pytest.raises(UnreadableSheet, match="too large"):
        read_sheet(bomb(2_000_000))


def test_a_member_that_claims_to_be_small_is_not_unpacked_whole(monkeypatch):
    import tracemalloc

    data = bomb(50_000_000, told=1_000)
    tracemalloc.start()
    with pytest.raises(UnreadableSheet, match="damaged"):
        read_sheet(data)
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()

    assert most < 5_000_000


def far(*cells):
    """A workbook of a table of two columns and further cells: (row, column from 0, what it holds)."""
    whole = io.BytesIO()
    book = xlsxwriter.Workbook(whole, {"in_memory": True})
    sheet, coloured = book.add_worksheet("stations"), book.add_format({"bg_color": "red"})
    for place in ((0, 0), (0, 1), (1, 0), (1, 1)):
        sheet.write(*place, "x")
    for row, column, held in cells:
        sheet.write(row, column, held, coloured)
    book.close()
    return whole.getvalue()


LAST = (1_048_575, 16_383)  # the last cell that a worksheet can have: XFD1048576 (ECMA-376-1, 18.3.1.73 and 18.18.7)


@pytest.mark.parametrize("read", [read_sheet, sheets.sheets_of])
@pytest.mark.parametrize("place", [LAST, (1_048_575, 0), (0, 16_383)])
def test_one_cell_in_the_far_corner_of_a_sheet_is_told_and_not_laid_out(monkeypatch, read, place):
    monkeypatch.setattr("python_calamine.load_workbook", lambda _: pytest.fail("it would take all memory"))
    with pytest.raises(
        UnreadableSheet, match=f"row {place[0] + 1 if place[0] else 2} or column {place[1] + 1 if place[1] else 2}"
    ):
        read(far((*place, "x")))


def sheet_of(rows, cells):
    """A workbook of so many rows, each with the given cells as XML."""
    whole = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(far())) as plain, zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED) as archive:
        for name in plain.namelist():
            xml = f"<worksheet><sheetData>{f'<row>{cells}</row>' * rows}</sheetData></worksheet>".encode()
            archive.writestr(name, xml if "sheet1.xml" in name else plain.read(name))
    return whole.getvalue()


@pytest.mark.parametrize("read", [read_sheet, sheets.sheets_of])
@pytest.mark.parametrize(
    "data",
    [
        sheet_of(101, "<c><v>1</v></c>" * 100),  # a cell after the other
        sheet_of(101, "<c r='A1'><v>1</v></c>" * 100),  # all at the same place
        far((199, 99, "x")),  # one far out in a sheet that is laid out whole
        sheet_of(2, "<c/>" * 20_000),  # only coloured
    ],
    ids=["filled", "one place", "rectangle", "blank"],
)
def test_a_small_file_of_very_many_cells_is_told_before_it_is_laid_out(monkeypatch, read, data):
    """157 kB of four million numbers took 700 MB and ten seconds."""
    monkeypatch.setattr(sheets, "MOST_CELLS", 10_000)
    monkeypatch.setattr(sheets, "MOST_BLANK_CELLS", 30_000)
    monkeypatch.setattr("python_calamine.load_workbook", lambda _: pytest.fail("it would take all memory"))

    with pytest.raises(UnreadableSheet, match="more than 10000 cells"):
        read(data)


def test_a_table_as_large_as_is_told_is_read(monkeypatch):
    monkeypatch.setattr(sheets, "MOST_CELLS", 10_000)

    assert len(cells(sheet_of(100, "<c><v>1</v></c>" * 100 + "<c/>"))) == 100 - 1


def test_one_workbook_at_a_time_is_read(monkeypatch):
    import python_calamine

    inside, most, load = [], [], python_calamine.load_workbook

    def watched(book):
        inside.append(1)
        most.append(len(inside))
        time.sleep(0.05)
        try:
            return load(book)
        finally:
            inside.pop()

    monkeypatch.setattr("python_calamine.load_workbook", watched)
    with ThreadPoolExecutor(4) as people:
        list(people.map(lambda read: read(far()), [read_sheet, sheets.sheets_of] * 2))

    assert most == [1, 1, 1, 1]


def test_cells_that_are_only_coloured_are_not_counted():
    assert cells(far((*LAST, ""))) == [("x", "x")]


def test_a_cell_that_names_no_place_stands_behind_the_one_before():
    sheet = b"<worksheet><row><c><v>1</v></c></row><row r='70000'><c/><c/><c><v>1</v></c><c/></row></worksheet>"

    assert reach_of(io.BytesIO(sheet)) == (70_000, 3)


def test_a_workbook_of_another_kind_is_told():
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w") as archive:
        archive.writestr("content.xml", "<table-row number-rows-repeated='1048576'/>")

    with pytest.raises(UnreadableSheet, match="no workbook that can be read; save it as XLSX or CSV"):
        read_sheet(whole.getvalue())
