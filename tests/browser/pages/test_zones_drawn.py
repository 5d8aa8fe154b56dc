"""Zones drawn at a desk and on a tablet: by mouse, finger and keys, kept when the tab closes, put in force."""

import pytest
from playwright.sync_api import expect

from qc.domain.tables.plant_tables import checked_plant
from qc.web.pages.plant_tables import tables_in_force
from tests.browser.pages.browsing import Site, Visitor
from tests.browser.pages.conftest import DESK, served
from tests.browser.pages.drawn import on_screen
from tests.store.pictures import encoded, sides
from tests.web.pages.lived_in import LivedIn
from tests.web.pages.test_plant_tables_page import TABLES
from tests.web.plant_server import PlantServer

pytestmark = pytest.mark.browser
OPTIONS = {"SKY": "Roof light", "DOOR": "Door opener"}
TABLET = {"width": 820, "height": 1180}
FRONT = "/plant-tables/zones?model=T36&view=front"
LAMP = [(200, 1400), (500, 1400), (500, 1800), (200, 1800)]  # mm, on the front panel
FIELDS = {"name": "Lamp, left", "key": "front.lamp", "kind": "panel", "layer": "2"}


SMALL = """() => {
  const touched = ".zones button, .zones select, .zones input:not([type=checkbox]), .handle .reach";
  return [...document.querySelectorAll(touched)]
    .filter((each) => each.checkVisibility())
    .map((each) => [each.outerHTML.slice(0, 60), each.getBoundingClientRect()])
    .filter(([, box]) => box.height < 43 || box.width < 43 || box.right > innerWidth + 1)
    .map(([words]) => words);
}"""


@pytest.fixture
def desk(open_as):
    return open_as("administrator", DESK)


def said(page):
    return page.locator("[data-said]")


def found(page):
    return page.locator("[data-found]").inner_text()


def points(page, name):
    """The points of a zone as they are drawn, by its name."""
    kept = page.evaluate("Object.entries(localStorage).find(([name]) => name.startsWith('zones'))?.[1] ?? 'null'")
    drawing = page.evaluate("(text) => JSON.parse(text)", kept)
    return next(zone["points"] for zone in drawing["drawing"]["zones"] if zone["name"] == name)


def choose(page, name):
    page.locator("[data-list]").get_by_role("button", name=name).click()


def name_it(page, **more):
    for field, value in (FIELDS | more).items():
        page.locator(f"[data-field={field}]").fill(value)
        page.locator(f"[data-field={field}]").blur()


def look_through(page):
    page.get_by_role("button", name="Look it through").click()
    expect(page.get_by_role("heading", name="The plant's tables")).to_be_visible()


def test_a_zone_is_drawn_named_and_put_in_force_with_the_mouse(desk, site):
    page = desk.go(FRONT)
    page.get_by_role("button", name="Draw a zone").click()
    for place in LAMP:
        page.mouse.click(*on_screen(page, place))
    page.mouse.click(*on_screen(page, LAMP[0]))  # on its first corner: closed
    expect(said(page)).to_contain_text("The zone is closed")
    name_it(page)
    assert all(
        abs(a - b) < 12
        for at, want in zip(points(page, "Lamp, left"), LAMP, strict=True)
        for a, b in zip(at, want, strict=True)
    )

    look_through(page)
    expect(page.get_by_text("T36 front.lamp Lamp, left: added")).to_be_visible()
    page.get_by_label("Why they change").fill("lamps are looked at")
    page.get_by_role("button", name="Put these tables in force").click()
    expect(page.get_by_text("In force from")).to_be_visible()

    assert site.lived.server.house.plant.zones["T36", "front.lamp"].kind == "panel"
    page = desk.go(FRONT)
    expect(page.locator("[data-list]").get_by_role("button", name="Lamp, left, layer 2", exact=False)).to_be_visible()
    expect(page.locator("[data-told]")).to_be_hidden()
    assert page.evaluate("Object.keys(localStorage).filter((name) => name.startsWith('zones'))") == []


