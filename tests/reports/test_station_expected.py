"""Confirmed, suspected and expected apart, on records that a reader can count. Invented rows, worked out by hand."""

from datetime import date, timedelta

import orjson
import pytest
from record_rows import RowRecord, noon
from scipy.stats import betabinom

from qc.domain.words.speaking import spoken
from qc.reports.asking import Asking
from qc.reports.periods import Period
from qc.reports.stations import station_expected as module
from qc.reports.stations.station import station_report
from qc.reports.stations.station_expected import LEAST_OF_A_GUESS, LEAST_SETTLED, station_expected
from qc.stats.answers import TooLittle
from qc.store.counts import Counts
from qc.store.reading.reads import Reads
from qc.web.languages import tongue_of

MONDAY = date(2026, 3, 2)
WEEKS = Period(MONDAY, MONDAY + timedelta(weeks=4), "4 weeks 2026-W10 to 2026-W13", False)
NOW = noon("2026-03-31")


class Said(RowRecord):
    """Rows of defects, and beside them the words of the journal that were said of them first."""

    def first_says(self, defect, unit, station, kind="origin_suspected", author="I1"):
        number = self.number()
        self.put(
            "journal", number=number, id=f"j{number}", device="P1", install_epoch="e", seq=number, kind=kind, unit=unit,
            author=author, author_standing="", happened_ms=0, received_ms=0, clock_suspect=0, admission="",
            plant_revision="", rules=1, previous=bytes(32), hash=bytes(32),
            bytes=orjson.dumps({"body": {"defect": defect, "station": station}}),
        )  # fmt: skip
        self.put("verdict", number=number, verdict="applied", place=number, since=number)

    def found(self, count, *, guess="", origin=None, suspected=None, state=None, type_="PAN-05", denied=False):
        """Write so many defects, each on a unit of its own: what was guessed first, and whose they are now."""
        for _ in range(count):
            n = self.number()
            unit, id_ = f"U{n}", f"d{n}"
            self.seen_through(unit, "2026-03-04")
            self.defect(
                id_, unit, "2026-03-04", inspection=f"{unit}-D01", type_=type_, suspected=suspected, confirmed=origin,
                origin_state=state,
            )  # fmt: skip
            if guess:
                self.first_says(id_, unit, guess)
            if denied:
                self.first_says(id_, unit, suspected or "", "origin_passed_on", "L-S07")


@pytest.fixture
def record(tmp_path):
    record = Said(tmp_path)
    yield record
    record.close()


def reported(record, station="S07"):
    return station_expected(Asking(counts=Counts(record), plant=record.plant, now_ms=NOW), WEEKS, station)


def test_three_counts_stand_apart_and_only_the_third_has_a_range(record):
    record.found(30, guess="S07", suspected="S07", origin="S07")
    record.found(10, guess="S07", suspected="RP2", origin="RP2", denied=True)
    record.found(12, guess="S07", suspected="S07")
    report = reported(record)

    assert (report.confirmed, report.suspected, report.open_count, report.left_out) == (30, 12, 12, 0)
    assert (report.settled_count, report.units) == (40, 52)
    # 40 settled like these 12: 30 of 40 were S07's, so about 9 of 12, give or take what 40 can tell.
    assert report.expected.expected == pytest.approx(9, abs=0.5)
    law = betabinom(12, 30, 10)
    assert abs(report.expected.low - law.ppf(0.025)) <= 1 >= abs(report.expected.high - law.ppf(0.975))
    assert report.sentence == (
        "30 confirmed here, 12 suspected here and not answered. Of the 12 not yet settled in the whole plant, about "
        f"{report.expected.expected:.0f} were probably made here ({report.expected.low} to {report.expected.high})."
    )


def test_confirmed_and_suspected_are_the_trends_own_sums(record):
    record.found(23, guess="S07", suspected="S07", origin="S07")
    record.found(4, guess="S07", suspected="S07")
    reads = Reads(record.folder, record.plant)
    report = station_report(Counts(record), reads, record.plant, "S07", MONDAY + timedelta(weeks=3), NOW)
    reads.close()
    found = report.by_found.counts
    own = station_expected(Asking(counts=Counts(record), plant=record.plant, now_ms=NOW), report.history, "S07")

    assert (own.confirmed, own.suspected) == (sum(found.confirmed), sum(found.suspected)) == (23, 4)


def test_a_guess_that_was_passed_on_counts_against_guesses(record):
    """The planted fault: with the suspicion that stands at last, all forty guesses at S07 seem right."""
    record.found(20, guess="S07", suspected="S07", origin="S07")
    record.found(20, guess="S07", suspected="RP2", origin="RP2", denied=True)
    record.found(10, guess="S07", suspected="S07")
    report = reported(record)

    assert (report.guesses.here, report.guesses.elsewhere) == (20, 20)
    assert report.expected.expected == pytest.approx(5, abs=0.5)
    assert "Of 40 settled defects that the finder first guessed to be from S07, 20 were, and 20 were from" in (
        report.guess_sentence
    )


def test_guesses_elsewhere_and_nobodys_that_were_from_here_are_told(record):
    record.found(20, guess="RP2", suspected="S07", origin="S07", denied=True)
    record.found(3, suspected="S07", origin="S07")
    report = reported(record)

    assert (report.guesses.came, report.guesses.unnamed) == (20, 3)
    assert "23 more were from S07: 20 first guessed elsewhere, 3 not guessed." in report.guess_sentence


