"""Small lasting shifts and patterns in time order: EWMA, cusums, run rules."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import click

from qc.cli.stat.asking import NUMBER, Column, Plain, Statistic
from qc.cli.stat.basis import BASELINE, EXCLUDE, PARTIAL, STANDARD
from qc.cli.stat.cells import number_or_gap, yes_or_no
from qc.cli.stat.charts import DEFECTS, EXPOSURE, RULE_SETS, SHARES, rate_limits, share_limits
from qc.cli.stat.run_lengths import ALARM_SHARE, RATIO
from qc.cli.stat.series import of_rates, of_shares, rates_in
from qc.cli.stat.shifts import rate_ratio, share_ratio
from qc.stats.answers import TooLittle
from qc.stats.by_command.charts.cusum import bernoulli_constants, bernoulli_cusum, normal_cusum, poisson_cusum
from qc.stats.by_command.charts.ewma import ewma_chart, ewma_of_chart
from qc.stats.charts.baselines import Standard
from qc.stats.charts.control_charts import p_chart, u_chart
from qc.stats.charts.run_rules import run_rules
from qc.stats.refusals import demand_counted_on
from qc.stats.series import Rates, Shares
from qc.stats.watch.drift import drift_chance, drift_score
from qc.stats.watch.watch_design import watch_design, watched_sums

VALUES = Column("values", number_or_gap, "the values in time order; an empty cell is a gap.")
TARGET = Plain(argument="target", type=NUMBER, help="What the values should be.")
WEIGHT = Plain(argument="weight", type=NUMBER, help="Weight of the newest value, above 0 and at most 1.")
SIGMAS = Plain(argument="width", type=NUMBER, help="Limits in standard deviations of the average.")
DECISION = Plain(argument="decision", type=NUMBER, help="A sum strictly above this signals.")
RESTART = Plain(
    argument="restart",
    type=click.Choice(["never", "after signal"]),
    help="Whether the sums go back to 0 after a signal.",
    default="never",
)
SHARE = Plain(argument="share", type=NUMBER, help="Share of defective units while nothing has changed.")
SHIFTED_SHARE = Plain(argument="shifted", type=NUMBER, help="Share of defective units to watch for.")
REFERENCE = Plain(
    argument="allowance",
    type=NUMBER,
    help="Reference value taken off for each unit, that of a design; else worked out from the shift.",
    may_lack=True,
)
GAPS = Plain(
    argument="across_gaps", type=click.BOOL, help="Points before and after a gap are neighbours.", is_flag=True
)
FRESH = Plain(
    argument="fresh_from",
    type=click.STRING,
    help="Row from which criteria changed: no pattern reaches across. Repeatable.",
    may_lack=True,
    many=True,
)


def _ewma(values: list[float | None], sigma: float, **settings: Any) -> object:
    """Ask for the EWMA of values that share one standard deviation."""
    return ewma_chart(values, [None if value is None else sigma for value in values], **settings)


def _ewma_of(chart: Callable[..., Any], limits: Callable[..., Any]) -> Callable[..., object]:
    def ask(
        series: Shares | Rates, exclude: list[str], weight: float, width: float, partial_last: bool,
        baseline: str | None = None, standard: float | None = None,
    ) -> object:  # fmt: skip
        rests_on = limits(series, baseline, standard, exclude)
        if isinstance(rests_on, TooLittle):
            return rests_on
        plain = chart(series, rests_on, partial_last=partial_last)
        return ewma_of_chart(plain, weight, width)

    return ask


def _rules(z: list[float | None], labels: list[str], rules: str, **settings: Any) -> object:
    return run_rules(z, labels, RULE_SETS[rules], **settings)


def _units(defective: list[bool], share: float, shifted: float, **settings: Any) -> object:
    ratio = share_ratio(share, shifted)
    chart = bernoulli_cusum(defective, share=share, ratio=ratio, **settings)
    return {"chart": chart, "constants": bernoulli_constants(share, ratio)}


def _poisson_cusum(rates: Rates, rate: float, shifted: float, **settings: Any) -> object:
    return poisson_cusum(rates, rate=rate, ratio=rate_ratio(rate, shifted), **settings)


def _watched(
    labels: list[str], defects: list[int], exposure: list[float], exclude: list[str], ratio: float, share: float,
    baseline: str | None = None,
) -> object:  # fmt: skip
    """Watch the rows after the baseline's last one."""
    rests_on = rate_limits(rates_in(defects, exposure, labels), baseline, None, exclude)
    if isinstance(rests_on, (TooLittle, Standard)):
        return rests_on
    start = labels.index(rests_on.labels[-1]) + 1
    if start == len(labels):
        return TooLittle("watch", "no row stands after the baseline", 0, 1)
    if rests_on.total_events == 0:
        return TooLittle("watch", "nothing was found in the baseline, so there is no rate to watch", 0, 1)
    design = watch_design(int(rests_on.total_events), rests_on.periods, ratio, share, len(labels) - start)
    expected = [size * rests_on.centre for size in exposure[start:]]
    sums = watched_sums(defects[start:], expected, design)
    rows = zip(labels[start:], defects[start:], expected, sums, design.decisions, strict=True)
    points = [
        {"label": label, "defects": found, "expected": usual, "sum": height, "decision": decision, "alarms": alarms}
        for label, found, usual, (height, alarms), decision in rows
    ]
    alarms = [point["label"] for point in points if point["alarms"]]
    return {"signals": alarms, "baseline": rests_on, "ratio": ratio, "share": share,
            "false_alarms_expected": design.alarms, "method": design.method, "points": points}  # fmt: skip


