"""Every screen, in both themes and both sizes: readable in glare, large enough for a thumb or a glove, accessible.

By day each is also held to the app's frame at every size, from 320 px to a desk's screen.
"""

import json
import os
import re
from pathlib import Path

import pytest
from playwright.sync_api import expect

from tests.browser.app.frame import painted, wrong_at_each_size
from tests.browser.app.test_taps import PICTURE

pytestmark = pytest.mark.browser

ROOT = Path(__file__).parent.parent.parent.parent

# WCAG 2.2: contrast 7:1 is its level AAA for text; the record's own rule is 7:1 for all text, 12:1 for figures and
# status. Luminance as in its definition of relative luminance.
MEASURE = """target => {
  const channel = c => c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4;
  const parse = text => (text.match(/[\\d.]+/g) || []).map(Number);
  const light = ([r, g, b]) => 0.2126 * channel(r / 255) + 0.7152 * channel(g / 255) + 0.0722 * channel(b / 255);
  const ratio = (a, b) => (Math.max(light(a), light(b)) + 0.05) / (Math.min(light(a), light(b)) + 0.05);
  const ground = element => {
    for (let each = element; each; each = each.parentElement) {
      const colour = parse(getComputedStyle(each).backgroundColor);
      if (colour.length === 3 || colour[3] > 0) return colour;
    }
    return [255, 255, 255];
  };
  const shown = element => element.getClientRects().length && getComputedStyle(element).visibility === "visible";
  const own = element => [...element.childNodes].some(node => node.nodeType === 3 && node.textContent.trim());
  const status = ".standing *, .sync, .count, .severity, .value, .shop-number, .unit-number, .badge-figure";
  const words = element => element.textContent.trim().slice(0, 40);
  const found = [];
  for (const element of document.querySelectorAll("body *")) {
    if (!shown(element) || !own(element) || element.closest(".visually-hidden, [disabled]")) continue;
    const svg = element.closest("svg.drawing");
    const style = getComputedStyle(element);
    const ink = parse(svg ? style.fill : style.color);
    let below = ground(element);
    if (svg) {
      const badge = element.classList.contains("badge-figure");
      // A name has a rim of the panel's colour, so that lines and patterns under it do not count.
      below = parse(badge ? getComputedStyle(element.previousElementSibling).fill : style.stroke);
    }
    const need = element.matches(status) ? 12 : 7;
    const have = ratio(ink, below);
    if (have < need) found.push(`contrast ${have.toFixed(1)} < ${need}: ${words(element)}`);
    const size = parseFloat(style.fontSize);
    if (size < (svg ? 16 : 18)) found.push(`text of ${size} px: ${words(element)}`);
  }
  const targets = "button, a, label.button, summary, input:not([type=file]), select, textarea";
  for (const element of document.querySelectorAll(targets)) {
    if (!shown(element) || element.closest(".visually-hidden")) continue;
    const box = element.getBoundingClientRect();
    // The head is one line of at most 48 px (64 with gloves it stays so); all that is worked with is lower down.
    const head = element.matches("header .bar a");
    const least = head ? 46 : element.matches("footer .main") ? target + 8 : target;
    if (box.height < least - 0.5 || box.width < (head ? 40 : target) - 0.5) {
      found.push(`target ${box.width.toFixed(0)} x ${box.height.toFixed(0)} < ${least}: ${words(element)}`);
    }
    const edge = parseFloat(getComputedStyle(element).borderTopWidth);
    if (!element.matches("summary") && !head && edge < 2) found.push(`border ${edge}: ${words(element)}`);
  }
  if (document.documentElement.scrollWidth > innerWidth) found.push("wider than the screen");
  return [...new Set(found)];
}"""


@pytest.fixture(scope="session")
def axe() -> str:
    """The text of axe-core, an accessibility checker: named by DAYBAY_AXE or in node_modules."""
    places = [os.environ.get("DAYBAY_AXE"), str(ROOT / "node_modules" / "axe-core" / "axe.min.js")]
    found = next((place for place in places if place and Path(place).is_file()), None)
    if found is None:
        words = "no axe-core here (set DAYBAY_AXE, or run npm install axe-core): the accessibility check is left out"
        if os.environ.get("CI") == "true":
            pytest.fail(words)
        pytest.skip(words)
    return Path(found).read_text()


