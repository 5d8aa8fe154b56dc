"""What a sampling plan lets through: chance of acceptance, average outgoing quality, average total inspection."""

from dataclasses import dataclass

from qc.stats.refusals import demand_count, demand_level, demand_number
from qc.stats.stated_chances import stated_chance

LARGE_SHARE = 0.10  # of the lot: above it the binomial law is rough and the hypergeometric one is to be taken


@dataclass(frozen=True, slots=True)
class Acceptance:
    """The chance that a plan accepts (0 only where it cannot), and what it was asked for.

    quality: share nonconforming (binomial), nonconformities a unit (Poisson), or nonconforming units in the lot.
    """

    chance: float
    sample: int
    accept: int
    quality: float
    law: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Outgoing:
    """Averages over many lots, where refused lots are inspected whole and nonconforming units replaced.

    quality: outgoing share nonconforming (AOQ); inspected: units looked at in a lot (ATI); incoming: the share that
    came in. rough: the sample is more than a tenth of the lot, so the binomial chance behind these is rough.
    """

    quality: float
    inspected: float
    acceptance: float
    incoming: float
    sample: int
    accept: int
    lot: int
    rough: bool
    method: str


def binomial_acceptance(sample: int, accept: int, share: float) -> Acceptance:
    """Return P(at most accept nonconforming units in the sample) for a long series of lots; share in [0, 1].

    Source: Montgomery, Introduction to Statistical Quality Control, ch. 15 (type B curve).
    """
    from scipy.special import bdtr

    sample, accept = _plan(sample, accept)
    share = _share(share, "share")
    chance = float(bdtr(accept, sample, share))
    return Acceptance(chance if share == 1 else stated_chance(chance), sample, accept, share, "binomial")


def poisson_acceptance(sample: int, accept: int, per_unit: float) -> Acceptance:
    """Return P(at most accept nonconformities in the sample); per_unit is their mean on one unit, at least 0.

    Source: ISO 2859-1 and MIL-STD-105E, curves for nonconformities per 100 items.
    """
    from scipy.special import pdtr

    sample, accept = demand_count(sample, "sample", 1), demand_count(accept, "accept")
    if (per_unit := demand_number(per_unit, "per_unit")) < 0:
        raise ValueError(f"per_unit must be at least 0, got {per_unit!r}")
    return Acceptance(stated_chance(pdtr(accept, sample * per_unit)), sample, accept, float(per_unit), "Poisson")


def hypergeometric_acceptance(lot: int, sample: int, accept: int, nonconforming: int) -> Acceptance:
    """Return P(at most accept in the sample) from one lot with so many nonconforming units.

    Source: Montgomery, ch. 15 (type A curve).
    """
    from scipy.stats import hypergeom

    sample, accept = _plan(sample, accept)
    lot = demand_count(lot, "lot", sample)
    if demand_count(nonconforming, "nonconforming") > lot:
        raise ValueError(f"nonconforming must be at most the lot ({lot}), got {nonconforming}")
    chance = float(hypergeom(lot, nonconforming, sample).cdf(accept))
    cannot = nonconforming - (lot - sample) > accept  # so many are in every sample
    return Acceptance(0.0 if cannot else stated_chance(chance), sample, accept, float(nonconforming), "hypergeometric")


def quality_at(sample: int, accept: int, chance: float) -> float:
    """Return the share nonconforming that the plan accepts with this chance (0.95: producer's, 0.10: consumer's point).

    A plan that accepts everything (accept = sample) has none and is refused. Binomial; inverse by the beta quantile.
    Source: Clopper & Pearson (1934), Biometrika 26, 404-413 (the binomial tail as a beta tail).
    """
    from scipy.special import betaincinv

    sample, accept = _plan(sample, accept)
    if accept >= sample:
        raise ValueError(f"accept must be less than the sample ({sample}), got {accept}: the plan accepts everything")
    return float(betaincinv(accept + 1, sample - accept, 1 - demand_level(chance, "chance")))


def outgoing(sample: int, accept: int, lot: int, share: float) -> Outgoing:
    """Return average outgoing quality Pa p (N - n) / N and average total inspection n + (1 - Pa)(N - n).

    Source: Montgomery, ch. 15 (rectifying inspection).
    """
    sample, accept = _plan(sample, accept)
    acceptance = binomial_acceptance(sample, accept, share)
    lot = demand_count(lot, "lot", sample)
    passed = acceptance.chance
    quality = passed * acceptance.quality * (lot - sample) / lot
    inspected = sample + (1 - passed) * (lot - sample)
    rough = sample > LARGE_SHARE * lot
    method = "rectifying inspection, binomial"
    return Outgoing(
        quality=quality,
        inspected=inspected,
        acceptance=passed,
        incoming=acceptance.quality,
        sample=sample,
        accept=accept,
        lot=lot,
        rough=rough,
        method=method,
    )


def outgoing_limit(sample: int, accept: int, lot: int) -> Outgoing:
    """Return the worst average outgoing quality (AOQL) over all incoming shares, with the share at which it is met.

    A plan that accepts everything has its worst at share 1. Source: Montgomery, ch. 15; Dodge & Romig.
    """
    from scipy.optimize import minimize_scalar

    sample, accept = _plan(sample, accept)
    lot = demand_count(lot, "lot", sample)
    if accept >= sample:
        return outgoing(sample, accept, lot, 1.0)
    # Pa p has one peak, between nought and the share that is accepted once in a million.
    most = quality_at(sample, accept, 1e-6)
    found = minimize_scalar(
        lambda share: -binomial_acceptance(sample, accept, float(share)).chance * float(share),
        bounds=(0.0, most),
        method="bounded",
        options={"xatol": 1e-10},
    )
    return outgoing(sample, accept, lot, float(found.x))


def _plan(sample: int, accept: int) -> tuple[int, int]:
    sample, accept = demand_count(sample, "sample", 1), demand_count(accept, "accept")
    if accept > sample:
        raise ValueError(f"accept must be at most the sample ({sample}), got {accept}")
    return sample, accept


def _share(share: float, name: str) -> float:
    if not 0 <= demand_number(share, name) <= 1:
        raise ValueError(f"{name} must be between 0 and 1, got {share!r}")
    return float(share)
