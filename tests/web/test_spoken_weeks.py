"""Every word of the pages that speak of weeks, on a record old enough to have ranges, charts, a funnel and signals.

What is looked up has other letters (`tests/web/test_spoken_pages.py`); 40 weeks of rows on the second plant, invented.
"""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from record_rows import RowRecord, noon

from qc.domain.tables.plant_tables import plant_from_tables, tables_of
from tests.web.pages.test_names_on_pages import OTHER
from tests.web.plant_server import CAST, PlantServer, cheap_hashes
from tests.web.test_spoken_pages import Walk, named_anew

MONDAY = date(2026, 3, 2)
WEEKS, UNITS = 40, 8
# Of one unit in so many a defect: origin, type, confirmed or only suspected, found at.
MADE = (
    (2, "B10", "WND-1", True, "ABN"),
    (3, "B20", "SON-1", True, "ABN"),
    (4, "RAH", "TUR-1", True, "ABN"),
    (5, "B10", "TUR-1", False, "ABN"),
    (7, "ZUL", "BRG-2", False, "ABN"),
)
PLACES = ("B10", "B20", "RAH", "ZUL", "TOR", "ABN")


class Aged:
    """The second plant with weeks of units; a rise at one station, a change noted, a critical that nobody explains."""

    def __init__(self, server):
        self.server, self.plant = server, server.house.plant
        server.house.journal.write(self._fill)
        server.now = noon((MONDAY + timedelta(weeks=WEEKS, days=1)).isoformat())

    def _fill(self, conn):
        rows = RowRecord.__new__(RowRecord)
        rows.plant, rows.connection, rows._numbers = self.plant, conn, 0
        for week in range(WEEKS):
            day = (MONDAY + timedelta(weeks=week, days=2)).isoformat()
            for n in range(UNITS):
                self._unit(rows, f"U{week}-{n}", day, week * UNITS + n, rises=week > WEEKS - 4)
        rows.put(
            "change_note", id="n", station="B10", change="tool", what="Neue Lehre", types="[]",
            from_day=(MONDAY + timedelta(weeks=WEEKS - 5)).isoformat(), noted_by="L-S05", number=rows.number(),
        )  # fmt: skip

    def _unit(self, rows, unit, day, n, rises):
        rows.seen_through(unit, day, model=("A21", "BRG34")[n % 2])
        for place, (every, origin, type_, is_sure, point) in enumerate(MADE):
            if n % every == 0 or (rises and origin == "B10"):
                told = {"confirmed": origin} if is_sure else {"suspected": origin}
                rows.defect(
                    f"{unit}-{place}", unit, day, point, f"{unit}-{point}", model=("A21", "BRG34")[n % 2],
                    type_=type_, zone="vorn.wand", severity=("minor", "major")[n % 3 == 0], **told,
                )  # fmt: skip
        if n % 97 == 5:
            rows.defect(
                f"{unit}-c", unit, day, "ABN", f"{unit}-ABN", model=("A21", "BRG34")[n % 2], type_="BRG-1",
                zone="vorn.kasten", severity="critical", suspected="B20",
            )  # fmt: skip


@pytest.fixture(scope="module")
def aged(tmp_path_factory):
    tables, _ = named_anew(tables_of(OTHER))
    with pytest.MonkeyPatch.context() as patch, cheap_hashes():
        patch.setitem(CAST, "station_lead", replace(CAST["station_lead"], stations=("B10",)))
        server = PlantServer(tmp_path_factory.mktemp("aged") / "other", (tables, plant_from_tables(tables)))
        yield Aged(server)
        server.house.close()


def stations(walk):
    walk.see("station_lead", "/stations", "/stations/B10")
    walk.see("quality_manager", "/stations", *(f"/stations/{one}" for one in PLACES), "/stations/B10?week=2026-W12")

    defect = "0198a000-0000-7000-8000-000000000001"
    for answer in ("confirm", "pass_on", "dispute", "none"):
        told = {"answer": answer, "defect": defect, "unit": "U1-1", "station": "B20", "reason": "7."}
        walk.hand_in("station_lead", "/stations/B10/origin", **told)
    for wrong in ({"what": "x"}, {"from_day": "1.1."}, {"from_day": "2099-01-01"}):
        noted = {"change": "tool", "what": "Neue Lehre", "from_day": "2026-11-30", **wrong}
        walk.hand_in("station_lead", "/stations/B10/changes", **noted)
    walk.see("station_lead", "/stations/B20", "/stations/B99")


def signals(walk):
    walk.see("quality_manager", "/signals", "/signals?week=2026-W30", "/signals?week=0")
    for wrong in ({"reason": "12"}, {"until": "1"}, {"until": "2026-01-01"}, {"until": "2028-01-01"}):
        muted = {"station": "B10", "type": "WND-1", "direction": "up", "reason": "nicht von uns", **wrong}
        walk.hand_in("quality_manager", "/signals/mute", **{"until": "2026-12-24", **muted})
    walk.hand_in("quality_manager", "/signals/unmute", mute="none")


def review(walk):
    week = "week=2026-W48"
    walk.see("quality_manager", f"/review?{week}", "/review", f"/review/by-model?{week}", f"/review/by-point?{week}")
    walk.see("quality_manager", "/review?week=2026-W12", f"/review?{week}&order=minutes", f"/review/figures?{week}")


def backlog(walk):
    walk.see("quality_manager", "/backlog", "/backlog?week=2026-W48", "/inspectors")


@pytest.mark.parametrize("room", [stations, signals, review, backlog], ids=lambda room: room.__name__)
def test_every_word_about_weeks_is_said_and_english_is_the_same_before_and_after(aged, room):
    walk = Walk(aged)
    room(walk)

    assert walk.seen
    if walk.faults:
        pytest.fail("\n".join(f"{place}: {fault}" for fault, place in walk.faults.items()), pytrace=False)


def test_the_record_is_old_enough_to_say_all_of_it(aged):
    page = aged.server.page("quality_manager")

    assert "more than usual" in page.get("/signals").text
    assert "Mute" in page.get("/signals").text
    assert 'id="station-funnel-head"' in page.get("/review").text
    assert "Usual range" in page.get("/review").text
    assert "is usual, by the" in page.get("/stations/B10").text
