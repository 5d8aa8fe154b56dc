"""What scripts write stands in the language of the page: the tools of tables, the drawing of zones, the screen."""

import pytest
from playwright.sync_api import expect

from qc.store.people.languages import keep_language
from tests.browser.pages.conftest import DESK
from tests.web.plant_server import CAST

pytestmark = pytest.mark.browser
TABLE = """() => {
  document.querySelector("main").innerHTML = `<div class="sheet"><table><caption>Probe</caption>
    <thead><tr><th>Was</th><th>Wert</th></tr></thead><tbody>${
      ["7,25", "etwa 3", "7,5", "1 204"].map((value) => `<tr><th>x</th><td>${value}</td></tr>`).join("")}
    </tbody></table></div>`;
}"""


@pytest.fixture
def in_german(site, open_as):
    """Opens a page for somebody who chose German; they speak English again afterwards."""
    write = site.lived.server.house.journal.write
    chosen = []

    def open_it(role, address):
        visitor = open_as(role, DESK)
        chosen.append(CAST[role].code)
        write(lambda conn: keep_language(conn, CAST[role].code, "de"))
        return visitor.go(address)

    yield open_it
    for code in chosen:
        write(lambda conn, code=code: keep_language(conn, code, "en"))


def test_the_tools_of_a_table_speak_and_read_its_decimals(in_german):
    page = in_german("quality_manager", "/units")
    page.evaluate(TABLE)
    page.evaluate("address => import(`${address}?again`)", page.locator("script[src*='tables']").get_attribute("src"))

    expect(page.get_by_role("button", name="Kopieren")).to_be_visible()
    page.get_by_label("Mit einem Wort eingrenzen: Probe").fill("7")
    expect(page.get_by_role("status")).to_have_text("2 von 4")
    page.get_by_label("Mit einem Wort eingrenzen: Probe").fill("")
    page.get_by_role("button", name="Wert").click()
    assert page.locator("tbody td").all_inner_texts() == ["1 204", "7,5", "7,25", "etwa 3"]


def test_the_drawing_of_zones_speaks(in_german):
    page = in_german("administrator", "/plant-tables/zones")
    said = page.locator("[data-said]")

    page.get_by_role("button", name="Zone zeichnen").click()
    expect(said).to_contain_text("Eine Ecke nach der anderen antippen")
    page.get_by_role("button", name="Abbrechen").click()
    expect(said).to_have_text("Nicht gezeichnet.")
    page.locator("[data-choose]").first.click()
    expect(said).to_contain_text(" gewählt")
    page.locator("[data-point]").first.focus()
    expect(said).to_contain_text("Punkt 1 von ")
    expect(page.locator("[data-found]")).to_have_text("Keine.")


def test_the_key_of_the_screen_speaks(in_german):
    page = in_german("inspector", "/help")

    page.get_by_role("button", name="Dunkler Bildschirm").click()
    expect(page.get_by_role("button", name="Heller Bildschirm")).to_be_visible()
