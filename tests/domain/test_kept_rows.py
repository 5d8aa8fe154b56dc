"""A table of commas of which one row is changed: every other keeps its text, however its author wrote it."""

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.domain.tables.kept_rows import KeptRow, kept_table

ODD = 'id, name ,more\n\n1,"plain",\n"2", spaced ,"two\nlines, a ""word"""\n,,\n3,last,'


def test_what_nobody_touched_stands_as_it_stood():
    table = kept_table(ODD, ())

    assert [row.cells["id"] for row in table.rows] == ["1", "2", "3"]
    assert table.rows[1].cells == {"id": "2", "name": "spaced", "more": 'two\nlines, a "word"'}
    assert table.written(table.rows) == ODD


def test_the_row_that_was_changed_alone_is_written_anew():
    first, second, third = kept_table(ODD, ()).rows

    text = kept_table(ODD, ()).written(
        [first.with_cells({"name": "a, b"}), second.with_cells({"name": "spaced"}), third]
    )

    assert text == ODD.replace('1,"plain",', '1,"a, b",')


def test_a_column_more_is_written_after_the_others_of_every_row():
    first, *rest = kept_table(ODD, ()).rows

    text = kept_table(ODD, ()).written([first.with_cells({"last": "x"}), *rest, KeptRow({"id": "4"})], ("last",))

    assert text == ('id, name ,more,last\n\n1,plain,,x\n"2", spaced ,"two\nlines, a ""word""",\n,,\n3,last,,\n4,,,\n')


@pytest.mark.parametrize("text", ["", "id,name\n", "id,name"])
def test_a_table_without_rows_takes_one(text):
    table = kept_table(text, ("id", "name"))

    assert table.written([*table.rows, KeptRow({"id": "1", "name": "x"})]) == "id,name\n1,x\n"


cells = st.text(st.characters(exclude_categories=["Cs", "Cc"]) | st.sampled_from(',"\n'), max_size=6)


@given(
    st.lists(st.lists(cells, min_size=3, max_size=3), max_size=5), st.sampled_from([csv.QUOTE_ALL, csv.QUOTE_MINIMAL])
)
def test_any_table_stands_as_it_stood_and_reads_as_the_standard_reader_reads_it(rows, quoting):
    out = io.StringIO()
    csv.writer(out, lineterminator="\n", quoting=quoting).writerows([["a", "b", "c"], *rows])

    table = kept_table(out.getvalue(), ())

    assert table.written(table.rows) == out.getvalue()
    told = [[value.strip() for value in row] for row in rows if any(value.strip() for value in row)]
    assert [list(row.cells.values()) for row in table.rows] == told
