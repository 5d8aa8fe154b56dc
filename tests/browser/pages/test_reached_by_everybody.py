"""Every page at both sizes: no accessibility fault that axe-core knows, nothing wider than the screen, large targets.

Sources: axe-core's rules for WCAG 2.2 A and AA and its best practices; target sizes are the project's own aim
(48 px, 64 px for what a lead presses), well above WCAG 2.2's 24 px (2.5.8).
"""

import re

import pytest

from tests.browser.pages.conftest import DESK, PHONE

pytestmark = pytest.mark.browser
PAGES = {
    "/review?week=2026-W11": "quality_manager",
    "/review/by-point?week=2026-W11": "quality_manager",
    "/review/by-model?week=2026-W11": "quality_manager",
    "/backlog": "quality_manager",
    "/review?week=2026-W12&severity=critical&baseline=2026-W10..2026-W12&why=new+jig": "quality_manager",
    "/signals": "quality_manager",
    "/set-aside": "quality_manager",
    "/inspectors": "quality_manager",
    "/inspectors/me": "inspector",
    "/stations": "quality_manager",
    "/stations/S05?week=2026-W10": "station_lead",
    "/units": "dispatch",
    "/units?q=3OOO2": "dispatch",
    "/units/{waiting}": "quality_manager",
    "/units/{released}": "dispatch",
    "/people": "administrator",
    "/plant-tables": "administrator",
    "/plant-tables/zones?model=M50&view=nearside": "administrator",
    "/sign-ins": "administrator",
    "/plan": "planner",
    "/passed": "station_lead",
    "/plan/range": "planner",
    "/legend": "quality_manager",
    "/export": "quality_manager",
    "/labels?from_day=2026-03-02&size=a4-3x7": "planner",
    "/paper": "inspector",
    "/paper?model=T36": "inspector",
}
SIZES = {"desk": DESK, "phone": PHONE}


def open_page(open_as, site, address, size, **settings):
    visitor = open_as(PAGES[address], SIZES[size], **settings)
    visitor.go(address.format(**site.lived.ids))
    if "?q=" in address:
        visitor.errors.clear()  # the browser reports the answer 400 as an error of loading, which it is meant to be
    return visitor


# Each page is loaded once and then made narrower and wider: what changes with the width is the style sheets' alone.
@pytest.mark.parametrize("address", PAGES)
def test_axe_finds_no_fault(open_as, site, axe, address):
    page = open_page(open_as, site, address, "desk", bypass_csp=True).page
    page.evaluate("for (const one of document.querySelectorAll('details')) one.open = true")
    page.evaluate(axe)
    faults = {}
    for size in SIZES.values():
        page.set_viewport_size(size)
        found = page.evaluate("axe.run({resultTypes: ['violations']})")
        assert len(found["passes"]) > 10  # it did look
        faults |= {
            (one["id"], size["width"]): [node["html"][:160] for node in one["nodes"][:3]] for one in found["violations"]
        }

    assert faults == {}


WIDTHS = {1280: 800, 320: 640, 360: 740, 390: 844, 568: 320, 768: 1024, 1920: 1080}
# How long the week may be, in px by width: below that a manager reads it all in 40 minutes.
LONGEST = {1280: 9000, 390: 12_000}
PHONES = (320, 360, 390, 568)
WATCH = """() => { window.moved = 0; new PerformanceObserver((list) => {
  for (const one of list.getEntries()) if (!one.hadRecentInput) window.moved += one.value;
}).observe({ type: 'layout-shift', buffered: true }); }"""
FAULTS = """(isPhone) => {
  const seen = (one) => one.checkVisibility({ visibilityProperty: true }) && one.getClientRects().length > 0;
  const named = (one) => `${one.tagName} ${one.textContent.trim().replace(/\\s+/g, ' ').slice(0, 40)}`;
  const faults = [];
  const root = document.documentElement;
  if (root.scrollWidth > innerWidth) faults.push(`sideways: ${root.scrollWidth} in ${innerWidth}`);
  const pressed = [...document.querySelectorAll('a, button, summary, select, input:not([type=hidden])')]
    .filter((one) => seen(one) && !one.closest('.skip'))
    // A table of blocks keeps its head for a reader alone, cut to one pixel: nothing there can be touched.
    .filter((one) => !one.closest('thead') || getComputedStyle(one.closest('thead')).clipPath === 'none');
  if (isPhone) {
    for (const one of pressed) {
      const target = one.matches('button, .button, nav a, summary, select, input:not([type=checkbox], [type=radio])');
      if (target && one.getBoundingClientRect().height < 47.5) faults.push(`small: ${named(one)}`);
    }
  }
  const names = 'a, button, summary, h1, h2, h3, dt, th, td, label, figcaption, .state';
  for (const one of document.querySelectorAll(names)) {
    if (!seen(one) || one.closest('.unseen, .skip')) continue;
    const style = getComputedStyle(one);
    if (style.overflowX !== 'visible' && one.scrollWidth > one.clientWidth + 1) faults.push(`cut: ${named(one)}`);
    const words = document.createRange();
    words.selectNodeContents(one);
    const box = words.getBoundingClientRect();
    if (box.width > 1 && (box.right > innerWidth + 1 || box.left < -1) && !one.closest('.sheet')) {
      faults.push(`off the page: ${named(one)}`);
    }
  }
  const boxes = pressed.filter((one) => !one.closest('.standing')).flatMap((one) => [...one.getClientRects()]
    .filter((box) => box.width && box.height).map((box) => ({ one, box })));
  boxes.sort((a, b) => a.box.top - b.box.top);
  boxes.forEach((a, at) => {
    for (let next = at + 1; next < boxes.length && boxes[next].box.top < a.box.bottom - 2; next += 1) {
      const b = boxes[next];
      if (a.one.contains(b.one) || b.one.contains(a.one)) continue;
      const inText = a.one.localName === 'a' && b.one.localName === 'a' && !a.one.matches('.button, nav a');
      if (inText || a.box.right - 2 <= b.box.left || b.box.right - 2 <= a.box.left) continue;
      faults.push(`over: ${named(a.one)} / ${named(b.one)}`);
    }
  });
  return faults;
}"""


