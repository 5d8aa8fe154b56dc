"""GET /api/v1/tables: the tables of an export, page by page, by a token that may read; never a person's name."""

import csv
import io
import json

import pytest

from qc.reports.export.columns import TABLES, tables_for
from qc.web.api.description import description
from tests.web.pages.lived_in import LivedIn
from tests.web.plant_server import CAST, PlantServer, cheap_hashes

READABLE = tables_for(names=False)


class Report:
    """A plant's own report with a token of its own."""

    def __init__(self, server):
        self.server, self.client = server, server.client()
        self.token = server.house.machines.make(f"report-{id(self)}", ("read",))

    def get(self, address):
        headers = {"Authorization": f"Bearer {self.token}", "Accept-Encoding": "identity"}
        return self.client.get(address if address.startswith("/") else f"/api/v1/tables/{address}", headers=headers)

    def rows(self, asked):
        """Return every row, following the pages, and how many pages there were."""
        answer, rows, pages = self.get(asked), [], 1
        while True:
            assert answer.status_code == 200, answer.json
            rows += [json.loads(line) for line in answer.data.splitlines()]
            if "Link" not in answer.headers:
                return rows, pages
            link, relation = answer.headers["Link"].split("; ")
            assert relation == 'rel="next"'
            answer, pages = self.get(link[1:-1]), pages + 1


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    with cheap_hashes():
        server = PlantServer(tmp_path_factory.mktemp("read") / "plant")
        server.lived = LivedIn(server)
        server.lived.live()
        yield server
        server.house.close()


@pytest.fixture(scope="module")
def report(server):
    return Report(server)


def test_the_tables_are_listed_with_what_each_column_holds(report):
    listed = report.get("/api/v1/tables").json

    assert [one["table"] for one in listed] == list(READABLE)
    assert [one["name"] for one in listed[0]["columns"]] == [one.name for one in TABLES["units"]]


@pytest.mark.parametrize("table", READABLE)
def test_each_line_has_the_columns_of_the_export_and_the_described_shape(report, table):
    from jsonschema import Draft202012Validator  # two seconds of each worker that gathers the tests, at the top

    document = description()
    schema = {"$ref": f"#/components/schemas/{table}", "components": document["components"]}
    rows, _ = report.rows(table)

    assert rows
    for row in rows:
        assert list(row) == [one.name for one in TABLES[table]]
        assert [fault.message for fault in Draft202012Validator(schema).iter_errors(row)] == []


@pytest.mark.parametrize("table", READABLE)
def test_the_pages_put_together_are_the_whole_whatever_their_size(report, table):
    whole, _ = report.rows(f"{table}?limit=5000")
    for limit in (1, 2, 7):
        rows, pages = report.rows(f"{table}?limit={limit}")
        assert rows == whole
        assert pages == max(-(-len(whole) // limit), 1)
        assert report.rows(f"{table}?limit={limit}&since=1") == (whole, pages)  # everything came in after the first


@pytest.mark.parametrize("table", READABLE)
def test_csv_is_what_the_page_of_exports_gives(server, report, table):
    told = report.get(f"{table}?form=csv&limit=5000")
    exported = server.page("quality_manager").get(f"/export/file?what={table}")

    assert told.content_type == "text/csv; charset=utf-8"
    assert told.data == exported.data
    assert len(list(csv.reader(io.StringIO(told.data.decode("utf-8-sig"))))) > 1


def test_no_name_of_a_person_stands_in_any_table(server, report):
    told = b"".join(report.get(f"{table}?limit=5000").data for table in READABLE).decode()

    for person in CAST.values():
        assert f'"{person.name}"' not in told
    assert report.get("people").status_code == 404


def test_since_gives_the_rows_of_units_on_which_something_came_in_later(server, report):
    number = int(report.get("units").headers["Record-Number"])
    for table in READABLE[:-1]:
        assert report.rows(f"{table}?since={number}") == ([], 1)
    whole, _ = report.rows("defects")
    unit = server.lived.ids["critical"]
    server.lived.phone.must("station_passed", CAST["inspector"].code, unit, station="S04")

    assert [row["chassis"] for row in report.rows(f"units?since={number}")[0]] == [unit]
    changed, _ = report.rows(f"defects?since={number}&limit=1")
    assert changed == [row for row in report.rows("defects")[0] if row["unit"] == unit]
    assert 0 < len(changed) < len(whole)
    assert report.rows(f"defects?since={number + 1}") == ([], 1)


def test_what_comes_in_between_two_pages_moves_no_row_to_another(server, report):
    first = report.get("units?limit=1")
    seen = json.loads(first.data)["chassis"]
    server.lived.phone.must("station_passed", CAST["inspector"].code, seen, station="S03")
    rest, _ = report.rows(first.headers["Link"].split(">")[0][1:])

    assert seen not in [row["chassis"] for row in rest]
    assert len(rest) + 1 == len(report.rows("units")[0])


@pytest.mark.parametrize(
    ("asked", "status", "code"),
    [
        ("units?limit=0", 400, "malformed"),
        ("units?limit=5001", 400, "malformed"),
        ("units?limit=-1", 400, "malformed"),
        ("units?limit=1&limit=2", 400, "malformed"),
        ("units?since=1e12", 400, "malformed"),
        ("units?since=99999999999999999999", 400, "malformed"),
        ("units?form=xml", 400, "malformed"),
        ("units?after=7", 400, "malformed"),
        ("units?after=other~7", 409, "cursor_over"),
        ("units?after=x~9999999999999999", 400, "malformed"),
        ("nothing", 404, "not_found"),
        ("person_secret", 404, "not_found"),
    ],
)
def test_nonsense_is_refused_in_words(report, asked, status, code):
    answer = report.get(asked)

    assert (answer.status_code, answer.json["error"]["code"]) == (status, code)


def test_a_cursor_beyond_the_end_is_an_empty_last_page(server, report):
    for table in READABLE:
        answer = report.get(f"{table}?after={server.house.server_epoch}~9000000000000000")
        assert (answer.status_code, answer.data, "Link" in answer.headers) == (200, b"", False)


def test_who_may_not_read_reads_nothing(server):
    report = Report(server)
    report.token = server.house.machines.make("night", ("plan",), "PL1")
    assert report.get("units").json["error"]["code"] == "not_its_scope"
    report.token = "night.x"
    assert (report.get("units").status_code, report.get("/api/v1/tables").status_code) == (401, 401)
