"""Where a place of a view is on the sheet on which zones are drawn."""

from playwright.sync_api import Page

_ON_SCREEN = """([x, y]) => {
  const svg = document.querySelector("[data-sheet]");
  const shape = svg.querySelector("[data-zone]");
  const told = JSON.parse(document.querySelector("[data-drawing]").dataset.drawing);
  const corner = told.zones[Number(shape.dataset.zone)].points[0];
  const at = new DOMPoint(shape.points[0].x + x - corner[0], shape.points[0].y - (y - corner[1]));
  const seen = at.matrixTransform(svg.getScreenCTM());
  return [seen.x, seen.y];
}"""


def on_screen(page: Page, place: tuple[int, int]) -> tuple[float, float]:
    """Return where a place of the view, in mm, is in the window, in px."""
    x, y = page.evaluate(_ON_SCREEN, list(place))
    return x, y
