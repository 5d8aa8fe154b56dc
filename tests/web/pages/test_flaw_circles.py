"""The flaw circled on a photo, as the lead's card, the station's photos and the unit's page show it."""

import re

from tests.web.pages.reading import read
from tests.web.plant_server import CAST

CIRCLED = "; the flaw is circled"


def circle(lived, shares):
    """Let the inspector say where on the photo that is there already the flaw is."""
    (gap,) = [one for one in lived.server.house.reads.unit_story(lived.ids["waiting"]).defects if one.photos]
    body = {"defect": gap.id, "sha256": gap.photos[0], "bytes": 9, "circle": shares}
    lived.phone.must("photo_attached", CAST["inspector"].code, lived.ids["waiting"], **body)


def shown(lived, role, address):
    page = lived.server.page(role).get(address).get_data(as_text=True)
    images = [one.attrs["alt"] for one in read(lived.server.page(role).get(address)).all("img")]
    rings = re.findall(r'<svg class="flaw" viewBox="0 0 640 480" aria-hidden="true">.*?</svg>', page)
    return [alt for alt in images if CIRCLED in alt], rings


def test_a_circled_flaw_is_seen_wherever_the_photo_is(lived):
    places = (("station_lead", "/stations/S05"), ("quality_manager", f"/units/{lived.ids['waiting']}"))
    assert [shown(lived, *place) for place in places] == [([], []), ([], [])]

    circle(lived, [0.25, 0.5, 0.5, 1])

    for place in places:
        alts, rings = shown(lived, *place)
        assert len(alts) == len(rings) >= 1
        # The box from a quarter to half of the width and over the lower half, on a photo of 640 by 480.
        assert all(one.count('cx="240.0" cy="360.0" rx="80.0" ry="120.0"') == 2 for one in rings)
    story = read(lived.server.page("quality_manager").get(f"/units/{lived.ids['waiting']}")).text
    assert "photo with the flaw circled on it" in story

    circle(lived, None)
    assert [shown(lived, *place) for place in places] == [([], []), ([], [])]


def test_the_photo_itself_stays_as_it_was_taken(lived):
    page = lived.server.page("station_lead")
    links = read(page.get("/stations/S05")).one("li", id=f"d-{lived.ids['gap']}").all("a")
    (address,) = [one.attrs["href"] for one in links if one.attrs["href"].startswith("/photos/")]
    before = page.get(address).data

    circle(lived, [0.25, 0.5, 0.5, 1])

    assert before
    assert page.get(address).data == before
