"""The record's figures as files: the page that offers them, and each file."""

import tempfile
import threading
from collections.abc import Iterator
from contextlib import closing
from typing import IO

from flask import Response, render_template, request

from qc.domain.words.speaking import marked, say
from qc.reports.export.columns import NAMES, TABLES, tables_for
from qc.reports.export.files import COLUMNS, ENDINGS, FORMS, TYPES, TableForm, write_columns, write_export, write_table
from qc.reports.export.parquet import NoParquet
from qc.reports.export.rows import Source, one_moment, week_rows
from qc.store.record.connection import RECORD, open_reader
from qc.web.house import House, the_house
from qc.web.page_session import require_role
from qc.web.pages.page_counts import counts_of, today

PIECE = 64 * 1024
# The words of the tables' names and of the sorts of their values
_WORDS = {
    words: words
    for words in (
        marked("units"),
        marked("inspections"),
        marked("defects"),
        marked("tests"),
        marked("releases"),
        marked("weeks"),
        marked("people"),
        marked("text"),
        marked("number"),
        marked("day"),
        marked("instant"),
        marked("yes or no"),
        marked("list"),
    )
}

_making = threading.Lock()  # one at a time: each holds a thread of the pages and reads the whole record


@require_role("quality_manager", "administrator")
def show() -> Response:
    """Return the page that offers the files."""
    return _page()


@require_role("quality_manager", "administrator")
def take() -> Response:
    """Return one file: a table, what its columns hold, or everything in one form."""
    wanted, names = request.args.get("what", ""), request.args.get("names") == "yes"
    offered = (*FORMS, COLUMNS, *tables_for(names=names))
    if wanted not in offered:
        there = ", ".join((*FORMS, COLUMNS, *TABLES))
        told = say(
            "There is no file “{wanted}”; there are {there}; {names} only with names.",
            wanted=wanted[:40],
            there=there,
            names=NAMES,
        )
        return _page(told, 404)
    one_form: TableForm = "parquet" if request.args.get("form") == "parquet" else "csv"
    if not _making.acquire(blocking=False):
        return _page(say("Another export is being written. Ask again in a minute; nothing is lost."), 429)
    try:
        return _file(the_house(), wanted, names, one_form)
    except NoParquet as why:
        return _page(say("{why}. On this server the administrator does that; the other forms are there.", why=why), 501)
    except OSError as why:
        return _page(say("The file could not be written on the server: {why}. The record is as it was.", why=why), 507)
    finally:
        _making.release()


def _file(house: House, wanted: str, names: bool, one_form: TableForm) -> Response:
    ending = ENDINGS.get(wanted, "csv" if wanted == COLUMNS else one_form)
    written: IO[bytes] = tempfile.TemporaryFile()  # noqa: SIM115 - closed once it is sent
    try:
        _write(house, wanted, names, one_form, written)
        size = written.tell()
        written.seek(0)
        day = today(house).isoformat()
        name = f"record-{day}.{ending}" if wanted in FORMS else f"{wanted}-{day}.{ending}"
    except BaseException:
        written.close()
        raise
    answer = Response(_pieces(written), content_type=TYPES[ending])
    answer.headers["Content-Disposition"] = f"attachment; filename={name}"
    answer.content_length = size
    answer.call_on_close(written.close)
    return answer


def _pieces(written: IO[bytes]) -> Iterator[bytes]:
    with written:
        while piece := written.read(PIECE):
            yield piece


def _write(house: House, wanted: str, names: bool, one_form: TableForm, target: IO[bytes]) -> None:
    if wanted == COLUMNS:
        write_columns(target, tables_for(names=names))
        return
    weeks = week_rows(counts_of(house), house.clock()) if wanted in ("csv", "xlsx", "parquet", "weeks") else ()
    with closing(open_reader(house.folder / RECORD)) as connection, one_moment(connection):
        source = Source(connection, house.plant, weeks)
        if wanted in FORMS:
            write_export(source, wanted, target, names=names)
        else:
            write_table(source, wanted, target, one_form)


def _page(problem: str = "", status: int = 200) -> Response:
    page = render_template("export/export.html", tables=TABLES, words=_WORDS, names_table=NAMES, problem=problem)
    return Response(page, status, mimetype="text/html")
