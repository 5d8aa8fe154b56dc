"""The list of signals: works, refuses the stranger and nonsense, can be repeated, only reads."""

from datetime import date, timedelta

from record_rows import RowRecord, noon

from qc.reports.watch.signals import signals_report
from qc.store.counts import Counts
from qc.store.reading.reads import Reads
from qc.web.pages import signals
from tests.web.pages.reading import read

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


def test_a_signal_says_what_since_when_how_sure_and_what_was_noted(lived, monkeypatch, tmp_path):
    record = RowRecord(tmp_path)
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
        report = signals_report(
            Counts(record), reads, record.plant, MONDAY + timedelta(weeks=11), now
        )  # the page is given the list of a record that has a signal
        reads.close()
    finally:
        record.close()
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


def seen(record, unit, day, with_defect):
    record.seen_through(unit, day.isoformat())
    if with_defect:
        where = {"inspection": f"{unit}-D01", "confirmed": "S07", "type_": "PAN-06"}
        record.defect(f"{unit}-d", unit, day.isoformat(), **where)
