"""Forms sent from elsewhere, and sessions planted beforehand: against every page that takes a form.

The routes are read from the application, so that a new form is attacked without being named here.
"""

import pytest

from tests.web.plant_server import CAST, OWN_PAGE, PHRASE, UNIT

MIA = CAST["quality_manager"].code
FILLED = {"<station>": "S05", "<chassis>": UNIT}
ELSEWHERE = {
    "another site": {"Sec-Fetch-Site": "cross-site", "Origin": "https://stan.example"},
    "a sibling name": {"Sec-Fetch-Site": "same-site", "Origin": "https://other.localhost"},
    "typed in": {"Sec-Fetch-Site": "none"},
    "another origin, no metadata": {"Origin": "https://stan.example"},
    "a sandboxed frame": {"Origin": "null"},
    "another scheme": {"Origin": "https://localhost"},
    "another port": {"Origin": "http://localhost:8080"},
    "nothing told": {},
}


def forms(app):
    """Return the addresses of all pages that take a form."""
    rules = [rule for rule in app.url_map.iter_rules() if "POST" in rule.methods and not rule.rule.startswith("/api/")]
    addresses = [rule.rule for rule in rules]
    for place, value in FILLED.items():
        addresses = [one.replace(place, value) for one in addresses]
    assert not [one for one in addresses if "<" in one], "say above what stands in the new route's place"
    return sorted(addresses)


def kept(server):
    """Return what a form could have changed: the journal's length and the sign-ins."""
    conn = server.house.reads.connection()
    return [conn.execute(f"SELECT count(*) FROM {table}").fetchone()[0] for table in ("journal", "sign_in")]


@pytest.fixture(scope="module")
def manager(attacked):
    """The manager signed in at a desk, with the token of their own forms."""
    page = attacked.page("quality_manager")
    return page, page.form_token("/units")


@pytest.mark.parametrize("whence", ELSEWHERE)
def test_no_form_from_elsewhere_is_taken_though_its_token_is_right(attacked, manager, whence):
    page, token = manager
    before = kept(attacked)
    told = {
        one: page.client.post(one, data={"csrf_token": token, "reason": "forged"}, headers=ELSEWHERE[whence])
        for one in forms(attacked.app)
    }

    assert len(told) > 8
    assert {one: answer.status_code for one, answer in told.items() if answer.status_code != 403} == {}
    assert kept(attacked) == before


@pytest.mark.parametrize("sent", ["none", "empty", "another session's", "a stranger's", "cut", "not text"])
def test_no_form_is_taken_without_this_sessions_token(attacked, manager, sent):
    page, token = manager
    other = attacked.page("station_lead").form_token("/units")
    tokens = {"another session's": other, "a stranger's": attacked.page().form_token(), "cut": token[:-1]}
    tokens |= {"not text": "\ud800é", "empty": ""}
    data = {"reason": "forged"} if sent == "none" else {"csrf_token": tokens[sent], "reason": "forged"}
    data = {name: value.encode("utf-8", "surrogatepass") for name, value in data.items()}
    before = kept(attacked)

    told = {one: page.client.post(one, data=data, headers=OWN_PAGE).status_code for one in forms(attacked.app)}

    assert set(told.values()) == {403}, told
    assert kept(attacked) == before


def test_the_right_form_is_taken(attacked, manager):
    """What the tests above send would have worked: with both proofs it is not 403."""
    page, token = manager
    told = page.client.post("/signals/mute", data={"csrf_token": token, "reason": "x"}, headers=OWN_PAGE)

    assert told.status_code != 403


def test_a_session_planted_before_the_sign_in_is_worth_nothing(attacked):
    """Session fixation: Stan gives Mia a cookie that he knows, she signs in with it, he uses it."""
    planted = "planted-by-stan-" + "x" * 30
    mia, stan = attacked.client(), attacked.client()
    for client in (mia, stan):
        client.set_cookie("qc-loopback", planted, domain="localhost")
    token = mia.get("/sign-in").text.split('name="csrf_token" value="')[1].split('"')[0]
    signed = mia.post(
        "/sign-in", data={"csrf_token": token, "person": MIA, "secret": PHRASE, "next": "/"}, headers=OWN_PAGE
    )

    assert signed.status_code == 303
    assert mia.get_cookie("qc-loopback").value not in ("", planted)
    assert mia.get("/review").status_code == 200
    assert stan.get("/review").status_code == 303, "sent to the sign-in"
    assert stan.get("/units").location.startswith("/sign-in")


def test_each_sign_in_has_a_session_of_its_own_and_sign_out_ends_it(attacked):
    page = attacked.page("quality_manager")
    first = page.client.get_cookie("qc-loopback").value
    page.post("/sign-out", csrf_token=page.form_token("/units"))
    page.sign_in(MIA, PHRASE)
    second = page.client.get_cookie("qc-loopback").value
    thief = attacked.client()
    thief.set_cookie("qc-loopback", first, domain="localhost")

    assert first != second
    assert page.get("/review").status_code == 200
    assert thief.get("/review").status_code == 303


@pytest.mark.parametrize("whose", ["nobody's", "made up", "another's", "cut", "not told"])
def test_no_stranger_is_told_who_there_is(attacked, whose):
    device = attacked.enrolled()
    other = attacked.secrets[attacked.enrolled("P1")]
    secret = {"nobody's": "", "made up": "x" * 43, "another's": other, "cut": attacked.secrets[device][:-1]}.get(whose)
    answer = attacked.client().get("/api/v1/people", auth=None if secret is None else (device, secret))

    assert answer.status_code in (401, 403)
    assert MIA not in answer.text
    own = attacked.client().get("/api/v1/people", auth=(device, attacked.secrets[device]))
    assert MIA in own.text


def test_a_phones_token_opens_no_page_and_a_pages_cookie_no_address_of_phones(attacked, manager):
    page, _ = manager
    token = attacked.phones["quality_manager"].headers["Authorization"].removeprefix("Bearer ")
    thief = attacked.client()
    thief.set_cookie("qc-loopback", token, domain="localhost")

    assert thief.get("/review").status_code == 303
    assert page.client.get("/api/v1/plant").status_code == 401
    cookie = page.client.get_cookie("qc-loopback").value
    assert attacked.client().get("/api/v1/plant", headers={"Authorization": f"Bearer {cookie}"}).status_code == 401
