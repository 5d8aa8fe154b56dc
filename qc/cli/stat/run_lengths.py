"""How long until a chart signals, and how large its periods must be: from options alone, without a file."""

import click

from qc.cli.stat.asking import COUNT, LEVEL, NUMBER, SEED, Plain, Statistic
from qc.cli.stat.charts import RULE_SETS
from qc.cli.stat.shifts import rate_ratio, ratio_to, rise_ratio, share_ratio
from qc.stats.by_command.charts.chart_design import size_for_even_chance, size_for_lower_limit
from qc.stats.by_command.charts.cusum import poisson_allowance
from qc.stats.by_command.run_lengths.point_laws import PointLaw, normal_law, rate_law, share_law
from qc.stats.by_command.run_lengths.run_length import operating_characteristic, rules_run_length, zone_rules
from qc.stats.by_command.run_lengths.sequential_run_length import (
    bernoulli_cusum_run_length,
    ewma_run_length,
    normal_cusum_run_length,
    poisson_cusum_design,
    poisson_cusum_run_length,
)
from qc.stats.by_command.run_lengths.simulated_run_length import simulated_run_length
from qc.stats.charts.run_rules import BEYOND_3S, RuleSet
from qc.stats.refusals import demand_inner_share, demand_number, demand_positive, demand_share
from qc.stats.watch.drift import chance_of_drift, drift_limits
from qc.stats.watch.watch_design import chance_of_height, watch_design

SETS = {"beyond-3-sigma": RuleSet("beyond 3 sigma", "Shewhart (1931)", (BEYOND_3S,)), **RULE_SETS}
LAWS = ("normal", "share", "rate")
RULES = Plain(
    argument="rules",
    type=click.Choice(list(SETS)),
    help="The rules; trends and alternation are left out: simulated-run-length has them.",
)
LAW = Plain(
    argument="law",
    type=click.Choice(LAWS),
    help="What one point is: a normal value, a p chart's share, a u chart's rate.",
)
BASELINE = Plain(
    argument="baseline", type=NUMBER, help="Centre line of a share or rate (not for normal).", may_lack=True
)
SIZE = Plain(argument="size", type=NUMBER, help="Units of a period (not for normal).", may_lack=True)
SHIFT = Plain(argument="shift", type=NUMBER, help="How far the mean is off, in standard deviations; 0 is in control.")
ALLOWANCE = Plain(argument="allowance", type=NUMBER, help="What is taken off each period or unit.")
DECISION = Plain(argument="decision", type=NUMBER, help="A sum strictly above this signals.")


def _law(rules: RuleSet, law: str, true: float, baseline: float | None, size: float | None) -> PointLaw:
    if law == "normal":
        return normal_law(rules, true)
    if baseline is None or size is None:
        raise ValueError(f"--baseline and --size must both be given for the law of a {law}")
    if law == "share":
        baseline, true = demand_inner_share(baseline, "baseline_share"), demand_share(true, "true_share")
        return share_law(baseline, int(size), ratio_to(true, baseline))
    baseline, size = demand_positive(baseline, "baseline_rate"), demand_positive(size, "exposure")
    if (true := demand_number(true, "true_rate")) < 0:
        raise ValueError(f"true_rate must be at least 0, got {true!r}")
    return rate_law(baseline, size, ratio_to(true, baseline))


def _run_length(rules: str, law: str, true: float, baseline: float | None = None, size: float | None = None) -> object:
    asked = zone_rules(SETS[rules])
    return {"rules": asked.name, "run_length": rules_run_length(asked, _law(asked, law, true, baseline, size))}


def _simulated(rules: str, shift: float, runs: int, level: float, seed: int) -> object:
    return simulated_run_length(SETS[rules], shift, runs, level, seed)


def _characteristic(
    rules: str, law: str, true: list[float], points: int, baseline: float | None = None, size: float | None = None
) -> object:
    asked = zone_rules(SETS[rules])
    curve = operating_characteristic(asked, [_law(asked, law, one, baseline, size) for one in true], points)
    rows = [{"true": one, "situation": told, "no_signal": chance}
            for one, (told, chance) in zip(true, curve, strict=True)]  # fmt: skip
    return {"rules": asked.name, "points": points, "curve": rows}


def _height(defects: int, periods: float, ratio: float, height: float, watched: int) -> object:
    chance = chance_of_height(defects, periods, ratio, height, watched)
    return {"chance": chance, "height": height, "defects": defects, "periods": periods, "ratio": ratio,
            "watched": watched}  # fmt: skip


def _drift(periods: int, watched: int, chance: float) -> object:
    return {"alarms": chance_of_drift(periods, watched, chance), "chance": chance, "periods": periods,
            "watched": watched}  # fmt: skip


def _allowance(rate: float, shifted: float) -> object:
    return {"allowance": poisson_allowance(rate, rate_ratio(rate, shifted)), "rate": rate, "shifted": shifted}


