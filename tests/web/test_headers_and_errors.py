"""What every answer carries, and the one shape in which everything is refused."""

import pytest

from qc.store.intake.writer import StorageFailed, StorageFull, WriterClosed
from tests.authors import Author
from tests.web.plant_server import CAST, PIN

STYLES = "style-src 'self' 'sha256-47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU='; style-src-attr 'unsafe-inline'"
REST = (
    "img-src 'self' data: blob:; connect-src 'self'; font-src 'self'; manifest-src 'self'; worker-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)


@pytest.mark.parametrize(
    "address", ["/sign-in", "/nowhere", "/api/v1/people", "/api/v1/nowhere", "/app/nowhere", "/a/x/y"]
)
def test_every_answer_carries_the_headers(server, address):
    headers = server.client().get(address).headers

    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["X-Frame-Options"] == "DENY"
    assert headers["Referrer-Policy"] == "same-origin"
    assert headers["Cross-Origin-Opener-Policy"] == "same-origin"
    assert headers["Cache-Control"] == "no-store"
    assert "frame-ancestors 'none'" in headers["Content-Security-Policy"]
    assert "unsafe-eval" not in headers["Content-Security-Policy"]
    assert "Access-Control-Allow-Origin" not in headers


def test_pages_may_show_charts_and_the_app_may_not_even_set_a_style(server):
    page = server.client().get("/sign-in").headers["Content-Security-Policy"]
    app = server.client().get("/app/").headers["Content-Security-Policy"]

    assert page == f"default-src 'none'; script-src 'self'; {STYLES}; {REST}"
    assert app == f"default-src 'none'; script-src 'self'; style-src 'self'; {REST}"


def test_https_is_asked_for_ever_after_but_not_on_this_machine(server):
    server.app.config["TRUSTED_HOSTS"] = ["record.plant.example", "localhost", "127.0.0.1"]

    def asked(base_url):
        return server.client().get("/sign-in", base_url=base_url).headers.get("Strict-Transport-Security")

    assert asked("https://record.plant.example") == "max-age=31536000"
    assert [asked(f"https://{here}") for here in ("localhost", "localhost:8443", "127.0.0.1:8443")] == [None] * 3
    assert asked("http://record.plant.example") is None


@pytest.mark.parametrize("host", ["elsewhere.example", "localhost.elsewhere.example", "127.0.0.1.example", "", "a b"])
def test_another_host_name_is_refused(server, host):
    """Else a page of another site could point its own name at this server and read it (DNS rebinding)."""
    answer = server.client().get("/api/v1/openapi.json", headers={"Host": host})

    assert answer.status_code == 400
    assert answer.json["error"]["code"] == "bad_request"


@pytest.mark.parametrize("scheme", ["http", "https"])
@pytest.mark.parametrize("host", ["192.0.2.7:8443", "elsewhere.example", "a b"])
def test_who_asks_under_another_name_reads_what_is_wrong_and_nothing_of_the_server(server, scheme, host, caplog):
    """Over HTTPS it was a fault of the server's own, told as 500, with two traces in the log for each."""
    server.app.config["TRUSTED_HOSTS"] = ["record.plant.example", "localhost"]

    page = server.client().get("/sign-in", base_url=f"{scheme}://localhost", headers={"Host": host})

    assert page.status_code == 400
    assert "This server answers under its own name alone" in page.text
    assert "record.plant.example" not in page.text
    assert "Strict-Transport-Security" not in page.headers
    assert page.headers["X-Frame-Options"] == "DENY"
    assert caplog.records == []


@pytest.mark.parametrize(
    ("method", "address", "status", "code"),
    [
        ("GET", "/api/v1/nowhere", 404, "not_found"),
        ("GET", "/api", 404, "not_found"),
        ("GET", "/api/", 404, "not_found"),
        ("DELETE", "/api/v1/push", 405, "method_not_allowed"),
        ("GET", "/api/v1/push", 405, "method_not_allowed"),
        ("OPTIONS", "/api/v1/push", 405, "method_not_allowed"),
        ("POST", "/api/v1/ping", 401, "sign_in_needed"),
        ("POST", "/api/v1/sign-in", 415, "wrong_media_type"),
        ("GET", "/api/v1/pull", 401, "sign_in_needed"),
    ],
)
def test_the_api_refuses_in_one_shape(server, method, address, status, code):
    answer = server.client().open(address, method=method)

    assert answer.status_code == status
    assert set(answer.json) == {"error"}
    assert set(answer.json["error"]) == {"code", "message", "field"}
    assert answer.json["error"]["code"] == code
    if status == 405:
        assert "POST" in answer.headers["Allow"]


def test_a_page_is_refused_with_a_page(server):
    answer = server.client().get("/nowhere")

    assert (answer.status_code, answer.content_type) == (404, "text/html; charset=utf-8")
    assert "There is nothing at this address." in answer.text


@pytest.mark.parametrize(
    ("raised", "status", "code"),
    [
        (StorageFull("the disk is full"), 507, "disk_full"),
        (OSError(28, "No space left on device"), 507, "disk_full"),
        (OSError(5, "Input/output error"), 503, "disk_failed"),
        (OSError(27, "File too large"), 503, "disk_failed"),
        (StorageFailed("the disk failed"), 503, "disk_failed"),
        (WriterClosed("the record is closed"), 503, "stopping"),
        (ZeroDivisionError("secret note of Ivo"), 500, "server_fault"),
        (KeyError("secret note of Ivo"), 500, "server_fault"),
    ],
    ids=lambda part: type(part).__name__ if isinstance(part, Exception) else str(part),
)
def test_a_fault_inside_acknowledges_nothing_and_tells_no_details(server, monkeypatch, raised, status, code):
    ivo = server.phone()

    def fail(batch):
        raise raised

    monkeypatch.setattr(server.house.journal, "push", fail)

    answer = ivo.send([ivo.operation("station_passed", None, {"station": "S05"})])

    assert (answer.status_code, answer.json["error"]["code"]) == (status, code)
    assert "verdicts" not in answer.json
    assert "secret note" not in answer.text


def test_a_fault_in_a_page_is_told_with_its_number_on_a_page(server, monkeypatch, caplog):
    page = server.page("quality_manager")
    monkeypatch.setattr(server.house.photos, "photo", lambda sha: 1 / 0)

    answer = page.get("/photos/" + "0" * 64)

    assert answer.status_code == 500
    number = answer.text.split("fault number ")[1][:8]
    assert f"fault {number}" in caplog.text


def test_even_a_broken_error_page_answers(server, monkeypatch):
    monkeypatch.setitem(server.app.jinja_env.globals, "static_url", lambda path: 1 / 0)

    answer = server.client().get("/nowhere")

    assert answer.status_code == 404
    assert "not_found" in answer.text


def test_a_wrong_sign_in_on_a_phone_says_which_and_when_to_come_again(server):
    client = server.client()
    asked = {"person": CAST["inspector"].code, "pin": "999111", "device": server.enrolled(), "install_epoch": "e"}
    asked |= {"public_key": Author().public, "device_secret": server.secrets["P1"]}
    wrong = [client.post("/api/v1/sign-in", json=asked) for _ in range(5)]

    waiting = client.post("/api/v1/sign-in", json={**asked, "pin": PIN})

    assert {(answer.status_code, answer.json["error"]["code"]) for answer in wrong} == {(401, "wrong_sign_in")}
    assert (waiting.status_code, waiting.json["error"]["code"]) == (429, "too_many_tries")
    assert waiting.headers["Retry-After"] == "60"


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("person", 5),
        ("person", "a b"),
        ("pin", 284915),
        ("pin", ""),
        ("device", ""),
        ("device_secret", "x" * 201),
        ("install_epoch", None),
        ("more", 1),
        ("public_key", "x"),
    ],
)
def test_a_strange_sign_in_names_the_field_and_not_its_value(server, field, value):
    asked = {"person": "IV1", "pin": PIN, "device": server.enrolled(), "install_epoch": "e"}
    asked |= {"public_key": Author().public, "device_secret": server.secrets["P1"]}
    asked[field] = value

    answer = server.client().post("/api/v1/sign-in", json=asked)

    assert (answer.status_code, answer.json["error"]["code"]) == (400, "malformed")
    assert PIN not in answer.text
