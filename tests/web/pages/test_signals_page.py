"""The list of signals: works, refuses the stranger and nonsense, can be repeated, only reads."""

from dataclasses import replace
from datetime import date, timedelta
from types import MappingProxyType

from record_rows import RowRecord, noon

from qc.domain.plant.plant import OwnSeverity
from qc.reports.watch.signals import signals_report
from qc.store.counts import Counts
from qc.store.counts.cells import CellPhoto
from qc.store.reading.reads import Reads
from qc.web.pages import signals
from tests.web.pages.reading import read
from tests.web.plant_server import picture, sha

MONDAY = date(2026, 3, 2)


def test_a_young_record_says_that_nothing_is_watched_yet(lived):
    answer = lived.server.page("quality_manager").get("/signals")

    assert answer.status_code == 200
    words = read(answer).one("main").text
    assert "Nothing is watched yet" in words
    assert "8 whole weeks" in words
    assert "Nothing here says that a unit is safe" in words


def test_a_lead_and_an_inspector_are_refused(lived):
    assert lived.server.page("station_lead").get("/signals").status_code == 403
    assert lived.server.page("inspector").get("/signals").status_code == 403


def test_a_week_that_is_none_is_named(lived):
    answer = lived.server.page("quality_manager").get("/signals?week=nonsense")

    assert answer.status_code == 400
    assert "nonsense" in read(answer).one("main").text


def test_the_list_can_be_read_again_and_is_the_same(lived):
    page = lived.server.page("quality_manager")

    assert page.get("/signals").text == page.get("/signals").text


def moved(folder):
    """Return the list of a record of twelve weeks in which one station's defects moved in the last."""
    record = RowRecord(folder)
    try:
        for week in range(12):
            for n in range(20):
                seen(record, f"U{week}-{n}", MONDAY + timedelta(weeks=week, days=2), n < (6 if week < 11 else 18))
        noted_on = MONDAY + timedelta(weeks=10)
        record.put(
            "change_note", id="n", station="S07", change="tool", what="New jig", types="[]",
            from_day=noted_on.isoformat(), noted_by="L-S07", number=record.number(),
        )  # fmt: skip
        reads = Reads(record.folder, record.plant)
        now = noon((MONDAY + timedelta(weeks=11, days=8)).isoformat())
        report = signals_report(Counts(record), reads, record.plant, MONDAY + timedelta(weeks=11), now)
        reads.close()
        return report
    finally:
        record.close()


def test_a_signal_says_what_since_when_how_sure_and_what_was_noted(lived, monkeypatch, tmp_path):
    report = moved(tmp_path)  # the page is given the list of a record that has a signal
    monkeypatch.setattr(signals, "reported", lambda house, week: report)
    page = read(lived.server.page("quality_manager").get("/signals"))
    card = next(one for one in page.all("li") if one.attrs.get("class") == "card")

    (shown,) = report.shown
    assert shown.sentence in card.text
    for words in ("S07", "more", "new", "New jig", "L-S07", "No photo was attached"):
        assert words in card.text
    rows = [row.text.split() for row in card.all("tr")][1:]
    assert rows[0][:2] == [shown.weeks[-1], str(shown.defects[-1])]
    assert card.one("form").attrs["action"] == "/signals/mute"


def test_an_example_says_how_grave_it_is_in_the_plants_own_words(lived, monkeypatch, tmp_path):
    house = lived.server.house
    shown = replace(house.plant, severities=MappingProxyType({"B2": OwnSeverity("B2", "Nacharbeit", "major")}))
    monkeypatch.setattr(type(house), "shown", property(lambda _: shown))
    minor = CellPhoto(
        sha256=sha(picture()),
        defect=lived.ids["gap"],
        type="PAN-05",
        unit=lived.ids["waiting"],
        shop_number="PC7130002",
        found_day=MONDAY,
        severity="minor",
        grade="",
    )
    photos = (minor, replace(minor, severity="major", grade="B2"))
    report = moved(tmp_path)
    report = replace(report, shown=(replace(report.shown[0], photos=photos),))
    monkeypatch.setattr(signals, "reported", lambda house, week: report)
    shots = read(lived.server.page("quality_manager").get("/signals")).one("ul", **{"class": "photos"}).all("li")

    assert [shot.text.split()[-1] for shot in shots] == ["minor", "Nacharbeit"]


def seen(record, unit, day, with_defect):
    record.seen_through(unit, day.isoformat())
    if with_defect:
        where = {"inspection": f"{unit}-D01", "confirmed": "S07", "type_": "PAN-06"}
        record.defect(f"{unit}-d", unit, day.isoformat(), **where)
