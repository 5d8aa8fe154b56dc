"""GET /tables and /tables/<table>: a plant's own reports read the record's tables, page by page, with a token."""

import re
from contextlib import closing
from typing import Any, cast
from urllib.parse import urlencode

from flask import Response, request

from qc.reports.export.columns import TABLES
from qc.reports.export.pages import READABLE, PageForm, TablePage, page_in
from qc.reports.export.rows import one_moment, week_rows
from qc.store.reading.export_rows import last_number, page_of
from qc.store.record.connection import RECORD, open_reader
from qc.web.api.answers import json_answer, packed
from qc.web.api.machine import machine_for
from qc.web.house import House, the_house
from qc.web.json_door import refuse
from qc.web.pages.page_counts import counts_of

TYPES = {"jsonl": "application/x-ndjson", "csv": "text/csv"}
MOST_ROWS, ROWS = 5_000, 1_000
LARGEST = 2**53 - 1
PAGED_BY = "weeks"  # the one table that is of no unit: it is counted, and its place in it is its number
NUMBER = "Record-Number"
_WHOLE = re.compile(r"[0-9]{1,16}\Z")
_CURSOR = re.compile(r"([A-Za-z0-9._-]{1,64})~([0-9]{1,16})\Z")


def listed() -> Response:
    """Answer with the tables, and what each column holds."""
    machine_for("read")
    return json_answer([{"table": table, "columns": columns_of(table)} for table in READABLE])


def columns_of(table: str) -> list[dict[str, str]]:
    """Return what each column of a table holds."""
    return [{"name": one.name, "holds": one.sort, "words": one.words} for one in TABLES[table]]


def answer(table: str) -> Response:
    """Answer with a page of a table; a Link header leads to the next, Record-Number tells how far the record went."""
    machine_for("read")
    if table not in READABLE:
        refuse("not_found", f"There is no table of that name; there are {', '.join(READABLE)}.", "table", 404)
    form = _form()
    limit = _whole("limit", ROWS, 1, MOST_ROWS)
    since = _whole("since", 0, 0, LARGEST)
    house = the_house()
    after = _after(house)
    page, number = _page(house, table, form, after, limit, since)
    response = packed(Response(page.data, 200, content_type=TYPES[form] + ("; charset=utf-8" if form == "csv" else "")))
    response.headers[NUMBER] = str(number)
    if page.more:
        asked = {"form": form, "limit": limit, "since": since, "after": f"{house.server_epoch}~{page.after}"}
        response.headers["Link"] = f'<{request.path}?{urlencode(asked)}>; rel="next"'
    return response


def _page(house: House, table: str, form: PageForm, after: int, limit: int, since: int) -> tuple[TablePage, int]:
    weeks = week_rows(counts_of(house), house.clock()) if table == PAGED_BY else ()
    with closing(open_reader(house.folder / RECORD)) as connection, one_moment(connection):
        number = last_number(connection)
        rows: list[tuple[int, Any]]
        if table == PAGED_BY:
            rows = list(enumerate(weeks, start=1))[after : after + limit + 1]
        else:
            rows = list(page_of(connection, table, after, limit + 1, since))
    return page_in(form, table, rows, limit, house.plant, after), number


def _after(house: House) -> int:
    """Return the number that a page goes on from; a cursor of another record, as before a restore, leads nowhere."""
    told = _once("after")
    if not told:
        return 0
    found = _CURSOR.match(told)
    if found is None or int(found[2]) > LARGEST:
        refuse("malformed", "after must be the cursor of the Link header of the page before.", "after")
    if found[1] != house.server_epoch:
        words = "The record went back to a backup since that page; read the table from its beginning, without after."
        refuse("cursor_over", words, "after", 409)
    return int(found[2])


def _form() -> PageForm:
    told = _once("form") or "jsonl"
    if told not in TYPES:
        refuse("malformed", f"form must be {' or '.join(TYPES)}.", "form")
    return cast(PageForm, told)


def _whole(name: str, usual: int, least: int, most: int) -> int:
    told = _once(name)
    if told is None:
        return usual
    if not _WHOLE.match(told) or not least <= int(told) <= most:
        refuse("malformed", f"{name} must be a whole number from {least} to {most}.", name)
    return int(told)


def _once(name: str) -> str | None:
    told = request.args.getlist(name)
    if len(told) > 1:
        refuse("malformed", f"{name} must be given once.", name)
    return told[0] if told else None
