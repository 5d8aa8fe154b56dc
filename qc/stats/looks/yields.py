"""Yields: first-pass from first presentations only, over several gates, and what defects per unit imply."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log, log1p, prod

from qc.domain.words.speaking import say
from qc.stats.answers import TooLittle
from qc.stats.intervals.one_sample import ShareInterval, wilson_interval
from qc.stats.refusals import (
    demand_as_many,
    demand_count,
    demand_level,
    demand_list,
    demand_number,
    demand_part,
    demand_positive,
    demand_share,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstPass:
    """The share of units whose first presentation had no defect of the counted severity.

    severity: what was counted ("critical", "major and worse", "any"); share, low, high in [0, 1] (Wilson).
    inspected: first presentations; clean: those without such a defect; defectives: the rest.
    """

    severity: str
    share: float
    low: float
    high: float
    inspected: int
    clean: int
    defectives: int
    level: float
    method: str


def first_pass(defectives: int, inspected: int, severity: str, level: float) -> FirstPass | TooLittle:
    """Return first-pass yield from first presentations, with a Wilson interval.

    inspected: units first presented in the period; defectives: those of them with at least one defect of that
    severity, 0..inspected (units, not defects). inspected 0 answers TooLittle. Raises ValueError.
    Source: the definition is common practice, no source; the interval see wilson_interval.
    """
    defectives, inspected = demand_part(defectives, "defectives", inspected, "inspected")
    level = demand_level(level)
    _demand_severity(severity)
    interval = wilson_interval(inspected - defectives, inspected, level)
    if isinstance(interval, TooLittle):
        return TooLittle(f"first-pass yield ({severity})", say("no unit was first presented"), have=0, need=1)
    return _first_pass(interval, severity)


def _first_pass(clean: ShareInterval, severity: str) -> FirstPass:
    return FirstPass(
        severity=severity,
        share=clean.share,
        low=clean.low,
        high=clean.high,
        inspected=clean.inspected,
        clean=clean.defectives,
        defectives=clean.inspected - clean.defectives,
        level=clean.level,
        method=clean.method,
    )


def _demand_severity(severity: str) -> None:
    if not isinstance(severity, str) or not severity.strip():
        raise ValueError(f"severity must say what was counted, got {severity!r}")


@dataclass(frozen=True, slots=True)
class RolledYield:
    """The product of the gates' first-pass yields, and the same number in other words.

    share in [0, 1]; per_gate: the yield that, at every gate alike, would give it; defects_per_unit: the
    -ln(share) that independent defects would need (inf at share 0); gates, shares: what was multiplied.
    """

    share: float
    per_gate: float
    defects_per_unit: float
    gates: tuple[str, ...]
    shares: tuple[float, ...]


def rolled_yield(gates: Sequence[tuple[str, FirstPass | TooLittle]]) -> RolledYield | TooLittle:
    """Return the product of first-pass yields over gates.

    It assumes that the gates fail independently, which first_time_through does not; a gate without a first
    presentation makes it TooLittle, never 0 or 1. Gates must count the same severity. Raises ValueError.
    Source: see rolled_shares.
    """
    for gate in demand_list(gates, "gates"):
        if not isinstance(gate, tuple) or len(gate) != 2 or not isinstance(gate[1], (FirstPass, TooLittle)):
            raise ValueError(f"gates must be pairs of a name and a first-pass yield, got {gate!r}")
    severities = {answer.severity for _, answer in gates if isinstance(answer, FirstPass)}
    if len(severities) > 1:
        raise ValueError(f"gates must count one severity, got {', '.join(sorted(severities))}")
    missing = [name for name, answer in gates if isinstance(answer, TooLittle)]
    if missing:
        reason = f"no unit was first presented at {', '.join(missing)}"
        return TooLittle("rolled yield", reason, have=len(gates) - len(missing), need=len(gates))
    answers = [(name, answer) for name, answer in gates if isinstance(answer, FirstPass)]
    return rolled_shares([name for name, _ in answers], [answer.share for _, answer in answers])


def rolled_shares(gates: Sequence[str], shares: Sequence[float]) -> RolledYield | TooLittle:
    """Return the product of known yields, shares in [0, 1] beside the names of their gates; none: TooLittle.

    Source: the product rule for independent events; Montgomery, Introduction to Statistical Quality Control, ch. 1
    (from memory).
    """
    demand_as_many("shares", shares, "gates", gates)
    gates = demand_list(gates, "gates")
    shares = tuple(
        demand_share(share, f"shares for {gates[i]!r}") for i, share in enumerate(demand_list(shares, "shares"))
    )
    if not gates:
        return TooLittle("rolled yield", "there is no gate", have=0, need=1)
    share = prod(shares)
    needed = -log(share) if share > 0 else float("inf")
    return RolledYield(share, share ** (1 / len(gates)), needed + 0.0, gates, shares)


def first_time_through(defectives: int, inspected: int, severity: str, level: float) -> FirstPass | TooLittle:
    """Return the share of units clean at every gate, of units first presented at every gate.

    Counted unit by unit, so it needs no independence and may differ from rolled_yield on the same data.
    defectives: units with a defect at any gate; inspected 0 answers TooLittle. Raises ValueError.
    Source: as first_pass.
    """
    answer = first_pass(defectives, inspected, severity, level)
    if isinstance(answer, TooLittle):
        return TooLittle(f"first-time-through ({severity})", "no unit went through every gate", 0, 1)
    return answer


@dataclass(frozen=True, slots=True)
class DefectsPerUnit:
    """Defects per unit on first presentations, and the share of clean units that it would imply.

    per_unit: defects per unit; clean_if_independent: exp(-per_unit), too low when defects cluster on units;
    defects, units: what it was computed from.
    """

    per_unit: float
    clean_if_independent: float
    defects: int
    units: int


def defects_per_unit(defects: int, units: int) -> DefectsPerUnit | TooLittle:
    """Return defects per unit; units counts first presentations, 0 answers TooLittle. Raises ValueError.

    Source: the Poisson law, whose chance of no defect is exp(-d).
    """
    defects = demand_count(defects, "defects")
    units = demand_count(units, "units")
    if units == 0:
        if defects > 0:
            raise ValueError(f"units must be at least 1 where there are defects ({defects}), got 0")
        return TooLittle("defects per unit", "no unit was first presented", have=0, need=1)
    return DefectsPerUnit(defects / units, exp(-defects / units), defects, units)


def clustered_yield(per_unit: float, clustering: float) -> float:
    """Return the share of clean units, (1 + d/a)^-a, when defects gather on some units.

    per_unit: defects per unit, at least 0; clustering a above 0: small is strongly clustered, and large tends
    to exp(-d). Source: negative binomial yield, Stapper (1973), Solid-State Electronics 16, 1087-1094 (from
    memory).
    """
    if (per_unit := demand_number(per_unit, "per_unit")) < 0:
        raise ValueError(f"per_unit must be at least 0, got {per_unit!r}")
    clustering = demand_positive(clustering, "clustering")
    return exp(-clustering * log1p(per_unit / clustering))


def defects_per_million(defects: int, units: int, opportunities: int) -> float | TooLittle:
    """Return defects per million opportunities: 1e6 defects / (units times opportunities a unit).

    The count of opportunities is a choice, not a fact: compare only numbers that share it.
    units 0 answers TooLittle. Raises ValueError. Source: the definition is common practice, no source.
    """
    opportunities = demand_count(opportunities, "opportunities", 1)
    rate = defects_per_unit(defects, units)
    return rate if isinstance(rate, TooLittle) else 1e6 * rate.per_unit / opportunities
