"""The truth table in short, a seed or two; `python -m tests.truth` makes all of it, and `-m long` checks that one.

The plant's truth is invented and stands in ``demo_data/story``; nothing here is a figure of the trade.
"""

from multiprocessing import Pool

import pytest

from tests.truth import played, table
from tests.truth.counted import seed_checked
from tests.truth.measured import Measured

# With eight weeks of record before it, a drift this slow is named by week 18 in about three of four plants (30 of 40
# on seeds that took no part in choosing the limits, 1001 to 1040), not in nineteen of twenty, at one false alarm a
# quarter; with half a year before it in 37 of 40.
OUT_OF_REACH = {"4 drift at S08, baseline of 8 weeks"}


def test_a_seed_finds_what_is_planted_and_nothing_else():
    one = seed_checked(1)

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


@pytest.mark.long
def test_twenty_seeds_and_two_plays_reach_every_check_within_reach():
    with Pool(2) as pool:
        seeds = pool.map(seed_checked, range(1, 21), chunksize=1)
        plays = pool.map(played.checked, (1, 2), chunksize=1)
    missed = {line.check for line in [*table.lines(seeds), *played.lines(plays)] if not line.is_reached}

    assert missed <= OUT_OF_REACH