class Inspector:
    """Looks at each screen that the journey passes and keeps what is wrong with it."""

    def __init__(self, phone, axe: str, target: int, *, framed: bool = False) -> None:
        self.phone, self.axe, self.target, self.framed = phone, axe, target, framed
        self.problems: dict[str, list[str]] = {}
        self.seen: list[str] = []
        self.addresses: set[str] = set()

    def look(self, screen: str) -> None:
        page = self.phone.page
        painted(self.phone)
        self.seen.append(screen)
        self.addresses.add(page.url.partition("#/")[2])
        wrong = page.evaluate(MEASURE, self.target)
        # The page's own policy lets no foreign script in: it is run by the browser's tools, outside the page's rules.
        if not page.evaluate("'axe' in window"):
            page.evaluate(self.axe + "; 0")
        report = page.evaluate("axe.run(document, {rules: {'color-contrast-enhanced': {enabled: true}}})")
        for violation in report["violations"]:
            nodes = [node["html"][:90] for node in violation["nodes"][:3]]
            wrong.append(f"{violation['id']}: {violation['help']} {nodes}")
        if self.framed:
            wrong += wrong_at_each_size(self.phone, screen)
        if wrong:
            self.problems[screen] = wrong

    def told(self) -> str:
        """Everything that is wrong, one line each."""
        return "\n".join(f"{screen}: {wrong}" for screen, all_ in self.problems.items() for wrong in all_)


def titled(phone, words: str) -> None:
    """Wait until the screen that a tap asked for is drawn, as its title says: else the one before may be looked at."""
    expect(phone.page).to_have_title(re.compile(words))


def offered(phone, name: str | re.Pattern[str], role="button") -> None:
    """Wait until a tap that leads to no other screen has brought what it asked for."""
    expect(phone.page.get_by_role(role, name=name).first).to_be_visible()


def walk_through(phone, look) -> None:
    """Visit every screen of the app."""
    titled(phone, "^Who are you")
    look("people")
    phone.tap(re.compile("Inspector One"))
    titled(phone, "^PIN of")
    look("pin")
    phone.tap("Passphrase")
    expect(phone.page.get_by_label("Passphrase")).to_be_visible()
    look("passphrase")
    phone.tap("Somebody else")
    phone.sign_in()


