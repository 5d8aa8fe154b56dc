"""What the limits of a control chart come from: a named, dated, frozen baseline with its exclusions."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

from qc.domain.words.speaking import say
from qc.stats.answers import TooLittle
from qc.stats.refusals import (
    demand_choice,
    demand_kind,
    demand_labels,
    demand_list,
    demand_number,
    demand_positive,
    plain_number,
)
from qc.stats.series import Rates, Shares

BaselineKind = Literal["share", "rate", "gap"]
KINDS = ("share", "rate", "gap")


@dataclass(frozen=True, slots=True)
class Exclusion:
    """A period that is kept, plotted and judged, but whose counts do not enter the limits, and why."""

    label: str
    reason: str


@dataclass(frozen=True, slots=True)
class Baseline:
    """The periods that a chart's limits rest on, with their counts as they were when it was frozen.

    name: how the plant calls it; frozen_on: the day from which its limits hold.
    kind: "share" (events are defective units, sizes units inspected), "rate" (defects, units) or "gap"
    (events are the lengths of gaps between rare events, sizes 1).
    labels, events, sizes stand beside each other in time order, excluded periods included.
    """

    name: str
    frozen_on: date
    kind: BaselineKind
    labels: tuple[str, ...]
    events: tuple[float, ...]
    sizes: tuple[float, ...]
    excluded: tuple[Exclusion, ...]

    @property
    def used(self) -> tuple[tuple[float, float], ...]:
        """Return (events, size) of each period that enters the limits: not excluded, something inspected."""
        left_out = {exclusion.label for exclusion in self.excluded}
        rows = zip(self.labels, self.events, self.sizes, strict=True)
        return tuple((count, size) for label, count, size in rows if size > 0 and label not in left_out)

    @property
    def periods(self) -> int:
        """Return the number of periods that enter the limits."""
        return len(self.used)

    @property
    def total_events(self) -> float:
        """Return the events (defective units or defects) that enter the limits."""
        return sum(count for count, _ in self.used)

    @property
    def total_size(self) -> float:
        """Return the units that enter the limits."""
        return sum(size for _, size in self.used)

    @property
    def centre(self) -> float:
        """Return the centre line: the pooled ratio, not the mean of the periods' ratios."""
        used = self.used
        return sum(count for count, _ in used) / sum(size for _, size in used)


@dataclass(frozen=True, slots=True)
class Standard:
    """A centre line that was given, not estimated ("standard given"), and who says so.

    centre is a share in [0, 1] (kind "share") or a rate of at least 0 (kind "rate").
    """

    name: str
    frozen_on: date
    kind: BaselineKind
    centre: float
    source: str


def given_standard(name: str, frozen_on: date, kind: BaselineKind, centre: float, source: str) -> Standard:
    """Return a centre line that was given; raises ValueError if it cannot be one of its kind."""
    demand_choice(kind, KINDS, "kind")
    if (centre := demand_number(centre, "centre")) < 0:
        raise ValueError(f"centre must be at least 0, got {centre!r} for {name!r}")
    if kind == "share" and centre > 1:
        raise ValueError(f"centre must be a share between 0 and 1, got {centre!r} for {name!r}")
    return Standard(name, frozen_on, kind, float(centre), source)


def _exclusions(labels: Sequence[str], excluded: Mapping[str, str]) -> tuple[Exclusion, ...]:
    demand_kind(excluded, Mapping, "excluded")
    for label, reason in excluded.items():
        if label not in labels:
            raise ValueError(f"excluded names {label!r}, which is not a period of the baseline")
        if not isinstance(reason, str) or not reason.strip():
            raise ValueError(
                f"excluded needs a reason for {label!r}: an exclusion without one is tampering, got {reason!r}"
            )
    return tuple(Exclusion(label, excluded[label]) for label in labels if label in excluded)


def _of_series(
    name: str, frozen_on: date, kind: BaselineKind, series: Shares | Rates, excluded: Mapping[str, str]
) -> Baseline:
    left_out = _exclusions(series.labels, excluded)
    return Baseline(name, frozen_on, kind, series.labels, series.events, series.sizes, left_out)


def _frozen(baseline: Baseline) -> Baseline | TooLittle:
    if baseline.periods:
        return baseline
    return TooLittle(
        f"baseline {baseline.name!r}", say("nothing was inspected in the periods left in it"), have=0, need=1
    )


