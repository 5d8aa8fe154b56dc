"""Before and after: three answers, honest about when. Sources beside each check.

The ratio and its interval are checked in tests/reference/test_adjustment_cases.py; the three answers and the fixed
windows are common practice, no source.
"""

from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.stats.answers import TooLittle
from qc.stats.by_command.change.before_after import (
    FixedWindows,
    exact_before_after,
    scattered_before_after,
    units_needed,
)
from qc.stats.change.stratified_ratio import strata
from qc.stats.series import rates_of

WINDOWS = FixedWindows(date(2026, 3, 2), date(2026, 6, 8), date(2026, 6, 8), date(2026, 8, 31), date(2026, 6, 5))
OVER = date(2026, 8, 31)


def two(before, after, units=(700, 600)):
    return strata(rates_of((before,), (units[0],), ("all",)), rates_of((after,), (units[1],), ("all",)))


def answer(before, after, aimed=0.8, looked_at=1, seen_until=OVER, windows=WINDOWS, level=0.95):
    return exact_before_after(two(before, after), windows, seen_until, aimed, looked_at, level)


def test_a_clear_fall_is_better():
    got = answer(140, 50)

    assert got.answer == "better"
    assert got.aim_met
    assert not got.is_worse


def test_worse_counts_as_not_better_and_is_told():
    got = answer(60, 110)

    assert got.answer == "not better"
    assert got.is_worse
    assert "worse" in got.reason


def test_a_few_defects_cannot_tell_yet():
    assert answer(9, 6).answer == "cannot tell yet"


def test_an_improvement_that_is_ruled_out_is_not_better():
    """The interval is about 0.91 to 1.11 on this many defects: half was aimed at."""
    got = answer(900, 771, aimed=0.5)

    assert got.answer == "not better"
    assert not got.is_worse
    assert "ruled out" in got.reason


def test_nothing_is_claimed_before_the_second_window_is_over():
    got = answer(140, 20, seen_until=date(2026, 8, 30))

    assert got.answer == "cannot tell yet"
    assert got.ratio.high < 1
    assert "2026-08-31" in got.reason


def test_windows_fixed_after_the_change_claim_nothing():
    chosen_later = FixedWindows(
        WINDOWS.before_first, WINDOWS.before_end, WINDOWS.after_first, WINDOWS.after_end, date(2026, 7, 1)
    )

    assert answer(140, 20, windows=chosen_later).answer == "cannot tell yet"


@pytest.mark.parametrize("moved", ["before_end", "after_end"])
def test_windows_that_overlap_or_are_empty_are_refused(moved):
    days = {
        "before_first": date(2026, 3, 2),
        "before_end": date(2026, 6, 8),
        "after_first": date(2026, 6, 8),
        "after_end": date(2026, 8, 31),
        "fixed_on": date(2026, 6, 5),
    }
    days[moved] = date(2026, 6, 15) if moved == "before_end" else date(2026, 6, 8)

    with pytest.raises(ValueError, match="windows must follow each other"):
        FixedWindows(**days)


def test_no_defect_in_either_window_cannot_tell_yet():
    got = answer(0, 0)

    assert got.answer == "cannot tell yet"
    assert isinstance(got.ratio, TooLittle)
    assert (got.is_worse, got.aim_met) == (False, False)


def test_none_left_after_many_is_better():
    assert answer(30, 0).answer == "better"


def test_looking_at_many_asks_more_of_each():
    alone, among_twenty = answer(60, 30), answer(60, 30, looked_at=20)

    assert alone.answer == "better"
    assert among_twenty.answer == "cannot tell yet"
    assert among_twenty.level_each == pytest.approx(0.9975)


@given(st.integers(0, 150), st.integers(0, 150))
def test_the_three_answers_follow_the_interval(before, after):
    got = answer(before, after, aimed=1.0)
    if isinstance(got.ratio, TooLittle):
        assert got.answer == "cannot tell yet"
        return

    wanted = "better" if got.ratio.high < 1 else "not better" if got.ratio.low > 1 else "cannot tell yet"
    assert got.answer == wanted


def test_a_change_of_models_is_no_improvement():
    """By construction: each model keeps its rate, fewer big ones are built after."""
    by_model = strata(
        rates_of((100, 300), (500, 500), ("small", "big")), rates_of((180, 60), (900, 100), ("small", "big"))
    )
    plain = strata(rates_of((400,), (1000,), ("all",)), rates_of((240,), (1000,), ("all",)))

    assert exact_before_after(plain, WINDOWS, OVER, 0.8, 1, 0.95).answer == "better"
    assert exact_before_after(by_model, WINDOWS, OVER, 0.8, 1, 0.95).answer == "not better"


def test_a_placebo_is_called_better_no_oftener_than_stated():
    """Simulation with known truth, seeded: nothing changes in 2000 trials; (1 - level) / 2 is 0.025."""
    source = np.random.default_rng(12)
    claims = sum(
        answer(int(source.poisson(70)), int(source.poisson(60)), aimed=1.0).answer == "better" for _ in range(2000)
    )

    assert claims / 2000 <= 0.03


def test_a_true_cut_to_040_is_in_the_interval_as_often_as_stated():
    """Simulation with known truth, seeded: 1000 trials at level 0.95; exact intervals hold it at least so often."""
    source, held = np.random.default_rng(13), 0
    for _ in range(1000):
        got = answer(int(source.poisson(140)), int(source.poisson(0.4 * 140 * 600 / 700)))
        held += got.ratio.low <= 0.4 <= got.ratio.high

    assert held / 1000 >= 0.945


def test_scattered_totals_need_a_larger_fall():
    exact = exact_before_after(two(400, 270), WINDOWS, OVER, 0.9, 1, 0.95)
    scattered = scattered_before_after(two(400, 270), WINDOWS, OVER, 0.9, 1, 0.95, 4.0)

    assert exact.answer == "better"
    assert scattered.answer == "cannot tell yet"


def test_the_units_needed_would_show_the_aimed_improvement():
    """Simulation with known truth, seeded: with the computed units the aimed cut shows in about 0.8 of trials."""
    need = units_needed(140, 700, 0.6, 0.95, 0.8)
    source, shown = np.random.default_rng(14), 0
    for _ in range(600):
        before, after = source.poisson(140), source.poisson(0.6 * 0.2 * need.units)
        pair = strata(rates_of((int(before),), (700,), ("all",)), rates_of((int(after),), (need.units,), ("all",)))
        shown += exact_before_after(pair, WINDOWS, OVER, 0.9, 1, 0.95).answer == "better"

    assert 0.7 <= shown / 600 <= 0.9


def test_too_few_defects_before_are_told_with_how_many_it_takes():
    got = units_needed(10, 700, 0.8, 0.95, 0.8)

    assert isinstance(got, TooLittle)
    assert not isinstance(units_needed(got.need, 700, 0.8, 0.95, 0.8), TooLittle)
    assert isinstance(units_needed(got.need - 1, 700, 0.8, 0.95, 0.8), TooLittle)


@pytest.mark.parametrize("aimed", [0, 1.2, -1])
def test_an_aim_that_is_no_improvement_is_refused(aimed):
    with pytest.raises(ValueError, match="aimed_ratio must be"):
        answer(10, 10, aimed=aimed)
