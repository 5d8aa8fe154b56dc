"""On a wide screen the charts are drawn under the page's own policy; the keyboard reaches each point by the table."""

import pytest

from tests.browser.pages.conftest import DESK, PHONE

pytestmark = pytest.mark.browser
REVIEW = "/review?week=2026-W11"
PER_UNIT = "[data-picture=level-per-unit]"
BY_POINT = "/review/by-point?week=2026-W11"
FIRST_PASS = "[data-picture=first-pass-t01]"  # at one point, where two weeks have units


def drawn(visitor, picture):
    place = visitor.page.locator(picture)
    place.scroll_into_view_if_needed()
    place.locator(".main-svg .xtick text").first.wait_for()
    return place


def test_charts_are_drawn_and_the_policy_has_nothing_to_refuse(open_as):
    visitor = open_as("quality_manager", DESK)
    visitor.go(REVIEW)
    place = drawn(visitor, PER_UNIT)

    assert place.locator("[data-drawing]").is_hidden()
    assert place.locator(".point").count() >= 2
    assert visitor.errors == []


def test_arrow_keys_in_the_table_show_the_point_on_the_chart(open_as):
    visitor = open_as("quality_manager", DESK)
    visitor.go(BY_POINT)
    visitor.page.evaluate("() => document.querySelectorAll('main details').forEach(each => (each.open = true))")
    place = drawn(visitor, FIRST_PASS)
    rows = place.locator("table[data-of] tr[data-mark]")
    place.locator("table[data-of] tr[data-mark][tabindex]").first.wait_for()  # a row takes focus once it has its point
    rows.first.focus()
    hover = place.locator(".hoverlayer .hovertext")

    hover.first.wait_for()
    assert "2026-W11" in hover.first.text_content()
    visitor.page.keyboard.press("ArrowDown")
    assert rows.nth(1).evaluate("row => row === document.activeElement")
    visitor.page.wait_for_function(
        "picture => document.querySelector(picture + ' .hoverlayer').textContent.includes('2026-W10')", arg=FIRST_PASS
    )


def test_a_phone_never_asks_for_the_charts_script(open_as):
    visitor = open_as("quality_manager", PHONE)
    visitor.go(REVIEW)

    assert not [address for address in visitor.asked if "plotly" in address]
    assert visitor.page.locator(f"{PER_UNIT} svg.figure").is_visible()


def test_without_scripts_the_drawings_and_tables_say_the_same(open_as):
    visitor = open_as("quality_manager", DESK, java_script_enabled=False)
    visitor.go(REVIEW)

    assert visitor.page.locator(f"{PER_UNIT} svg.figure").is_visible()
    visitor.page.locator(f"{PER_UNIT} summary").first.click()
    assert visitor.page.locator(f"{PER_UNIT} table").first.is_visible()


def test_a_chart_that_cannot_load_leaves_the_drawing_and_says_so(open_as):
    visitor = open_as("quality_manager", DESK)
    visitor.page.route("**/plotly.min.js", lambda route: route.abort())
    visitor.go(REVIEW)
    place = visitor.page.locator(PER_UNIT)

    place.get_by_text("The larger chart could not be drawn").wait_for()
    assert place.locator("svg.figure").is_visible()
    visitor.errors.clear()  # the planted failure itself


def test_the_dark_screen_recolours_the_charts_and_is_kept(open_as):
    visitor = open_as("quality_manager", DESK)
    visitor.go(REVIEW)
    drawn(visitor, PER_UNIT)
    colour = "getComputedStyle(document.querySelector('[data-picture=level-per-unit] .xtick text')).fill"
    light = visitor.page.evaluate(colour)
    visitor.page.get_by_role("button", name="Dark screen").click()

    visitor.page.wait_for_function(f"light => {colour} !== light", arg=light)
    visitor.page.wait_for_function(f"() => {colour} === 'rgb(242, 243, 239)'")
    visitor.go("/units")
    assert visitor.page.evaluate("document.documentElement.dataset.theme") == "dark"


def test_a_print_has_tables_and_drawings_and_no_controls(open_as):
    visitor = open_as("quality_manager", DESK)
    visitor.go(REVIEW)
    place = drawn(visitor, "[data-picture=pareto-type-count]")
    visitor.page.emulate_media(media="print")

    assert place.locator("svg.figure").is_visible()
    assert visitor.page.locator("form.filters").is_hidden()
    assert visitor.page.get_by_role("navigation", name="Pages").is_hidden()
    assert visitor.page.get_by_text("Demo data: limits not for use.").is_visible()
