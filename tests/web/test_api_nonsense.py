"""Nonsense at every address of the API: the server never falls over, and refuses in its one shape.

Bodies begin as what an honest phone sends; one place in them is then exchanged for something odd, or bytes are cut,
doubled and swapped.
"""

import json

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.web.plant_server import CAST, PIN, UNIT, PlantServer, sha

NUMBERS = (-1, 0, 2**53, 2**64, 10**400, 1.5, 1e308, float("inf"), float("nan"))
TEXTS = ("", "x", "x" * 5000, "\x00", "\ud800", "'; --", "../../keys/pepper", "%s%n", "é", UNIT)
ODD = st.sampled_from([None, True, *NUMBERS, *TEXTS, [], [[]], {}, {"a": {"a": {}}}, [None], ["a", "a"]])
HEADERS = ["Authorization", "Content-Type", "Upload-Offset", "Upload-Length", "If-None-Match", "Accept-Encoding"]
HEADERS += ["Content-Encoding", "Range", "If-Modified-Since", "Cookie", "X-Forwarded-Host", "Content-Length"]


@pytest.fixture(scope="module")
def shared(tmp_path_factory):
    from qc.store.people import pins

    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(pins, "_PIN", pins.PasswordHasher(time_cost=1, memory_cost=64, parallelism=1))
        patched.setattr(pins, "_PASSPHRASE", pins.PasswordHasher(time_cost=1, memory_cost=64, parallelism=1))
        server = PlantServer(tmp_path_factory.mktemp("nonsense") / "plant")
        planner = server.phone("planner")
        planner.push(planner.plan())
        yield server, server.phone()
        server.house.close()


def places_in(value, path=()):
    """Return the paths of every value in a JSON document, the whole of it first."""
    parts = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [path, *(place for key, part in parts for place in places_in(part, (*path, key)))]


def exchanged(value, path, odd):
    if not path:
        return odd
    copy = dict(value) if isinstance(value, dict) else list(value)
    copy[path[0]] = exchanged(value[path[0]], path[1:], odd)
    return copy


def assert_answered(answer):
    assert answer.status_code < 500, answer.text
    assert answer.content_type == "application/json"
    if answer.status_code >= 400:
        assert set(answer.json) == {"error"}


def bodies(ivo):
    begun = ivo.operation("inspection_begun", UNIT, {"point": "D01", "purpose": "presentation", "light": "wet"}, seq=1)
    defect = {"point": "D01", "zone": "front.panel", "type": "PAN-03", "severity": "minor", "inspection": begun["id"]}
    made = [
        begun,
        ivo.operation("defect_recorded", UNIT, {**defect, "note": "x", "mark": [1, 2]}, seq=2),
        ivo.operation("zone_looked_at", UNIT, {"inspection": begun["id"], "zones": ["front.panel"]}, seq=3),
        ivo.operation("test_recorded", UNIT, {"test": "G1", "instrument": "M1", "value": 2.5}, seq=4),
        ivo.operation("repair_done", UNIT, {"defects": [begun["id"]], "method": "rework", "minutes": 5}, seq=5),
        ivo.operation("photo_attached", UNIT, {"defect": begun["id"], "sha256": sha(b"x"), "bytes": 1}, seq=6),
        ivo.operation("unit_released", UNIT, {"open_digest": "0" * 64, "against": "DEMO-1"}, seq=7),
    ]
    device = ivo.signed["device"]
    signing = {"person": CAST["inspector"].code, "pin": PIN, "device": device, "install_epoch": "first"}
    signing["device_secret"] = ivo.server.secrets[device]
    signing["public_key"] = ivo.author.public
    again = {"pin": PIN, "operation": begun["id"], "public_key": ivo.author.public}
    chain = {"size": 0, "head": "0" * 64}
    return {"push": ivo.frame(made, chain=chain), "sign-in": signing, "signature": again, "ping": {"nonce": "n"}}


@settings(max_examples=300, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_a_body_with_one_odd_place_is_answered(shared, data):
    server, ivo = shared
    server.now += 3_600_000  # so that wrong sign-ins are forgiven
    ivo = server.phone(device=ivo.signed["device"])
    path, body = data.draw(st.sampled_from(list(bodies(ivo).items())))
    place = data.draw(st.sampled_from(places_in(body)))
    odd = data.draw(ODD)

    written = json.dumps(exchanged(body, place, odd), ensure_ascii=data.draw(st.booleans()))
    answer = ivo.post(path, written.encode("utf-8", "surrogatepass"))

    assert_answered(answer)


@settings(max_examples=200, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_a_body_whose_bytes_were_torn_is_answered(shared, data):
    _, ivo = shared
    path, body = data.draw(st.sampled_from(list(bodies(ivo).items())))
    raw = bytearray(json.dumps(body).encode())
    for _ in range(data.draw(st.integers(1, 4))):
        first = data.draw(st.integers(0, max(0, len(raw) - 1)))  # torn four times, nothing may be left
        raw[first : first + data.draw(st.integers(0, 8))] = data.draw(st.binary(max_size=4))

    assert_answered(ivo.post(path, bytes(raw)))


ADDRESSES = (
    "push",
    "pull",
    "plant",
    "people",
    "ping",
    "sign-in",
    "signature",
    f"photos/{'0' * 64}",
    "photos/x",
    "openapi.json",
    "none",
)


@settings(max_examples=200, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    method=st.sampled_from(["GET", "POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE", "QUERY"]),
    path=st.sampled_from(ADDRESSES),
    query=st.text(max_size=20),
    headers=st.dictionaries(
        st.sampled_from(HEADERS),
        st.text(st.characters(min_codepoint=32, max_codepoint=255), max_size=30),
        max_size=5,
    ),
    body=st.binary(max_size=50),
    signed=st.booleans(),
)
def test_any_method_with_any_header_is_answered(shared, method, path, query, headers, body, signed):
    _, ivo = shared
    sent = {**headers, **(ivo.headers if signed else {})}

    answer = ivo.client.open(f"/api/v1/{path}", method=method, query_string=query, headers=sent, data=body)

    if answer.status_code not in (204, 304):
        assert_answered(answer)
