"""Signing in on a page: the cookie, the two proofs of a form, where one goes on to. Stan is a stranger."""

import pytest

from qc.web.page_session import own_address
from tests.web.plant_server import CAST, OWN_PAGE, PHRASE, PIN

MIA = CAST["quality_manager"].code


def cookie_of(answer) -> str:
    return answer.headers["Set-Cookie"]


def test_the_right_passphrase_gets_in_and_on_to_where_one_was_headed(server):
    page = server.page()

    answer = page.sign_in(MIA, PHRASE, "/units?state=released")

    assert (answer.status_code, answer.location) == (303, "/units?state=released")
    assert page.get("/sign-in").status_code == 303


@pytest.mark.parametrize(
    ("code", "secret"), [(MIA, "wrong words here"), ("NOBODY", PHRASE), (MIA, ""), ("", ""), (MIA, "x" * 200)]
)
def test_a_wrong_sign_in_says_so_and_keeps_the_code(server, code, secret):
    answer = server.page().sign_in(code, secret)

    assert answer.status_code == 401
    alert = answer.text.split('role="alert">')[1].split("<")[0]
    assert alert in ("Name and PIN do not go together; check both and try again.", "Type the PIN or passphrase.")
    if secret:
        assert secret not in answer.text


def test_too_many_tries_are_told_in_minutes(server):
    page = server.page()
    for _ in range(5):
        page.sign_in(MIA, "wrong words here")

    answer = page.sign_in(MIA, PHRASE)

    assert (answer.status_code, "Wait 1 minute," in answer.text) == (429, True)


def test_a_stranger_at_the_same_desk_does_not_lock_out_who_has_signed_in_there(server):
    """The browser keeps a mark after the sign-out; a try with it is not counted with those of strangers."""
    page, stranger = server.page("quality_manager"), server.page()
    page.post("/sign-out", csrf_token=page.form_token("/units"))
    for _ in range(6):
        for person in CAST.values():
            stranger.sign_in(person.code, "wrong words here")

    assert stranger.sign_in(MIA, PHRASE).status_code == 429
    assert page.sign_in(MIA, PHRASE).status_code == 303


def test_the_browsers_mark_is_hidden_from_scripts_and_given_once(server):
    page = server.page("quality_manager")
    marks = [cookie for cookie in page.client._cookies.values() if cookie.key == "qc-loopback-browser"]
    page.post("/sign-out", csrf_token=page.form_token("/units"))
    again = page.sign_in(MIA, PHRASE)

    assert [(cookie.http_only, cookie.same_site, cookie.value.startswith("MI1.")) for cookie in marks] == [
        (True, "Lax", True)
    ]
    assert not [header for header in again.headers.getlist("Set-Cookie") if "browser" in header]


def test_wrong_tries_are_shown_to_the_person_and_the_administrator(server):
    ivo = server.phone()
    asked = {"person": MIA, "pin": "111222", "device": ivo.signed["device"], "install_epoch": "e"}
    asked["device_secret"] = server.secrets["P1"]
    for code in (MIA, "NOBODY-284915"):
        answer = server.client().post(
            "/api/v1/sign-in", json={**asked, "person": code, "public_key": ivo.author.public}
        )
        assert answer.status_code == 401
    mia, ada, leo = (server.page(role) for role in ("quality_manager", "administrator", "station_lead"))

    assert "1 wrong try under your code" in mia.get("/units").text
    assert "phone P1" in mia.get("/sign-ins").text
    assert "1 wrong try" not in leo.get("/units").text
    assert "None are kept" in leo.get("/sign-ins").text
    told = ada.get("/sign-ins").text
    assert MIA in told
    assert "a code that nobody has" in told
    assert "284915" not in told


def test_over_https_the_cookie_is_bound_to_the_host_and_hidden_from_scripts(server):
    cookie = cookie_of(server.client().get("/sign-in", base_url="https://localhost"))

    assert cookie.startswith("__Host-qc=")
    for part in ("Secure", "HttpOnly", "SameSite=Lax", "Path=/"):
        assert part in cookie
    assert "Domain" not in cookie


def test_on_loopback_http_the_cookie_does_not_call_itself_secure(server):
    cookie = cookie_of(server.client().get("/sign-in"))

    assert cookie.startswith("qc-loopback=")
    assert "HttpOnly; Path=/; SameSite=Lax" in cookie


def test_signing_in_gives_a_new_cookie(server):
    """Else somebody who planted a cookie before the sign-in would be signed in with it (session fixation)."""
    page = server.page()
    before = cookie_of(page.get("/sign-in"))

    assert cookie_of(page.sign_in(MIA, PHRASE)).split(";")[0] != before.split(";")[0]


