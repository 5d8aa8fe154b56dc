"""The page of passed stations: a list is looked through first, taken whole or not at all, and again without harm."""

import threading
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from qc.store.checking.verify import verify
from qc.store.passed_intake import ListOvertaken, take_passed
from qc.web.pages import passed
from qc.web.pages.handed_files import FILE_BYTES
from tests.web.pages.reading import read
from tests.web.plant_server import CAST, OWN_PAGE, UNIT

HOUR_MS = 3_600_000


@pytest.fixture
def page(server):
    planner = server.phone("planner")
    planner.push(planner.plan())
    return server.page("station_lead")


def when(server, hours):
    """Return an instant so many hours ago as the list says it: in the plant's time."""
    then = datetime.fromtimestamp((server.now - hours * HOUR_MS) / 1000, UTC)
    return then.astimezone(ZoneInfo(server.house.plant.time_zone)).strftime("%Y-%m-%d %H:%M")


def two(server):
    return f"unit,station,passed at\n{UNIT},S01,{when(server, 5)}\n{UNIT},S02,{when(server, 3)}\n"


def look(page, text):
    """Hand a file in as a browser does: the form in parts, each after a line of dashes."""
    data = text.encode() if isinstance(text, str) else text
    field = f'--cut\r\nContent-Disposition: form-data; name="csrf_token"\r\n\r\n{page.form_token("/passed")}\r\n'
    head = '--cut\r\nContent-Disposition: form-data; name="file"; filename="passed.csv"\r\n\r\n'
    body = field.encode() + head.encode() + data + b"\r\n--cut--\r\n"
    form = "multipart/form-data; boundary=cut"
    return page.client.post("/passed/look", data=body, headers=OWN_PAGE, content_type=form)


def take(page, looked, **more):
    shown = read(looked)
    form = {name: shown.one("input", name=name).attrs["value"] for name in ("digest", "seen")}
    return page.post("/passed/take", csrf_token=page.form_token("/passed"), **form, **more)


def passings(server):
    return [(one.station, one.by) for one in server.house.reads.unit_story(UNIT).passings]


def test_a_list_is_shown_before_anything_is_taken_and_then_stands_under_the_leads_name(server, page):
    looked = look(page, two(server))

    assert "2 rows: 2 new." in looked.text
    assert passings(server) == []
    assert "Taken from passed.csv: 2 passings." in take(page, looked).text
    lead = CAST["station_lead"].code
    assert passings(server) == [("S01", lead), ("S02", lead)]
    assert verify(server.house.folder).is_whole


def test_again_is_harmless(server, page):
    looked = look(page, two(server))
    take(page, looked)

    assert "Nothing is left to take" in take(page, looked).text  # a second tap on the same form
    assert "There is nothing to take." in look(page, two(server)).text
    assert len(passings(server)) == 2


def test_the_same_form_sent_twice_at_once_tells_each_passing_once(server, page, monkeypatch):
    looked, entered = look(page, two(server)), take_passed
    both = threading.Barrier(2)

    def met(*args):
        with suppress(threading.BrokenBarrierError):
            both.wait(0.5)  # each has looked the file through before either takes it
        return entered(*args)

    monkeypatch.setattr(passed, "take_passed", met)
    shown = read(looked)
    form = {name: shown.one("input", name=name).attrs["value"] for name in ("digest", "seen")}
    form["csrf_token"] = page.form_token("/passed")
    second = server.client()
    second._cookies = page.client._cookies  # the same browser
    with ThreadPoolExecutor(2) as taps:
        answers = list(
            taps.map(lambda one: one.post("/passed/take", data=form, headers=OWN_PAGE).text, [page.client, second])
        )

    assert sorted("Taken from passed.csv: 2 passings." in one for one in answers) == [False, True]
    assert len(passings(server)) == 2


def test_a_wrong_row_stops_the_rest_until_it_is_left_out(server, page):
    looked = look(page, f"{two(server)}{UNIT},S99,{when(server, 2)}\n")

    assert "2 new and 1 wrong" in looked.text
    assert take(page, looked).status_code == 409
    assert passings(server) == []
    assert "1 wrong row was left out" in take(page, looked, leave_wrong="yes").text
    assert len(passings(server)) == 2


def test_what_changed_since_it_was_shown_is_shown_again_and_not_taken(server, page):
    looked = look(page, two(server))
    first = "\n".join(two(server).splitlines()[:2]) + "\n"
    take(page, look(page, first))
    answer = take(page, looked)

    assert answer.status_code == 409
    assert "The record changed since" in answer.text
    assert len(passings(server)) == 1


def test_what_the_record_refuses_in_between_leaves_nothing_taken(server, page, monkeypatch):
    looked = look(page, two(server))

    def overtaken(journal, lines, *rest):
        def refused(verdicts):
            raise ListOvertaken(lines[1], verdicts[1])

        monkeypatch.setattr(journal, "push_whole", lambda batch, _: whole(batch, refused))
        return take_passed(journal, lines, *rest)

    whole = server.house.journal.push_whole
    monkeypatch.setattr(passed, "take_passed", overtaken)
    answer = take(page, looked)

    assert (answer.status_code, "Nothing was taken: row 3" in answer.text) == (409, True)
    assert passings(server) == []


@pytest.mark.parametrize(
    ("data", "status", "words"),
    [
        (b"", 400, "is empty"),
        (b"a,b\n1,2\n", 400, "no column tells"),
        (b"PK\x03\x04", 400, "damaged workbook"),
        (b"x" * (FILE_BYTES + 1), 413, "more than 5 MB"),
    ],
    ids=["empty", "no columns", "no workbook", "too large"],
)
def test_nonsense_is_refused_with_a_reason(page, data, status, words):
    answer = look(page, data)

    assert answer.status_code == status
    assert words in answer.text


def test_the_stranger_other_roles_and_anothers_file_are_refused(server, page):
    assert server.client().get("/passed").status_code == 303
    for role in ("inspector", "tester", "repairer", "dispatch", "administrator"):
        assert server.page(role).get("/passed").status_code == 403, role
    assert take(server.page("planner"), look(page, two(server))).status_code == 410


def test_it_is_reached_from_the_stations_and_from_the_plan(server, page):
    assert 'href="/passed"' in page.get("/stations").text
    assert 'href="/passed"' in server.page("planner").get("/plan").text
    assert 'href="/passed"' not in server.page("inspector").get("/stations").text
