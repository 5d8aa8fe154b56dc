"""Who may do what: every route × every method × every role against a table written by hand.

A route that is not in the table fails the build; so does a line of the table whose route is gone. The rules behind it:
everybody signed in looks units up; the manager's week is the manager's; a station's page is its leads' and the
manager's, and only they answer for it; the administrator keeps the server and neither inspects nor releases.
"""

import pytest

from tests.authors import Author
from tests.web.plant_server import CAST, OWN_PAGE, UNIT, picture, sha

ROLES = tuple(CAST)
PHONE = tuple(role for role in ROLES if role != "administrator")
MACHINES = {"machine_plan": ("plan",), "machine_read": ("read",)}  # each by a token of its own
PHOTO = picture(32, 24)

# (route, method): the roles that may, "anybody" without signing in. Everybody else is refused.
API = {
    ("/api/v1/openapi.json", "GET"): "anybody",
    ("/api/v1/people", "GET"): PHONE,
    ("/api/v1/enrol", "POST"): "anybody",  # with an administrator's offer, which serves once
    ("/api/v1/sign-in", "POST"): "anybody",  # on a phone that proves to be enrolled
    ("/api/v1/signature", "POST"): PHONE,
    ("/api/v1/secret", "POST"): PHONE,  # their own
    ("/api/v1/language", "POST"): PHONE,  # their own
    ("/api/v1/ping", "POST"): PHONE,
    ("/api/v1/push", "POST"): PHONE,
    ("/api/v1/pull", "GET"): PHONE,
    ("/api/v1/plant", "GET"): PHONE,
    ("/api/v1/photos/<sha256>", "GET"): PHONE,
    ("/api/v1/photos/<sha256>", "PATCH"): PHONE,
    ("/api/v1/plan", "POST"): ("machine_plan",),
    ("/api/v1/tables", "GET"): ("machine_read",),
    ("/api/v1/tables/<table>", "GET"): ("machine_read",),
}
PAGES = {
    ("/", "GET"): "anybody",  # sends each to their own page, a stranger to the sign-in
    ("/sign-in", "GET"): "anybody",
    ("/sign-in", "POST"): "anybody",
    ("/sign-out", "POST"): "anybody",  # who is not signed in any more is signed out
    ("/review", "GET"): ("quality_manager",),
    ("/review/by-model", "GET"): ("quality_manager",),
    ("/review/by-point", "GET"): ("quality_manager",),
    ("/review/figures", "GET"): ("quality_manager",),
    ("/backlog", "GET"): ("quality_manager",),
    ("/stations", "GET"): ("station_lead", "quality_manager"),
    ("/stations/<station>", "GET"): ("station_lead", "quality_manager"),
    ("/stations/<station>/origin", "POST"): ("station_lead", "quality_manager"),
    ("/stations/<station>/changes", "POST"): ("station_lead", "quality_manager"),
    ("/units", "GET"): ROLES,
    ("/units/<chassis>", "GET"): ROLES,
    ("/units/<chassis>/settle", "POST"): ("quality_manager",),
    ("/units/<chassis>/suspect", "POST"): ("quality_manager",),
    ("/units/<chassis>/cancel", "POST"): ("planner", "quality_manager"),
    ("/units/<chassis>/found", "POST"): ("dispatch", "quality_manager"),
    ("/units/<chassis>/take-up", "POST"): ("planner", "quality_manager"),
    ("/inspectors", "GET"): ("quality_manager",),
    ("/inspectors/me", "GET"): ("inspector", "quality_manager"),
    ("/set-aside", "GET"): ("quality_manager",),
    ("/set-aside/take", "POST"): ("quality_manager",),
    ("/set-aside/leave", "POST"): ("quality_manager",),
    ("/signals", "GET"): ("quality_manager",),
    ("/signals/mute", "POST"): ("quality_manager",),
    ("/signals/unmute", "POST"): ("quality_manager",),
    ("/own-secret", "GET"): ROLES,
    ("/own-secret", "POST"): ROLES,
    ("/own-language", "POST"): ROLES,
    ("/own-mail", "GET"): ("station_lead", "quality_manager"),  # for others no mail is written
    ("/own-mail", "POST"): ("station_lead", "quality_manager"),
    ("/sign-ins", "GET"): ROLES,
    ("/passed", "GET"): ("station_lead", "planner", "quality_manager"),
    ("/passed/look", "POST"): ("station_lead", "planner", "quality_manager"),
    ("/passed/take", "POST"): ("station_lead", "planner", "quality_manager"),
    ("/plan", "GET"): ("planner", "quality_manager"),
    ("/plan/look", "POST"): ("planner", "quality_manager"),
    ("/plan/take", "POST"): ("planner", "quality_manager"),
    ("/plan/range", "GET"): ("planner", "quality_manager"),
    ("/plan/range", "POST"): ("planner", "quality_manager"),
    ("/plan/range/take", "POST"): ("planner", "quality_manager"),
    ("/plant-tables", "GET"): ("quality_manager", "administrator"),
    ("/plant-tables/file", "GET"): ("quality_manager", "administrator"),
    ("/plant-tables/look", "POST"): ("administrator",),
    ("/plant-tables/take", "POST"): ("administrator",),
    ("/plant-tables/picture", "POST"): ("administrator",),
    ("/plant-tables/zones", "GET"): ("quality_manager", "administrator"),
    ("/plant-tables/zones", "POST"): ("administrator",),
    ("/people", "GET"): ("quality_manager", "administrator"),
    ("/people/add", "POST"): ("administrator",),
    ("/people/role", "POST"): ("administrator",),
    ("/people/secret", "POST"): ("administrator",),
    ("/people/end", "POST"): ("administrator",),
    ("/people/return", "POST"): ("administrator",),
    ("/people/enrol", "POST"): ("administrator",),
    ("/people/revoke", "POST"): ("administrator",),
    ("/people/restore", "POST"): ("administrator",),
    ("/people/token", "POST"): ("administrator",),
    ("/people/token-end", "POST"): ("administrator",),
    ("/export", "GET"): ("quality_manager", "administrator"),
    ("/export/file", "GET"): ("quality_manager", "administrator"),
    ("/labels", "GET"): ROLES,
    ("/legend", "GET"): ROLES,
    ("/help", "GET"): ROLES,
    ("/help/<page>", "GET"): ROLES,
    ("/help/server-down", "GET"): "anybody",  # who cannot sign in needs these; nothing of the plant stands there
    ("/help/phone-lost", "GET"): "anybody",
    ("/paper", "GET"): ROLES,
    ("/photos/<sha256>", "GET"): ROLES,
    ("/a/<version>/<path:path>", "GET"): "anybody",
    ("/metrics", "GET"): "anybody",  # on this machine or an address that was named; counts alone
    ("/health", "GET"): "anybody",  # whether it can write, and nothing else
    ("/app/", "GET"): "anybody",  # the app itself holds no data; a phone shows it before anybody signs in
    ("/app/<name>", "GET"): "anybody",
}
TABLE = {**API, **PAGES}
FILLED = {
    "<sha256>": sha(PHOTO),
    "<station>": "S05",
    "<chassis>": UNIT,
    "<version>": "x",
    "<path:path>": "y",
    "<name>": "z",
    "<page>": "inspector",
    "<table>": "units",
}
METHODS = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE")


