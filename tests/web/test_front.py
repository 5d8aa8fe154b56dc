"""The front takes requests in whole: what stalls, trickles, lies about its length or piles up is turned away."""

import asyncio
import json
import threading
from concurrent.futures import ThreadPoolExecutor
from types import SimpleNamespace

import pytest

from qc.web.front import Front, Patience, environ_of

THREADS = {"push": 1, "photo": 1, "page": 1, "sign_in": 1, "machine": 1}
QUICK = Patience(
    body_bytes=1000, quiet_seconds=0.05, grace_seconds=0.0, least_rate=1.0, address_bytes=1500, all_bytes=2500,
    address_requests=3,
)  # fmt: skip


def scope(method="POST", path="/api/v1/push", client="10.0.0.1:5000", length=None, authority=None, **headers):
    given = {name.replace("_", "-"): value for name, value in headers.items()}
    if length is not None:
        given["content-length"] = str(length)
    return SimpleNamespace(
        method=method, path=path, query_string="a=1", scheme="https", http_version="1.1", server="10.0.0.9:8443",
        client=client, authority=authority, headers=given,
    )  # fmt: skip


class Wire:
    """A protocol that hands out pieces, each after a wait, and keeps what was answered; never ending: it stalls."""

    def __init__(self, *pieces, wait=0.0, stalls=False):
        self.pieces, self.wait, self.stalls, self.answered = list(pieces), wait, stalls, None

    async def __aiter__(self):
        for piece in self.pieces:
            await asyncio.sleep(self.wait)
            yield piece
        if self.stalls:
            await asyncio.sleep(3600)

    def response_bytes(self, status, headers, body):
        self.answered = (status, dict(headers), body)

    def response_empty(self, status, headers):
        self.answered = (status, dict(headers), b"")


def echo(environ, start):
    start("200 OK", [("Content-Type", "text/plain")])
    return [environ["wsgi.input"].read()]


def run(asked):
    """Run to the end in a thread of its own: a browser's tests leave their loop running in this one."""
    with ThreadPoolExecutor(1) as apart:
        return apart.submit(lambda: asyncio.run(asked())).result()


def ask(front, told, wire):
    run(lambda: front.__rsgi__(told, wire))
    return wire.answered


def code_of(answered):
    return answered[0], json.loads(answered[2])["error"]["code"]


@pytest.fixture
def front():
    return Front(echo, THREADS, QUICK)


def test_a_whole_body_reaches_the_application(front):
    assert ask(front, scope(length=6), Wire(b"abc", b"def"))[::2] == (200, b"abcdef")


def test_a_body_that_stops_half_way_is_turned_away_in_words(front):
    answered = ask(front, scope(length=6), Wire(b"abc", stalls=True))

    assert code_of(answered) == (408, "too_slow")
    assert "send it again" in json.loads(answered[2])["error"]["message"]


def test_a_body_that_trickles_is_turned_away():
    front = Front(echo, THREADS, Patience(quiet_seconds=5, grace_seconds=0.0, least_rate=1e6))

    assert code_of(ask(front, scope(length=900), Wire(*[b"x"] * 900, wait=0.001))) == (408, "too_slow")


def test_a_body_shorter_than_announced_is_turned_away(front):
    assert code_of(ask(front, scope(length=6), Wire(b"abc"))) == (400, "malformed")


@pytest.mark.parametrize(
    ("told", "status"), [("1001", 413), ("9" * 30, 413), ("-5", 400), ("1e3", 400), ("٣", 400), ("", 411)]
)
def test_a_length_that_cannot_be_is_turned_away_unread(front, told, status):
    wire = Wire(b"abc")

    assert ask(front, scope(length=told), wire)[0] == status
    assert wire.pieces == [b"abc"]


@pytest.mark.parametrize(("path", "kind"), [("/api/v1/push", "application/json"), ("/plan/look", "text/html")])
def test_a_person_is_told_on_a_page_and_a_program_in_json(front, path, kind):
    wire = Wire()
    run(lambda: front.__rsgi__(scope(path=path, length=2000), wire))
    status, headers, body = wire.answered

    assert status == 413
    assert headers["content-type"].partition(";")[0] == kind
    assert "larger than any address takes" in body.decode()
    assert body.startswith(b"<!doctype html>" if kind == "text/html" else b"{")
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["content-security-policy"] == "default-src 'none'"


def test_a_body_of_unannounced_length_is_turned_away_and_a_bare_get_is_not(front):
    assert ask(front, scope(transfer_encoding="chunked"), Wire(b"abc"))[0] == 411
    assert ask(front, scope("GET", transfer_encoding="chunked"), Wire(b"abc"))[0] == 411
    assert ask(front, scope("GET"), Wire())[::2] == (200, b"")


