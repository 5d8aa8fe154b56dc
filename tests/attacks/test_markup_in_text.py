"""Markup in every text of the record, the plant's tables, forms and addresses, read in a real browser: none of it runs.

Every page and every screen of the app is opened on a record in which each text field of each kind of operation holds
markup. A page fails where the mark that the markup sets is set, where the policy had to step in, or where an element
stands that only the markup can have made: the policy is the second wall, and the first must hold alone.
"""

import threading
from urllib.parse import quote, urlencode, urlsplit

import pytest
from werkzeug.routing import RequestRedirect
from werkzeug.serving import make_server

from tests.attacks.planted_text import LONG, PAYLOADS, SHORT, Planted, house_fields, text_fields
from tests.browser.app.frame import painted
from tests.browser.phone import Phone
from tests.web.plant_server import CAST, PIN, cheap_hashes, secret_of

pytestmark = pytest.mark.browser

LISTENS = """
  window.refusedByPolicy = [];
  document.addEventListener("securitypolicyviolation", (e) => {
    window.refusedByPolicy.push(`${e.effectiveDirective} ${e.blockedURI} ${e.sample}`);
  });
"""
MADE = (
    "img[src*='planted'], iframe, svg[onload], [onerror], [onload], [onfocus], [onmouseover], a[href^='javascript:' i],"
    " form[action^='javascript:' i], script:not([src]):not([type])"
)
LOOK = """(made) => ({
  planted: window.planted ?? null,
  policy: window.refusedByPolicy,
  made: [...document.querySelectorAll(made)].map((each) => each.outerHTML.slice(0, 160)),
  shown: document.body.innerText.includes("window.planted=1"),
})"""
FILL = """([at, text]) => {
  const form = document.forms[at];
  form.noValidate = true;
  for (const field of form.elements) {
    if (field.type === "hidden" || field.tagName === "BUTTON") continue;
    field.removeAttribute("maxlength");
    if (field.tagName === "SELECT") field.options[0] && (field.options[0].value = text, field.value = text);
    else if (["checkbox", "radio"].includes(field.type)) { field.value = text; field.checked = true; }
    else { try { field.type = "text"; } catch { /* a textarea has no other type */ } field.value = text; }
  }
  HTMLFormElement.prototype.submit.call(form);
}"""
FORMS = """() => [...document.forms].map((form, at) => ({
  at, action: form.getAttribute("action") ?? location.pathname,
  fields: [...form.elements].map((field) => field.name).filter((name) => name).sort().join(),
}))"""
TYPE = """(text) => {
  for (const field of document.querySelectorAll("input:not([type=file]), textarea")) {
    field.removeAttribute("maxlength");
    if (field.type !== "date") field.value = text;
    field.dispatchEvent(new Event("input", { bubbles: true }));
    field.dispatchEvent(new Event("change", { bubbles: true }));
  }
}"""
ASKED = (
    "week",
    "weeks",
    "model",
    "line",
    "shift",
    "severity",
    "order",
    "baseline",
    "left_out",
    "why",
    "next",
    "q",
    "state",
)
NOT_READ = ("/a/", "/photos/", "/app", "/sign-out", "/plant-tables/file")


class Reader:
    """A browser with one person signed in. wrong: what is not as it must be, by where; shown: where markup is read."""

    def __init__(self, browser, address, role):
        self.address, self.wrong, self.shown = address, [], set()
        self.context = browser.new_context(viewport={"width": 1280, "height": 900}, locale="en-GB")
        self.context.add_init_script(LISTENS)
        self.page = self.context.new_page()
        self.page.on("dialog", lambda dialog: (self.wrong.append(f"dialog {dialog.message}"), dialog.dismiss()))
        self.page.goto(f"{address}/sign-in")
        self.page.get_by_label("Your code").fill(CAST[role].code)
        self.page.get_by_label("PIN or passphrase").fill(secret_of(role))
        self.page.get_by_role("button", name="Sign in").click()
        self.page.wait_for_url(lambda url: urlsplit(url).path != "/sign-in")  # a page, or the app for who works there

    def look(self, where):
        told = self.page.evaluate(LOOK, MADE)
        self.wrong += [f"{where}: {what}" for what in (told["planted"], *told["policy"], *told["made"]) if what]
        if told["shown"]:
            self.shown.add(where)

    def go(self, path):
        self.page.goto(f"{self.address}{path}")
        if self.page.locator("script[type='application/json']").count():
            self.page.wait_for_load_state("networkidle")  # charts are drawn from words too
        self.look(path)

    def links(self):
        every = "all => all.map((each) => String(each.href?.baseVal ?? each.href))"  # a drawing's link has no plain one
        found = self.page.eval_on_selector_all("a[href]", every)
        inside = [urlsplit(one) for one in found if one.startswith(self.address)]
        return [one.path + (f"?{one.query}" if one.query else "") for one in inside]