def test_a_point_and_a_zone_are_moved_and_snap_and_steps_are_undone(desk):
    page = desk.go(FRONT)
    choose(page, "Gas locker")
    handle = page.locator('[data-point="2"]')
    assert handle.get_attribute("aria-label") == "Point 3 of 4: 1150, 1250"

    page.mouse.move(*on_screen(page, (1150, 1250)))
    page.mouse.down()
    page.mouse.move(*on_screen(page, (1400, 1500)), steps=5)
    page.mouse.up()
    assert "Gas locker and Front panel lie over one another" in found(page)
    assert "Gas locker and Battery and plant locker lie over one another" in found(page)
    expect(page.locator(".overlap").first).to_be_attached()

    page.get_by_role("button", name="Undo").click()
    assert found(page) == "None."
    expect(handle).to_have_attribute("aria-label", "Point 3 of 4: 1150, 1250")
    page.keyboard.press("Control+Shift+Z")
    assert "lie over one another" in found(page)
    page.keyboard.press("Control+Z")

    page.mouse.move(*on_screen(page, (1150, 1250)))
    page.mouse.down()
    page.mouse.move(*on_screen(page, (1000, 1100)), steps=5)
    page.mouse.move(*on_screen(page, (1160, 1262)), steps=5)  # near its neighbours' point: it snaps back to it
    page.mouse.up()
    expect(handle).to_have_attribute("aria-label", "Point 3 of 4: 1150, 1250")

    page.mouse.move(*on_screen(page, (600, 900)))
    page.mouse.down()
    page.mouse.move(*on_screen(page, (600, 1100)), steps=5)
    page.mouse.up()
    expect(said(page)).to_contain_text("Gas locker moved")
    assert "Nothing lies about" in found(page)
    expect(page.locator(".gap").first).to_be_attached()


def test_all_of_it_by_keys_alone(desk):
    page = desk.go(FRONT)
    page.get_by_role("button", name="Draw a zone").focus()
    page.keyboard.press("Enter")
    expect(said(page)).to_contain_text("arrows move the cross")
    for keys in (["Space"], ["Shift+ArrowRight"] * 2 + ["Space"], ["Shift+ArrowUp"] * 2 + ["Space"]):
        for key in keys:
            page.keyboard.press(key)
    expect(said(page)).to_contain_text("Corner 3")
    page.keyboard.press("Enter")
    expect(page.locator("[data-field=name]")).to_be_focused()
    page.keyboard.type("Drawn by keys")
    page.keyboard.press("Tab")
    (x, y), second, third = points(page, "Drawn by keys")
    assert second == [x + 200, y]
    assert third == [x + 200, y + 200]

    page.locator('[data-point="2"]').focus()
    expect(said(page)).to_contain_text("Point 3 of 3")
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("Shift+ArrowUp")
    expect(said(page)).to_contain_text(f"Point 3 of 3: {x + 190}, {y + 300} mm")
    expect(page.locator('[data-point="2"]')).to_be_focused()
    page.keyboard.press("Insert")
    assert len(points(page, "Drawn by keys")) == 4
    page.keyboard.press("Delete")
    assert len(points(page, "Drawn by keys")) == 3
    page.keyboard.press("Delete")
    expect(said(page)).to_contain_text("A zone keeps 3 points at least.")

    page.locator('[data-point="0"]').focus()
    page.keyboard.press("s")
    expect(said(page)).to_contain_text("Snapped to")
    page.keyboard.press("Control+z")
    expect(said(page)).to_contain_text("Undone.")
    assert points(page, "Drawn by keys")[0] == [x, y]
    page.locator("[data-sheet]").focus()
    page.keyboard.press("Escape")  # no zone is being drawn: nothing happens
    page.get_by_label("Step").select_option("1")
    page.locator('[data-point="0"]').focus()
    page.keyboard.press("ArrowDown")
    assert points(page, "Drawn by keys")[0] == [x, y - 1]


