"""The limits of a watch against simulation of the same cusum, and against the known-rate run length."""

import numpy as np
import pytest

from qc.stats.sequential_run_length import poisson_cusum_run_length
from qc.stats.watch_design import chance_of_height, watch_design, watched_sums


def simulated(design, runs=40_000):
    """Return alarms by week a run, and the greatest sums, of cusums on rates drawn from the baseline's gamma law."""
    source = np.random.default_rng(7)
    rates = source.gamma(design.defects + 0.5, 1 / design.periods, runs)
    usual = design.defects / design.periods
    allowance = usual * (design.ratio - 1) / np.log(design.ratio)
    sums, greatest, alarms = np.zeros(runs), np.zeros(runs), []
    for decision in design.decisions:
        steps = source.poisson(rates) - allowance
        sums = np.maximum(0, sums + (steps if design.ratio > 1 else -steps))
        greatest = np.maximum(greatest, sums)
        signals = sums > decision
        alarms.append(signals.mean())
        sums[signals] = 0
    return np.array(alarms), greatest


@pytest.mark.parametrize(("defects", "ratio"), [(8, 2.0), (40, 0.5), (160, 1.7), (2, 3.0)])
def test_a_watch_alarms_no_more_than_its_share_and_not_far_less(defects, ratio):
    """40,000 cusums drawn with numpy's generators, apart from the chain; each week and in all."""
    design = watch_design(defects, 8, ratio, 1 / 400, 26)
    alarms, _ = simulated(design)

    error = np.sqrt(1 / 400 / 40_000)
    assert alarms.max() <= 1 / 400 + 4 * error
    assert 0.6 * design.alarms < alarms.sum() <= design.alarms + 4 * error * np.sqrt(26)
    assert design.alarms <= 26 / 400


def test_the_chance_of_a_height_agrees_with_simulation():
    design = watch_design(40, 8, 1.7, 1 / 400, 26)
    unbounded = type(design)(40, 8, 1.7, (1e9,) * 26, 0.0, "")
    _, greatest = simulated(unbounded)

    # The chain's step of height is given to chance, so that a signal never looks surer than it is.
    assert (greatest > 25).mean() < chance_of_height(40, 8, 1.7, 25.0, 26) < 1.25 * (greatest > 25).mean()
    assert chance_of_height(40, 8, 1.7, 0.0, 26) == pytest.approx(1, abs=0.02)


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
        {"ratio": 1.0}, {"ratio": -2.0}, {"periods": 0.0}, {"height": -1.0}, {"watched": 0}, {"watched": 1001},
        {"defects": 8001}, {"defects": [10]},
    ],
)  # fmt: skip
def test_an_argument_that_cannot_be_is_named(bad):
    asked = {"defects": 10, "periods": 8.0, "ratio": 1.5, "height": 5.0, "watched": 26, **bad}

    with pytest.raises(ValueError, match=next(iter(bad))):
        chance_of_height(**asked)
    with pytest.raises(ValueError, match="share"):
        watch_design(10, 8.0, 1.5, 1.5, 26)