@pytest.mark.parametrize("address", PAGES)
def test_every_width_holds_the_page_whole(open_as, site, address):
    """No sideways scroll, no name cut or overlapped, targets for a thumb, and nothing moves once it is painted."""
    page = open_page(open_as, site, address, "desk").page
    page.evaluate(WATCH)
    found = {}
    for width, height in WIDTHS.items():
        page.set_viewport_size({"width": width, "height": height})
        if width == 1280:
            page.wait_for_timeout(100)
            moved = page.evaluate("window.moved")
        faults = page.evaluate(FAULTS, width in PHONES)
        if address.startswith("/review?") and page.evaluate("document.body.scrollHeight") > LONGEST.get(width, 10**6):
            faults.append("longer than the week may be")
        if faults:
            found[width] = faults[:6]
    page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    for width in PHONES:
        page.set_viewport_size({"width": width, "height": WIDTHS[width]})
        if (whole := page.evaluate("document.documentElement.scrollWidth")) > width:
            found[f"{width}, all opened"] = [f"sideways: {whole}"]

    assert found == {}
    assert moved <= 0.02


def test_faults_planted_on_a_page_are_found(open_as):
    page = open_as("quality_manager", SIZES["phone"]).go("/units")
    page.evaluate(
        """() => {
          const main = document.querySelector('main');
          const planted = `<h2>${'W'.repeat(80)}</h2><button>Sixty</button><summary>cut off here</summary>`;
          main.insertAdjacentHTML('afterbegin', planted);
          const [head, button, cut] = main.children;
          head.style.whiteSpace = 'nowrap';
          button.style.minHeight = button.style.height = '20px';
          Object.assign(cut.style, { overflow: 'hidden', width: '30px', whiteSpace: 'nowrap', position: 'absolute' });
        }"""
    )

    kinds = {one.split(":")[0] for one in page.evaluate(FAULTS, True)}
    assert kinds >= {"sideways", "small", "cut", "off the page"}


def test_the_week_prints_on_two_sheets_with_nothing_cut(open_as):
    page = open_as("quality_manager", SIZES["desk"]).go("/review?week=2026-W11")
    printed = page.pdf(format="A4", prefer_css_page_size=True)
    page.emulate_media(media="print")
    page.set_viewport_size({"width": 703, "height": 1032})  # A4 less its margins of 12 mm, in CSS pixels

    assert 1 <= len(re.findall(rb"/Type\s*/Page\b", printed)) <= 2
    assert page.evaluate(FAULTS, False) == []
    assert page.evaluate("document.documentElement.scrollHeight") <= 2 * 1032
    for words in ("1 critical is open.", "GAS-01", "Level", "Fitness of the data", "Before you decide"):
        assert page.get_by_text(words).first.is_visible()


@pytest.mark.parametrize(("size", "most", "screen"), [("desk", 170, 800), ("phone", 190, 844)])
def test_the_week_stands_on_the_first_screen(open_as, size, most, screen):
    """One line of head and one of open criticals, which stays when the page moves; below them its eight lines whole."""
    page = open_as("quality_manager", SIZES[size]).go("/review?week=2026-W11")
    last = page.locator(".glance dl > div").last.bounding_box()
    standing = page.locator(".standing").bounding_box()["height"]

    assert page.locator("h1").bounding_box()["y"] <= most
    assert page.locator(".glance dl > div").count() == 8
    assert last["y"] + last["height"] - standing <= screen
    page.evaluate("scrollTo(0, 2000)")
    assert page.locator(".standing").bounding_box()["y"] == 0


def test_the_lead_sees_how_it_stands_and_the_first_card_on_one_phone_screen(open_as):
    page = open_as("station_lead", SIZES["phone"]).go("/stations/S05?week=2026-W10")
    card = page.locator(".card").first

    assert page.locator(".reading").first.bounding_box()["y"] < 260
    assert card.bounding_box()["y"] < 700
    assert card.locator("svg.where").count() == 1


def test_an_answer_keeps_the_place(open_as, site):
    visitor = open_as("station_lead", SIZES["phone"])
    page = visitor.go("/stations/S05?week=2026-W10")
    first, second = (page.locator(".card").nth(place).get_attribute("id") for place in (0, 1))
    page.locator(f"#{first}").get_by_text("Made here", exact=True).click()
    page.locator(f"#{first}").get_by_role("button", name="Yes, confirm").click()
    page.get_by_text("Confirmed: made here.").wait_for()
    page.wait_for_load_state()  # by then a page has moved to what its address names

    assert page.url.endswith(f"week=2026-W10#{second}")
    assert page.locator(f"#{second}").evaluate("one => one.getBoundingClientRect().top < innerHeight / 2")
    assert page.get_by_text("Confirmed: made here.").evaluate("one => one.getBoundingClientRect().top >= 0")