def test_signing_out_ends_it_in_the_record_and_not_in_the_browser_alone(server):
    page = server.page("quality_manager")
    stolen = page.client.get_cookie("qc-loopback").value

    answer = page.post("/sign-out", csrf_token=token_of(page))

    assert (answer.status_code, answer.location) == (303, "/sign-in")
    assert server.house.sign_ins.by_token(stolen, "page") is None


def token_of(page) -> str:
    """Return the form token of a signed-in page, read from the sign-out form that each page holds."""
    return page.get("/nowhere").text.split('name="csrf_token" value="')[1].split('"')[0]


FOREIGN = [
    {},
    {"Sec-Fetch-Site": "cross-site", "Origin": "http://localhost"},
    {"Sec-Fetch-Site": "same-site", "Origin": "http://localhost"},
    {"Sec-Fetch-Site": "none"},
    {"Origin": "http://elsewhere.example"},
    {"Origin": "null"},
    {"Origin": "http://localhost:9999"},
    {"Origin": "https://localhost"},
    {"Referer": "http://localhost/"},
]


@pytest.mark.parametrize("headers", FOREIGN, ids=str)
def test_a_form_from_elsewhere_is_refused_even_with_the_right_token(server, headers):
    page = server.page("quality_manager")

    answer = page.post("/sign-out", headers=headers, csrf_token=token_of(page))

    assert answer.status_code == 403
    assert "foreign_form" in answer.text


@pytest.mark.parametrize("token", ["", "x", "0" * 64, "é"])
def test_a_form_without_the_right_token_is_refused_even_from_our_own_page(server, token):
    page = server.page("quality_manager")

    answer = page.post("/sign-out", csrf_token=token)

    assert answer.status_code == 403
    assert "stale_form" in answer.text


def test_another_persons_token_is_not_the_right_one(server):
    mia, leo = server.page("quality_manager"), server.page("station_lead")

    assert leo.post("/sign-out", csrf_token=token_of(mia)).status_code == 403


def test_a_browser_without_fetch_metadata_is_believed_by_its_origin(server):
    page = server.page("quality_manager")

    answer = page.post("/sign-out", headers={"Origin": "http://localhost"}, csrf_token=token_of(page))

    assert answer.status_code == 303


def test_even_the_sign_in_form_needs_both_proofs(server):
    """Else a foreign page could sign the browser in under another name, and work would stand under it."""
    client = server.client()
    client.get("/sign-in")
    form = {"person": MIA, "secret": PHRASE}

    assert client.post("/sign-in", data=form, headers=OWN_PAGE).status_code == 403
    assert client.post("/sign-in", data={**form, "csrf_token": "x"}).status_code == 403


@pytest.mark.parametrize(
    ("asked", "onward"),
    [
        ("/units?x=1", "/units?x=1"),
        ("/", "/"),
        ("", "/"),
        ("//elsewhere.example", "/"),
        ("/\\elsewhere.example", "/"),
        ("https://elsewhere.example", "/"),
        ("javascript:alert(1)", "/"),
        ("/a\nSet-Cookie: x", "/"),
        ("/\t/elsewhere.example", "/"),
        ("units", "/"),
    ],
)
def test_one_goes_on_to_our_own_addresses_only(asked, onward):
    assert own_address(asked) == onward


def test_a_stranger_is_sent_to_the_sign_in_and_back(server):
    answer = server.client().get("/photos/" + "0" * 64 + "?edge=320")

    assert answer.status_code == 303
    assert answer.location == "/sign-in?next=/photos/" + "0" * 64 + "%3Fedge%3D320"


def test_the_api_reads_no_cookie_and_pages_read_no_token(server):
    page, ivo = server.page("inspector"), server.phone()
    photo = "0" * 64

    assert page.get("/api/v1/pull").status_code == 401
    assert server.client().get(f"/photos/{photo}", headers=ivo.headers).status_code == 303
    page.client.set_cookie("qc-loopback", ivo.signed["token"])
    assert page.get(f"/photos/{photo}").status_code == 303


def test_a_page_idles_out_after_half_an_hour(server):
    page = server.page("quality_manager")
    server.now += 30 * 60_000

    assert page.get("/photos/" + "0" * 64).status_code == 303


def test_a_pin_on_a_page_is_taken_as_well(server):
    assert server.page().sign_in(CAST["station_lead"].code, PIN).status_code == 303