def _drift(labels: list[str], defects: list[int], exposure: list[float]) -> object:
    demand_counted_on(defects, "defects[0]", [float(one) for one in exposure], "exposures[0]")
    strata = [rates_in(defects, exposure, labels)]
    return {"chance": drift_chance(strata), "score": drift_score(strata),
            "periods": len(labels), "defects": sum(defects)}  # fmt: skip


FROM_CHART = (BASELINE, STANDARD, EXCLUDE, WEIGHT, SIGMAS, PARTIAL)

STATISTICS: dict[str, Statistic] = {
    "ewma": Statistic(
        _ewma,
        (VALUES,),
        (
            Plain(argument="sigma", type=NUMBER, help="Standard deviation of one value."),
            TARGET,
            WEIGHT,
            SIGMAS,
            Plain(
                argument="limits",
                type=click.Choice(["exact", "asymptotic"]),
                help="For so many periods, or for a long row.",
            ),
            PARTIAL,
        ),
    ),
    "ewma-p": Statistic(of_shares(_ewma_of(p_chart, share_limits)), SHARES, FROM_CHART),
    "ewma-u": Statistic(of_rates(_ewma_of(u_chart, rate_limits)), (DEFECTS, EXPOSURE), FROM_CHART),
    "cusum": Statistic(
        normal_cusum,
        (VALUES,),
        (
            TARGET,
            Plain(argument="allowance", type=NUMBER, help="What is taken off each departure."),
            DECISION,
            RESTART,
            PARTIAL,
        ),
    ),
    "poisson-cusum": Statistic(
        of_rates(_poisson_cusum),
        (DEFECTS, EXPOSURE),
        (
            Plain(argument="rate", type=NUMBER, help="Defects per unit while nothing has changed."),
            Plain(argument="shifted", type=NUMBER, help="Defects per unit to watch for."),
            DECISION,
            RESTART,
            PARTIAL,
            REFERENCE,
        ),
    ),
    "watched-cusum": Statistic(_watched, (DEFECTS, EXPOSURE), (BASELINE, EXCLUDE, RATIO, ALARM_SHARE)),
    "drift-chance": Statistic(_drift, (DEFECTS, EXPOSURE), ()),
    "bernoulli-cusum": Statistic(
        _units,
        (Column("defective", yes_or_no, "whether the unit had the defect: yes or no."),),
        (SHARE, SHIFTED_SHARE, DECISION, RESTART, REFERENCE),
    ),
    "run-rules": Statistic(
        _rules,
        (Column("z", number_or_gap, "standardised values in time order; an empty cell is a gap."),),
        (
            Plain(argument="rules", type=click.Choice(list(RULE_SETS)), help="Which published set of rules."),
            GAPS,
            FRESH,
        ),
    ),
}
# Not "ewma": its values may lie far from 0, where a drawing begins.
DRAWN = ("ewma-p", "ewma-u", "cusum", "poisson-cusum", "bernoulli-cusum")
STATISTICS |= {name: replace(STATISTICS[name], draws=True) for name in DRAWN}
