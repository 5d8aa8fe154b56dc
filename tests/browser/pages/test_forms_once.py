"""A form's key tapped twice sends it once: what is shown is the answer to what was done, not "is taken already"."""

import pytest

from tests.browser.pages.conftest import DESK, PHONE

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_a_person_added_by_two_taps_is_added_once_and_the_slip_is_shown(open_as, size):
    visitor = open_as("administrator", size)
    page = visitor.go("/people")
    sent = []  # held until both taps are made, however slow they are
    page.route("**/people/add", lambda route: sent.append(route))
    code = f"TWICE{size['width']}"
    page.get_by_text("Add a person").click()
    page.get_by_label("Code, in capitals").fill(code)
    page.get_by_label("Name", exact=True).fill("Tapped Twice")
    page.get_by_role("button", name="Add, and show the PIN once").dblclick(delay=30, no_wait_after=True)
    page.wait_for_timeout(400)  # for what must not come
    for route in sent:
        route.continue_()
    page.get_by_role("heading", name="Slip for Tapped Twice").wait_for()

    assert len(sent) == 1
    assert page.locator(".slip").get_by_text(code).is_visible()


def test_a_form_that_was_come_back_to_can_be_sent_again(open_as):
    visitor = open_as("administrator", DESK)
    page = visitor.go("/people")
    for _ in range(2):
        page.get_by_role("button", name="Enrol one phone more").click()
        page.get_by_role("heading", name="Enrol one phone more").wait_for()
        page.go_back()
        page.get_by_role("heading", name="People and phones").wait_for()
