"""Which control chart a row of weeks is drawn on, and why: scatter of the baseline, its size, small counts."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from qc.domain.counted.counts import WeekCounts
from qc.domain.words.speaking import marked, say, say_many
from qc.reports.asking import SCATTER_LEVEL
from qc.reports.how_many import weeks
from qc.reports.periods import Period
from qc.stats.answers import TooLittle
from qc.stats.charts.baselines import Baseline, rate_baseline, share_baseline
from qc.stats.charts.chart_points import ControlChart
from qc.stats.charts.control_charts import SMALL_COUNT, USUAL_PERIODS, p_chart, u_chart
from qc.stats.charts.dispersion import ChartChoice, rate_chart_choice, share_chart_choice
from qc.stats.charts.exact_limits import exact_p_chart, exact_u_chart, predictive_p_chart, predictive_u_chart
from qc.stats.charts.overdispersed_charts import p_prime_chart, u_prime_chart
from qc.stats.intervals.count_limits import THREE_SIGMA_TAIL
from qc.stats.series import rates_of, shares_of

FEW_EVENTS = (
    30  # of the rarer kind in the whole baseline: below, the centre line is a guess (common practice, no source)
)

WITH_OR_WITHOUT = marked("units with one"), marked("units without one")

Kind = Literal["widened", "predictive", "exact", "plain"]


@dataclass(frozen=True, slots=True)
class ChosenChart:
    """A chart, or why there is none yet, and in words why it is of this kind ("" where there is none)."""

    chart: ControlChart | TooLittle
    why: str


def share_chart(
    baseline: Period | TooLittle,
    counts: WeekCounts,
    before: WeekCounts | None,
    left_out: Mapping[str, str],
    named: tuple[str, str] = WITH_OR_WITHOUT,
) -> ChosenChart:
    """Return the weeks' share of units with a defect on the chart that fits it.

    before: the counts of the baseline's weeks, None where nothing of it was presented; left_out: weeks of the
    baseline that do not enter the limits, each with its reason; named: what the units counted and the
    others are, marked.
    """
    if isinstance(baseline, TooLittle) or before is None:
        return _no_chart(baseline)
    end = baseline.end
    frozen = share_baseline(baseline.name, end, shares_of(before.defectives, before.inspected, before.weeks), left_out)
    if isinstance(frozen, TooLittle):
        return ChosenChart(frozen, "")
    least, what = min((frozen.centre, named[0]), (1 - frozen.centre, named[1]))
    few = [week * least < SMALL_COUNT for week in counts.inspected if week]
    scatter = share_chart_choice(shares_of(*_used(frozen)), SCATTER_LEVEL)
    kind, why = _choice(scatter, frozen, few, least * frozen.total_size, say(what))
    row = shares_of(counts.defectives, counts.inspected, counts.weeks)
    if kind == "widened":
        chart = p_prime_chart(row, frozen, partial_last=counts.partial)
    elif kind == "plain":
        chart = p_chart(row, frozen, partial_last=counts.partial)
    else:
        draw = exact_p_chart if kind == "exact" else predictive_p_chart
        chart = draw(row, frozen, THREE_SIGMA_TAIL, partial_last=counts.partial)
    return ChosenChart(chart, why)


def rate_chart(
    baseline: Period | TooLittle, counts: WeekCounts, before: WeekCounts | None, left_out: Mapping[str, str]
) -> ChosenChart:
    """Return the weeks' defects per unit on the chart that fits them; as share_chart."""
    if isinstance(baseline, TooLittle) or before is None:
        return _no_chart(baseline)
    frozen = rate_baseline(
        baseline.name, baseline.end, rates_of(before.defects, before.inspected, before.weeks), left_out
    )
    if isinstance(frozen, TooLittle):
        return ChosenChart(frozen, "")
    few = [week * frozen.centre < SMALL_COUNT for week in counts.inspected if week]
    scatter = rate_chart_choice(rates_of(*_used(frozen)), SCATTER_LEVEL)
    kind, why = _choice(scatter, frozen, few, frozen.total_events, say("defects"))
    row = rates_of(counts.defects, counts.inspected, counts.weeks)
    if (kind != "widened" or any(few)) and not isinstance(scatter, TooLittle) and scatter.test.index > 1:
        index = scatter.test.index
        chart = predictive_u_chart(row, frozen, THREE_SIGMA_TAIL, partial_last=counts.partial, dispersion=index)
        return ChosenChart(chart, _gathered(scatter))
    if kind == "widened":
        return ChosenChart(u_prime_chart(row, frozen, partial_last=counts.partial), why)
    if kind == "plain":
        chart = u_chart(row, frozen, partial_last=counts.partial)
    else:
        draw = exact_u_chart if kind == "exact" else predictive_u_chart
        chart = draw(row, frozen, THREE_SIGMA_TAIL, partial_last=counts.partial)
    return ChosenChart(chart, why)