def test_a_tablet_is_drawn_on_by_finger(open_as):
    visitor = open_as("administrator", TABLET, has_touch=True)
    page = visitor.go(FRONT)
    page.get_by_role("button", name="Draw a zone").tap()
    for place in LAMP:
        page.touchscreen.tap(*on_screen(page, place))
    page.get_by_role("button", name="Close", exact=True).tap()
    name_it(page, name="By finger", key="front.finger")
    assert len(points(page, "By finger")) == 4

    page.locator("[data-sheet]").scroll_into_view_if_needed()
    # A finger that draws the point away, as a touch screen tells it.
    x, y = on_screen(page, LAMP[2])
    to_x, to_y = on_screen(page, (900, 2000))
    cdp = visitor.context.new_cdp_session(page)
    cdp.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [{"x": x, "y": y}]})
    for share in (0.3, 0.7, 1):
        spot = {"x": x + (to_x - x) * share, "y": y + (to_y - y) * share}
        cdp.send("Input.dispatchTouchEvent", {"type": "touchMove", "touchPoints": [spot]})
    cdp.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    expect(said(page)).to_contain_text("Point 3 of 4")
    moved = points(page, "By finger")[2]
    assert abs(moved[0] - 900) < 40
    assert abs(moved[1] - 2000) < 40

    small = page.evaluate(SMALL)
    assert small == []
    assert page.evaluate("document.documentElement.scrollWidth") <= TABLET["width"]


def test_a_closed_tab_loses_nothing_and_what_others_did_is_told(desk, open_as):
    page = desk.go(FRONT.replace("front", "rear"))
    page.locator("[data-choose]").first.click()
    page.locator("[data-field=name]").fill("Mine")
    page.locator("[data-field=name]").blur()
    page.close()

    desk.page = desk.context.new_page()
    page = desk.go(FRONT.replace("front", "rear"))
    expect(page.locator("[data-told]")).to_contain_text("It is not in force yet.")
    expect(page.locator("[data-list]").get_by_role("button", name="Mine")).to_be_visible()

    other = open_as("administrator", DESK)
    theirs = other.go(FRONT.replace("front", "rear"))
    theirs.locator("[data-choose]").nth(1).click()
    theirs.locator("[data-field=name]").fill("Theirs")
    theirs.locator("[data-field=name]").blur()
    look_through(theirs)
    theirs.get_by_label("Why they change").fill("named anew")
    theirs.get_by_role("button", name="Put these tables in force").click()
    expect(theirs.get_by_text("In force from")).to_be_visible()

    page.get_by_role("button", name="Look it through").click()
    expect(page.get_by_role("alert").first).to_contain_text(
        "Somebody else has put another drawing of this view in force"
    )
    expect(page.locator("[data-told]")).to_contain_text("Somebody else has put another drawing of this view in force")
    expect(page.locator("[data-list]").get_by_role("button", name="Mine")).to_be_visible()
    page.get_by_role("button", name="Go on with mine, over theirs").click()
    look_through(page)
    expect(page.get_by_text("→ Mine")).to_be_visible()

    page = desk.go(FRONT.replace("front", "rear"))
    page.get_by_role("button", name="Begin again from what is in force").click()
    expect(page.locator("[data-list]").get_by_role("button", name="Theirs")).to_be_visible()
    assert page.evaluate("Object.keys(localStorage).filter((name) => name.startsWith('zones'))") == []


@pytest.fixture
def desk_with_options(browser, tmp_path):
    """A desk of a plant of its own, whose units have options: no code of the plant of all tests is taken away again."""
    more = "".join(f'\n[[option]]\ncode = "{code}"\nname = "{name}"\n' for code, name in OPTIONS.items())
    tables = {**TABLES, "plant.toml": TABLES["plant.toml"] + more}
    plant = PlantServer(tmp_path / "plant", (tables, checked_plant(tables)))
    with served(plant) as address:
        visitor = Visitor.sign_in(browser, Site(address, LivedIn(plant)), "administrator", DESK)
        yield visitor
        visitor.context.close()
    assert visitor.errors == []


def test_a_plant_without_options_says_where_they_stand(desk):
    expect(desk.go(FRONT).get_by_text("This plant has no options")).to_be_visible()


def test_options_are_ticked_and_undone_and_kept_with_the_drawing(desk_with_options):
    desk = desk_with_options
    page = desk.go(FRONT)
    group = page.get_by_role("group", name="Asked only of units with")
    assert all(group.get_by_label(name).is_disabled() for name in OPTIONS.values())
    choose(page, "Gas locker")
    for name in OPTIONS.values():
        group.get_by_label(name).check()
    line = page.locator("[data-list]").get_by_role("button", name="Gas locker")
    expect(line).to_have_text("2 Gas locker, only with Roof light, Door opener")
    page.get_by_role("button", name="Undo").click()
    expect(line).to_have_text("2 Gas locker, only with Roof light")
    assert group.get_by_label("Door opener").is_checked() is False
    page.get_by_role("button", name="Redo").click()
    assert page.evaluate("document.documentElement.scrollWidth") <= DESK["width"]

    page = desk.go(FRONT)
    expect(page.locator("[data-told]")).to_contain_text("It is not in force yet.")
    choose(page, "Gas locker")
    group = page.get_by_role("group", name="Asked only of units with")
    group.get_by_label("Roof light").uncheck()
    look_through(page)
    expect(page.get_by_text("T36 front.gas: options nothing → DOOR")).to_be_visible()


