"""What is wrong with the app's frame, at each size that it is held in."""

from pathlib import Path

SIZES = ((320, 568), (360, 740), (390, 844), (568, 320), (844, 390), (768, 1024), (1280, 800), (1920, 1080))
TALL = {(390, 844): 0.60, (360, 740): 0.50}  # of the height at least for the drawing, a notice included
HEAD = 48
MEASURE = Path(__file__).with_name("frame.js").read_text(encoding="utf-8").partition("*/")[2].strip()


def painted(phone):
    """Wait until the page has painted what it was told to show."""
    phone.page.evaluate("() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")


def resize(phone, size):
    phone.page.set_viewport_size({"width": size[0], "height": size[1]})
    painted(phone)


def wrong_at_each_size(phone, screen, head=HEAD):
    """Return what is wrong with the screen that shows, at each size, and leave it at the first phone's size."""
    told = []
    for size in SIZES:
        resize(phone, size)
        limits = {"share": TALL.get(size, 0), "head": head if size[0] >= 360 else 0}
        told += [f"{screen} at {size}: {each}" for each in phone.page.evaluate(MEASURE, limits)]
    resize(phone, (390, 844))
    return told
