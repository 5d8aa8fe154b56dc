"""The truth table in short, a seed or two; `python -m tests.truth` makes all of it, and `-m long` checks that one.

The plant's truth is invented and stands in ``demo_data/story``; nothing here is a figure of the trade.
"""

from multiprocessing import Pool

import pytest

from tests.truth import played, table
from tests.truth.__main__ import FIRST_SEED
from tests.truth.counted import QUIET, seed_checked
from tests.truth.drawn import PLANT, drawn
from tests.truth.ideal import FACTORS, ideal_chance
from tests.truth.measured import Measured

# Named by week 18 are about 0.96 of such drifts (192 of 200 on seeds 9001 to 9200, where a test that is told all but
# the rate sees 197): a method of that share puts 38 in 40 seeds in four tables of five only.
NEAR_ITS_LINE = {"4 drift at S08, baseline of 8 weeks"}


def test_a_seed_finds_what_is_planted_and_nothing_else():
    one = seed_checked(3002)

    assert one.batch.named
    assert (one.batch.first, one.batch.last) == (9, 11)
    assert one.jig.low < 0.40 < one.jig.high < one.jig_station.ratio
    assert one.first_named <= 18
    assert one.mix.low < 1 < one.mix.high
    assert one.i4_flagged
    assert not one.other_flagged
    assert not one.placebo_claimed
    assert not one.short_week_alarm
    assert not one.current_week_alarm


def test_a_missed_check_is_said_to_be_missed():
    assert not Measured("4", "", "", 17, 20, 0.95).is_reached
    assert Measured("4", "", "", 19, 20, 0.95).is_reached
    assert not Measured("7", "", "", 7, 20, 0.05, True).is_reached
    assert "NOT reached" in Measured("4", "drift", "named", 17, 20, 0.95).line()


def test_a_stated_rate_may_be_missed_by_chance_only():
    assert Measured("3", "", "", 36, 40, 0.95, is_stated=True).is_reached
    assert not Measured("3", "", "", 33, 40, 0.95, is_stated=True).is_reached
    assert Measured("10", "", "", 0, 40, 0.0, True).is_reached
    assert not Measured("10", "", "", 1, 40, 0.0, True).is_reached
    assert not Measured("7", "", "", 8, 40, 0.05, True).is_reached


def test_the_ideal_test_sees_the_drift_and_nothing_where_nothing_is():
    """Told everything but the rate, on seeds of choice; where nothing happens its chance is an ordinary one."""
    assert set(FACTORS) == set(PLANT.models)
    assert ideal_chance(drawn(3002), 18) < 0.01
    chances = [ideal_chance(drawn(seed, QUIET), 18) for seed in range(4001, 4013)]
    assert min(chances) > 0.001
    assert max(chances) > 0.5


@pytest.mark.long
def test_forty_seeds_and_two_plays_reach_every_check():
    with Pool(2) as pool:
        seeds = pool.map(seed_checked, range(FIRST_SEED, FIRST_SEED + 40), chunksize=1)
        plays = pool.map(played.checked, range(FIRST_SEED, FIRST_SEED + 2), chunksize=1)
    missed = {line.check for line in [*table.lines(seeds), *played.lines(plays)] if not line.is_reached}

    assert missed <= NEAR_ITS_LINE
