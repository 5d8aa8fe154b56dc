"""Every page at both sizes: no accessibility fault that axe-core knows, nothing wider than the screen, large targets.

Sources: axe-core's rules for WCAG 2.2 A and AA and its best practices; target sizes are the project's own aim
(48 px, 64 px for what a lead presses), well above WCAG 2.2's 24 px (2.5.8).
"""

import pytest

from tests.browser.pages.conftest import DESK, PHONE

pytestmark = pytest.mark.browser
PAGES = {
    "/review?week=2026-W11": "quality_manager",
    "/review?week=2026-W12&severity=critical&baseline=2026-W10..2026-W12&why=new+jig": "quality_manager",
    "/signals": "quality_manager",
    "/set-aside": "quality_manager",
    "/inspectors": "quality_manager",
    "/stations": "quality_manager",
    "/stations/S05?week=2026-W10": "station_lead",
    "/units": "dispatch",
    "/units?q=3OOO2": "dispatch",
    "/units/{waiting}": "quality_manager",
    "/units/{released}": "dispatch",
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


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("address", PAGES)
def test_axe_finds_no_fault(open_as, site, axe, address, size):
    visitor = open_page(open_as, site, address, size, bypass_csp=True)
    visitor.page.evaluate("for (const one of document.querySelectorAll('details')) one.open = true")
    visitor.page.evaluate(axe)
    found = visitor.page.evaluate("axe.run({resultTypes: ['violations']})")

    faults = {one["id"]: [node["html"][:160] for node in one["nodes"][:3]] for one in found["violations"]}
    assert faults == {}
    assert len(found["passes"]) > 10  # it did look


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("address", PAGES)
def test_nothing_is_wider_than_the_screen(open_as, site, address, size):
    page = open_page(open_as, site, address, size).page

    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


@pytest.mark.parametrize("address", PAGES)
def test_what_is_pressed_is_large_enough_for_a_thumb(open_as, site, address):
    page = open_page(open_as, site, address, "phone").page
    small = page.evaluate(
        """() => [...document.querySelectorAll('button, .button, nav a, summary, select, input:not([type=hidden])')]
          .filter((one) => one.checkVisibility() && !one.matches('[type=checkbox], [type=radio]'))
          .map((one) => [one.textContent.trim().slice(0, 40), Math.round(one.getBoundingClientRect().height)])
          .filter(([, height]) => height < 48)"""
    )

    assert small == []
