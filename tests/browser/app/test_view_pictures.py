"""A picture lies under the zones on the phone: in its place, legible over any, without signal, the latest one."""

import io
import re

import pytest
from click.testing import CliRunner
from PIL import Image
from playwright.sync_api import expect

from qc.cli import main
from qc.domain.tables.plant_rules import PlantRules
from qc.domain.tables.plant_tables import plant_from_tables
from qc.store.folder.plant_folder import folder_clock
from qc.store.people.telling import latest_tables
from tests.browser.app.frame import wrong_at_each_size

pytestmark = [pytest.mark.browser, pytest.mark.signed_in]
FRONT = (0, 0, 2300, 2300)  # mm, the corners of the front's zones
CONTRAST = 7  # what DEVELOPERS.md asks of text out of doors (WCAG 2.2, success criterion 1.4.6)


@pytest.fixture
def lay(server, tmp_path):
    """Lay an image under the front of the model of the units in work, beside the running server."""

    def laid(image, corners=FRONT):
        path = tmp_path / "front.png"
        image.save(path)
        plant = plant_from_tables(latest_tables(server.folder))
        day = PlantRules(plant).calendar_day(folder_clock(server.folder)()).isoformat()
        where = f"{corners[0]},{corners[1]} {corners[2]},{corners[3]}"
        words = ["--model", "T36", "--view", "front", "--corners", where, "--reason", "a photo", "--from", day]
        told = CliRunner().invoke(main, ["picture", str(server.folder), str(path), *words, "--take", "console"])
        assert told.exit_code == 0, told.output
        return plant_from_tables(latest_tables(server.folder)).pictures["T36", "front"]

    return laid


def halves(left="#c00000", right="#0000c0"):
    image = Image.new("RGB", (600, 600), left)
    image.paste(right, (300, 0, 600, 600))
    return image


def kept(phone):
    """Return the names of the pictures that the phone holds."""
    ask = "caches.open('view-pictures').then((cache) => cache.keys()).then((all) => all.map((each) => each.url))"
    return [url.split("/")[-1] for url in phone.page.evaluate(ask)]


def at_the_front(phone, unit="PC7130001"):
    phone.open("#/units")
    phone.expect_units()
    phone.begin(unit)
    drawing = phone.page.locator("svg.drawing[data-pictured]")
    phone.expect_all_sent()  # at the end of its round the screen is drawn anew
    expect(drawing).to_be_visible()
    drawing.locator("image").evaluate("(image) => image.decode()")  # what is photographed next has been painted
    return drawing


def pixels(phone, locator):
    return Image.open(io.BytesIO(locator.screenshot())).convert("RGB")


def luminance(colour):
    """Relative luminance (WCAG 2.2)."""
    parts = [part / 255 for part in colour]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one, other):
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_it_lies_where_the_tables_say_however_the_drawing_is_stretched(phone, lay):
    """The front is divided at 1150 mm, between two lockers, where the picture turns from red to blue."""
    lay(halves())
    phone.sync()
    drawing = at_the_front(phone)

    box = phone.page.locator('[data-zone="front.gas"] polygon').bounding_box()
    whole = drawing.bounding_box()
    shot = pixels(phone, drawing)
    line, middle = box["x"] + box["width"] - whole["x"], box["y"] + 16 - whole["y"]
    scale = shot.width / whole["width"]

    left, right = (shot.getpixel((round((line + beside) * scale), round(middle * scale))) for beside in (-14, 14))
    assert left[0] > left[2] + 30
    assert right[2] > right[0] + 30
    expect(phone.page.locator(".outlines").first).to_be_hidden()


@pytest.mark.parametrize(("theme", "picture"), [("day", "black"), ("dark", "white")])
def test_words_and_lines_keep_their_contrast_over_the_worst_picture(phone, lay, theme, picture):
    lay(Image.new("RGB", (600, 600), picture))
    phone.sync()
    drawing = at_the_front(phone)
    phone.page.evaluate("(theme) => { document.documentElement.dataset.theme = theme; }", theme)

    veiled = phone.page.evaluate(
        """() => {
          const style = getComputedStyle(document.querySelector('.veil'));
          return [style.fill, Number(style.fillOpacity), getComputedStyle(document.querySelector('.zone-name')).fill];
        }"""
    )
    panel, share, ink = (
        [int(part) for part in told[4:-1].split(",")] if isinstance(told, str) else told for told in veiled
    )
    under = (0, 0, 0) if picture == "black" else (255, 255, 255)
    ground = [share * one + (1 - share) * other for one, other in zip(panel, under, strict=True)]

    assert contrast(ink, ground) >= CONTRAST
    # What is painted is what the styles say: the darkest or lightest ground of the drawing is the veiled picture.
    shot = pixels(phone, drawing)
    counted = sorted(shot.getcolors(shot.width * shot.height), reverse=True)
    grounds = [colour for count, colour in counted if count > 400 and contrast(colour, ground) < 1.1]
    assert grounds, counted[:5]


def test_it_is_there_without_signal_and_a_later_one_takes_its_place(phone, server, lay):
    first = lay(halves())
    phone.sync()
    at_the_front(phone)
    assert kept(phone) == [first.sha256]

    server.stop()
    phone.close()
    phone.restart()
    phone.open("#/units")
    phone.expect_units()
    phone.open("#/unit/0PC7T3600TW030001/walk/front")
    expect(phone.page.locator("svg.drawing[data-pictured] image")).to_have_attribute("href", re.compile("^blob:"))
    assert kept(phone) == [first.sha256]

    server.start()
    second = lay(halves("#008000", "#808000"))
    phone.sync()
    phone.wait_until(lambda: kept(phone) == [second.sha256], "the later one is not kept")
    assert phone.stored("plant")[0]["value"]["pictures"][0]["sha256"] == second.sha256


def test_the_frame_holds_with_a_picture_at_every_size(phone, lay):
    lay(halves())
    phone.sync()
    at_the_front(phone)

    assert "\n".join(wrong_at_each_size(phone, "walk, over a picture")) == ""
    expect(phone.page.locator("svg.drawing[data-pictured] image")).to_have_count(1)


def test_half_a_picture_is_not_kept_and_the_outlines_stand_until_the_whole_comes(phone, lay):
    asked = []

    def half(route):
        asked.append(route.request.url)
        route.fulfill(status=200, content_type="image/webp", body=b"RIFF half of it")

    picture = lay(halves())
    phone.page.route(f"**/photos/{picture.sha256}", half)
    phone.sync()
    phone.open("#/units")
    phone.expect_units()
    phone.begin("PC7130001")
    expect(phone.page.locator(".drawing .outlines")).to_be_visible()
    phone.wait_until(lambda: asked, "nobody asked for it")
    phone.page.wait_for_timeout(500)  # for what must not come
    assert kept(phone) == []
    expect(phone.page.locator("svg.drawing[data-pictured]")).to_have_count(0)

    phone.page.unroute(f"**/photos/{picture.sha256}")
    phone.sync()
    phone.open("#/unit/0PC7T3600TW030001/walk/front")

    expect(phone.page.locator("svg.drawing[data-pictured]")).to_have_count(1)
    assert kept(phone) == [picture.sha256]