def test_a_draft_from_before_options_and_names_could_be_drawn_takes_none_away(desk):
    def zone_with_an_option(route):
        answer = route.fetch()
        first, gas, rest = answer.text().partition("front.gas")
        route.fulfill(
            response=answer, body=first + gas + rest.replace("options&#34;:[]", "options&#34;:[&#34;SKY&#34;]", 1)
        )

    desk.page.route("**/plant-tables/zones?*", zone_with_an_option)
    page = desk.go(FRONT)
    page.evaluate(
        """() => {
          const told = JSON.parse(document.querySelector("[data-drawing]").dataset.drawing);
          const zones = told.zones.map(({ options, names, ...zone }) => ({ ...zone, name: `${zone.name}!` }));
          const name = `zones ${told.person} ${told.model} ${told.view}`;
          const drawing = { zones, picture: null };
          localStorage.setItem(name, JSON.stringify({ base: told.base, from: {}, drawing, at: "then" }));
        }"""
    )
    page = desk.go(FRONT)
    choose(page, "Gas locker!")
    page.locator("[data-field=name]").fill("Gas")
    page.locator("[data-field=name]").blur()

    kept = page.evaluate("JSON.parse(Object.entries(localStorage).find(([name]) => name.startsWith('zones'))[1])")
    zones = kept["drawing"]["zones"]
    assert [zone["options"] for zone in zones][:3] == [[], ["SKY"], []]
    assert zones[1]["names"] == {"de": "Gaskasten"}


def test_names_in_further_languages_are_written_begun_undone_and_kept(desk, site):
    before = tables_in_force(site.lived.server.house)["names.csv"]
    page = desk.go(FRONT)
    choose(page, "Gas locker")
    german = page.get_by_label("Name in German (de)")
    expect(german).to_have_value("Gaskasten")
    german.fill("Gasfach")
    german.blur()
    begin = page.get_by_role("button", name="Begin it")
    begin.click()
    expect(said(page)).to_contain_text("Write the tag of a language first")
    page.get_by_label("Name it in another language").fill(" pl ")
    begin.click()
    polish = page.get_by_label("Name in Polish (pl)")
    expect(polish).to_be_focused()
    page.keyboard.type("Skrzynka")
    page.keyboard.press("Tab")
    page.get_by_role("button", name="Undo").click()
    expect(polish).to_have_value("")
    page.get_by_role("button", name="Undo").click()
    expect(polish).to_have_count(0)
    page.get_by_role("button", name="Undo").click()
    expect(german).to_have_value("Gaskasten")
    for _ in range(3):
        page.get_by_role("button", name="Redo").click()

    page = desk.go(FRONT)
    expect(page.locator("[data-told]")).to_contain_text("It is not in force yet.")
    choose(page, "Battery and plant locker")
    expect(page.get_by_label("Name in Polish (pl)")).to_have_value("")
    choose(page, "Gas locker")
    expect(page.get_by_label("Name in Polish (pl)")).to_have_value("Skrzynka")
    look_through(page)
    expect(page.get_by_text("de zone front.gas name: words Gaskasten → Gasfach")).to_be_visible()
    expect(page.get_by_text("pl zone front.gas name Skrzynka: added")).to_be_visible()
    expect(page.get_by_text("zones.csv:")).to_have_count(0)
    assert tables_in_force(site.lived.server.house)["names.csv"] == before


def test_a_language_that_is_none_keeps_the_drawing(desk):
    page = desk.go(FRONT)
    choose(page, "Gas locker")
    page.get_by_label("Name it in another language").fill('Klin"gon')
    page.get_by_role("button", name="Begin it").click()
    page.keyboard.type("X")
    page.keyboard.press("Tab")
    look_through(page)
    expect(page.get_by_text("is no language tag; write one of BCP 47")).to_be_visible()
    page.get_by_role("link", name="Back to the drawing, as you left it").click()
    choose(page, "Gas locker")
    expect(page.get_by_label('Name in Klin"gon')).to_have_value("X")
    page.get_by_label('Name in Klin"gon').fill("")
    page.get_by_label('Name in Klin"gon').blur()
    assert page.evaluate("Object.keys(localStorage).filter((name) => name.startsWith('zones'))") == []


