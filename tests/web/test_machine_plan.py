"""POST /api/v1/plan: a machine's plan is looked through first, taken whole or not at all, and again without harm."""

import io
import threading

import pytest
import xlsxwriter

from qc.store.checking.verify import verify
from qc.web.api.description import description
from tests.web.plant_server import UNIT

HEADING = "chassis,planned day,options\n"
SECOND = "0PC7M5000TW030002"
FOREIGN = "9XX7M5000TW030003"  # a chassis number of another plant
TWO = f"{HEADING}{UNIT},2026-03-02,awning\n{SECOND},2026-03-03,\n"
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


class Machine:
    """A planning system with a token of its own."""

    def __init__(self, server):
        self.client = server.client()
        self.token = server.house.machines.make("night", ("plan",), "PL1")

    def hand_in(self, body, asked="", media_type="text/csv"):
        data = body.encode() if isinstance(body, str) else body
        headers = {"Authorization": f"Bearer {self.token}"}
        return self.client.post(f"/api/v1/plan{asked}", data=data, content_type=media_type, headers=headers)


@pytest.fixture
def machine(server):
    return Machine(server)


def units(server):
    return {line.chassis: line for line in server.house.reads.unit_list("planned", 100)}


def outcomes(answer):
    return [(row["unit"], row["outcome"]) for row in answer.json["rows"]]


def assert_shaped(data, name):
    from jsonschema import Draft202012Validator  # two seconds of each worker that gathers the tests, at the top

    document = description()
    schema = {"$ref": f"#/components/schemas/{name}", "components": document["components"]}
    assert [fault.message for fault in Draft202012Validator(schema).iter_errors(data)] == []


def test_nothing_is_taken_unless_it_is_asked(server, machine):
    for asked in ("", "?take=no"):
        answer = machine.hand_in(TWO, asked)
        assert (answer.status_code, answer.json["taken"], answer.json["summary"]) == (200, False, "2 rows: 2 new")
    assert_shaped(answer.json, "PlanReport")
    assert units(server) == {}


def test_taken_it_stands_under_the_planners_name_with_the_machine_beside(server, machine):
    answer = machine.hand_in(TWO, "?take=yes")

    assert (answer.status_code, answer.json["taken"]) == (200, True)
    assert set(units(server)) == {UNIT, SECOND}
    story = server.page("quality_manager").get(f"/units/{UNIT}").text
    assert ", handed in by the machine night" in story
    assert verify(server.house.folder).is_whole


def test_the_same_plan_again_changes_nothing(server, machine):
    machine.hand_in(TWO, "?take=yes")
    size = rows_of(server)
    again = machine.hand_in(TWO, "?take=yes")

    assert (again.status_code, outcomes(again)) == (200, [(UNIT, "same"), (SECOND, "same")])
    assert rows_of(server) == size


def rows_of(server):
    return server.house.reads.connection().execute("SELECT count(*) FROM journal WHERE unit IS NOT NULL").fetchone()[0]


def test_with_a_wrong_row_nothing_is_taken_and_the_row_is_told_in_the_pages_words(server, machine):
    text = f"{TWO}{FOREIGN},2026-03-04,\n{UNIT},2026-03-05,\n"
    answer = machine.hand_in(text, "?take=yes")

    assert (answer.status_code, answer.json["error"]["code"], answer.json["taken"]) == (409, "wrong_rows", False)
    assert_shaped(answer.json, "PlanRefused")
    wrong = [row for row in answer.json["rows"] if row["outcome"] == "wrong"]
    assert [row["row"] for row in wrong] == [4, 5]
    assert "names 0PC7T3600TW030001 already" in wrong[1]["words"]
    assert units(server) == {}


def test_wrong_rows_are_left_out_where_that_is_asked(server, machine):
    answer = machine.hand_in(f"{TWO}{FOREIGN},2026-03-04,\n", "?take=yes&leave_wrong=yes")

    assert (answer.status_code, answer.json["taken"], answer.json["wrong_left_out"]) == (200, True, True)
    assert set(units(server)) == {UNIT, SECOND}


def test_a_workbook_is_taken_as_well(server, machine):
    held = io.BytesIO()
    with xlsxwriter.Workbook(held, {"in_memory": True}) as book:
        sheet = book.add_worksheet()
        for row, cells in enumerate(line.split(",") for line in TWO.splitlines()):
            sheet.write_row(row, 0, cells)

    assert machine.hand_in(held.getvalue(), "?take=yes", XLSX).json["taken"]
    assert set(units(server)) == {UNIT, SECOND}


@pytest.mark.parametrize(
    ("body", "asked", "media_type", "status", "code"),
    [
        (TWO, "?take=maybe", "text/csv", 400, "malformed"),
        (TWO, "?take=yes&take=yes", "text/csv", 400, "malformed"),
        (TWO, "?leave_wrong=1", "text/csv", 400, "malformed"),
        (TWO, "", "application/json", 415, "wrong_media_type"),
        (b"", "?take=yes", "text/csv", 411, "length_needed"),
        (b"\n", "?take=yes", "text/csv", 400, "unusable_plan"),
        (b"PK\x03\x04half", "?take=yes", XLSX, 400, "unusable_plan"),
        (b"\x00\x01\x02", "?take=yes", "text/csv", 400, "unusable_plan"),
        ("a,b\n1,2\n", "?take=yes", "text/csv", 400, "unusable_plan"),
        (HEADING + "x" * 5_000_001, "?take=yes", "text/csv", 413, "too_large"),
    ],
)
def test_nonsense_is_refused_in_words_and_nothing_is_taken(server, machine, body, asked, media_type, status, code):
    answer = machine.hand_in(body, asked, media_type)

    assert (answer.status_code, answer.json["error"]["code"]) == (status, code)
    assert_shaped(answer.json, "Refused")
    assert units(server) == {}


def test_an_ended_token_and_a_planner_who_left_open_nothing(server, machine):
    server.house.people.end("PL1")
    gone = machine.hand_in(TWO, "?take=yes")
    server.house.people.take_back("PL1")
    server.house.machines.end("night")
    ended = machine.hand_in(TWO, "?take=yes")

    assert (gone.status_code, gone.json["error"]["code"]) == (403, "not_its_scope")
    assert "PL1 has left" in gone.json["error"]["message"]
    assert (ended.status_code, ended.json["error"]["code"]) == (401, "wrong_token")
    assert units(server) == {}


def test_wrong_tokens_wait_by_address_and_a_right_one_does_not(server, machine, caplog):
    right, machine.token = machine.token, "night.guess"
    statuses = [machine.hand_in(TWO).status_code for _ in range(21)]
    waits = machine.hand_in(TWO)
    machine.token = right

    assert statuses == [401] * 20 + [429]
    assert int(waits.headers["Retry-After"]) > 0
    assert machine.hand_in(TWO).status_code == 200
    assert "night.guess" not in caplog.text
    assert right not in caplog.text


def test_two_at_once_take_it_once(server, machine):
    """Both looked it through before either took it: the second is told what is wrong now, or that all is so already."""
    answers = []
    threads = [threading.Thread(target=lambda: answers.append(machine.hand_in(TWO, "?take=yes"))) for _ in range(4)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()

    assert rows_of(server) == 2
    assert sum(answer.status_code == 200 for answer in answers) >= 1
    assert {answer.status_code for answer in answers} <= {200, 409}


def test_the_planner_reads_which_machines_act_in_their_name(server, machine):
    machine.hand_in(TWO)

    assert "Machines in your name" in server.page("planner").get("/plan").text
    assert "Machines in your name" not in server.page("quality_manager").get("/plan").text
