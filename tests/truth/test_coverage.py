"""The short form of the table of intervals: few drawn plants, held loosely; and a table that would not see is a fault.

``python -m tests.truth.coverage`` is the whole of it, on 400 seeds.
"""

import pytest

from qc.stats.intervals.one_sample import wilson_interval
from tests.recount.ranges import KINDS
from tests.truth import coverage
from tests.truth.stated import Seen, Stated, counted
from tests.truth.where_stated import BESIDE, MADE, NOT_PRINTED, made, made_in

SEEDS = range(31_001, 31_007)
LOOSE = 0.08  # six seeds: their intervals of one page hang together, so that a page's share scatters by some hundredths


@pytest.fixture(scope="module")
def lines():
    return counted(map(coverage.stated, SEEDS))


def test_the_intervals_of_a_few_plants_hold_about_as_often_as_they_say(lines):
    few = [line for line in lines if line.intervals >= 30 and line.share < line.level - LOOSE]

    assert few == []
    assert len(lines) >= 30


def test_every_interval_that_a_page_works_out_is_judged_or_says_why_not(lines):
    judged = {line.page for line in lines}
    named = {line for told in MADE.values() if not isinstance(told, str) for line in told}

    assert made() == MADE.keys()
    assert [told for told in MADE.values() if isinstance(told, str) and not told.startswith(NOT_PRINTED)] == []
    assert named | {*BESIDE} == judged
    assert {kind.line for kind in KINDS if not kind.line.startswith("no interval: ")} <= judged


def test_an_interval_that_a_new_page_works_out_is_seen():
    source = "from qc.stats.intervals.one_sample import poisson_interval\nfrom qc.stats.charts import usual_range\n"

    assert made_in(source) == set()
    assert made_in(f"{source}poisson_interval(3, 9, 0.95)\nusual_range.usual_range(3, 9, 4, 0.95)\n") == {
        "poisson_interval", "usual_range",
    }  # fmt: skip


OF_DEFECTS = ("review, share of an origin", "review, origin not known", "escapes, passed by a point")


def shares_held(scatter):
    """Return how often the ranges of shares of defects held together, where one cause makes several on a unit."""
    given = (coverage.shares_of_causes(seed, scatter) for seed in range(32_001, 32_013))
    lines = [line for line in counted(given) if line.page in OF_DEFECTS]
    assert len(lines) == len(OF_DEFECTS)
    return sum(line.held for line in lines) / sum(line.intervals for line in lines)


@pytest.mark.parametrize("scatter", [4 / 3, 2, 4])
def test_ranges_of_shares_hold_where_one_cause_makes_several_defects_on_a_unit(scatter):
    assert shares_held(scatter) >= 0.93


def test_ranges_that_take_each_defect_by_itself_are_seen_to_hold_too_seldom(monkeypatch):
    """Plant the fault: Wilson's interval on the defects, whatever lies together on a unit."""
    monkeypatch.setattr(
        coverage,
        "shares_by_unit",
        lambda rows, level, beside=(): [wilson_interval(row.part, row.whole, level) for row in rows],
    )

    assert shares_held(2) < 0.91


def test_a_truth_told_by_all_seeds_is_their_mean_by_weight():
    seeds = [[Stated("page", "a", 0.1, 0.3, 0.2, 10)], [Stated("page", "a", 0.6, 0.9, 0.8, 30)]]  # mean 0.65

    assert [(line.held, line.intervals) for line in counted(seeds)] == [(1, 2)]


def test_the_truth_of_a_signal_is_what_all_seeds_have_in_its_weeks():
    seeds = [
        [Seen("S07 PAN", 3, 2, 10.0), Stated("signals", "S07 PAN", 0.1, 0.3, weeks=(3, 5))],
        [Seen("S07 PAN", 3, 6, 10.0), Stated("signals", "S07 PAN", 0.5, 0.7, weeks=(3, 4))],
        [Seen("S07 PAN", 4, 2, 20.0), Seen("S07 PAN", 5, 99, 1.0)],
    ]  # weeks 3 and 4: 10 of 40 expected; week 3 alone: 8 of 20

    assert [(line.held, line.intervals) for line in counted(seeds)] == [(1, 2)]


def test_a_share_that_is_too_small_is_told():
    seeds = [[Stated("page", str(place), 0, 1, held=place >= 7)] for place in range(100)]
    line = counted(seeds)[0]

    assert (line.share, line.is_reached) == (0.93, False)
    assert "TOO FEW" in line.line()


def test_an_interval_that_passes_over_scatter_is_seen(monkeypatch):
    """Plant the fault that this table found: weeks' rates with limits as if defects did not gather on units."""
    plain = coverage.fay_feuer_rate
    monkeypatch.setattr(coverage, "fay_feuer_rate", lambda *given: plain(*given[:3]))
    for name in ("_change", "_mix", "_usual", "_shares", "_funnel", "_signals", "_called_wrongly"):
        monkeypatch.setattr(coverage, name, lambda *_: [])
    monkeypatch.setattr(coverage, "_looked_at_again", lambda *_: [])
    monkeypatch.setattr(coverage, "_expected", lambda *_: [])
    monkeypatch.setattr(coverage, "_gaps", lambda *_: [])
    for name in ("_data_quality", "repairs", "escapes", "work_weeks", "control_limits", "funnel_limits"):
        monkeypatch.setattr(coverage, name, lambda *_: [])
    line = counted(map(coverage.stated, SEEDS))[0]

    assert line.page == "review, defects per unit in one mix"
    assert not line.is_reached
