"""One valid call of every public statistic, for the tests that damage its arguments one at a time.

The numbers are constructed and mean nothing; each call must give an answer, not "too little data".
"""

from collections.abc import Callable
from datetime import date
from typing import Any

from qc.domain.counted.by_unit import part_by_unit
from qc.stats import series
from qc.stats.by_command.agreement import agreement, effectiveness, krippendorff, many_raters
from qc.stats.by_command.causes import rank_certainty
from qc.stats.by_command.change import before_after, rate_trend, regression, trend, type_changes
from qc.stats.by_command.charts import chart_design, cusum, demerit_chart, ewma
from qc.stats.by_command.intervals import contrasts, origin_shares, simultaneous
from qc.stats.by_command.run_lengths import point_laws, run_length, sequential_run_length, simulated_run_length
from qc.stats.by_command.sampling import operating_characteristic, presentations, sampling_plans
from qc.stats.causes import pareto
from qc.stats.change import (
    adjustment,
    change_points,
    comparison,
    mix_exposure,
    mix_reading,
    several_changes,
    stratified_ratio,
)
from qc.stats.charts import (
    baselines,
    control_charts,
    dispersion,
    exact_limits,
    one_side,
    overdispersed_charts,
    point_tails,
    rare_events,
    run_rules,
    usual_range,
)
from qc.stats.intervals import by_unit, count_limits, one_sample
from qc.stats.looks import recapture, recapture_strata, relooks, yields
from qc.stats.origins import attribution, borrowing, escapes, exact_origins, expected_origins
from qc.stats.series import counts_of, rates_of, shares_of
from qc.stats.stations import funnel, funnel_limits, ranking, shrinkage, unsure_prior
from qc.stats.watch import drift, multiplicity, watch_design

DAY = date(2026, 1, 5)
WEEKS = ["W1", "W2", "W3", "W4", "W5", "W6"]
BAD, N = [3, 5, 2, 4, 6, 3], [50, 60, 40, 50, 70, 50]
DEFECTS, UNITS = [8, 11, 6, 9, 14, 7], [10.0, 12.5, 8.0, 10.0, 15.0, 10.0]
OF_SHARES, OF_RATES, OF_COUNTS = shares_of(BAD, N, WEEKS), rates_of(DEFECTS, UNITS, WEEKS), counts_of(DEFECTS, WEEKS)
SHARES = baselines.share_baseline("b", DAY, shares_of(BAD[:4], N[:4], WEEKS[:4]), {})
RATES = baselines.rate_baseline("b", DAY, rates_of(DEFECTS[:4], UNITS[:4], WEEKS[:4]), {})
COUNTS = baselines.rate_baseline("b", DAY, rates_of(DEFECTS[:4], [1] * 4, WEEKS[:4]), {})
GAPS = baselines.gap_baseline("b", DAY, [40, 70, 20, 55], WEEKS[:4], {})
CLASSES = baselines.weighted_baseline("b", DAY, {"critical": RATES, "minor": RATES}, {"critical": 50, "minor": 1})
TABLE, PASS = [[20, 5], [3, 12]], ["good", "bad"]
TWO = stratified_ratio.strata(rates_of([30, 12], [100, 50], ["A", "B"]), rates_of([18, 9], [90, 60], ["A", "B"]))
WINDOWS = before_after.FixedWindows(date(2026, 1, 5), date(2026, 2, 2), date(2026, 2, 9), date(2026, 3, 9), DAY)
RULES = run_rules.WESTERN_ELECTRIC_1956
LAW = point_laws.normal_law(RULES, 0.5)
SETTLED = attribution.settled_origins([
    attribution.SettledCount(("panels", "PAN-05"), "S07", 8),
    attribution.SettledCount(("panels", "PAN-05"), "S09", 3),
    attribution.SettledCount(("panels", "PAN-06"), "S09", 5),
])  # fmt: skip
POSTERIOR = attribution.origin_posterior(SETTLED, ("panels", "PAN-05"), ["S07", "S09"], [4.0, 2.0], 0.9)
TRUST = expected_origins.SuspectRecord(8, 2, 3)
SHRUNKEN = shrinkage.gamma_poisson_rates(rates_of(DEFECTS, UNITS, WEEKS), shrinkage.GammaPrior(4.0, 5.0), 0.95)
FUNNEL = funnel.indicator_of(shares_of(BAD, N, WEEKS), 0.07)
RANKED = pareto.pareto(counts_of([5, 9, 2], ["gap", "step", "scratch"]), [5, 9, 2], "defects", other="Other")
LINE = {"S07": ["S09", "FIN"], "S09": ["FIN"], "FIN": []}
ROWS = [part_by_unit([(1, 3), (0, 2), (4, 4), (0, 1)]), part_by_unit([(2, 3), (2, 2), (0, 4), (1, 1)])]
FOUND = [escapes.Found("S07", "S07", 5), escapes.Found("S07", "FIN", 2), escapes.Found("S09", "FIN", 1)]
SEEN = [presentations.Presentation("U1", "FIN", 1, 2), presentations.Presentation("U2", "FIN", 1, 0)]
CHART = control_charts.p_chart(shares_of(BAD, N, WEEKS), SHARES)
TOGETHER: dict[str, Any] = {"labels": WEEKS, "level": 0.95}
RUNS: dict[str, Any] = {"runs": 99, "seed": 1}