def test_open_ones_with_the_same_guess_are_what_is_compared(record):
    """A lead who answers late: nine in ten guesses at S07 stay open, which must not make S07's look few."""
    record.found(10, guess="S07", suspected="S07", origin="S07")
    record.found(90, guess="RP2", suspected="RP2", origin="RP2")
    record.found(90, guess="S07", suspected="S07")
    report = reported(record)

    # of all settled PAN-05 one in ten is S07's; of those that were guessed to be S07's all are
    assert report.expected.low > 60


def test_what_a_lead_denied_is_held_against_what_was_denied(record):
    record.found(60, guess="S07", suspected="S07", origin="S07")
    record.found(20, guess="S07", suspected="RP2", origin="RP2", denied=True)
    record.found(10, guess="S07", suspected="S07", state="disputed", denied=True)
    report = reported(record)

    assert report.expected.high <= 3
    assert report.suspected == 0


def test_too_few_settled_says_how_many_would_do(record):
    record.found(LEAST_SETTLED - 1, guess="S07", suspected="S07", origin="S07")
    record.found(2, guess="S07", suspected="S07")
    report = reported(record)

    assert isinstance(report.expected, TooLittle)
    assert (report.expected.have, report.expected.need) == (19, 20)
    assert "cannot be said: 20 settled defects are needed, 19 are settled in these weeks." in report.sentence
    record.found(1, guess="S07", suspected="S07", origin="S07")
    assert not isinstance(reported(record).expected, TooLittle)


def test_what_is_kept_of_one_readers_language_is_not_told_to_another(record):
    record.found(LEAST_SETTLED - 1, guess="S07", suspected="S07", origin="S07")
    record.found(2, guess="S07", suspected="S07")
    with spoken(tongue_of("de")):
        assert (
            reported(record).expected.reason
            == "20 entschiedene Fehler sind nötig, 19 sind in diesen Wochen entschieden"
        )

    assert reported(record).expected.reason == "20 settled defects are needed, 19 are settled in these weeks"


def test_open_ones_whose_guess_has_no_record_are_left_out_aloud(record):
    record.found(40, guess="S07", suspected="S07", origin="S07")
    record.found(LEAST_OF_A_GUESS - 1, guess="RP2", suspected="RP2", origin="RP2")
    record.found(7, guess="RP2", suspected="RP2")
    record.found(3, guess="S07", suspected="S07")
    report = reported(record)

    assert (report.open_count, report.left_out) == (10, 7)
    assert report.expected.expected == pytest.approx(3, abs=0.3)
    assert any(said.startswith("7 of the 10 are left out of the estimate") for said in report.cautions)


def test_nothing_open_expects_nothing_more(record):
    record.found(25, guess="S07", suspected="S07", origin="S07")

    assert "Nothing waits to be settled in the whole plant" in reported(record).sentence
    assert reported(record, "FU1").confirmed == 0


def test_closed_as_not_known_is_nobodys(record):
    record.found(25, guess="S07", suspected="S07", origin="S07")
    record.found(6, guess="S07", suspected="S07", origin="UNK", state="settled")
    report = reported(record)

    assert (report.settled_count, report.closed_unknown, report.open_count) == (25, 6, 0)


def test_an_empty_record_says_so(record):
    report = reported(record)

    assert (report.confirmed, report.suspected, report.units) == (0, 0, 0)
    assert report.guess_sentence == "No settled defect was first guessed to be from S07, or was from there."


def test_it_says_that_it_is_an_estimate_and_that_settled_ones_are_no_sample(record):
    report = reported(record)

    assert "blames nobody" in report.cautions[0]
    assert "never added up" in report.cautions[0]
    assert "no random sample" in report.selection
    assert "first presentations" in report.denominator
    assert WEEKS.name in report.denominator


def test_every_stations_expectation_sums_to_the_judged_ones(record):
    record.found(20, guess="S07", suspected="S07", origin="S07")
    record.found(12, guess="RP2", suspected="RP2", origin="RP2")
    record.found(9, guess="S07", suspected="S07")
    record.found(5, guess="RP2", suspected="RP2", type_="EXT-01")
    reports = [reported(record, station) for station in record.plant.stations if station != "UNK"]

    judged = reports[0].open_count - reports[0].left_out
    assert sum(one.expected.expected for one in reports) == pytest.approx(judged)


def test_the_answer_is_learned_once_for_all_stations_and_anew_when_an_origin_changes(record, monkeypatch):
    record.found(25, guess="S07", suspected="S07", origin="S07")
    record.found(9, guess="S07", suspected="S07")
    module._told.cache_clear()
    counts = Counts(record)
    ask = Asking(counts=counts, plant=record.plant, now_ms=NOW)
    for station in ("S07", "RP2", "FU1"):
        station_expected(ask, WEEKS, station)
    assert module._told.cache_info().misses == 1
    record.unit("later")  # written, but no word on any origin
    station_expected(ask, WEEKS, "S07")
    assert module._told.cache_info().misses == 1
    record.found(1, guess="S07", suspected="S07")

    assert station_expected(ask, WEEKS, "S07").open_count == 10
    assert module._told.cache_info().misses == 2


def test_a_station_that_is_none_is_a_key_error(record):
    with pytest.raises(KeyError, match="S99"):
        reported(record, "S99")
