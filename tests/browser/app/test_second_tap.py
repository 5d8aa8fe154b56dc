"""A second tap never does another thing: each button of each screen, tapped once and again, makes the same records."""

import re

import pytest
from playwright.sync_api import expect

pytestmark = pytest.mark.browser

TIMES_MS = (0, 100, 300, 900)
SLOW_MS = 1150

# The screens, each with what is chosen or typed there first so that its main act can run. On the unit an inspection
# is open and it has a defect that is open and one that is repaired; another unit has a draft.
SCREENS = (
    ("units", ()),
    ("find", ()),
    ("menu", ()),
    ("outbox", ()),
    ("settings", ()),
    ("unit/{unit}", ()),
    ("unit/{other}/begin", ("Overcast",)),
    ("unit/{unit}/walk/{view}", ()),
    ("unit/{unit}/walk/{view}", ("Looked at",)),
    ("unit/{unit}/rest/{view}", ()),
    ("unit/{unit}/zone/{zone}", ()),
    ("unit/{unit}/search/{zone}", ()),
    ("unit/{other}/draft/{draft}", ()),
    ("unit/{unit}/origin/{open}", ()),
    ("unit/{unit}/stop/{open}", ()),
    ("unit/{unit}/defect/{open}", ()),
    ("unit/{unit}/repair/{open}", ("15",)),
    ("unit/{unit}/recheck/{repaired}", ()),
    ("unit/{unit}/correct/{open}", ("Major", "Severity seen better")),
    ("unit/{unit}/withdraw/{open}", ("Recorded by mistake",)),
    ("unit/{unit}/tests", ()),
    ("unit/{unit}/test/{test}", ("#value=5", "#instrument=MAN-7")),
    ("unit/{unit}/end", ()),
    ("unit/{unit}/release", ()),
)
ACTS = 12  # at least so many things on these screens make a record at one tap

# Everything that can be touched, found in the page by what it is; of one act or kind of link at most two on a screen,
# and what stands in the head of every screen once.
IN_PAGE = """
window.touchables = () => [...document.querySelectorAll("button, a[href^='#'], [role=button], summary")]
  .filter(each => !each.disabled && each.getClientRects().length);
window.find = head => {
  const link = each => each.getAttribute("href")?.split("/")[3];
  const kind = each => each.dataset.act ?? each.dataset.notice ?? link(each) ?? each.tagName;
  const all = touchables(), kinds = new Map();
  all.forEach((each, place) => {
    if (head || !each.closest("header")) kinds.set(kind(each), [...(kinds.get(kind(each)) ?? []), place]);
  });
  const some = [...kinds.values()].flatMap(places => places.length > 1 ? [places[0], places.at(-1)] : places);
  const words = each => each.getAttribute("aria-label") ?? each.textContent.trim().slice(0, 40);
  return some.map(place => [place, words(all[place])]);
};
window.ask = request => new Promise((resolve, reject) => {
  request.onsuccess = () => resolve(request.result); request.onerror = () => reject(request.error); });
window.pause = ms => new Promise(resolve => setTimeout(resolve, ms));
window.until = async (holds, what) => {
  for (let tries = 0; tries < 500; tries += 1) { if (holds()) return; await pause(10); }
  throw new Error(`never came: ${what}`);
};
const title = () => document.querySelector("h1").textContent;
// What the phone holds is kept and put back, so that one page and one server serve every tap.
window.keep = async () => {
  const db = await ask(indexedDB.open("daybay"));
  window.kept = {};
  for (const name of ["operations", "verdicts", "drafts", "captures", "settings", "units"]) {
    const store = db.transaction(name).objectStore(name);
    kept[name] = [await ask(store.getAllKeys()), await ask(store.getAll()), store.keyPath !== null];
  }
  db.close();
};
window.show = async (hash, ready) => {
  const db = await ask(indexedDB.open("daybay"));
  const tx = db.transaction(Object.keys(kept), "readwrite");
  for (const [name, [keys, values, inline]] of Object.entries(kept)) {
    const store = tx.objectStore(name);
    store.clear();
    values.forEach((value, at) => inline ? store.put(value) : store.put(value, keys[at]));
  }
  // The other theme each time tells when the page has read the disk again.
  window.theme = window.theme === "dark" ? "light" : "dark";
  tx.objectStore("settings").put({name: "theme", value: theme});
  await new Promise(resolve => { tx.oncomplete = resolve; });
  db.close();
  location.hash = "#/elsewhere";
  new BroadcastChannel("daybay").postMessage("changed");
  await pause(30);
  location.hash = "#/menu";
  await until(() => title() === "Menu" && document.documentElement.dataset.theme === theme, "menu");
  location.hash = hash;
  await until(() => hash === "#/menu" || title() !== "Menu", hash);
  for (const words of ready) {
    if (words.startsWith("#")) {
      const [field, value] = words.split("=");
      await until(() => document.querySelector(field), words);
      const input = document.querySelector(field);
      input.value = value;
      for (const type of ["input", "change"]) input.dispatchEvent(new Event(type, {bubbles: true}));
      continue;
    }
    const choice = () => [...document.querySelectorAll("button")].find(each => each.textContent.trim() === words);
    await until(choice, words);
    choice().click();
    await until(() => choice().ariaPressed === "true", `${words} pressed`);
  }
};
// Taps at one place at each of the times; what lies there then is what is touched.
window.tapAt = async (place, times) => {
  await until(() => touchables()[place], `thing ${place} of ${location.hash}`);
  const target = touchables()[place];
  target.scrollIntoView({block: "center", behavior: "instant"});
  const box = (target.querySelector(".sign") ?? target).getBoundingClientRect();
  const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
  const begun = performance.now();
  let last = begun;
  for (const time of times) {
    await pause(time - (performance.now() - begun));
    last = performance.now();
    const how = {bubbles: true, cancelable: true, composed: true, view: window, detail: 1, clientX: x, clientY: y};
    document.elementFromPoint(x, y)?.dispatchEvent(new MouseEvent("click", how));
  }
  await pause(200);
  const db = await ask(indexedDB.open("daybay"));
  const all = await ask(db.transaction("operations").objectStore("operations").getAll());
  db.close();
  const made = all.slice(kept.operations[1].length).map(({op}) => JSON.stringify([op.kind, op.unit, op.body]));
  return {made, took: last - begun};
};
"""


