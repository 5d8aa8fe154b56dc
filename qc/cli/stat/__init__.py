"""Every statistic over a CSV file. The names stand here; a family's module is imported when one of its own is asked."""

from importlib import import_module

import click

# name → (module under qc.cli.stat, what it answers in one line). A new statistic is an entry in its module's
# STATISTICS, a row here, and a worked example in static/docs/statistics.md.
STATISTICS: dict[str, tuple[str, str]] = {
    "p-chart": ("charts", "Share of defective units by period, against limits from a baseline."),
    "np-chart": ("charts", "Number of defective units, periods of one size."),
    "c-chart": ("charts", "Number of defects, periods of equal opportunity."),
    "u-chart": ("charts", "Defects per unit by period."),
    "p-prime": ("charts", "p chart widened for scatter beyond chance (p′)."),
    "u-prime": ("charts", "u chart widened for scatter beyond chance (u′)."),
    "exact-p": ("charts", "p chart with binomial limits, for small counts."),
    "exact-u": ("charts", "u chart with Poisson limits, for small counts."),
    "predictive-p": ("charts", "Exact p chart that allows for a short baseline."),
    "predictive-u": ("charts", "Exact u chart that allows for a short baseline."),
    "demerit": ("charts", "Weighted defects per unit over severity classes."),
    "g-chart": ("charts", "Units between rare defective units."),
    "exact-g": ("charts", "g chart with geometric limits, sees short gaps too."),
    "predictive-g": ("charts", "Exact g chart that allows for a short baseline."),
    "t-chart": ("charts", "Time between rare events, made symmetric."),
    "exact-t": ("charts", "Time between rare events with exponential limits."),
    "share-dispersion": ("charts", "Whether shares scatter more than chance: p or p′?"),
    "rate-dispersion": ("charts", "Whether rates scatter more than chance: u or u′?"),
    "ewma": ("sequences", "Exponentially weighted moving average of values."),
    "ewma-p": ("sequences", "EWMA of the shares on a p chart."),
    "ewma-u": ("sequences", "EWMA of the rates on a u chart."),
    "cusum": ("sequences", "Tabular cusum of values, both directions."),
    "poisson-cusum": ("sequences", "Cusum of defects for a shift of the rate."),
    "drift-chance": ("sequences", "Chance that defects lie so late in time if the rate has stayed as it was."),
    "watched-cusum": ("sequences", "Cusum of defects after a short baseline, false alarms bounded."),
    "bernoulli-cusum": ("sequences", "Cusum of single units, one by one."),
    "run-rules": ("sequences", "Patterns of points that hardly arise by chance."),
    "run-length": ("run_lengths", "Mean number of points to a signal of run rules."),
    "simulated-run-length": ("run_lengths", "Mean number of points to a signal of any rules, trends too."),
    "operating-characteristic": ("run_lengths", "Chance that a chart misses, by how bad it truly is."),
    "cusum-run-length": ("run_lengths", "Mean number of points to a signal of a cusum."),
    "ewma-run-length": ("run_lengths", "Mean number of points to a signal of an EWMA."),
    "poisson-cusum-run-length": ("run_lengths", "Mean number of periods to a signal of a Poisson cusum."),
    "bernoulli-cusum-run-length": ("run_lengths", "Mean number of units to a signal of a Bernoulli cusum."),
    "poisson-cusum-design": ("run_lengths", "Decision interval for a wanted run length."),
    "watch-design": ("run_lengths", "Decision limits of a watch with bounded false alarms."),
    "chance-of-height": ("run_lengths", "Chance that a watched cusum climbs so high by itself."),
    "drift-limits": ("run_lengths", "Limits of a watch for a slow drift, with bounded false alarms."),
    "chance-of-drift": ("run_lengths", "False alarms as strong that a watch for drift expects."),
    "poisson-allowance": ("run_lengths", "Reference value of a Poisson cusum."),
    "size-for-lower-limit": ("run_lengths", "Units a period needs for a p chart's lower limit."),
    "size-for-even-chance": ("run_lengths", "Units a period needs to see a shift half the time."),
    "binomial-limits": ("limits", "Exact limits on defective units of a period."),
    "poisson-limits": ("limits", "Exact limits on the defects of a period."),
    "predictive-share-limits": ("limits", "Limits on defective units from a short baseline."),
    "predictive-rate-limits": ("limits", "Limits on defects from a short baseline."),
    "geometric-limits": ("limits", "Exact limits on the gap between rare events."),
    "poisson-counts": ("limits", "How many periods would hold 0, 1, 2, … events."),
    "wilson": ("intervals", "Wilson interval for a share of defective units."),
    "clopper-pearson": ("intervals", "Exact interval for a share of defective units."),
    "agresti-coull": ("intervals", "Agresti-Coull interval for a share."),
    "jeffreys": ("intervals", "Jeffreys interval for a share."),
    "share-bound": ("intervals", "One-sided exact upper bound of a share."),
    "share-by-units": ("intervals", "Intervals for shares of defects, where those of one unit go together."),
    "garwood": ("intervals", "Exact interval for a rate of defects."),
    "rate-bound": ("intervals", "One-sided exact upper bound of a rate."),
    "share-difference": ("intervals", "Difference of two shares with its interval."),
    "rate-ratio": ("intervals", "Ratio of two rates with its exact interval."),
    "odds-ratio": ("intervals", "Odds ratio of two groups with its interval."),
    "paired": ("intervals", "Two looks at the same units: do they differ?"),
    "usual-range": ("intervals", "Defects to expect on the next units."),
    "count-tails": ("intervals", "How unlikely a period's count is after a baseline."),
    "pareto": ("causes", "Causes in falling order with cumulative shares."),
    "vital-few": ("causes", "The fewest causes that reach a share of the whole."),
    "pareto-by-severity": ("causes", "Pareto of defects weighted by severity."),
    "could-swap": ("causes", "Which neighbours of a Pareto could swap by chance."),
    "rank-certainty": ("causes", "How sure each rank of a Pareto is."),
    "goodman": ("causes", "Goodman's intervals for all shares at once."),
    "sison-glaz": ("causes", "Sison and Glaz's intervals for many shares."),
    "first-pass": ("yields", "First-pass yield with its interval."),
    "presentations": ("yields", "First-pass and first-time-through from a list of presentations."),
    "rolled": ("yields", "Rolled yield over gates from counts."),
    "rolled-shares": ("yields", "Rolled yield over gates from known yields."),
    "defects-per-unit": ("yields", "Defects per unit and the yield that it implies."),
    "defects-per-million": ("yields", "Defects per million opportunities."),
    "clustered-yield": ("yields", "Share of clean units where defects cluster."),
    "escapes": ("origins", "Where defects were made against where they were found, each defect by itself."),
    "follow-up": ("origins", "Whether a period's units have been seen to the end."),
    "origin-shares": ("origins", "Shares of origins with intervals, each defect by itself."),
    "cell-origins": ("origins", "Chances of stations for a defect of one zone and type."),
    "attribution": ("origins", "Chances of origins for one defect, from settled ones."),
    "borrowing": ("origins", "How much coarser knowledge should lend to finer."),
    "expected-origins": ("origins", "Open defects that each origin probably has."),
    "compare-rates": ("comparison", "Do rates differ between periods or stations?"),
    "compare-rates-simulated": ("comparison", "The same for small counts, by simulation."),
    "compare-profiles": ("comparison", "Do periods have the same profile of types?"),
    "fisher": ("comparison", "Fisher's exact test of two shares."),
    "share-pairs": ("comparison", "Every pair of shares at one joint level."),
    "direct": ("comparison", "Rate in a standard mix of models (direct)."),
    "indirect": ("comparison", "Observed over expected in this mix (indirect)."),
    "exact-ratio": ("comparison", "Ratio of rates common to all models, exact."),
    "mantel-haenszel": ("comparison", "Ratio of rates common to all models, Mantel-Haenszel."),
    "mix-adjust": ("comparison", "Plain and mix-adjusted ratio side by side."),
    "mix-exposure": ("comparison", "Defects that each period's mix of models would expect."),
    "dispersion-within": ("comparison", "Scatter of periods, each model at its own rate."),
    "type-changes": ("comparison", "Which types of defect became more or fewer."),
    "before-after": ("comparison", "Did a corrective action work? Three answers."),
    "exposure-needed": ("comparison", "Units needed before an improvement would show."),
    "benjamini-hochberg": ("comparison", "Which tests stay claims: share of false ones bounded."),
    "holm": ("comparison", "Which tests stay claims: any false one bounded."),
    "bonferroni": ("comparison", "The same, the plain way."),
    "watch-budget": ("comparison", "False-alarm chance for each watched series."),
    "change-point": ("changes", "When a rate changed for good, if it did."),
    "mean-change-point": ("changes", "When a mean changed for good, if it did."),
    "change-points": ("changes", "Several lasting changes of a rate."),
    "mean-change-points": ("changes", "Several lasting changes of a mean."),
    "trend-shares": ("changes", "Trend of shares over scores (Cochran-Armitage)."),
    "mann-kendall": ("changes", "Trend of values in time order."),
    "poisson-trend": ("changes", "Trend of a rate, Poisson."),
    "quasi-poisson-trend": ("changes", "Trend of a rate, widened for scatter."),
    "negative-binomial-trend": ("changes", "Trend of a rate, negative binomial."),
    "poisson-regression": ("changes", "Rates regressed on columns, Poisson."),
    "quasi-poisson-regression": ("changes", "The same, widened for scatter."),
    "negative-binomial-regression": ("changes", "The same, negative binomial."),
    "kappa": ("agreement", "Cohen's kappa of two raters."),
    "linear-kappa": ("agreement", "Weighted kappa, steps apart."),
    "quadratic-kappa": ("agreement", "Weighted kappa, squared steps apart."),
    "weighted-kappa": ("agreement", "Weighted kappa, given weights."),
    "fleiss": ("agreement", "Fleiss' kappa of many raters."),
    "ac1": ("agreement", "Gwet's AC1 of many raters."),
    "ac1-of-two": ("agreement", "Gwet's AC1 of two raters, from their judgements."),
    "krippendorff": ("agreement", "Krippendorff's alpha, gaps allowed."),
    "krippendorff-interval": ("agreement", "Alpha with an interval from drawing units again."),
    "appraisers": ("agreement", "Judgements against the truth: found, missed, false calls."),
    "effectiveness": ("agreement", "Share of units judged right in every trial."),
    "lincoln-petersen": ("agreement", "Defects there were, from two looks."),
    "recapture": ("agreement", "The same with intervals (Chapman)."),
    "missed-by-both": ("agreement", "Defects that neither look found, over pairs of lookers."),
    "relook": ("agreement", "Share of defects that each of two looks found."),
    "relooks": ("agreement", "Inspectors compared on re-looked units only."),
    "shrink-rates": ("ranking", "Stations' rates drawn towards the common one."),
    "hierarchical-rates": ("ranking", "Rates drawn towards the common one, the prior not known either."),
    "shrink-shares": ("ranking", "Stations' shares drawn towards the common one."),
    "james-stein": ("ranking", "Values of one variance drawn towards their mean."),
    "worst-rates": ("ranking", "Chance that each station has the highest rate."),
    "worst-shares": ("ranking", "Chance that each station has the highest share."),
    "funnel-shares": ("ranking", "Which stations' shares lie outside the funnel."),
    "funnel-rates": ("ranking", "Which stations' rates lie outside the funnel."),
    "sampling-plan": ("sampling", "Single sampling plan for a lot from a supplier."),
    "acceptance": ("sampling", "Chance that a plan accepts, binomial."),
    "acceptance-poisson": ("sampling", "Chance that a plan accepts, nonconformities."),
    "acceptance-of-lot": ("sampling", "Chance that a plan accepts one lot."),
    "quality-at": ("sampling", "Quality that a plan accepts with a given chance."),
    "outgoing": ("sampling", "Average outgoing quality and total inspection."),
    "outgoing-limit": ("sampling", "Worst average outgoing quality of a plan."),
}


class Statistics(click.Group):
    """A group whose commands stand in a table; a family is imported when one of its statistics is asked for."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names in table order."""
        return list(STATISTICS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Return the statistic's command, made now; None for an unknown name."""
        if cmd_name not in STATISTICS:
            return None
        from qc.cli.stat.command import command_for

        family, line = STATISTICS[cmd_name]
        return command_for(cmd_name, line, import_module(f"qc.cli.stat.{family}").STATISTICS[cmd_name])

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the table's lines; asking each command for its own would import them all."""
        with formatter.section("Statistics"):
            formatter.write_dl([(name, line) for name, (_, line) in STATISTICS.items()])


@click.command(cls=Statistics, short_help="Compute a statistic over a CSV file.")
def stat() -> None:
    """Compute a statistic over a CSV file and print a table, or JSON with --json.

    The file is UTF-8 with a header row; "-" reads standard input. Columns are chosen by name, in time order where
    time matters. Every statistic has a worked example in static/docs/statistics.md.
    """
