"""The one shape of all control charts: points with their own limits, states, and the evidence behind them."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import inf
from typing import Literal, NamedTuple

from qc.stats.charts.baselines import Baseline, Standard, WeightedBaseline
from qc.stats.refusals import demand_flag

AnyBaseline = Baseline | Standard | WeightedBaseline

State = Literal["in", "signal_high", "signal_low", "gap", "partial"]

# In standard deviations. A point on a limit does not signal, and float rounding must not make it one.
ROUNDING = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartPoint:
    """One period on a chart.

    label: the period; events, size: its counts, as integers came in.
    value, sigma, z: what is plotted, its standard deviation in control, (value - centre) / sigma; all three
    None in a gap. z is +-inf where the baseline leaves no scatter at all and the value is off the centre.
    centre: the centre line (defined in a gap too, unless it depends on the size; then 0 there).
    lower, upper: the limits; lower None means that there is no lower limit, so that no small value can
    signal; upper None likewise (only in a gap, or where a chart has none).
    state: "signal_high" and "signal_low" are strictly beyond a limit; "gap" had nothing inspected;
    "partial" is a period that is not over: plotted with its own limits, judged by no rule.
    excluded: why the period is left out of the baseline, "" if it is not.
    in_baseline: whether the limits rest on this period.
    """

    label: str
    events: float
    size: float
    value: float | None
    centre: float
    sigma: float | None
    lower: float | None
    upper: float | None
    z: float | None
    state: State
    excluded: str
    in_baseline: bool

    @property
    def lower_drawn(self) -> float:
        """Return where to draw the lower limit: at 0 where there is none."""
        return 0.0 if self.lower is None else self.lower

    @property
    def is_signal(self) -> bool:
        """Return whether the point is strictly beyond one of its limits."""
        return self.state in ("signal_high", "signal_low")


@dataclass(frozen=True, slots=True, kw_only=True)
class ControlChart:
    """A chart with all that it was made from.

    kind: "p", "u", "np", "c", "p′", "u′", "demerit", "g", "t"; method: how the limits were set, in words.
    width: limits in standard deviations, 0 where they are exact. high_is: what a high point means.
    cautions: sentences for the reader of the page, none if there is nothing to say.
    changed_since_frozen: labels of baseline periods whose counts differ today; the limits keep the old ones.
    spread: what each sigma was multiplied by for scatter beyond chance (σz of p′ and u′), 1 on other charts.
    median: of g and t charts, on the scale of the points: half of all gaps are no longer by chance alone; their mean
    lies above. None on other charts.
    """

    kind: str
    method: str
    width: float
    high_is: Literal["worse", "better"]
    baseline: AnyBaseline
    points: tuple[ChartPoint, ...]
    cautions: tuple[str, ...]
    changed_since_frozen: tuple[str, ...]
    spread: float = 1.0
    median: float | None = None

    @property
    def signals(self) -> tuple[str, ...]:
        """Return the labels of the points strictly beyond a limit, in order."""
        return tuple(point.label for point in self.points if point.is_signal)

    @property
    def last_judged(self) -> ChartPoint | None:
        """Return the latest point that is over and no gap, None where there is none."""
        return next((point for point in reversed(self.points) if point.state not in ("partial", "gap")), None)

    @property
    def standardised(self) -> tuple[float | None, ...]:
        """Return z of each point for the run rules; None for a gap and for the period still running."""
        return tuple(None if point.state == "partial" else point.z for point in self.points)


class Limits(NamedTuple):
    """How one chart judges one period: what is plotted, its scatter, and the limits already clipped."""

    value: float
    centre: float
    sigma: float
    lower: float | None
    upper: float


def sigma_limits(value: float, centre: float, sigma: float, width: float, ceiling: float) -> Limits:
    """Return limits width standard deviations from the centre, none below if that is not above 0."""
    lower = centre - width * sigma
    return Limits(
        value,
        centre,
        sigma,
        lower if lower > ROUNDING * sigma else None,
        min(ceiling, centre + width * sigma),
    )


def _state(limits: Limits, is_partial: bool) -> State:
    if is_partial:
        return "partial"
    slack = ROUNDING * limits.sigma
    if limits.value > limits.upper + slack:
        return "signal_high"
    if limits.lower is not None and limits.value < limits.lower - slack:
        return "signal_low"
    return "in"


def _z(limits: Limits) -> float:
    away = limits.value - limits.centre
    if limits.sigma > 0:
        return away / limits.sigma
    return 0.0 if away == 0 else (inf if away > 0 else -inf)


def chart_points(
    events: Sequence[float],
    sizes: Sequence[float],
    labels: Sequence[str],
    baseline: AnyBaseline,
    partial_last: bool,
    judge: Callable[[float, float], Limits],
    gap_centre: float,
) -> tuple[ChartPoint, ...]:
    """Return the points of a chart; judge(events, size) gives the limits of one period with size above 0."""
    reasons, members = _membership(baseline)
    if demand_flag(partial_last, "partial_last") and labels and labels[-1] in members:
        raise ValueError(
            f"baseline {baseline.name!r} must hold whole periods only, got {labels[-1]!r}, which is still running"
        )
    last = len(labels) - 1 if partial_last else -1
    points = []
    for place, (label, count, size) in enumerate(zip(labels, events, sizes, strict=True)):
        why = reasons.get(label, "")
        if size == 0:
            points.append(
                ChartPoint(
                    label=label,
                    events=count,
                    size=size,
                    value=None,
                    centre=gap_centre,
                    sigma=None,
                    lower=None,
                    upper=None,
                    z=None,
                    state="gap",
                    excluded=why,
                    in_baseline=False,
                )
            )
            continue
        own = judge(count, size)
        points.append(
            ChartPoint(
                label=label,
                events=count,
                size=size,
                value=own.value,
                centre=own.centre,
                sigma=own.sigma,
                lower=own.lower,
                upper=own.upper,
                z=_z(own),
                state=_state(own, place == last),
                excluded=why,
                in_baseline=label in members,
            )
        )
    return tuple(points)


def _membership(baseline: AnyBaseline) -> tuple[dict[str, str], frozenset[str]]:
    if isinstance(baseline, WeightedBaseline):
        return _membership(baseline.parts[0])
    if isinstance(baseline, Standard):
        return {}, frozenset()
    reasons = {exclusion.label: exclusion.reason for exclusion in baseline.excluded}
    return reasons, frozenset(baseline.labels) - reasons.keys()


def changed_since_frozen(
    events: Sequence[float], sizes: Sequence[float], labels: Sequence[str], baseline: Baseline | Standard
) -> tuple[str, ...]:
    """Return the baseline periods on the chart whose counts are not those that were frozen."""
    if isinstance(baseline, Standard):
        return ()
    frozen = {
        label: (count, size)
        for label, count, size in zip(baseline.labels, baseline.events, baseline.sizes, strict=True)
    }
    today = zip(labels, events, sizes, strict=True)
    return tuple(label for label, count, size in today if frozen.get(label, (count, size)) != (count, size))
