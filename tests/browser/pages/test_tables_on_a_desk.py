"""Tables at a desk: sorted, narrowed, copied, saved as CSV, their heads in sight; a phone and a page without scripts
keep them as they are.
"""

import csv
import io

import pytest

from tests.browser.pages.conftest import DESK, PHONE

pytestmark = pytest.mark.browser
REVIEW = "/review?week=2026-W11"
TABLE = """() => {
  document.querySelector("main").innerHTML = `<div class="sheet"><table><caption>Planted</caption>
    <thead><tr><th>What</th><th>Count</th><th>When</th></tr></thead><tbody>${[
      ["=1+1", "12 of 89", "2026-03-02"], ["b, c", "–", "2026-03-01"], ["+4 mm", "−3", "2026-03-04"],
      ["A \\"word\\"", "1 204", "2026-03-03"]].map(([a, b, c]) =>
        `<tr><th>${a}</th><td class="number">${b}</td>
           <td><time datetime="${c}">day ${c.slice(-2)}</time></td></tr>`).join("")}
    </tbody></table></div><details class="more"><summary>2 more rows</summary><div class="sheet"><table>
    <caption class="unseen">Planted, more rows</caption><thead><tr><th>What</th><th>Count</th><th>When</th></tr></thead>
    <tbody><tr><th>z</th><td class="number">40</td><td><time datetime="2026-02-01">day x</time></td></tr>
      <tr><th>10 b</th><td class="number">7.5</td><td><time datetime="2026-02-02">day y</time></td></tr></tbody>
    </table></div></details>`;
}"""


@pytest.fixture
def planted(open_as):
    """A page whose content was replaced by a table with awkward cells, then made ready as the page's own are."""
    visitor = open_as("quality_manager", DESK, accept_downloads=True)
    visitor.go("/units")
    page = visitor.page
    page.evaluate(TABLE)
    address = page.locator("script[src*='tables']").get_attribute("src")
    page.evaluate("address => import(`${address}?again`)", address)
    page.get_by_role("button", name="CSV").wait_for()
    return page


def column(page, place):
    cells = page.locator("tbody tr").evaluate_all(
        "(rows, place) => rows.filter(row => !row.hidden).map(row => row.cells[place].textContent)", place
    )
    return list(cells)


def sort_by(page, head):
    page.locator("thead").first.get_by_role("button", name=head).click()


def test_a_column_of_numbers_is_sorted_the_largest_first_and_back(planted):
    before = column(planted, 1)
    sort_by(planted, "Count")
    assert column(planted, 1) == ["1 204", "40", "12 of 89", "7.5", "−3", "–"]  # what says nothing stands last
    assert planted.locator("th[aria-sort=descending]").first.inner_text().endswith("Count")
    assert planted.locator(".sheet").first.locator("tbody tr").count() == 4  # the rest stays folded

    sort_by(planted, "Count")
    assert column(planted, 1) == ["−3", "7.5", "12 of 89", "40", "1 204", "–"]
    sort_by(planted, "Count")
    assert column(planted, 1) == before
    assert planted.locator("th[aria-sort]").count() == 0


def test_words_are_sorted_from_a_and_days_by_when(planted):
    sort_by(planted, "What")
    assert column(planted, 0)[-2:] == ["b, c", "z"]
    sort_by(planted, "When")
    assert column(planted, 2) == ["day x", "day y", "day 01", "day 02", "day 03", "day 04"]


def test_each_tables_word_stands_in_the_address_and_is_taken_from_it(open_as):
    page = open_as("quality_manager", DESK).go(REVIEW)
    words = page.locator(".table-tools input:visible")
    words.nth(0).fill("nobody & co")
    words.nth(1).fill("roof")
    address = page.evaluate("location.href")  # the driver hears of it a moment later
    assert address.partition("#")[2].count("narrow") == 2
    page.goto("about:blank")
    page.goto(address)

    assert [words.nth(at).input_value() for at in (0, 1)] == ["nobody & co", "roof"]
    words.nth(0).fill("")
    words.nth(1).fill("")
    assert page.evaluate("location.hash") == ""


def test_a_word_narrows_the_rows_the_folded_ones_too(planted):
    planted.get_by_role("searchbox").fill("B")

    assert column(planted, 0) == ["b, c", "10 b"]
    assert planted.locator("details.more").get_attribute("open") is not None
    assert planted.get_by_text("2 of 6").is_visible()
    planted.get_by_role("searchbox").fill("")
    assert len(column(planted, 0)) == 6


def test_a_csv_holds_every_cell_and_no_formula(planted):
    with planted.expect_download() as waiting:
        planted.get_by_role("button", name="CSV").click()
    saved = waiting.value
    rows = list(csv.reader(io.StringIO(saved.path().read_text(encoding="utf-8-sig"))))

    assert saved.suggested_filename == "Planted.csv"
    assert rows == [
        ["What", "Count", "When"],
        ["'=1+1", "12 of 89", "day 02"],
        ["b, c", "–", "day 01"],
        ["'+4 mm", "−3", "day 04"],
        ['A "word"', "1 204", "day 03"],
        ["z", "40", "day x"],
        ["10 b", "7.5", "day y"],
    ]


