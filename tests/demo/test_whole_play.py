"""All 26 weeks through the journal, and what the counts tell then against the story. Run by command: it takes minutes.

The expected figures stand in ``demo_data/story``; they are the invented plant's truth, nothing of the trade.
"""

from collections import Counter

import pytest
from scipy import stats

from qc.assets import folder
from qc.demo.cast import people
from qc.demo.play import Player
from qc.demo.simulate import Simulation
from qc.demo.story import read_story
from qc.demo.truth import expected
from qc.domain.counted.counts import Slice
from qc.domain.plant.calendar import iso_week
from qc.domain.tables.plant_tables import plant_from_tables, tables_of
from qc.store.checking.verify import verify
from qc.store.counts.counts import Counts
from qc.store.folder.photos import PhotoStore
from qc.store.intake.journal import Journal

TABLES = tables_of(folder("demo_data") / "plant")
PLANT = plant_from_tables(TABLES)
STORY = read_story(folder("demo_data") / "story")
WHOLE = Slice(STORY.monday(1), STORY.monday(27))

pytestmark = pytest.mark.long


class Play:
    """The whole story in a record."""

    def __init__(self, path):
        everybody = {person.code: person for person in people(PLANT)}
        self.folder = path
        self.simulation = Simulation(STORY, PLANT, 77, 26)
        self.journal = Journal(path, PLANT, TABLES, lambda: self.player.now_ms, everybody.get)
        photos = PhotoStore(path, self.journal.write, lambda: self.player.now_ms)
        self.player = Player(self.simulation, self.journal, photos)
        self.played = self.player.play()
        self.counts = Counts(self.journal)
        self.now = self.simulation.ends + 60 * 3_600_000


@pytest.fixture(scope="module")
def play(tmp_path_factory):
    one = Play(tmp_path_factory.mktemp("whole") / "record")
    yield one
    one.journal.close()


def test_nothing_is_refused_save_the_planted_slips(play):
    refused = Counter(code for _, code, _ in play.played.refused)

    assert sum(refused.values()) <= 40
    assert max(refused.values()) <= 3
    assert play.played.verdicts["applied", ""] > 95_000


def test_each_week_presents_its_units_and_the_shutdown_its_twelve(play):
    weeks = play.counts.week_counts(WHOLE, "D01", play.now)
    told = dict(zip(weeks.weeks, weeks.inspected, strict=True))

    for week in STORY.weeks[:-1]:
        assert told[iso_week(week.monday)] == week.units
    assert told["2026-W31"] == 12
    assert told["2026-W35"] >= 40  # phones without signal on the last Friday


def test_the_relook_in_week_12_and_all_second_looks_change_no_rate(play):
    """Defects of first presentations in the counts are those that were first found, week by week."""
    weeks = play.counts.week_counts(WHOLE, "D01", play.now)
    told = dict(zip(weeks.weeks, weeks.defects, strict=True))
    truth = Counter()
    for visit in play.simulation.visits:
        truth[iso_week(visit.unit.day)] += sum(one.found == "D01" for one in visit.made)

    # The last two weeks may hold twins that nobody has withdrawn, and walk-rounds that had not arrived.
    assert [(week, told[week]) for week in list(told)[:24]] == [(week, truth[week]) for week in list(told)[:24]]


def test_all_fourteen_criticals_are_listed(play):
    listed = play.counts.criticals(WHOLE)

    assert Counter(one.type for one in listed) == Counter(critical.type for critical in STORY.criticals)


def test_found_counts_by_true_origin_fit_the_story(play):
    """Chi-square over the 22 origins' totals with the unit effect; another seed fails 1 in 1000 times."""
    told = Counter(m.origin for v in play.simulation.visits for m in v.made if m.found in ("T01", "T02", "D01"))
    planted = Counter(one.origin for one in STORY.criticals if one.found != "FIELD")
    mean, spread = Counter(), Counter()
    for (_, origin), one in expected(STORY, PLANT).items():
        mean[origin] += one.found
        spread[origin] += one.spread

    terms = [(told[o] - planted[o] - mean[o]) ** 2 / (mean[o] + spread[o]) for o in mean]
    assert sum(terms) < stats.chi2.ppf(0.999, len(terms))


def test_the_runner_batch_shows_by_the_day_of_work_in_its_three_weeks(play):
    weeks = play.counts.station_weeks(WHOLE, "FU1", "work", play.now)
    told = {w: c + s for w, c, s in zip(weeks.weeks, weeks.confirmed, weeks.suspected, strict=True)}
    number = {iso_week(STORY.monday(k)): k for k in range(1, 27)}
    during = [count for week, count in told.items() if number.get(week) in (9, 10, 11)]
    beside = [count for week, count in told.items() if number.get(week) in (6, 7, 8, 12, 13, 14)]

    assert min(during) > max(beside)


def test_the_record_is_whole_and_the_projections_come_out_equal(play):
    play.journal.close()

    report = verify(play.folder)

    assert report.is_whole, report