def test_a_picture_is_laid_under_the_drawing_and_moved(desk, tmp_path):
    path = tmp_path / "front.png"
    path.write_bytes(encoded(sides(900, 600), "PNG"))
    page = desk.go(FRONT.replace("front", "roof"))
    page.get_by_label("PNG, JPEG or WebP").set_input_files(path)
    page.get_by_role("button", name="Lay it under the zones").click()
    expect(page.locator("[data-sheet] image")).to_be_attached()
    page.get_by_label("Left").fill("-77")
    page.get_by_label("Left").blur()
    look_through(page)

    expect(page.get_by_text("T36 roof: added")).to_be_visible()


def test_without_scripts_the_page_says_so_and_points_to_the_table(open_as):
    page = open_as("administrator", DESK, java_script_enabled=False).go(FRONT)

    expect(page.locator("noscript p")).to_be_visible()
    assert "Drawing needs scripts" in page.locator("noscript p").inner_text()
    expect(page.locator(".board")).to_be_hidden()
    assert page.locator("noscript a").first.get_attribute("href") == "/plant-tables/file?name=zones.csv"


def test_more_than_a_hundred_zones_are_drawn_at_once(desk):
    page = desk.go(FRONT.replace("front", "interior"))
    kept = page.evaluate(
        """() => {
          const told = JSON.parse(document.querySelector("[data-drawing]").dataset.drawing);
          const zones = [...told.zones];
          for (let n = 0; n < 150; n += 1) {
            const [x, y] = [20 * (n % 15), 20 * Math.floor(n / 15)];
            const points = [[x, y], [x + 20, y], [x + 20, y + 20], [x, y + 20]];
            zones.push({ ...zones[0], id: "", key: `in.cell.${n}`, name: `Cell ${n}`, layer: 5, points });
          }
          const drawing = { zones, picture: null };
          const name = `zones ${told.person} ${told.model} ${told.view}`;
          localStorage.setItem(name, JSON.stringify({ base: told.base, from: {}, drawing, at: "now" }));
          return zones.length;
        }"""
    )
    page = desk.go(FRONT.replace("front", "interior"))
    expect(page.locator("[data-choose]")).to_have_count(kept)
    choose(page, "Cell 149")
    page.locator("[data-sheet]").focus()
    page.keyboard.press("ArrowUp")
    expect(said(page)).to_contain_text("Cell 149 moved")
    look_through(page)

    expect(page.get_by_text("Cell 149: added").or_(page.get_by_text("more")).first).to_be_visible()


@pytest.mark.parametrize("size", [DESK, TABLET], ids=["desk", "tablet"])
def test_the_page_is_reached_by_everybody(open_as, axe, size):
    page = open_as("administrator", size).go(FRONT)
    page.locator("[data-choose]").first.click()
    page.evaluate(axe)
    problems = page.evaluate(
        "axe.run(document.querySelector('main')).then((each) => each.violations.map((v) => [v.id, v.nodes[0].html]))"
    )

    assert problems == []


def test_a_manager_reads_the_drawing_and_changes_nothing(open_as):
    page = open_as("quality_manager", DESK).go(FRONT)
    page.mouse.click(*on_screen(page, (600, 900)))
    expect(said(page)).to_have_text("Gas locker chosen")
    expect(page.locator("[data-field=name]")).to_have_value("Gas locker")
    expect(page.locator("[data-field=name]")).to_be_disabled()
    page.mouse.move(*on_screen(page, (600, 900)))
    page.mouse.down()
    page.mouse.move(*on_screen(page, (900, 1500)), steps=4)
    page.mouse.up()
    page.keyboard.press("ArrowUp")
    page.keyboard.press("Control+z")

    assert found(page) == "None."
    expect(page.get_by_role("button", name="Look it through")).to_have_count(0)
    assert page.evaluate("Object.keys(localStorage).filter((name) => name.startsWith('zones'))") == []