def test_a_table_is_copied_as_it_is_shown(planted):
    planted.context.grant_permissions(["clipboard-read", "clipboard-write"])
    planted.get_by_role("searchbox").fill("z")
    planted.get_by_role("button", name="Copy").click()
    planted.get_by_role("button", name="Copied").wait_for()

    assert planted.evaluate("() => navigator.clipboard.readText()") == "What\tCount\tWhen\nz\t40\tday x"


def test_what_is_copied_is_no_formula_where_it_is_put_in(planted):
    """A spreadsheet reads what is put in from the clipboard as if it were typed."""
    planted.context.grant_permissions(["clipboard-read", "clipboard-write"])
    planted.get_by_role("button", name="Copy").click()
    planted.get_by_role("button", name="Copied").wait_for()

    copied = planted.evaluate("() => navigator.clipboard.readText()")
    assert [line.split("\t")[0] for line in copied.split("\n")] == [
        "What", "'=1+1", "b, c", "'+4 mm", 'A "word"', "z", "10 b",
    ]  # fmt: skip


def test_the_reviews_tables_have_it_and_nothing_moves(open_as):
    visitor = open_as("quality_manager", DESK)
    visitor.page.add_init_script(
        "window.moved = 0; new PerformanceObserver(list => list.getEntries().forEach(each => (moved += each.value)))"
        ".observe({ type: 'layout-shift', buffered: true })"
    )
    visitor.go(REVIEW)
    page = visitor.page

    assert page.locator(".table-tools").count() >= 1
    assert page.evaluate("moved") <= 0.02  # the sum of layout shifts; the tables' own tools add none
    head = page.locator(".sheet[data-fits] thead th").first
    head.evaluate("each => scrollTo(0, each.closest('.sheet').getBoundingClientRect().bottom + scrollY - 120)")
    standing = page.locator(".standing").bounding_box()  # the open critical stays above all
    assert -1 <= head.bounding_box()["y"] - standing["height"] <= 2
    overlapping = page.evaluate(
        """() => [...document.querySelectorAll(".table-tools")].filter(tools => {
          const words = document.createRange();
          words.selectNodeContents(tools.parentElement.querySelector("caption"));
          const a = words.getBoundingClientRect(), b = tools.getBoundingClientRect();
          return a.right > b.left && a.left < b.right && a.bottom > b.top && a.top < b.bottom;
        }).map(tools => tools.parentElement.querySelector("caption").textContent)"""
    )
    assert overlapping == []


def test_a_phone_and_a_page_without_scripts_keep_the_tables_as_they_are(open_as):
    phone = open_as("quality_manager", PHONE)
    phone.go(REVIEW)
    assert phone.page.locator(".table-tools, .sort").count() == 0

    plain = open_as("quality_manager", DESK, java_script_enabled=False)
    plain.go(REVIEW)
    assert plain.page.locator(".table-tools, .sort").count() == 0
    assert plain.page.locator(".sheet table").first.is_visible()


CAPTIONS = """() => {
  for (const one of document.querySelectorAll('details')) one.open = true;
  return [...document.querySelectorAll('.sheet')].filter((one) => one.scrollWidth > one.clientWidth + 1)
    .map((sheet) => [sheet, sheet.querySelector('caption:not(.unseen)')]).filter(([, caption]) => caption)
    .map(([sheet, caption]) => caption.getBoundingClientRect().right - sheet.getBoundingClientRect().right);
}"""


def test_what_is_counted_stands_whole_over_a_table_that_is_drawn_sideways(open_as):
    """Beside another chart a table is narrower than its columns; its caption once ran out of sight with them."""
    beyond = open_as("quality_manager", DESK).go(REVIEW).evaluate(CAPTIONS)

    assert beyond
    assert max(beyond) <= 1


def test_the_steps_of_a_defect_have_the_width_of_the_page_once_opened(open_as, site):
    """In a card's width they once stood two letters a line."""
    page = open_as("quality_manager", DESK).go(f"/units/{site.lived.ids['waiting']}")
    card = page.locator(f"#d-{site.lived.ids['gap']}")
    before = card.bounding_box()["width"]
    card.locator("summary", has_text="Its life").click()
    sheet = card.locator(".sheet")

    assert before < 640
    assert sheet.evaluate("one => one.scrollWidth - one.clientWidth") <= 0
    words = sheet.get_by_role("cell", name="found at D01")
    assert words.first.bounding_box()["width"] > 300

    card.locator("summary", has_text="Its life").click()
    page.emulate_media(media="print")
    page.set_viewport_size({"width": 794, "height": 1123})
    assert card.bounding_box()["width"] > 700  # folded on the screen, open on paper


PRINTED = """() => {
  const box = (one) => one.getBoundingClientRect();
  return {
    captions: [...document.querySelectorAll('.sheet caption:not(.unseen)')].map((one) => box(one).height),
    room: box(document.querySelector('#zones-head')).top - box(document.querySelector('.blanks')).bottom,
  };
}"""


def test_a_paper_sheet_keeps_no_room_for_what_only_a_screen_can_do(open_as):
    """The tools of a table beside its caption took a third of a page's height from the sheet, and half its width."""
    page = open_as("inspector", DESK).go("/paper?model=T36")
    page.emulate_media(media="print")
    page.set_viewport_size({"width": 794, "height": 1123})  # A4 in CSS pixels
    told = page.evaluate(PRINTED)

    assert len(told["captions"]) > 5
    assert max(told["captions"]) < 30
    assert told["room"] >= 16