def prepared(phone, server) -> dict[str, str]:
    """Bring a phone to a unit in work and return the codes of what is there; from then on there is no signal."""
    phone.sign_in()
    phone.begin("PC7130001")
    phone.record(re.compile("^Front panel"), "Panel ripple")
    phone.record(re.compile("^Front panel"), "Trim loose")
    first, second = [row["id"] for row in phone.stored("operations") if row["kind"] == "defect_recorded"]
    change_person(phone, "Repairer One")
    unit = phone.stored("operations")[0]["unit"]
    phone.open(f"#/unit/{unit}/repair/{second}")
    phone.tap("15", exact=True)
    phone.tap(re.compile("^Save: repair"))
    phone.expect_status("Saved on phone: repair done")
    change_person(phone, "Inspector One")
    other = next(row["chassis"] for row in phone.stored("units") if row["shop_number"] == "PC7330003")
    phone.open(f"#/unit/{other}/zone/front.window")
    phone.page.locator("main [data-act=type]").first.tap()
    expect(phone.page.get_by_role("button", name=re.compile("^Save"))).to_be_visible()
    phone.expect_all_sent()
    server.stop()
    codes = {"unit": unit, "other": other, "open": first, "repaired": second, "view": "V1", "zone": "front.gas"}
    plant = phone.stored("plant")[0]["value"]
    zone = next(zone for zone in plant["zones"] if zone["key"] == "front.window")
    return {**codes, "view": zone["view"], "draft": phone.stored("drafts")[0]["id"], "test": plant["tests"][0]["id"]}


def change_person(phone, name: str) -> None:
    phone.open("#/settings")
    phone.tap("Lock for another person")
    phone.tap(re.compile(name))
    for figure in "402917":
        phone.tap(figure, exact=True)
    phone.tap("Sign in", exact=True)
    expect(phone.heading("Units in work")).to_be_visible()


class Taps:
    """Taps each thing on a screen, from the same start each time, and tells the records that came of it."""

    def __init__(self, phone) -> None:
        self.page = phone.page
        self.page.evaluate(IN_PAGE + "; 0")
        self.page.evaluate("keep()")

    def open(self, path: str, ready: tuple[str, ...]) -> None:
        """Put back what the phone held and show a screen, its choices made."""
        self.page.evaluate("([hash, ready]) => show(hash, ready)", [f"#/{path}", list(ready)])

    def found(self, path: str, ready: tuple[str, ...]) -> list[tuple[int, str]]:
        self.open(path, ready)
        return [tuple(each) for each in self.page.evaluate("head => find(head)", path == SCREENS[0][0])]

    def tapped(self, path: str, ready: tuple[str, ...], place: int, times: tuple[int, ...]) -> list[str]:
        """Return the records made by taps at these times, in ms; again where the machine was too slow for them."""
        for _ in range(8):
            self.open(path, ready)
            told = self.page.evaluate("([place, times]) => tapAt(place, times)", [place, list(times)])
            if told["took"] < SLOW_MS:
                return told["made"]
        raise AssertionError(f"this machine could not tap {len(times)} times within {times[-1]} ms")


def test_no_second_tap_makes_another_record(phone, server):
    codes = prepared(phone, server)
    taps = Taps(phone)
    different, making = [], []

    for screen, ready in SCREENS:
        path = screen.format(**codes)
        for place, words in taps.found(path, ready):
            once = taps.tapped(path, ready, place, TIMES_MS[:1])
            again = taps.tapped(path, ready, place, TIMES_MS)
            making += [(screen, words)] if once else []
            if once != again:
                different.append((screen, words, once, again))

    assert different == []
    assert len(making) >= ACTS, f"the taps no longer reach what records, only {making}"