def journey(phone, look) -> None:
    titled(phone, "^Units in work")
    look("units")
    phone.tap("Find a unit", "link")
    titled(phone, "^Find a unit")
    look("find")
    for figure in "30003":
        phone.tap(figure, exact=True)
    offered(phone, "Yes, this unit", "link")
    look("find, found")
    phone.tap("Yes, this unit", "link")
    titled(phone, "^Unit PC7")
    look("unit")
    phone.tap("Start inspection", "link")
    titled(phone, "^Start inspection")
    look("begin")
    phone.tap("Overcast")
    phone.tap(re.compile("begin$"))
    phone.page.locator(".drawing").wait_for()
    for _ in range(8):
        phone.page.locator(".drawing, [data-act=read]").first.wait_for()
        if phone.page.get_by_role("button", name="Read: to the drawing").count():
            look(f"caution {phone.page.locator('h1').inner_text()}")
            phone.tap("Read: to the drawing")
        view = phone.page.locator("h1").inner_text()
        look(f"walk {view}")
        phone.touch(phone.page.locator("footer [data-step]"))
        expect(phone.page.locator("h1")).not_to_have_text(view)  # else what is looked for is found on the one before
    phone.tap("Views", "link")
    titled(phone, " views ")
    look("views")
    phone.tap("List", exact=True)
    offered(phone, re.compile("^Gas locker looked at"))
    look("list")
    phone.tap("Views", "link")
    phone.tap("Drawing", exact=True)
    phone.zone(re.compile("^Gas locker"))
    titled(phone, "^Gas locker ·")
    look("zone with caution")
    phone.tap("Not looked at", exact=True)
    offered(phone, "No safe access")
    look("zone, reasons")
    phone.tap("Search all types", "link")
    titled(phone, "^All types")
    look("search")
    phone.tap("Gas", exact=True)
    offered(phone, re.compile("^Gas locker vent"))
    look("search, group open")
    phone.tap("Back to the zone", "link")
    phone.tap(re.compile("^Gas locker vent"))
    titled(phone, "^Gas locker vent")
    look("draft, critical")
    phone.tap("Menu", "link")
    titled(phone, "^Menu")
    look("menu, draft open")
    phone.tap("Back")
    phone.tap(re.compile("^Save"))
    titled(phone, "^Stop, tag, tell")
    look("stop")
    phone.tap(re.compile("go on$"), "link")
    phone.zone(re.compile("^Front panel"))
    phone.tap(re.compile("^Panel hollow"))
    phone.tap("Minor")
    offered(phone, "Hidden in use")
    look("draft, lowered")
    phone.tap("Hidden in use")
    # A person's camera takes longer to open than the answer takes to be drawn.
    expect(phone.page.get_by_role("button", name="Hidden in use")).to_have_attribute("aria-pressed", "true")
    phone.page.locator("input[data-view=far]").set_input_files(PICTURE)
    phone.expect_status("Saved on phone: far photo")
    phone.tap("far photo", "link")
    titled(phone, "^Photo")
    look("photo")
    phone.tap("Larger")
    phone.expect_status("Saved on phone: the flaw is circled")
    look("photo, circled")
    phone.tap("Back", "link", exact=True)
    titled(phone, "^Panel hollow")
    look("draft, photo circled")
    phone.tap(re.compile("Suspected origin"), "link")
    titled(phone, "^Origin")
    look("origin")
    phone.tap("Don't know")
    phone.tap(re.compile("^Save"))
    phone.expect_status("Saved on phone: Panel hollow")
    look("walk, saved")
    phone.tap(re.compile("looked at$"))
    phone.expect_status("looked at")
    look("walk, one looked at")
    phone.tap("Views", "link")
    phone.tap(re.compile("^Rest"), "link")
    titled(phone, " rest of ")
    look("rest")
    phone.tap("Back to the drawing", "link")
    phone.tap("Views", "link")
    phone.tap("End", "link")
    titled(phone, "^End inspection")
    look("end")
    phone.tap("Not looked at", exact=True)
    offered(phone, "Weather")
    look("end, reasons")
    phone.tap("Weather")
    phone.tap(re.compile("^End with"))
    titled(phone, "^Unit PC7")
    look("unit with open list")
    phone.sync()
    phone.expect_all_sent()
    titled(phone, "^Outbox")
    look("outbox")
    phone.open("#/units")
    phone.tap(re.compile("PC7330003"), "link")
    phone.tap(re.compile("Panel hollow"), "link")
    titled(phone, "^Panel hollow")
    look("defect")
    phone.tap("Correct", "link")
    titled(phone, "^Correct")
    look("correct")
    phone.tap("Back", "link")
    phone.tap("Withdraw", "link")
    phone.tap("Duplicate of another")
    titled(phone, "^Withdraw")
    look("withdraw")
    phone.tap("Back", "link")
    phone.tap("Repair done", "link")
    titled(phone, "^Repair done")
    look("repair")
    phone.tap("15", exact=True)
    phone.tap(re.compile("^Save: repair"))
    titled(phone, "^Panel hollow")
    look("defect, repaired")
    phone.tap(re.compile("^Unit PC7"), "link")
    phone.tap("Tests", "link")
    titled(phone, "^Tests")
    look("tests")
    phone.tap(re.compile("^G1 "), "link")
    titled(phone, "^G1 ")
    look("test")
    phone.page.get_by_label("Value as read").fill("12,5")
    phone.page.get_by_label("Instrument").fill("MAN-7")
    phone.tap("Save the value")
    titled(phone, "^G1 failed")
    look("test, failed")
    phone.tap("Tests", "link")
    phone.tap(re.compile("^M3 "), "link")
    titled(phone, "^M3 ")
    look("test, pass or fail")
    phone.open("#/units")
    phone.tap(re.compile("PC7330003"), "link")
    phone.tap("Prepare release", "link")
    titled(phone, " release ")
    look("release")
    phone.open("#/secret")
    expect(phone.heading("Your sign-in")).to_be_visible()
    look("own PIN")
    phone.open("#/settings")
    titled(phone, "^Settings")
    look("settings")
    phone.tap("Sign out")
    titled(phone, "^Sign out")
    look("sign out?")