def share_baseline(
    name: str,
    frozen_on: date,
    shares: Shares,
    excluded: Mapping[str, str],
) -> Baseline | TooLittle:
    """Freeze a baseline for charts of shares (p, np).

    shares in time order, whole periods only: a period that is still running does not belong in a baseline.
    inspected 0 is a gap and is not counted.
    excluded maps a period's label to the reason for leaving it out; {} leaves none out.
    TooLittle if nothing was inspected in the periods left. Raises ValueError naming argument and value.
    """
    demand_kind(shares, Shares, "shares")
    return _frozen(_of_series(name, frozen_on, "share", shares, excluded))


def rate_baseline(
    name: str,
    frozen_on: date,
    rates: Rates,
    excluded: Mapping[str, str],
) -> Baseline | TooLittle:
    """Freeze a baseline for charts of rates (u, c): defects on units in each whole period; as share_baseline."""
    demand_kind(rates, Rates, "rates")
    return _frozen(_of_series(name, frozen_on, "rate", rates, excluded))


def gap_baseline(
    name: str, frozen_on: date, gaps: Sequence[float], labels: Sequence[str], excluded: Mapping[str, str]
) -> Baseline | TooLittle:
    """Freeze a baseline for charts of gaps between rare events (g, t): closed gaps only, in time order.

    gaps are units or times, at least 0, beside labels (the event that ended each). Otherwise as share_baseline.
    """
    labels, gaps = demand_labels(labels, "gaps", gaps), demand_list(gaps, "gaps")
    for label, gap in zip(labels, gaps, strict=True):
        if demand_number(gap, f"gaps for {label!r}") < 0:
            raise ValueError(f"gaps must be at least 0, got {gap!r} for {label!r}")
    left_out = _exclusions(labels, excluded)
    return _frozen(Baseline(name, frozen_on, "gap", labels, tuple(map(plain_number, gaps)), (1,) * len(gaps), left_out))


@dataclass(frozen=True, slots=True)
class WeightedBaseline:
    """One baseline of rates a severity class, and the weight of each: what a demerit chart rests on.

    classes, weights (above 0) and parts stand beside each other.
    """

    name: str
    frozen_on: date
    classes: tuple[str, ...]
    weights: tuple[float, ...]
    parts: tuple[Baseline | Standard, ...]

    @property
    def centre(self) -> float:
        """Return the expected demerits per unit: the weights times the classes' rates."""
        return sum(weight * part.centre for weight, part in zip(self.weights, self.parts, strict=True))

    @property
    def variance(self) -> float:
        """Return the variance of the demerits of one unit: weights squared times the classes' rates."""
        return sum(weight * weight * part.centre for weight, part in zip(self.weights, self.parts, strict=True))


def weighted_baseline(
    name: str, frozen_on: date, parts: Mapping[str, Baseline | Standard], weights: Mapping[str, float]
) -> WeightedBaseline:
    """Return the baseline of a demerit chart from one rate baseline a severity class.

    Estimated parts must cover the same periods with the same exclusions. Raises ValueError.
    """
    demand_kind(parts, Mapping, "parts")
    demand_kind(weights, Mapping, "weights")
    if not parts:
        raise ValueError("parts must have at least one severity class, got none")
    for severity, part in parts.items():
        demand_kind(part, (Baseline, Standard), f"parts[{severity!r}]")
        if part.kind != "rate":
            raise ValueError(f"parts must be rate baselines, got a {part.kind} baseline for {severity!r}")
        if severity not in weights:
            raise ValueError(f"weights needs a weight for {severity!r}, got {dict(weights)!r}")
        demand_positive(weights[severity], f"weights[{severity!r}]")
    covers = {(part.labels, part.sizes, part.excluded) for part in parts.values() if isinstance(part, Baseline)}
    if len(covers) > 1:
        raise ValueError("parts must cover the same periods with the same exclusions in every severity class")
    return WeightedBaseline(
        name,
        frozen_on,
        tuple(parts),
        tuple(plain_number(weights[severity]) for severity in parts),
        tuple(parts.values()),
    )


def revised_baseline(
    baseline: Baseline, name: str, frozen_on: date, excluded: Mapping[str, str]
) -> Baseline | TooLittle:
    """Return a new baseline from the same counts with these exclusions; the old one stays as it was.

    excluded is the whole new list (label to reason), so that a period can also be taken back in.
    Source of the practice: revising trial limits for points with an assignable cause, e.g. Montgomery,
    Introduction to Statistical Quality Control, ch. 7.
    """
    demand_kind(baseline, Baseline, "baseline")
    left_out = _exclusions(baseline.labels, excluded)
    return _frozen(Baseline(name, frozen_on, baseline.kind, baseline.labels, baseline.events, baseline.sizes, left_out))