Call = tuple[Callable[..., object], dict[str, Any]]

_CALLS: list[Call] = [
    (adjustment.fay_feuer_rate, {"rates": rates_of([5, 9], [40, 70.5], ["A", "B"]), "standard": [1.0, 2.0],
                                 "level": 0.95, "dispersion": 1.4, "degrees": 12.0}),
    (adjustment.indirect_ratio, {"rates": rates_of([5, 9], [40, 70.5], ["A", "B"]),
                                 "baseline": rates_of([8, 10], [80, 90.0], ["A", "B"]), "level": 0.95}),
    (agreement.cohen_kappa, {"table": TABLE, "labels": PASS, "level": 0.95}),
    (agreement.linear_weighted_kappa, {"table": TABLE, "labels": PASS, "level": 0.95}),
    (agreement.quadratic_weighted_kappa, {"table": TABLE, "labels": PASS, "level": 0.95}),
    (agreement.judgements_of_two, {"table": TABLE}),
    (agreement.weighted_kappa, {"table": TABLE, "disagreement": [[0, 1.5], [1, 0]], "labels": PASS, "level": 0.95}),
    (attribution.settled_origins, {"counts": [attribution.SettledCount(("panels", "PAN-05"), "S07", 8)]}),
    (attribution.origin_posterior, {"settled": SETTLED, "path": ("panels", "PAN-05"), "origins": ["S07", "S09"],
                                    "borrow": [4.0, 2.0], "level": 0.9}),
    (attribution.prior_mean, {"settled": SETTLED, "path": ("panels", "PAN-05"), "origins": ["S07", "S09"],
                              "borrow": [4.0, 2.0]}),
    (baselines.given_standard, {"name": "b", "frozen_on": DAY, "kind": "share", "centre": 0.1, "source": "agreed"}),
    (baselines.share_baseline, {"name": "b", "frozen_on": DAY, "shares": OF_SHARES,
                                "excluded": {"W2": "wrong jig"}}),
    (baselines.rate_baseline, {"name": "b", "frozen_on": DAY, "rates": OF_RATES, "excluded": {"W2": "wrong jig"}}),
    (baselines.gap_baseline, {"name": "b", "frozen_on": DAY, "labels": WEEKS, "gaps": [5, 8, 2, 9, 4, 7.5],
                              "excluded": {}}),
    (baselines.weighted_baseline, {"name": "b", "frozen_on": DAY, "parts": {"major": RATES},
                                   "weights": {"major": 10.0}}),
    (baselines.revised_baseline, {"baseline": SHARES, "name": "c", "frozen_on": DAY, "excluded": {"W2": "jig"}}),
    (before_after.exact_before_after, {"two": TWO, "windows": WINDOWS, "seen_until": date(2026, 3, 9),
                                       "aimed_ratio": 0.5, "looked_at": 2, "level": 0.95}),
    (before_after.scattered_before_after, {"two": TWO, "windows": WINDOWS, "seen_until": date(2026, 3, 9),
                                           "aimed_ratio": 0.5, "looked_at": 2, "level": 0.95, "dispersion": 1.4,
                                           "degrees": 12.0}),
    (before_after.units_needed, {"before_defects": 80, "before_units": 200.0, "aimed_ratio": 0.5, "level": 0.95,
                                    "chance": 0.8}),
    (borrowing.learned_borrowing, {"settled": SETTLED, "origins": ["S07", "S09"]}),
    (change_points.poisson_change_point, {"rates": OF_RATES, "level": 0.95, "runs": 99, "seed": 1, "null": "poisson"}),
    (change_points.mean_change_point, {"values": [1.0, 2.5, 1.5, 4.0, 5.5, 4.5], **TOGETHER, **RUNS}),
    (chart_design.size_for_lower_limit, {"share": 0.05, "width": 3.0}),
    (chart_design.size_for_even_chance, {"share": 0.01, "ratio": 5.0, "width": 3.0}),
    (comparison.rates_compared, {"rates": OF_RATES}),
    (comparison.rates_compared_by_simulation, {"rates": OF_RATES, "runs": 99, "seed": 1}),
    (comparison.profiles_compared, {"table": TABLE, "labels": PASS}),
    (comparison.fisher_exact, {"first_defective": 3, "first_clean": 17, "second_defective": 9, "second_clean": 11}),
    (comparison.share_pairs, {"shares": OF_SHARES, "level": 0.95}),
    (contrasts.difference_interval, {"first_defectives": 5, "first_inspected": 56, "second_defectives": 1,
                                     "second_inspected": 29, "level": 0.95}),
    (contrasts.rate_ratio_interval, {"first_defects": 11, "first_units": 800.0, "second_defects": 21,
                                     "second_units": 3011.0, "level": 0.95}),
    (contrasts.odds_ratio_interval, {"first_defectives": 18, "first_inspected": 200, "second_defectives": 7,
                                     "second_inspected": 200, "level": 0.95}),
    (contrasts.paired_test, {"only_first": 3, "only_second": 9}),
    (control_charts.p_chart, {"shares": OF_SHARES, "baseline": SHARES, "partial_last": False, "width": 3.0}),
    (control_charts.np_chart, {"shares": shares_of(BAD, [50] * 6, WEEKS), "baseline": SHARES,
                               "partial_last": False, "width": 3.0}),
    (control_charts.u_chart, {"rates": OF_RATES, "baseline": RATES, "partial_last": False, "width": 3.0}),
    (control_charts.c_chart, {"counts": OF_COUNTS, "baseline": COUNTS, "partial_last": False, "width": 3.0}),
    (count_limits.binomial_limits, {"inspected": 50, "share": 0.02, "tail": 0.00135}),
    (count_limits.poisson_limits, {"mean": 16.0, "tail": 0.00135}),
    (count_limits.predictive_share_limits, {"inspected": 50, "before_defectives": 12, "before_inspected": 300,
                                            "tail": 0.00135}),
    (count_limits.predictive_rate_limits, {"units": 20.0, "before_defects": 12, "before_units": 60.0, "tail": 0.00135,
                                           "dispersion": 1.5}),
    (cusum.normal_cusum, {"values": [0.5, None, 1.5, 2.0], "labels": WEEKS[:4], "target": 0.0, "allowance": 0.5,
                          "decision": 4.0, "restart": "never", "partial_last": False}),
    (cusum.poisson_allowance, {"rate": 1.0, "ratio": 2.0}),
    (cusum.poisson_cusum, {"rates": OF_RATES, "rate": 0.8, "ratio": 1.5, "decision": 5.0,
                           "restart": "after signal", "allowance": 1.0, "partial_last": False}),
    (cusum.bernoulli_constants, {"share": 0.05, "ratio": 2.0}),
    (cusum.bernoulli_cusum, {"defective": [False, True, False], "labels": WEEKS[:3], "share": 0.05, "ratio": 2.0,
                             "decision": 3.0, "restart": "never", "allowance": 0.07}),
    (demerit_chart.demerit_chart, {
        "rates_by_class": {"critical": rates_of([0, 1, 0, 1, 2, 0], UNITS, WEEKS), "minor": OF_RATES},
        "baseline": CLASSES, "partial_last": False, "width": 3.0}),
    (dispersion.share_dispersion, {"shares": OF_SHARES}),
    (dispersion.rate_dispersion, {"rates": OF_RATES}),
    (dispersion.share_chart_choice, {"shares": OF_SHARES, "level": 0.99}),
    (dispersion.rate_chart_choice, {"rates": OF_RATES, "level": 0.99}),
    (dispersion.expected_poisson_counts, {"periods": 200, "mean": 0.61, "highest": 4}),
    (drift.drift_score, {"strata": [OF_RATES, rates_of([0, 1, 1, 2, 0, 3], [5.0, 6, 5, 6, 5, 5], WEEKS)]}),
    (drift.drift_chance, {"strata": [OF_RATES, rates_of([0, 1, 1, 2, 0, 3], [5.0, 6, 5, 6, 5, 5], WEEKS)]}),
    (drift.drift_limits, {"periods": 8, "watched": 6, "share": 0.01}),
    (drift.chance_of_drift, {"periods": 8, "watched": 6, "chance": 0.01}),
    (effectiveness.against_reference, {"bad_called_bad": 45, "bad_called_good": 3, "good_called_bad": 5,
                                       "good_called_good": 97, "level": 0.95}),
    (effectiveness.effectiveness, {"right": 42, "units": 50, "level": 0.95}),
    (escapes.downstream_in_line, {"stations": ["S07", "S09", "FIN"]}),
    (escapes.escape_matrix, {"records": FOUND, "downstream": LINE, "no_station": ["supplier"], "level": 0.95}),
    (escapes.follow_up, {"labels": WEEKS, "units": N, "followed": BAD, "enough": 0.9}),
    (ewma.ewma_chart, {"values": [0.5, None, 1.5, 2.0], "sigmas": [1.0, None, 1.0, 1.0], "labels": WEEKS[:4],
                       "target": 0.0, "weight": 0.2, "width": 3.0, "limits": "exact", "partial_last": False}),
    (ewma.ewma_of_chart, {"chart": CHART, "weight": 0.2, "width": 3.0}),
    (exact_limits.exact_p_chart, {"shares": OF_SHARES, "baseline": SHARES, "tail": 0.00135,
                                  "partial_last": False}),
    (exact_limits.exact_u_chart, {"rates": OF_RATES, "baseline": RATES, "tail": 0.00135, "partial_last": False}),
    (exact_limits.predictive_p_chart, {"shares": OF_SHARES, "baseline": SHARES, "tail": 0.00135,
                                       "partial_last": False}),
    (exact_limits.predictive_u_chart, {"rates": OF_RATES, "baseline": RATES, "tail": 0.00135,
                                       "partial_last": False, "dispersion": 1.5}),
    (exact_origins.exact_expected_origins, {
        "settled": SETTLED, "open_counts": [expected_origins.OpenCount(("panels", "PAN-05"), ("S07", "S09"), None, 6)],
        "confirmed": {"S07": 3}, "settled_unknown": 2, "borrow": [4.0, 2.0], "level": 0.9}),
    (expected_origins.suspicion_weights, {"origins": ["S07", "S09"], "suspected": "S07", "trust": TRUST}),
    (expected_origins.chances_with_suspicion, {"posterior": POSTERIOR, "suspected": "S07", "trust": TRUST}),
    (expected_origins.expected_origins, {
        "settled": SETTLED, "open_counts": [expected_origins.OpenCount(("panels", "PAN-05"), ("S07", "S09"), None, 6)],
        "confirmed": {"S07": 3}, "settled_unknown": 2, "trust": TRUST, "borrow": [4.0, 2.0], "level": 0.9,
        "draws": 1000, "seed": 1}),
    (funnel.indicator_of, {"series": OF_SHARES, "target": 0.07}),
    (funnel.against_own_past, {"rates": OF_RATES, "errors": [2.0] * len(UNITS)}),
    (funnel.exact_funnel, {"indicator": FUNNEL, "inner": 0.95, "outer": 0.998}),
    (funnel.multiplicative_funnel, {"indicator": FUNNEL, "inner": 0.95, "outer": 0.998, "winsorised": 0.1,
                                   "winsorising": "interpolated"}),
    (funnel.additive_funnel, {"indicator": FUNNEL, "inner": 0.95, "outer": 0.998, "winsorised": 0.1,
                                   "winsorising": "interpolated"}),
    (funnel.funnel_dispersion, {"indicator": FUNNEL, "winsorised": 0.1, "winsorising": "interpolated"}),
    (funnel_limits.exact_share_limits, {"target": 0.15, "inspected": 50, "chances": [0.025, 0.975]}),
    (funnel_limits.exact_rate_limits, {"target": 1.5, "units": 20.0, "chances": [0.025, 0.975]}),
    (funnel_limits.share_tails, {"target": 0.15, "defectives": 9, "inspected": 50}),
    (funnel_limits.rate_tails, {"target": 1.5, "defects": 40, "units": 20.0}),
    (many_raters.fleiss_kappa, {"counts": [[3, 0], [1, 2], [0, 3]], "labels": PASS}),
    (many_raters.gwet_ac1, {"counts": [[3, 0], [1, 2], [0, 3]], "labels": PASS, "level": 0.95}),
    (krippendorff.krippendorff_alpha, {"judgements": [[1, 2, 3, None], [1, 2, 2, 4]], "metric": "ordinal"}),
    (krippendorff.krippendorff_interval, {"judgements": [[1, 2, 3, None] * 6, [1, 2, 2, 1] * 6], "metric": "nominal",
                                         "level": 0.9, "draws": 1000, "seed": 1}),
    (mix_exposure.mix_exposure, {"units": [[5, 3], [4, 6]], "periods": ["W1", "W2"],
                                 "baseline": rates_of([20, 30], [40, 50], ["A", "B"])}),
    (mix_exposure.dispersion_within, {"defects": [[5, 3], [4, 6]], "units": [[9.0, 8], [7, 9]],
                                      "periods": ["W1", "W2"], "models": ["A", "B"]}),
    (mix_reading.mix_reading, {"two": TWO, "ratio_of": lambda two: stratified_ratio.exact_rate_ratio(two, 0.95)}),
    (multiplicity.benjamini_hochberg, {"p_values": [0.001, 0.04, 0.3], "labels": WEEKS[:3], "bound": 0.05}),
    (multiplicity.holm, {"p_values": [0.001, 0.04, 0.3], "labels": WEEKS[:3], "bound": 0.05}),
    (multiplicity.bonferroni, {"p_values": [0.001, 0.04, 0.3], "labels": WEEKS[:3], "bound": 0.05}),
    (multiplicity.watch_budget, {"watched": 80, "alarms": 0.5}),
    (operating_characteristic.binomial_acceptance, {"sample": 89, "accept": 2, "share": 0.01}),
    (operating_characteristic.poisson_acceptance, {"sample": 89, "accept": 2, "per_unit": 0.01}),
    (operating_characteristic.hypergeometric_acceptance, {"lot": 500, "sample": 89, "accept": 2,
                                                          "nonconforming": 5}),
    (operating_characteristic.quality_at, {"sample": 89, "accept": 2, "chance": 0.1}),
    (operating_characteristic.outgoing, {"sample": 89, "accept": 2, "lot": 10_000, "share": 0.01}),
    (operating_characteristic.outgoing_limit, {"sample": 89, "accept": 2, "lot": 10_000}),
    (one_side.chance_of_one_side, {"chart": CHART, "labels": ["W5", "W6"], "side": "low"}),
    (origin_shares.dirichlet_shares, {"counts": counts_of([5, 3, 0], WEEKS[:3]), "prior": [0.5, 0.5, 0.5],
                                      "level": 0.9}),
    (origin_shares.origins_of_cell, {"table": [[5, 1], [2, 9]], "stations": ["S07", "S09"], "cells": ["door", "roof"],
                                     "prior": 0.5, "cell": "roof"}),
    (overdispersed_charts.spread_between, {"z": [0.0, 1.0, -2.0]}),
    (overdispersed_charts.p_prime_chart, {"shares": OF_SHARES, "baseline": SHARES, "partial_last": False,
                                          "width": 3.0}),
    (overdispersed_charts.u_prime_chart, {"rates": OF_RATES, "baseline": RATES, "partial_last": False,
                                          "width": 3.0}),
    (pareto.pareto, {"counts": counts_of([5, 9, 2], ["gap", "step", "scratch"]), "amounts": [5, 9.5, 2],
                     "weight": "minutes", "other": "Other", "last": ["scratch"], "most": 2}),
    (pareto.vital_few, {"ranked": RANKED, "share": 0.8}),
    (pareto.severity_amounts, {"counts_by_severity": {"major": [5, 1], "minor": [2, 9]},
                               "weights": {"major": 10.0, "minor": 1.0}}),
    (pareto.could_swap, {"counts": [9, 5, 2], "level": 0.95}),
    (point_laws.zone_edges, {"rules": RULES}),
    (point_laws.normal_law, {"rules": RULES, "shift": 1.0}),
    (point_laws.share_law, {"share": 0.05, "inspected": 50, "ratio": 2.0}),
    (point_laws.rate_law, {"rate": 0.5, "units": 20.0, "ratio": 1.6}),
    (point_tails.at_least, {"defects": 9, "before_defects": 30, "relative_size": 0.2}),
    (point_tails.at_most, {"defects": 2, "before_defects": 30, "relative_size": 0.2}),
    (presentations.gate_counts, {"presentations": SEEN, "gates": ["FIN"]}),
    (presentations.through_count, {"presentations": SEEN, "gates": ["FIN"]}),
    (rank_certainty.rank_certainty, {"counts": counts_of([9, 5, 2], WEEKS[:3]), "weights": [1, 2.5, 1], "prior": 0.5,
                                     "level": 0.9, "draws": 1000, "seed": 1}),
    (ranking.chance_of_being_worst, {"shrunken": SHRUNKEN, "level": 0.9}),
    (ranking.rank_ranges, {"shrunken": SHRUNKEN, "level": 0.9, "draws": 1000, "seed": 1}),
    (rare_events.g_chart, {"gaps": [40, 70, 20, 55, 90, 3], "labels": WEEKS, "baseline": GAPS,
                           "counting": "good units between", "partial_last": False, "width": 3.0}),
    (rare_events.exact_g_chart, {"gaps": [40, 70, 20, 55, 90, 3], "labels": WEEKS, "baseline": GAPS,
                                 "counting": "good units between", "tail": 0.01, "partial_last": False}),
    (rare_events.predictive_g_chart, {"gaps": [40, 70, 20, 55, 90, 3], "labels": WEEKS, "baseline": GAPS,
                                      "counting": "good units between", "tail": 0.01, "partial_last": False}),
    (rare_events.predictive_gap_limits, {"gaps": 8, "total": 480, "counting": "good units between", "tail": 0.01}),
    (rare_events.geometric_median, {"mean_gap": 46.0, "counting": "good units between"}),
    (rare_events.geometric_limits, {"mean_gap": 46.0, "counting": "good units between", "tail": 0.01}),
    (rare_events.t_chart, {"times": [40, 70, 20, 55, 90, 3.5], "labels": WEEKS, "baseline": GAPS,
                           "partial_last": False, "width": 3.0}),
    (rare_events.times_of, {"transformed": 3.0}),
    (rare_events.exact_t_chart, {"times": [40, 70, 20, 55, 90, 3.5], "labels": WEEKS, "baseline": GAPS,
                                 "tail": 0.00135, "partial_last": False}),
    (rate_trend.poisson_trend, {"rates": OF_RATES, "times": [1, 2, 3, 4, 5, 6.5], "level": 0.95}),
    (rate_trend.quasi_poisson_trend, {"rates": OF_RATES, "times": [1, 2, 3, 4, 5, 6.5], "level": 0.95}),
    (rate_trend.negative_binomial_trend, {"rates": rates_of([1, 20, 3, 30, 2, 40], UNITS, WEEKS),
                                          "times": [1, 2, 3, 4, 5, 6.5], "level": 0.95}),
    (recapture.lincoln_petersen, {"first": 25, "second": 20, "both": 15}),
    (recapture.chapman, {"first": 25, "second": 20, "both": 15, "level": 0.95}),
    (recapture.paired_relook, {"first": 25, "second": 20, "both": 15, "level": 0.95}),
    (recapture_strata.missed_by_both, {"first": [25, 9], "second": [20, 12], "both": [15, 6], "labels": ["A", "B"],
                                       "level": 0.95}),
    (regression.poisson_regression, {"rates": OF_RATES, "columns": [[1, 2, 3, 4, 5, 6.5]], "names": ["time"],
                                     "level": 0.95}),
    (regression.quasi_poisson_regression, {"rates": OF_RATES, "columns": [[1, 2, 3, 4, 5, 6.5]], "names": ["time"],
                                           "level": 0.95}),
    (regression.negative_binomial_regression, {"rates": rates_of([1, 20, 3, 30, 2, 40], UNITS, WEEKS),
                                               "columns": [[1, 2, 3, 4, 5, 6.5]], "names": ["time"], "level": 0.95}),
    (relooks.shares_found, {"both": [15, 6, 9], "second": [20, 12, 10], "labels": ["Olga", "Ivo", "Stan"],
                            "level": 0.95}),
    (run_length.zone_rules, {"rules": run_rules.NELSON_1984}),
    (run_length.rules_run_length, {"rules": RULES, "law": LAW}),
    (run_length.signal_probability, {"rules": RULES, "law": LAW, "points": 8}),
    (run_length.operating_characteristic, {"rules": RULES, "laws": [LAW], "points": 8}),
    (series.shares_of, {"defectives": BAD, "inspected": N, "labels": WEEKS}),
    (series.rates_of, {"defects": DEFECTS, "units": UNITS, "labels": WEEKS}),
    (series.counts_of, {"counts": DEFECTS, "labels": WEEKS}),
    (run_rules.run_rules, {"z": [0.5, None, 3.5, -1.0], "labels": WEEKS[:4], "rules": RULES, "across_gaps": False,
                           "fresh_from": ["W3"]}),
    (sampling_plans.code_letter, {"lot": 500, "inspection_level": "II"}),
    (sampling_plans.single_normal_plan, {"lot": 500, "inspection_level": "II", "aql": 1.0}),
    (sequential_run_length.normal_cusum_run_length, {"shift": 0.5, "allowance": 0.5, "decision": 4.0}),
    (sequential_run_length.ewma_run_length, {"shift": 0.5, "weight": 0.1, "width": 2.8}),
    (sequential_run_length.poisson_cusum_run_length, {"mean": 1.0, "allowance": 1.5, "decision": 4.0}),
    (sequential_run_length.bernoulli_cusum_run_length, {"share": 0.1, "allowance": 0.2, "decision": 2.0}),
    (sequential_run_length.poisson_cusum_design, {"mean": 1.0, "ratio": 2.0, "wanted": 50.0,
                                                    "allowance": 1.5}),
    (several_changes.poisson_changes, {"rates": OF_RATES, "level": 0.95, "most": 2, "shortest": 2, "runs": 99,
                                       "seed": 1}),
    (several_changes.mean_changes, {"values": [1.0, 2.5, 1.5, 4.0, 5.5, 4.5], **TOGETHER, "most": 2, "shortest": 2,
                                    **RUNS}),
    (unsure_prior.hierarchical_rates, {"rates": OF_RATES, "level": 0.95}),
    (shrinkage.gamma_poisson_rates, {"rates": OF_RATES, "prior": shrinkage.GammaPrior(4.0, 5.0), "level": 0.95}),
    (shrinkage.beta_binomial_shares, {"shares": OF_SHARES, "prior": shrinkage.BetaPrior(4.0, 50.0), "level": 0.95}),
    (shrinkage.fitted_gamma_prior, {"rates": rates_of([1, 20, 3, 30, 2, 40], UNITS, WEEKS)}),
    (shrinkage.fitted_beta_prior, {"shares": shares_of([1, 20, 3, 30, 2, 40], N, WEEKS)}),
    (shrinkage.moment_beta_prior, {"shares": shares_of([1, 20, 3, 30, 2, 40], N, WEEKS)}),
    (shrinkage.james_stein, {"observed": [1.0, 2.5, 1.5, 4.0], "variance": 0.5, "labels": WEEKS[:4]}),
    (simulated_run_length.simulated_run_length, {"rules": RULES, "shift": 1.5, "runs": 1000, "level": 0.95,
                                                 "seed": 1}),
    (simultaneous.goodman_intervals, {"counts": counts_of([56, 72, 73], WEEKS[:3]), "level": 0.95}),
    (simultaneous.sison_glaz_intervals, {"counts": counts_of([56, 72, 73], WEEKS[:3]), "level": 0.95}),
    (stratified_ratio.strata, {"before": rates_of([30, 12], [100, 50.5], ["A", "B"]),
                               "after": rates_of([18, 9], [90, 60.0], ["A", "B"])}),
    (stratified_ratio.exact_rate_ratio, {"two": TWO, "level": 0.95}),
    (stratified_ratio.mantel_haenszel_ratio, {"two": TWO, "level": 0.95, "dispersion": 1.4, "degrees": 12.0}),
    (trend.cochran_armitage, {"shares": OF_SHARES, "scores": [1, 2, 3, 4, 5, 6.5]}),
    (trend.mann_kendall_exact, {"values": [10, 15.5, 14, 20]}),
    (trend.mann_kendall_normal, {"values": [10, 15.5, 14, 20]}),
    (type_changes.type_changes, {"before": counts_of([9, 5, 2], WEEKS[:3]), "before_units": 100.0,
                                 "after": counts_of([4, 6, 2], WEEKS[:3]), "after_units": 90.0, "level": 0.95,
                                 "bound": 0.1}),
    (usual_range.usual_range, {"defects": 30, "units": 100.0, "now_units": 12.0, "level": 0.9}),
    (watch_design.watch_design, {"defects": 40, "periods": 8.0, "ratio": 1.5, "share": 0.002, "watched": 4}),
    (watch_design.chance_of_height, {"defects": 40, "periods": 8.0, "ratio": 1.5, "height": 6.0, "watched": 4}),
    (watch_design.watched_sums, {"defects": [5, 9, 4], "expected": [5.0, 5.5, 0.5],
                                 "design": watch_design.watch_design(40, 8.0, 1.5, 0.002, 4)}),
    (yields.first_pass, {"defectives": 8, "inspected": 50, "severity": "any", "level": 0.95}),
    (yields.rolled_yield, {"gates": [("FIN", yields.first_pass(8, 50, "any", 0.95))]}),
    (yields.rolled_shares, {"gates": ["T1", "FIN"], "shares": [0.9, 0.8]}),
    (yields.first_time_through, {"defectives": 8, "inspected": 50, "severity": "any", "level": 0.95}),
    (yields.defects_per_unit, {"defects": 80, "units": 50}),
    (yields.clustered_yield, {"per_unit": 1.6, "clustering": 2.0}),
    (yields.defects_per_million, {"defects": 80, "units": 50, "opportunities": 400}),
]  # fmt: skip


def _intervals() -> list[Call]:
    share = {"defectives": 15, "inspected": 148, "level": 0.95}
    rate = {"defects": 10, "units": 12.5, "level": 0.95}
    of_shares = (
        one_sample.wilson_interval,
        one_sample.clopper_pearson_interval,
        one_sample.agresti_coull_interval,
        one_sample.jeffreys_interval,
        one_sample.share_upper_bound,
    )
    of_rates = (one_sample.poisson_interval, one_sample.rate_upper_bound)
    of_size = {**share, "size": 60.5, "method": "Wilson"}
    by_units = [
        (by_unit.shares_by_unit, {"rows": ROWS, "level": 0.95, "beside": ROWS[:1]}),
        (by_unit.design_effects, {"rows": ROWS, "beside": ROWS[:1]}),
    ]
    plain = [(ask, dict(share)) for ask in of_shares] + [(ask, dict(rate)) for ask in of_rates]
    return [*plain, (one_sample.wilson_of_size, of_size), *by_units]


CALLS: dict[str, Call] = {
    f"{ask.__module__.rsplit('.', 1)[1]}.{ask.__name__}": (ask, given) for ask, given in [*_CALLS, *_intervals()]
}