def address_of(route: str) -> str:
    for place, value in FILLED.items():
        route = route.replace(place, value)
    return route


@pytest.fixture(scope="module")
def busy(tmp_path_factory):
    """One server for the whole table, with a unit and a photo, and everybody signed in once."""
    from qc.store.people import pins
    from tests.web.plant_server import PlantServer

    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(pins, "_PIN", pins.PasswordHasher(time_cost=1, memory_cost=64, parallelism=1))
        patched.setattr(pins, "_PASSPHRASE", pins.PasswordHasher(time_cost=1, memory_cost=64, parallelism=1))
        server = PlantServer(tmp_path_factory.mktemp("access") / "plant")
        planner = server.phone("planner")
        planner.push(planner.plan())
        planner.upload(PHOTO)
        server.phones = {role: server.phone(role) for role in PHONE}
        server.bearers = {role: phone.headers for role, phone in server.phones.items()}
        for role, may in MACHINES.items():
            token = server.house.machines.make(role, may, "PL1" if "plan" in may else "")
            server.bearers[role] = {"Authorization": f"Bearer {token}"}
        yield server
        server.house.close()


def routes_of(app) -> set[tuple[str, str]]:
    """Return each route with its methods; HEAD is answered as its GET."""
    return {(rule.rule, method) for rule in app.url_map.iter_rules() for method in rule.methods or ()} - {
        (rule.rule, "HEAD") for rule in app.url_map.iter_rules()
    }


def test_every_route_is_in_the_table_and_every_line_has_its_route(busy):
    assert routes_of(busy.app) == set(TABLE)


def test_a_route_that_nobody_put_in_the_table_is_found(tmp_path):
    from tests.web.plant_server import PlantServer

    server = PlantServer(tmp_path / "plant")
    server.app.add_url_rule("/planted", "planted", lambda: "", methods=["GET"])
    server.house.close()

    assert routes_of(server.app) - set(TABLE) == {("/planted", "GET")}


