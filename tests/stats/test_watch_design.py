"""The limits of a watch against simulation of the same cusum, and against the known-rate run length."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from qc.stats.by_command.run_lengths.sequential_run_length import poisson_cusum_run_length
from qc.stats.watch.watch_design import LEAST, chance_of_height, watch_design, watched_sums
from tests.bench.watch_limits import Asked, broken, simulated


@pytest.mark.parametrize(
    "asked",
    [Asked(8, 8, 2.0, 1 / 400), Asked(40, 8, 0.5, 1 / 400), Asked(160, 8, 1.7, 1 / 400), Asked(2, 8, 3.0, 1 / 400),
     Asked(4, 26, 3.0, 1e-3), Asked(20, 4, 1.7, 5e-4), Asked(4, 26, 0.5, 1e-4), Asked(1600, 8, 1.7, 3e-4),
     # Where a sum of few heights only can come: 0.72 for each week without a defect.
     Asked(8, 8, 0.5, 0.0007), Asked(13, 13, 0.5, 0.0007),
     # A share far out in what the baseline leaves open, long watches, small shifts.
     Asked(1, 8, 1.5, 0.0005, 104), Asked(40, 8, 1.1, 0.002, 104)],
    ids=str,
)  # fmt: skip
def test_a_watch_keeps_its_promise(asked):
    """40,000 cusums drawn apart from the chain; tests/bench/watch_limits.py does the same over the whole grid."""
    came = simulated(asked, 40_000, 7)

    assert broken(asked, came) == []
    # No slacker than need be: only where few counts are possible, or downwards, does the limit lie further out.
    fine = asked.ratio > 1 and 1 <= asked.defects / asked.periods < 60
    assert came.alarms >= (0.9 if fine else 0.0) * asked.design.alarms - 4 * came.error


def test_limits_that_are_too_low_are_seen():
    """The fault planted: the limits that the chain gave while it held no heights above its 240th."""
    asked = Asked(1, 8, 1.5, 0.0005, 104)
    lower = replace(asked.design, decisions=tuple(min(14.0, one) for one in asked.design.decisions))
    came = simulated(asked, 40_000, 7, design=lower)

    assert broken(asked, came)


@pytest.mark.parametrize(("defects", "periods"), [(6, 8), (22, 8), (32, 13)])
def test_weeks_a_little_larger_do_not_step_over_a_limit_downwards(defects, periods):
    """A limit may lie at the height that weeks without a defect reach: 0.72 of the usual defects for each.

    Met on plants where nothing changes whose baseline held short weeks: four times the stated false signals.
    """
    asked = Asked(defects, periods, 0.5, 0.0001)
    came = simulated(asked, 40_000, 7, (1.04,))

    assert came.alarms <= asked.design.alarms + 5 * came.error


def test_the_chance_of_a_height_agrees_with_simulation():
    came = simulated(Asked(40, 8, 1.7, 1 / 400), 40_000, 7)

    reached = (came.greatest >= 25).mean()
    assert chance_of_height(40, 8, 1.7, 25.0, 26) == pytest.approx(reached, abs=4 * np.sqrt(reached / 40_000))
    assert chance_of_height(40, 8, 1.7, 0.0, 26) == 1


@given(
    st.integers(0, 500), st.sampled_from([0.5, 4.0, 8.0, 26.0]), st.sampled_from([0.2, 0.5, 1.01, 1.7, 3.0, 40.0]),
    st.floats(0, 1e300), st.integers(1, 30),
)  # fmt: skip
@settings(max_examples=30, deadline=None)
def test_a_chance_of_a_height_is_never_said_to_be_none_and_falls_with_the_height(
    defects, periods, ratio, height, watched
):
    chance, higher = (chance_of_height(defects, periods, ratio, one, watched) for one in (height, 3 * height + 1))

    assert LEAST <= higher <= chance * 1.0001 + 1e-9
    assert chance <= 1


def test_a_long_baseline_comes_to_the_run_length_of_a_known_rate():
    """The chain of Lucas (1985) for a known rate, in this package checked against published run lengths."""
    design = watch_design(160_000, 40_000, 1.5, 1 / 300, 200)
    allowance = round(4 * 0.5 / np.log(1.5), 2)
    decision = round(design.decisions[-1], 2)

    assert poisson_cusum_run_length(4.0, allowance, decision).mean == pytest.approx(300, rel=0.12)


def test_fewer_baseline_weeks_ask_for_higher_limits():
    short, long = watch_design(20, 4, 1.5, 1 / 400, 26), watch_design(100, 20, 1.5, 1 / 400, 26)

    assert short.decisions[-1] > long.decisions[-1]


def test_sums_start_again_after_an_alarm_and_stay_in_a_week_without_units():
    design = watch_design(80, 8, 2.0, 1 / 400, 26)
    found = watched_sums([10, 60, 10, 0, 20], [10.0, 10.0, 10.0, 0.0, 10.0], design)

    assert [alarms for _, alarms in found] == [False, True, False, False, False]
    assert found[2][0] == found[3][0] == 0
    assert found[4][0] == pytest.approx(20 - 10 / np.log(2))


@pytest.mark.parametrize(
    "bad",
    [
        {"ratio": 1.0}, {"ratio": -2.0}, {"periods": 0.0}, {"height": -1.0}, {"watched": 0}, {"watched": 521},
        {"watched": 31, "periods": 0.1}, {"defects": 800_001}, {"defects": [10]},
    ],
)  # fmt: skip
def test_an_argument_that_cannot_be_is_named(bad):
    asked = {"defects": 10, "periods": 8.0, "ratio": 1.5, "height": 5.0, "watched": 26, **bad}

    with pytest.raises(ValueError, match=next(iter(bad))):
        chance_of_height(**asked)
    for share in (1.5, 1e-10):
        with pytest.raises(ValueError, match="share"):
            watch_design(10, 8.0, 1.5, share, 26)