def what_others_see(phone, look) -> None:
    """Visit what the inspector of the journey does not meet, as another one, from the question whether to sign out."""
    repair = json.loads(next(row["text"] for row in phone.stored("operations") if row["kind"] == "repair_done"))
    unit, defect = f"#/unit/{repair['unit']}", repair["body"]["defects"][0]
    phone.tap(re.compile("^Sign I1 out"))
    titled(phone, "^Who are you")
    look("people, one used last")
    phone.sign_in("Inspector Two")
    phone.open(f"{unit}/recheck/{defect}")
    expect(phone.heading("Re-check")).to_be_visible()
    look("recheck")
    phone.tap("Failed", exact=True)
    expect(phone.page.get_by_label("What is still wrong")).to_be_visible()
    look("recheck, failed")
    phone.open(f"{unit}/missing")
    expect(phone.heading(re.compile("missing$"))).to_be_visible()
    look("missing")
    phone.open(f"{unit}/place")
    expect(phone.heading("Where it stands")).to_be_visible()
    look("place")
    phone.open("#/met/30099")
    expect(phone.heading("Not planned here")).to_be_visible()
    look("met")
    phone.open("#/menu")
    titled(phone, "^Menu")
    look("menu")
    phone.open("#/station")
    titled(phone, "^At which station")
    look("which station")
    phone.open("#/help")
    titled(phone, "^Help")
    look("help")
    phone.open("#/help/inspector/walk")
    expect(phone.page.get_by_role("main").get_by_role("img").first).to_be_visible()
    look("handbook")
    phone.open("#/enrol/-")
    titled(phone, "^Enrol this phone")
    look("enrol, typed")


SCREENS = 63
PATHS = re.compile(r'^\s+\{? ?path: "(.+?)"', re.MULTILINE)


def paths_of_the_app() -> set[str]:
    """The address of every screen, as the app's own modules name it: `unit/:chassis/walk/:view`."""
    return {path for file in (ROOT / "pwa" / "screens").glob("*.js") for path in PATHS.findall(file.read_text())}


def test_every_screen_reads_in_daylight_takes_a_thumb_and_keeps_its_frame(phone, axe):
    inspector = Inspector(phone, axe, 64, framed=True)
    walk_through(phone, inspector.look)
    journey(phone, inspector.look)
    what_others_see(phone, inspector.look)

    assert inspector.told() == ""
    assert len(inspector.seen) == SCREENS
    paths = paths_of_the_app()
    assert len(paths) > 25
    shapes = {path: re.compile(re.sub(":[a-z]+", "[^/]+", path)) for path in paths}
    assert [path for path, shape in shapes.items() if not any(map(shape.fullmatch, inspector.addresses))] == []


def test_every_screen_reads_on_the_night_shift_and_takes_a_glove(phone, axe):
    inspector = Inspector(phone, axe, 96)
    phone.sign_in()
    phone.open("#/settings")
    phone.tap("Gloves: larger")
    phone.tap("Night shift")
    phone.open("#/units")
    journey(phone, inspector.look)

    assert inspector.told() == ""


def test_a_planted_grey_and_a_planted_small_target_are_found(phone, axe):
    inspector = Inspector(phone, axe, 64)
    phone.sign_in()
    phone.page.evaluate("""() => {
      document.querySelector("footer .main").style.minHeight = "40px";
      document.querySelector("h1").style.color = "#777";
    }""")

    inspector.look("planted")

    assert any("target" in wrong for wrong in inspector.problems["planted"])
    assert any("contrast" in wrong for wrong in inspector.problems["planted"])