@pytest.fixture(scope="module")
def planted(tmp_path_factory):
    """The record full of markup, served on loopback: (its address, itself)."""
    with cheap_hashes():
        planted = Planted(tmp_path_factory.mktemp("planted") / "plant")
        served = make_server("127.0.0.1", 0, planted.server.app, threaded=True)
        thread = threading.Thread(target=served.serve_forever)
        thread.start()
        yield f"http://127.0.0.1:{served.port}", planted
        served.shutdown()
        thread.join()
        served.server_close()
        planted.server.house.close()


def test_every_text_of_every_kind_holds_markup(planted):
    """A new text field of an operation fails here until it is written into the record above."""
    _, record = planted
    assert text_fields() - record.sent - house_fields() == set()
    assert ("defect_recorded", "note") in record.sent


def test_the_markup_is_found_where_it_is_not_escaped(planted, browser):
    """What the tests below rest on: each shape in a page of ours without the escaping is told."""
    address, _ = planted
    reader = Reader(browser, address, "station_lead")
    reader.wrong.clear()
    for payload in PAYLOADS[:4]:
        reader.page.goto(f"{address}/units")
        reader.page.evaluate(
            "(text) => { document.querySelector('main').innerHTML = `<input value=\"${text}\">`; }", payload
        )
        reader.page.evaluate(
            "(text) => { document.querySelector('main').insertAdjacentHTML('beforeend', text); }", payload
        )
        before = len(reader.wrong)
        reader.look(payload)
        assert len(reader.wrong) > before, payload
    reader.context.close()


SIGNS_OUT = ("/sign-out", "/people/secret")  # the first card is the administrator's own


def read_everything(planted, browser, role, most):
    """Follow the links from a person's first page, so many addresses of a route, and send every form; what is wrong."""
    address, record = planted
    reader, seen, sent = Reader(browser, address, role), {}, set()
    routes = record.server.app.url_map.bind("127.0.0.1")
    waiting = [
        "/",
        "/units",
        "/own-secret",
        "/sign-ins",
        f"/units/{record.lived.ids['planned']}",
        f"/units/{record.lived.ids['waiting']}",
    ]
    if role == "quality_manager":
        waiting += ["/stations/S05", "/set-aside", "/review/by-model", "/review/by-point", "/review/figures"]
    forms = []
    while waiting:
        path = waiting.pop(0)
        try:
            endpoint, _ = routes.match(urlsplit(path).path, "GET")
        except RequestRedirect:
            continue
        read = seen.get(endpoint, [])
        if path in read or len(read) >= most or path.startswith(NOT_READ):
            continue
        seen[endpoint] = [*read, path]
        reader.go(path)
        waiting += reader.links()
        for form in reader.page.evaluate(FORMS):
            shape = (endpoint, urlsplit(form["action"]).path.rsplit("/", 1)[-1], form["fields"])
            if shape not in sent and not form["action"].endswith(SIGNS_OUT):
                sent.add(shape)
                forms.append((path, form["at"]))
    for endpoint, (path, *_) in list(seen.items()):
        if endpoint != "pages.home":
            reader.go(f"{urlsplit(path).path}?{urlencode(dict.fromkeys(ASKED, LONG[:120]))}")
    for path, at in forms:
        reader.page.goto(f"{address}{path}")
        if reader.page.evaluate("document.forms.length") > at:
            with reader.page.expect_navigation():
                reader.page.evaluate(FILL, [at, LONG[:250]])
            reader.look(f"form {at} of {path}")
    reader.context.close()
    return reader, seen, forms