def test_bodies_on_their_way_are_limited_by_address_and_in_all(front):
    async def together():
        one = [asyncio.create_task(front.__rsgi__(scope(length=800), wire)) for wire in stalled[:1]]
        await asyncio.sleep(0)
        await front.__rsgi__(scope(length=800), second)
        await front.__rsgi__(scope(length=800, client="10.0.0.2:1"), other)
        held = [
            asyncio.create_task(front.__rsgi__(scope(length=800, client=f"10.0.1.{place}:1"), wire))
            for place, wire in enumerate(stalled[1:])
        ]
        await asyncio.sleep(0)
        await front.__rsgi__(scope(length=800, client="10.0.0.3:1"), last)
        await asyncio.gather(*one, *held)
        await front.__rsgi__(scope(length=800, client="10.0.0.3:1"), after)

    stalled = [Wire(b"x", stalls=True) for _ in range(3)]
    second, other, last, after = (Wire(b"x" * 800) for _ in range(4))
    run(together)

    assert code_of(second.answered) == (503, "busy")  # 1600 bytes from one address, 1500 may be
    assert second.answered[1]["retry-after"] == "5"
    assert other.answered[0] == 200
    assert code_of(last.answered) == (503, "busy")  # 3200 in all, 2500 may be
    assert after.answered[0] == 200  # what was turned away or ended holds nothing any more


def test_requests_on_their_way_from_one_address_are_limited(front):
    async def together():
        held = [asyncio.create_task(front.__rsgi__(scope(length=1), wire)) for wire in stalled]
        await asyncio.sleep(0)
        await front.__rsgi__(scope("GET"), one_more)
        await asyncio.gather(*held)

    stalled, one_more = [Wire(stalls=True) for _ in range(3)], Wire()
    run(together)

    assert code_of(one_more.answered) == (503, "busy")


def test_the_environment_is_that_of_pep_3333():
    told = scope("PUT", "/units/T%C3%BCr", length=3, content_type="text/x", x_one="1", authority="plant.example")
    environ = environ_of(told, b"abc")

    assert environ["PATH_INFO"] == "/units/Tür".encode().decode("latin-1")
    assert environ["CONTENT_TYPE"] == "text/x"
    assert environ["CONTENT_LENGTH"] == "3"
    assert environ["HTTP_X_ONE"] == "1"
    assert environ["HTTP_HOST"] == "plant.example"
    assert (environ["SERVER_NAME"], environ["SERVER_PORT"]) == ("10.0.0.9", "8443")
    assert environ["REMOTE_ADDR"] == "10.0.0.1"
    assert environ["wsgi.input"].read() == b"abc"


def test_an_application_that_raises_after_its_start_is_closed_all_the_same():
    closed = []

    class Broken:
        def __iter__(self):
            raise OSError("the disk")

        def close(self):
            closed.append(True)

    def app(environ, start):
        start("200 OK", [])
        return Broken()

    with pytest.raises(OSError, match="the disk"):
        ask(Front(app, THREADS), scope("GET"), Wire())
    assert closed == [True]


def test_a_photo_waits_for_the_pushes_that_queue_and_a_page_does_not():
    async def together():
        pushes = [asyncio.create_task(front.__rsgi__(scope(length=1), Wire(b"x"))) for _ in range(3)]
        await asyncio.sleep(0.05)
        photo = asyncio.create_task(front.__rsgi__(scope("PATCH", "/api/v1/photos/ab", length=1), Wire(b"p")))
        await asyncio.gather(front.__rsgi__(scope("GET", "/units"), Wire()), asyncio.sleep(0.05))
        let_go.set()
        await asyncio.gather(*pushes, photo)

    let_go, answered = threading.Event(), []

    def app(environ, start):
        if environ["PATH_INFO"] == "/api/v1/push":
            assert let_go.wait(10)
        answered.append(environ["PATH_INFO"])
        return echo(environ, start)

    front = Front(app, THREADS)
    run(together)

    assert answered[0] == "/units"
    assert answered.index("/api/v1/photos/ab") >= 2  # one push of three has a thread; the photo waits for two of them


def test_machines_wait_for_each_other_and_neither_page_nor_push_for_them():
    async def together():
        asked = [("POST", "/api/v1/plan"), ("GET", "/api/v1/tables"), ("GET", "/api/v1/tables/defects")]
        machines = [
            asyncio.create_task(front.__rsgi__(scope(how, path, length=1 if how == "POST" else None), Wire(b"x")))
            for how, path in asked
        ]
        await asyncio.sleep(0.05)
        await asyncio.wait_for(front.__rsgi__(scope("GET", "/units"), Wire()), 5)
        await asyncio.wait_for(front.__rsgi__(scope("POST", "/api/v1/push", length=1), Wire(b"x")), 5)
        held.append(list(answered))
        let_go.set()
        await asyncio.gather(*machines)

    let_go, answered, held = threading.Event(), [], []

    def app(environ, start):
        if environ["PATH_INFO"].startswith(("/api/v1/plan", "/api/v1/tables")):
            assert let_go.wait(10)
        answered.append(environ["PATH_INFO"])
        return echo(environ, start)

    front = Front(app, THREADS)
    run(together)

    assert held == [["/units", "/api/v1/push"]]
    assert len(answered) == 5


def test_a_photo_waits_for_pushes_no_longer_than_its_time():
    async def together():
        pushes = [asyncio.create_task(front.__rsgi__(scope(length=1), Wire(b"x"))) for _ in range(3)]
        await asyncio.sleep(0.01)
        await front.__rsgi__(scope("PATCH", "/api/v1/photos/ab", length=1), photo)
        let_go.set()
        await asyncio.gather(*pushes)

    let_go, photo = threading.Event(), Wire(b"p")

    def app(environ, start):
        assert environ["PATH_INFO"] != "/api/v1/push" or let_go.wait(10)
        return echo(environ, start)

    front = Front(app, THREADS, Patience(after_pushes_seconds=0.05))
    run(together)

    assert photo.answered[0] == 200
