"""Control charts of shares, counts and rates, and whether their scatter is more than chance."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import click

from qc.cli.stat.asking import LEVEL, Column, Plain, Statistic, column_weight, counts_in
from qc.cli.stat.basis import BASELINE, EXCLUDE, FROZEN, PARTIAL, STANDARD, TAIL, WIDTH, basis
from qc.cli.stat.cells import count, size
from qc.cli.stat.series import of_rates, of_shares, rates_in
from qc.stats.answers import TooLittle
from qc.stats.by_command.charts.demerit_chart import demerit_chart
from qc.stats.charts.baselines import (
    Baseline,
    Standard,
    gap_baseline,
    given_standard,
    rate_baseline,
    share_baseline,
    weighted_baseline,
)
from qc.stats.charts.chart_points import ControlChart
from qc.stats.charts.control_charts import c_chart, np_chart, p_chart, u_chart
from qc.stats.charts.dispersion import rate_chart_choice, share_chart_choice
from qc.stats.charts.exact_limits import exact_p_chart, exact_u_chart, predictive_p_chart, predictive_u_chart
from qc.stats.charts.overdispersed_charts import p_prime_chart, u_prime_chart
from qc.stats.charts.rare_events import exact_g_chart, exact_t_chart, g_chart, predictive_g_chart, t_chart
from qc.stats.charts.run_rules import NELSON_1984, WESTERN_ELECTRIC_1956, run_rules
from qc.stats.series import Rates, Shares, counts_of

RULE_SETS = {"western-electric": WESTERN_ELECTRIC_1956, "nelson": NELSON_1984}
RULES = Plain(
    argument="rules",
    type=click.Choice(list(RULE_SETS)),
    help="Read the points by this set of run rules too.",
    may_lack=True,
)
SHARES = counts_in({"defectives": "defective units of the period.", "inspected": "units inspected in the period."})
DEFECTS = Column("defects", count, "defects of the period.")
EXPOSURE = Column("exposure", size, "units (or hours, metres) that the defects were found on.")
LIMITS = (BASELINE, STANDARD, EXCLUDE, WIDTH, PARTIAL, RULES)
EXACT = (BASELINE, STANDARD, EXCLUDE, TAIL, PARTIAL, RULES)
ESTIMATED = (BASELINE, EXCLUDE, WIDTH, PARTIAL, RULES)
PREDICTED = (BASELINE, EXCLUDE, TAIL, PARTIAL, RULES)
COUNTING = Plain(
    argument="counting",
    type=click.Choice(["good units between", "up to and with the defective"]),
    help="What a gap counts: without the defective unit that ended it, or with it.",
)

Limits = Baseline | Standard | TooLittle


def share_limits(shares: Shares, baseline: str | None, standard: float | None, exclude: Sequence[str]) -> Limits:
    """Return what the limits of a chart of shares rest on; Refused unless --baseline or --standard is said."""

    def freeze(name: str, rows: slice, excluded: dict[str, str]) -> Baseline | TooLittle:
        return share_baseline(name, FROZEN, shares.rows(rows), excluded)

    return basis("share", shares.labels, baseline, standard, exclude, freeze)


def rate_limits(rates: Rates, baseline: str | None, standard: float | None, exclude: Sequence[str]) -> Limits:
    """Return what the limits of a chart of rates rest on; otherwise as share_limits."""

    def freeze(name: str, rows: slice, excluded: dict[str, str]) -> Baseline | TooLittle:
        return rate_baseline(name, FROZEN, rates.rows(rows), excluded)

    return basis("rate", rates.labels, baseline, standard, exclude, freeze)


def _gap_limits(
    labels: Sequence[str], gaps: Sequence[float], baseline: str | None, standard: float | None, exclude: Sequence[str]
) -> Limits:
    def freeze(name: str, rows: slice, excluded: dict[str, str]) -> Baseline | TooLittle:
        return gap_baseline(name, FROZEN, gaps[rows], labels[rows], excluded)

    return basis("gap", labels, baseline, standard, exclude, freeze)


def _read(chart: ControlChart | TooLittle, rules: str | None) -> object:
    """Return the chart, with what the run rules say of it where they were asked for."""
    if rules is None or isinstance(chart, TooLittle):
        return chart
    labels = [point.label for point in chart.points]
    return {"chart": chart, "run_rules": run_rules(chart.standardised, labels, RULE_SETS[rules], across_gaps=False)}


def _of_shares(chart: Callable[..., ControlChart | TooLittle]) -> Callable[..., object]:
    def ask(
        shares: Shares, exclude: list[str],
        baseline: str | None = None, standard: float | None = None, rules: str | None = None, **settings: Any,
    ) -> object:  # fmt: skip
        rests_on = share_limits(shares, baseline, standard, exclude)
        if isinstance(rests_on, TooLittle):
            return rests_on
        return _read(chart(shares, rests_on, **settings), rules)

    return of_shares(ask)


def _of_rates(chart: Callable[..., ControlChart | TooLittle]) -> Callable[..., object]:
    def ask(
        rates: Rates, exclude: list[str],
        baseline: str | None = None, standard: float | None = None, rules: str | None = None, **settings: Any,
    ) -> object:  # fmt: skip
        rests_on = rate_limits(rates, baseline, standard, exclude)
        if isinstance(rests_on, TooLittle):
            return rests_on
        return _read(chart(rates, rests_on, **settings), rules)

    return of_rates(ask)


def _of_counts(
    labels: list[str], defects: list[int], exclude: list[str],
    baseline: str | None = None, standard: float | None = None, rules: str | None = None, **settings: Any,
) -> object:  # fmt: skip
    rests_on = rate_limits(rates_in(defects, [1] * len(defects), labels), baseline, standard, exclude)
    if isinstance(rests_on, TooLittle):
        return rests_on
    return _read(c_chart(counts_of(defects, labels, name="defects"), rests_on, **settings), rules)


def _of_gaps(chart: Callable[..., ControlChart | TooLittle], named: str) -> Callable[..., object]:
    def ask(
        labels: list[str], exclude: list[str],
        baseline: str | None = None, standard: float | None = None, rules: str | None = None, **settings: Any,
    ) -> object:  # fmt: skip
        gaps = settings.pop(named)
        rests_on = _gap_limits(labels, gaps, baseline, standard, exclude)
        if isinstance(rests_on, TooLittle):
            return rests_on
        return _read(chart(gaps, labels, rests_on, **settings), rules)

    return ask


def _of_demerits(
    labels: list[str], exposure: list[float], counts: Mapping[str, list[int]], weights: list[tuple[str, float]],
    exclude: list[str], baseline: str | None = None, standards: list[tuple[str, float]] | None = None,
    rules: str | None = None, **settings: Any,
) -> object:  # fmt: skip
    given = dict(standards or ())
    rates = {severity: rates_in(defects, exposure, labels) for severity, defects in counts.items()}
    parts: dict[str, Baseline | Standard] = {}
    for severity, of_class in rates.items():
        if given:
            if severity not in given:
                raise ValueError(f"--standard must give a rate for every class, got none for {severity!r}")
            parts[severity] = given_standard("standard given", FROZEN, "rate", given[severity], "command line")
            continue
        part = rate_limits(of_class, baseline, None, exclude)
        if isinstance(part, TooLittle):
            return part
        parts[severity] = part
    rests_on = weighted_baseline("severity classes", FROZEN, parts, dict(weights))
    return _read(demerit_chart(rates, rests_on, **settings), rules)


TIMES = (Column("times", size, "time since the event before, in one unit for all rows."),)
GAPS = (Column("gaps", count, "units since the defective unit before."),)

STATISTICS: dict[str, Statistic] = {
    "p-chart": Statistic(_of_shares(p_chart), SHARES, LIMITS),
    "np-chart": Statistic(_of_shares(np_chart), SHARES, LIMITS),
    "c-chart": Statistic(_of_counts, (DEFECTS,), LIMITS),
    "u-chart": Statistic(_of_rates(u_chart), (DEFECTS, EXPOSURE), LIMITS),
    "p-prime": Statistic(_of_shares(p_prime_chart), SHARES, ESTIMATED),
    "u-prime": Statistic(_of_rates(u_prime_chart), (DEFECTS, EXPOSURE), ESTIMATED),
    "exact-p": Statistic(_of_shares(exact_p_chart), SHARES, EXACT),
    "exact-u": Statistic(_of_rates(exact_u_chart), (DEFECTS, EXPOSURE), EXACT),
    "predictive-p": Statistic(_of_shares(predictive_p_chart), SHARES, PREDICTED),
    "predictive-u": Statistic(_of_rates(predictive_u_chart), (DEFECTS, EXPOSURE), PREDICTED),
    "demerit": Statistic(
        _of_demerits,
        (Column("counts", count, "defects of one severity class.", many=True, option="--class"), EXPOSURE),
        (
            Plain(
                argument="weights",
                type=column_weight,
                help="CLASS=WEIGHT, once for each class.",
                many=True,
                option="--weight",
            ),
            Plain(
                argument="standards",
                type=column_weight,
                help="CLASS=RATE instead of a baseline, once for each class.",
                may_lack=True,
                many=True,
                option="--standard",
            ),
            BASELINE,
            EXCLUDE,
            WIDTH,
            PARTIAL,
            RULES,
        ),
    ),
    "g-chart": Statistic(_of_gaps(g_chart, "gaps"), GAPS, (*LIMITS, COUNTING)),
    "exact-g": Statistic(_of_gaps(exact_g_chart, "gaps"), GAPS, (*EXACT, COUNTING)),
    "predictive-g": Statistic(_of_gaps(predictive_g_chart, "gaps"), GAPS, (*PREDICTED, COUNTING)),
    "t-chart": Statistic(_of_gaps(t_chart, "times"), TIMES, ESTIMATED),
    "exact-t": Statistic(_of_gaps(exact_t_chart, "times"), TIMES, EXACT),
    "share-dispersion": Statistic(of_shares(share_chart_choice), SHARES, (LEVEL,)),
    "rate-dispersion": Statistic(of_rates(rate_chart_choice), (DEFECTS, EXPOSURE), (LEVEL,)),
}
STATISTICS |= {name: replace(one, draws=True) for name, one in STATISTICS.items() if not name.endswith("-dispersion")}