def test_no_markup_runs_on_a_page_of_the_managers(planted, browser):
    _, record = planted
    reader, seen, forms = read_everything(planted, browser, "quality_manager", 1)
    pages = {
        rule.endpoint
        for rule in record.server.app.url_map.iter_rules()
        if "GET" in rule.methods and rule.endpoint.startswith("pages.")
    }

    assert reader.wrong == []
    files = {"pages.export_file": "/export/file?what=csv", "pages.plant_table": "/plant-tables/file?name=stations.csv"}
    assert pages - set(seen) <= {"pages.own_looks", *files} | not_the_managers(record)
    for address in files.values():
        file = record.server.page("quality_manager").get(address).headers
        assert file["Content-Disposition"].startswith("attachment"), "a browser keeps it and shows nothing of it"
    assert len(forms) > 5
    for path in (f"/units/{record.lived.ids['planned']}", "/set-aside", "/stations/S05"):
        assert path in reader.shown, "the markup is read there as text"


def not_the_managers(record):
    """Return the pages that turn the manager away."""
    page = record.server.page("quality_manager")
    rules = [rule for rule in record.server.app.url_map.iter_rules() if rule.endpoint.startswith("pages.")]
    plain = [rule for rule in rules if "GET" in rule.methods and not rule.arguments]
    return {rule.endpoint for rule in plain if page.get(rule.rule).status_code == 403}


@pytest.mark.parametrize("role", ["administrator", "station_lead"])
def test_no_markup_runs_on_a_page_of(planted, browser, role):
    reader, _, forms = read_everything(planted, browser, role, 1)

    assert reader.wrong == []
    assert reader.shown
    assert forms


@pytest.mark.long
@pytest.mark.parametrize("role", sorted(CAST))
def test_no_markup_runs_on_any_page_of_anybody(planted, browser, role):
    assert read_everything(planted, browser, role, 6)[0].wrong == []


def screens_of(record, unit, model):
    """Return the addresses of the app's screens about one unit, for each defect of it."""
    plant = record.lived.plant
    view, zone = next(iter(plant.views)), record._zone(model)
    test = plant.tests_of(model)[0].id
    plain = ["", "walk/" + view, "zone/" + zone, "search/" + zone, "tests", "test/" + test, "release", "begin", "end"]
    story = record.server.house.reads.unit_story(unit)
    what = ("defect", "stop", "origin", "correct", "withdraw", "repair", "recheck")
    of_defects = [f"{one}/{defect.id}" for defect in story.defects[:2] for one in what]
    return [f"#/unit/{unit}/{one}".rstrip("/") for one in (*plain, "rest/" + view, *of_defects)]


class Served:
    """What a phone of the tests needs to know of a server."""

    shows = "PC7"

    def __init__(self, address):
        self.address = address


def test_no_markup_runs_on_a_screen_of_the_app(planted, browser, playwright_driver, chromium, tmp_path):
    address, record = planted
    context = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True)
    context.add_init_script(LISTENS)
    page = context.new_page()
    phone = Phone(playwright_driver, chromium, tmp_path, tmp_path, Served(address), context, page)
    phone.enrol(record.server.house.enrolment.offer().letters)
    told, shown = [], 0
    page.get_by_text("Xan").wait_for()
    assert SHORT[:20] in page.locator("main").inner_text(), "a name is read there as text"
    phone.sign_in("Ivo", PIN)
    phone.all_loaded()  # then a screen is drawn as soon as its address is heard
    here = [
        screens_of(record, record.lived.ids[unit], model) for unit, model in (("planned", "M50"), ("waiting", "T36"))
    ]
    screens = ["#/sign-in", "#/units", "#/find", "#/menu", "#/outbox", "#/settings", "#/secret", "#/enrol/-"]
    screens += [f"#/{quote(LONG)}", f"#/enrol/{quote(LONG)}", f"#/unit/{quote(LONG)}", *here[0], *here[1]]
    for screen in screens:
        page.evaluate("(hash) => { location.hash = hash; }", screen)
        painted(phone)
        page.evaluate(TYPE, LONG[:250])
        painted(phone)
        look = page.evaluate(LOOK, MADE)
        told += [f"{screen}: {what}" for what in (look["planted"], *look["policy"], *look["made"]) if what]
        shown += look["shown"]
    context.close()

    assert told == []
    assert shown > 10
