"""The API's description is true: every route is in it, and what is answered has the shape that it gives.

Checked by two libraries of others: openapi-spec-validator (the OpenAPI 3.1 schema) and jsonschema (draft 2020-12).
"""

import re

import pytest

from qc.web.api.description import description
from qc.web.desk import uuid7
from tests.web.plant_server import CAST, PIN, UNIT, picture, sha

DOCUMENT = description()


def schema_of(name: str) -> dict:
    return {"$ref": f"#/components/schemas/{name}", "components": DOCUMENT["components"]}


def assert_shaped(data, name: str) -> None:
    from jsonschema import Draft202012Validator  # two seconds of each worker that gathers the tests, at the top

    faults = [
        f"{fault.json_path}: {fault.message}" for fault in Draft202012Validator(schema_of(name)).iter_errors(data)
    ]
    assert faults == []


def routes(app) -> set[tuple[str, str]]:
    return {
        (re.sub(r"<(\w+)>", r"{\1}", rule.rule.removeprefix("/api/v1")), method.lower())
        for rule in app.url_map.iter_rules()
        if rule.rule.startswith("/api/")
        for method in rule.methods or ()
    }


def described() -> set[tuple[str, str]]:
    methods = {"get", "head", "post", "put", "patch", "delete", "options"}
    return {(path, method) for path, item in DOCUMENT["paths"].items() for method in item if method in methods}


def test_it_is_valid_openapi():
    from openapi_spec_validator import validate  # as above

    validate(DOCUMENT)


def test_every_schema_is_a_valid_schema():
    from jsonschema import Draft202012Validator  # as above

    for schema in DOCUMENT["components"]["schemas"].values():
        Draft202012Validator.check_schema(schema)


def test_every_route_is_described_and_every_description_has_its_route(server):
    """HEAD of a described GET is the same answer without its body (RFC 9110 section 9.3.2) and needs no words."""
    implied = {(path, "head") for path, method in described() if method == "get"}

    assert routes(server.app) - implied == described() - implied


def test_a_route_that_nobody_described_would_be_found(server):
    server.app.add_url_rule("/api/v1/planted", "planted", lambda: "", methods=["GET"])

    assert ("/planted", "get") in routes(server.app) - described()


def test_it_is_served_as_it_is(server):
    assert server.client().get("/api/v1/openapi.json").json == DOCUMENT


@pytest.fixture
def busy(server):
    """A server with a planned unit, a defect with its photo, and a look."""
    planner, ivo, photo = server.phone("planner"), server.phone(), picture(64, 48)
    planner.push(planner.plan())
    begun = ivo.operation("inspection_begun", UNIT, {"point": "D01", "purpose": "presentation", "light": "wet"})
    place = {"point": "D01", "zone": "front.panel", "type": "PAN-03", "severity": "minor", "inspection": begun["id"]}
    defect = ivo.operation("defect_recorded", UNIT, {**place, "mark": [1, 2], "note": "x"})
    skipped = {"inspection": begun["id"], "zone": "front.gas", "reason": "weather"}
    tests = [("G1", {"value": 3.5}), ("G2", {"passed": True})]
    operations = [
        begun,
        defect,
        ivo.operation("photo_attached", UNIT, {"defect": defect["id"], "sha256": sha(photo), "bytes": len(photo)}),
        ivo.operation("zone_not_looked_at", UNIT, skipped),
        ivo.operation("origin_suspected", UNIT, {"defect": defect["id"], "station": "S05"}),
        *(ivo.operation("test_recorded", UNIT, {"test": test, "instrument": "M-1", **body}) for test, body in tests),
        signed := ivo.operation("unit_released", UNIT, {"open_digest": "0" * 64, "against": "DEMO-1"}),
        ivo.operation("from_tomorrow", UNIT, {}),
    ]
    assert ivo.sign_anew(signed).status_code == 200
    answer = ivo.send(operations)
    assert ivo.upload(photo).status_code == 204
    return server, ivo, answer


def test_answers_have_the_described_shape(busy):
    server, ivo, pushed = busy
    asked = {
        "person": CAST["inspector"].code,
        "pin": PIN,
        "device": ivo.signed["device"],
        "device_secret": server.secrets[ivo.signed["device"]],
        "install_epoch": "e",
        "public_key": ivo.author.public,
    }
    pulled = ivo.get("pull").json

    assert_shaped(pushed.json, "Verdicts")
    assert {told["verdict"] for told in pushed.json["verdicts"]} == {"applied", "refused", "too_new"}
    assert_shaped(pulled, "Pulled")
    (unit,) = pulled["units"]
    assert unit["defects"]
    assert unit["blockers"]
    assert unit["inspections"][0]["not_looked"]
    assert unit["tests"]
    assert_shaped(ivo.get("plant").json, "Plant")
    assert_shaped(ivo.get("people").json, "People")
    offer = {"letters": server.house.enrolment.offer().letters, "device": None, "device_secret": ""}
    assert_shaped(server.client().post("/api/v1/enrol", json=offer).json, "Enrolled")
    assert_shaped(server.client().post("/api/v1/sign-in", json=asked).json, "SignedIn")
    assert_shaped(ivo.sign_anew({"id": uuid7(server.now)}).json, "Certified")
    assert_shaped(ivo.post("ping", b'{"nonce":"n"}').json, "Pong")


def test_what_a_phone_sends_has_the_described_shape(server):
    ivo = server.phone()
    operation = ivo.operation("station_passed", UNIT, {"station": "S05"})

    assert_shaped(ivo.frame([operation], chain={"size": 0, "head": "0" * 64}), "Push")
    with pytest.raises(AssertionError):
        assert_shaped(ivo.frame([{**operation, "extra": 1}]), "Push")


@pytest.mark.parametrize(
    ("method", "path"), [("GET", "pull"), ("POST", "push"), ("GET", "nowhere"), ("PUT", "plant"), ("POST", "sign-in")]
)
def test_refusals_have_the_described_shape(server, method, path):
    assert_shaped(server.client().open(f"/api/v1/{path}", method=method).json, "Refused")


def test_every_refusal_that_the_tests_above_meet_is_a_described_status(busy):
    server, ivo, _ = busy
    met = {
        ("/pull", "get"): [ivo.get("pull?after=x"), server.client().get("/api/v1/pull")],
        ("/plant", "get"): [server.client().get("/api/v1/plant")],
        ("/push", "post"): [ivo.post("push", b"{"), ivo.post("push", b"{}", "text/plain")],
        ("/sign-in", "post"): [server.client().post("/api/v1/sign-in", json={})],
        ("/photos/{sha256}", "patch"): [ivo.upload(b"x"), ivo.upload(b"xy", 1, 2)],
        ("/photos/{sha256}", "get"): [ivo.get("photos/x"), ivo.get(f"photos/{'0' * 64}?edge=1")],
    }
    for (path, method), answers in met.items():
        for answer in answers:
            assert answer.status_code >= 400
            assert str(answer.status_code) in DOCUMENT["paths"][path][method]["responses"]
