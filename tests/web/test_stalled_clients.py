"""Eight half-sent requests once stopped the server: each held a thread for ever. Now a phone is served beside them."""

import json
import time

import pytest

from qc.web.server import HEAD_SECONDS
from tests.faults.stalling import STALLS, stalled
from tests.web.test_server import Served, data, headers_of, push_of, tls  # noqa: F401 - fixtures of the served record

ONE = ["127.0.0.1"]
FIFTY = [f"127.0.0.{place}" for place in range(2, 52)]


def push(served, signed, seq):
    status, body = served.ask("POST", "/api/v1/push", push_of(signed, seq), headers_of(signed))
    assert status == 200, body
    return [verdict["verdict"] for verdict in json.loads(body)["verdicts"]]


@pytest.mark.parametrize("secured", [False, True], ids=["plain", "tls"])
def test_a_phone_is_served_while_others_stall(data, tls, secured):  # noqa: F811
    with Served(data, tls if secured else None) as served:
        signed = served.sign_in()
        root = str(tls.root) if secured else None
        with stalled(served.port, root, ONE, many=80), stalled(served.port, root, FIFTY, many=50):
            answered = [push(served, signed, seq) for seq in range(1, 6)]
            page, _ = served.get("/sign-in")
            began = time.monotonic()
            status, out, _ = served.stop()
            ended = time.monotonic() - began

    assert len(answered) == 5
    assert all(len(verdicts) == 1 for verdicts in answered)
    assert page == 200
    assert (status, "What was answered is kept" in out) == (0, True)
    assert ended < HEAD_SECONDS, "the end waited until the stalled clients were let go"


def test_a_stalled_request_is_told_so_and_let_go(data, tls):  # noqa: F811
    """The answer comes by itself after the silence; a bare or half-headed connection is closed."""
    root = str(tls.root)
    with Served(data, tls) as served, stalled(served.port, root, ONE, STALLS, many=4) as connections:
        ends = {}
        for stall, connection in zip(STALLS, connections, strict=True):
            connection.settimeout(60)
            ends[stall.name] = connection.recv(64)

    assert ends["half a push"].startswith(b"HTTP/1.1 408")
    assert ends["half a photo"].startswith(b"HTTP/1.1 408")
    assert ends["half a head"] == b"" or ends["half a head"].startswith(b"HTTP/1.1 408")
    assert ends["nothing sent"] == b"" or ends["nothing sent"].startswith(b"HTTP/1.1 408")
