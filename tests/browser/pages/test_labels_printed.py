"""Labels as they come out of a printer: pages of the stated size, nothing cut, and a QR code that a reader reads.

The reader is OpenCV's, which shares nothing with what makes the codes.
"""

import re

import cv2
import numpy

DESK = {"width": 1280, "height": 900}
MM = 72 / 25.4  # points of a PDF
CUT = """() => [...document.querySelectorAll('.label')].flatMap((label) => {
  const sheet = label.parentElement.getBoundingClientRect(), own = label.getBoundingClientRect();
  const inside = own.left >= sheet.left - 1 && own.right <= sheet.right + 1 && own.bottom <= sheet.bottom + 1;
  const whole = label.scrollWidth <= label.clientWidth + 1 && label.scrollHeight <= label.clientHeight + 1;
  const parts = [...label.querySelectorAll('svg, strong, span')].every((part) => {
    const box = part.getBoundingClientRect();
    return box.width > 0 && box.left >= own.left && box.right <= own.right && box.top >= own.top
      && box.bottom <= own.bottom && part.scrollWidth <= Math.max(part.clientWidth, box.width) + 1;
  });
  return inside && whole && parts ? [] : [label.textContent];
})"""


A4, ROLL = (210, 297), (62, 29)
# size, labels used on the first sheet, pages that four labels then make, the paper
SIZES = (("a4-2x7", 12, 2, A4), ("a4-3x7", 0, 1, A4), ("a4-3x8", 21, 2, A4), ("roll-62", 0, 4, ROLL))


def test_labels_print_whole_on_their_pages_and_are_read(open_as, site):
    visitor = open_as("planner", DESK, device_scale_factor=2)
    units = [site.lived.ids[name] for name in ("released", "waiting", "critical", "planned")]
    for size, used, pages, paper in SIZES:
        page = visitor.go(f"/labels?from_day=2026-03-02&size={size}&used={used}")
        printed = page.pdf(prefer_css_page_size=True)
        page.emulate_media(media="print")
        shown = page.locator(".label")

        assert len(re.findall(rb"/Type\s*/Page\b", printed)) == pages, size
        boxes = re.findall(rb"/MediaBox\s*\[\s*0\s+0\s+([0-9.]+)\s+([0-9.]+)", printed)
        assert {tuple(round(float(side) / MM) for side in box) for box in boxes} == {paper}, size
        assert page.evaluate(CUT) == [], size
        assert not page.locator("h1").is_visible()
        assert shown.count() == len(units)
        for place, unit in enumerate(units):
            picture = cv2.imdecode(numpy.frombuffer(shown.nth(place).screenshot(), numpy.uint8), cv2.IMREAD_COLOR)
            assert cv2.QRCodeDetector().detectAndDecode(picture)[0] == unit, size
            assert unit in shown.nth(place).inner_text()
        page.emulate_media(media="null")

    # planted: numbers larger than the label has room for are seen as cut
    page.emulate_media(media="print")
    page.locator(".label strong").first.evaluate("(one) => { one.style.fontSize = '30mm'; }")
    assert len(page.evaluate(CUT)) == 1