def _design(mean: float, shifted: float, wanted: float, allowance: float | None = None) -> object:
    return poisson_cusum_design(mean, rise_ratio(mean, shifted), wanted, allowance=allowance)


def _even_chance(share: float, shifted: float, width: float) -> object:
    return size_for_even_chance(share, share_ratio(share, shifted), width)


TRUE = "The true state: shift in standard deviations (normal), true share, or true rate."
RATIO = Plain(argument="ratio", type=NUMBER, help="Shift watched for: the rate times this; below 1 watches for fewer.")
ALARM_SHARE = Plain(argument="share", type=NUMBER, help="False alarms expected at most in each period.")
WATCHED = Plain(argument="watched", type=click.IntRange(1, 520), help="Periods of the watch.")
BEFORE = Plain(argument="periods", type=click.IntRange(3, 520), help="Periods before the watch.")
WATCH = (
    Plain(argument="defects", type=COUNT, help="Defects of the baseline."),
    Plain(argument="periods", type=NUMBER, help="Periods of the baseline."),
    RATIO,
    WATCHED,
)
MEAN = Plain(argument="mean", type=NUMBER, help="Defects a period while nothing has changed.")

STATISTICS: dict[str, Statistic] = {
    "run-length": Statistic(
        _run_length, (), (RULES, LAW, Plain(argument="true", type=NUMBER, help=TRUE), BASELINE, SIZE)
    ),
    "simulated-run-length": Statistic(
        _simulated,
        (),
        (
            Plain(argument="rules", type=click.Choice(list(SETS)), help="The rules, trends and alternation with them."),
            SHIFT,
            Plain(
                argument="runs", type=click.IntRange(1_000, 100_000), help="How many simulated series.", default=10_000
            ),
            LEVEL,
            SEED,
        ),
    ),
    "operating-characteristic": Statistic(
        _characteristic,
        (),
        (
            RULES,
            LAW,
            Plain(argument="true", type=NUMBER, help=TRUE + " Repeatable.", many=True),
            BASELINE,
            SIZE,
            Plain(argument="points", type=COUNT, help="In how many points.", default=1),
        ),
    ),
    "cusum-run-length": Statistic(normal_cusum_run_length, (), (SHIFT, ALLOWANCE, DECISION)),
    "ewma-run-length": Statistic(
        ewma_run_length,
        (),
        (
            SHIFT,
            Plain(argument="weight", type=NUMBER, help="Weight of the newest value, 0.01 to 1."),
            Plain(argument="width", type=NUMBER, help="Limits in standard deviations of the average."),
        ),
    ),
    "poisson-cusum-run-length": Statistic(poisson_cusum_run_length, (), (MEAN, ALLOWANCE, DECISION)),
    "bernoulli-cusum-run-length": Statistic(
        bernoulli_cusum_run_length,
        (),
        (Plain(argument="share", type=NUMBER, help="True share of defective units."), ALLOWANCE, DECISION),
    ),
    "poisson-cusum-design": Statistic(
        _design,
        (),
        (
            MEAN,
            Plain(argument="shifted", type=NUMBER, help="Defects a period to watch for."),
            Plain(argument="wanted", type=NUMBER, help="Periods to a false alarm that are wanted at least."),
            Plain(
                argument="allowance",
                type=NUMBER,
                help="Reference value; else worked out from the shift.",
                may_lack=True,
            ),
        ),
    ),
    "watch-design": Statistic(watch_design, (), (*WATCH, ALARM_SHARE)),
    "chance-of-height": Statistic(
        _height, (), (*WATCH, Plain(argument="height", type=NUMBER, help="Height of the sum, in defects."))
    ),
    "drift-limits": Statistic(drift_limits, (), (BEFORE, WATCHED, ALARM_SHARE)),
    "chance-of-drift": Statistic(
        _drift,
        (),
        (BEFORE, WATCHED, Plain(argument="chance", type=NUMBER, help="What drift-chance gives in the last of them.")),
    ),
    "poisson-allowance": Statistic(
        _allowance,
        (),
        (
            Plain(argument="rate", type=NUMBER, help="Defects per unit while nothing has changed."),
            Plain(argument="shifted", type=NUMBER, help="Defects per unit to watch for."),
        ),
    ),
    "size-for-lower-limit": Statistic(
        size_for_lower_limit,
        (),
        (
            Plain(argument="share", type=NUMBER, help="Share of defective units."),
            Plain(argument="width", type=NUMBER, help="Limits in standard deviations.", default=3.0),
        ),
    ),
    "size-for-even-chance": Statistic(
        _even_chance,
        (),
        (
            Plain(argument="share", type=NUMBER, help="Share of defective units."),
            Plain(argument="shifted", type=NUMBER, help="Share after the shift."),
            Plain(argument="width", type=NUMBER, help="Limits in standard deviations.", default=3.0),
        ),
    ),
}