def _gathered(scatter: ChartChoice) -> str:
    """Return why exact limits are widened, by a scatter that chance could explain or where few are expected.

    Several defects on one unit have one cause, so that counts of defects scatter more than Poisson's, by more than
    some twenty weeks can prove. Where their variance is twice Poisson's, limits that wait for the proof were left by
    chance once a year; a law of standard deviations, widened alike, by a count of less than 30 nearly as often.
    """
    test = scatter.test
    return say(
        "Exact limits widened: the scatter between {periods} periods is {index:.2f} times what chance gives "
        "(p = {chance:.2g}), as where several defects on a unit have one cause.",
        periods=test.periods,
        index=test.index,
        chance=test.p_more,
    )


def _no_chart(baseline: Period | TooLittle) -> ChosenChart:
    if isinstance(baseline, TooLittle):
        return ChosenChart(baseline, "")
    return ChosenChart(TooLittle("control chart", say("the baseline has no unit of it"), 0, 1), "")


def _used(frozen: Baseline) -> tuple[list[int], list[int], list[str]]:
    """Return the weeks that enter the limits, for the test of their scatter."""
    left_out = {exclusion.label for exclusion in frozen.excluded}
    rows = zip(frozen.labels, frozen.events, frozen.sizes, strict=True)
    used = [(label, int(events), int(size)) for label, events, size in rows if label not in left_out]
    return [row[1] for row in used], [row[2] for row in used], [row[0] for row in used]


def _choice(
    scatter: ChartChoice | TooLittle, frozen: Baseline, few: Sequence[bool], events: float, what: str
) -> tuple[Kind, str]:
    """Return the kind of limits and the sentence that says why.

    Scatter beyond chance comes first: a law that the baseline's own weeks break cannot judge the next ones. Then a
    baseline that is a guess, then counts too small for standard deviations.
    """
    small = sum(few)
    where = say("each week") if small == len(few) else weeks(small)
    if not isinstance(scatter, TooLittle) and scatter.kind.endswith("′"):
        told = say("Limits widened ({kind}), because {reason}", kind=scatter.kind, reason=scatter.reason)
        if not small:
            return "widened", told
        rough = say(
            "In {where} fewer than {least} {what} are expected: there they are rough.",
            where=where,
            least=SMALL_COUNT,
            what=what,
        )
        return "widened", f"{told} {rough}"
    if frozen.periods < USUAL_PERIODS or events < FEW_EVENTS:
        return "predictive", say_many(
            "Exact limits with an allowance for the baseline, because it has {number} week with {events:.0f} {what}: "
            "from {usual} weeks and {few} on its centre line is taken as known.",
            "Exact limits with an allowance for the baseline, because it has {number} weeks with {events:.0f} {what}: "
            "from {usual} weeks and {few} on its centre line is taken as known.",
            frozen.periods,
            events=events,
            what=what,
            usual=USUAL_PERIODS,
            few=FEW_EVENTS,
        )
    told = "" if isinstance(scatter, TooLittle) else f" {scatter.reason[0].upper()}{scatter.reason[1:]}"
    if small:
        why = say(
            "Exact limits, because in {where} fewer than {least} {what} are expected and limits in standard "
            "deviations misjudge so few.",
            where=where,
            least=SMALL_COUNT,
            what=what,
        )
        return "exact", f"{why}{told}"
    why = say(
        "Limits in standard deviations: in each week {least} or more {what} are expected.",
        least=SMALL_COUNT,
        what=what,
    )
    return "plain", f"{why}{told}"
