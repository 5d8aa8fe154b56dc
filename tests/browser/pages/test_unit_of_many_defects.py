"""A unit with two dozen defects on a phone: short, what waits first, a folded one opened by its address."""

import pytest

from tests.browser.pages.conftest import PHONE
from tests.web.plant_server import CAST

pytestmark = pytest.mark.browser
LONGEST = 6000  # px at 390: a story that is read standing beside the unit


@pytest.fixture(scope="module")
def many(site):
    """A unit like the one that waits, looked at once more: 24 defects, of which the manager withdrew all but three.

    One of its own: what other tests do to a shared one would count in its length. The clock goes on where it was: one
    that is behind the record is told on every page.
    """
    lived, kept, now = site.lived, dict(site.lived.ids), site.lived.server.now
    unit = lived.plan(30009)
    lived.waiting(unit)
    lived.ids.update(kept)
    inspection = lived.begin(unit, purpose="relook")
    zones = [zone.key for zone in lived.plant.zones_of("T36")]
    ids = [lived.defect(unit, inspection, zones[at], "PAN-03", "minor") for at in range(24)]
    for id_ in ids[:21]:
        given = {"defect": id_, "why": "not_a_defect", "reason": "as it is made"}
        lived.phone.must("defect_withdrawn", CAST["quality_manager"].code, unit, **given)
    lived.server.now = now
    return unit, ids


def test_it_is_short_and_a_folded_defect_is_found_by_its_address(open_as, many):
    unit, ids = many
    page = open_as("quality_manager", PHONE).go(f"/units/{unit}")
    assert page.evaluate("document.documentElement.scrollHeight") <= LONGEST
    assert page.locator(".card").first.is_visible()
    assert page.locator(f"#d-{ids[0]}").is_hidden()

    page.evaluate("id => (location.hash = `d-${id}`)", ids[0])
    page.locator(f"#d-{ids[0]}").wait_for()
    assert page.locator(f"#d-{ids[0]}").evaluate("one => one.getBoundingClientRect().top < innerHeight")