def may(route: str, method: str, role: str | None) -> bool | None:
    """Return what the table says; None where the route does not take the method."""
    allowed = TABLE.get((route, "GET" if method == "HEAD" else method))
    return None if allowed is None else allowed == "anybody" or role in allowed


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize("route", sorted({route for route, _ in API}))
def test_the_api_lets_in_whom_the_table_says(busy, route, method):
    for role in (None, *PHONE, *MACHINES):
        client = busy.client()
        headers = busy.bearers[role] if role else {}
        answer = client.open(address_of(route), method=method, headers=headers)
        expected = may(route, method, role)
        if expected is None:
            assert answer.status_code == 405, (role, answer.status_code)
        elif expected:
            assert answer.status_code not in (401, 403, 405, 500), (role, answer.status_code)
        else:
            busy.house.journal.write(lambda conn: conn.execute("DELETE FROM token_try").rowcount)  # none has to wait
            elsewhere = role in MACHINES and set(TABLE[route, "GET" if method == "HEAD" else method]) & set(MACHINES)
            assert answer.status_code == (403 if elsewhere else 401), (role, answer.status_code)


@pytest.mark.parametrize("role", MACHINES)
def test_a_machines_token_opens_no_page(busy, role):
    page = busy.page(None)
    for route, method in PAGES:
        if TABLE[route, method] != "anybody":
            headers, form = {**OWN_PAGE, **busy.bearers[role]}, form_of(page, method)
            answer = page.client.open(address_of(route), method=method, headers=headers, data=form)
            sent_on = answer.status_code == 303 and answer.location.startswith("/sign-in")
            assert sent_on or answer.status_code == 401, (route, method, answer.status_code)


@pytest.mark.parametrize("role", ROLES)
def test_a_page_sign_in_opens_nothing_of_the_api(busy, role):
    page = busy.page(role)

    for route, method in API:
        if TABLE[route, method] != "anybody":
            assert page.client.open(address_of(route), method=method).status_code == 401, (route, method)


def test_the_administrator_cannot_sign_in_on_a_phone(busy):
    device = busy.enrolled()
    asked = {"person": CAST["administrator"].code, "pin": "seven blue tyres", "device": device, "install_epoch": "e"}
    asked |= {"public_key": Author().public, "device_secret": busy.secrets[device]}

    assert busy.client().post("/api/v1/sign-in", json=asked).status_code == 401


@pytest.mark.parametrize("role", [None, *ROLES])
def test_pages_let_in_whom_the_table_says(busy, role):
    page = busy.page(role)
    for route in sorted({route for route, _ in PAGES} - {"/sign-out", "/sign-in"}):
        for method in METHODS:
            answer = page.client.open(address_of(route), method=method, headers=OWN_PAGE, data=form_of(page, method))
            expected = may(route, method, role)
            told = (route, method, role, answer.status_code, answer.location)
            if expected is None:
                assert answer.status_code in (403, 405), told
            elif expected:
                assert answer.status_code not in (401, 403, 405, 500), told
                assert role is None or "/sign-in" not in (answer.location or ""), told
            elif role is None and method in ("GET", "HEAD"):
                assert (answer.status_code, answer.location.split("?")[0]) == (303, "/sign-in"), told
            else:
                assert answer.status_code == (401 if role is None else 403), told


def form_of(page, method: str) -> dict | None:
    if method in ("GET", "HEAD", "OPTIONS", "TRACE"):
        return None
    return {"csrf_token": token_of(page)}


def token_of(page) -> str:
    """Return the token of the browser's own form: the sign-in form, or the sign-out form once signed in."""
    for address in ("/sign-in", "/nowhere"):
        text = page.client.get(address).text
        if 'name="csrf_token" value="' in text:
            return text.split('name="csrf_token" value="')[1].split('"')[0]
    raise AssertionError("no form")


@pytest.mark.parametrize("role", ["station_lead", "quality_manager"])
def test_a_page_that_acts_needs_its_own_form_for_every_role(busy, role):
    page = busy.page(role)
    acting = [route for (route, method) in PAGES if method == "POST"]
    for route in acting:
        assert page.client.post(address_of(route), headers=OWN_PAGE, data={}).status_code == 403, route
        foreign = {"csrf_token": token_of(page)}
        assert page.client.post(address_of(route), data=foreign).status_code == 403, route


def test_a_lead_does_not_see_or_answer_for_another_station(busy):
    page = busy.page("station_lead")

    assert page.get("/stations/S06").status_code == 403
    for what in ("origin", "changes"):
        answer = page.client.post(f"/stations/S06/{what}", headers=OWN_PAGE, data={"csrf_token": token_of(page)})
        assert answer.status_code == 403


def test_after_the_sign_out_nothing_is_left_open(busy):
    page = busy.page("quality_manager")
    page.client.post("/sign-out", headers=OWN_PAGE, data={"csrf_token": token_of(page)})

    assert page.get("/review").status_code == 303
