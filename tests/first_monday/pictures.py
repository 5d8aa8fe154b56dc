"""The handbook's pictures, which the walk makes: `python -m tests.first_monday.pictures` writes them anew.

At every other run the walk holds what it sees against them, coarsely: days and ages differ, a screen that became
another does not pass.
"""

import io
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import Locator, Page

from qc.assets import folder

PHONE, DESK = (390, 844), (960, 600)  # as they stand in the handbook, px
MOST_BYTES = 32_000  # each is kept on every phone
ALIKE = 6.0  # mean difference of grey, of 255, at COARSE px across: another day differs by less than 1
COARSE = 48
SHOWN_WITHIN_S = 10.0  # a screen that was asked for stands by then; until then it is looked at anew
# What the walk shows, and where: each stands in the handbook under this name.
NAMES = {
    "people": DESK, "zones": DESK, "plan": DESK, "walk": PHONE, "defect": PHONE, "station": DESK, "test": PHONE,
    "repair": PHONE, "release": PHONE, "released": DESK, "review": DESK,
}  # fmt: skip
WRITING = False


class Pictures:
    """Keeps or compares what the walk shows; `seen` are the names that it came to."""

    def __init__(self) -> None:
        self.seen: set[str] = set()
        self._folder = folder("static") / "handbook" / "pictures"

    def take(self, page: Page, name: str, at: Locator | None = None) -> None:
        """Take what a screen shows now as the picture of this name. at: what stands at its top, else it is as it is."""
        self.seen.add(name)
        path = self._folder / f"{name}.webp"
        if WRITING:
            path.parent.mkdir(exist_ok=True)
            write(image_of(page, NAMES[name], at), path)
            return
        with Image.open(path) as kept:
            until = time.monotonic() + SHOWN_WITHIN_S
            while (far := apart(shown := image_of(page, NAMES[name], at), kept)) > ALIKE and time.monotonic() < until:
                page.wait_for_timeout(200)
        if far > ALIKE:
            seen = Path(tempfile.mkdtemp()) / f"{name}.png"
            shown.save(seen)
            raise AssertionError(
                f"the handbook's picture {name!r} is not what the screen shows ({far:.1f} apart): look at {seen}, "
                "and write it anew where the screen is right"
            )


def image_of(page: Page, size: tuple[int, int], at: Locator | None) -> Image.Image:
    """Return what a page shows at a phone's size or a desk's, in the size of its picture."""
    before = page.viewport_size
    if size == DESK:
        page.set_viewport_size({"width": DESK[0], "height": DESK[1]})
    page.wait_for_load_state("networkidle")
    if at is not None:
        at.evaluate("element => element.scrollIntoView({ block: 'start', behavior: 'instant' })")
    shown = Image.open(io.BytesIO(page.screenshot(animations="disabled"))).convert("RGB")
    if size == DESK and before:
        page.set_viewport_size(before)
    return shown.resize(size, Image.Resampling.LANCZOS)


def write(shown: Image.Image, path: Path) -> None:
    """Write a picture as small as it must be. Raises AssertionError where it cannot be read then."""
    for colours in (64, 32, 16):  # a screen has few: so letters stay sharp, and it is smaller than with any loss
        shown.quantize(colours, dither=Image.Dither.NONE).convert("RGB").save(path, lossless=True, method=6)
        if path.stat().st_size <= MOST_BYTES:
            return
    raise AssertionError(f"{path.name} has {path.stat().st_size} bytes")


def apart(one: Image.Image, other: Image.Image) -> float:
    """Return how far apart two pictures are at a glance, 0 to 255."""
    assert one.size == other.size
    size = (COARSE, COARSE * one.height // one.width)
    grey = [np.asarray(each.convert("L").resize(size, Image.Resampling.BOX), dtype=float) for each in (one, other)]
    return float(np.abs(grey[0] - grey[1]).mean())


def main() -> int:
    """Play the walk and write what it shows."""
    from tests.first_monday import pictures

    pictures.WRITING = True
    return int(pytest.main(["-q", "-p", "no:cacheprovider", str(Path(__file__).parent)]))


if __name__ == "__main__":
    sys.exit(main())
