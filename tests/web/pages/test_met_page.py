"""A unit that no plan holds on the pages: marked in the list and on its own page, until the plan comes."""

from qc.domain.plant.chassis import full_number, shop_number
from tests.web.pages.lived_in import code
from tests.web.pages.reading import read


def test_it_is_marked_until_it_is_planned(lived):
    page, plant = lived.server.page("planner"), lived.plant
    unit, shop = full_number(plant, "T36", 30077), shop_number(plant, "T36", 30077)
    lived.phone.must("unit_met", code("inspector"), unit, model="T36")
    row = next(one for one in read(page.get(f"/units?q={shop}")).all("tr") if shop in one.text)

    assert "not planned" in row.text
    told = page.get(f"/units/{unit}").text
    assert f"<strong>Not planned</strong>: met by {code('inspector')}" in told
    assert "no plan holds the unit" in told
    body = {"model": "T36", "shop_number": shop, "sequence": 30077, "planned_day": "2026-03-25"}
    lived.phone.must("unit_planned", code("planner"), unit, **body)
    told = page.get(f"/units/{unit}").text
    assert "<strong>Met before the plan, which came since</strong>" in told
    assert "no plan holds the unit" not in told
    assert "not planned" not in page.get(f"/units?q={shop}").text
