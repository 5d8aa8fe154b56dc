"""Exposure that carries the mix of models: how many defects each period's units would have at the baseline's rates.

Taken as exposure by a u chart, cusum, trend or change point, it makes them look at counts over expected counts, so
that a change of models is no signal. The second question here is how much the counts scatter within models.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from qc.domain.words.speaking import say
from qc.stats.answers import TooLittle
from qc.stats.refusals import (
    demand_as_many,
    demand_counted_on,
    demand_kind,
    demand_labels,
    demand_list,
    demand_sizes,
    demand_table,
)
from qc.stats.series import Rates


@dataclass(frozen=True, slots=True)
class MixExposure:
    """Expected defects by period at the baseline's own rates, in the periods' order.

    rates: of the baseline by model. The baseline's scatter is not in them: they are taken as known.
    """

    expected: tuple[float, ...]
    periods: tuple[str, ...]
    models: tuple[str, ...]
    rates: tuple[float, ...]
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DispersionWithin:
    """Variance over Poisson variance of the period totals, each model having its own rate.

    index: Pearson chi-square over its degrees; factor: the same, never below 1, to widen intervals with. p_more:
    chance of so much scatter from Poisson counts. small_expected: periods that expect fewer than 1 defect, where
    the chi-square is rough. periods: those that expect any.
    """

    index: float
    factor: float
    p_more: float
    degrees: int
    small_expected: int
    periods: tuple[str, ...]
    models: tuple[str, ...]
    method: str


def mix_exposure(
    units: Sequence[Sequence[int]],
    periods: Sequence[str],
    baseline: Rates,
) -> MixExposure | TooLittle:
    """Return the expected defects of each period; units[period][model], the baseline by model (its labels).

    A model built in a period and not in the baseline has no rate, and a baseline without a defect has none at all:
    TooLittle. A period without units expects 0: a gap.
    Source: indirect standardisation, Breslow & Day (1987), Statistical Methods in Cancer Research II, ch. 2.
    """
    rows = demand_table(units, "units")
    demand_kind(baseline, Rates, "baseline")
    models, defects, base = baseline.labels, baseline.defects, baseline.units
    demand_as_many("units[0]", rows[0], "the models of the baseline", models)
    periods = demand_labels(periods, "units", rows, "periods")
    unknown = [name for j, name in enumerate(models) if base[j] == 0 and any(row[j] for row in rows)]
    if unknown:
        return TooLittle("expected defects", f"the baseline has no unit of {', '.join(unknown)}", 0, 1)
    if sum(defects) == 0:
        return TooLittle("expected defects", "the baseline holds no defect", 0, 1)
    rates = tuple(d / n if n else 0.0 for d, n in zip(defects, base, strict=True))
    expected = tuple(sum(n * rate for n, rate in zip(row, rates, strict=True)) for row in rows)
    return MixExposure(expected, periods, models, rates, "expected at the baseline's rates by model")


def dispersion_within(
    defects: Sequence[Sequence[int]], units: Sequence[Sequence[float]], periods: Sequence[str], models: Sequence[str]
) -> DispersionWithin | TooLittle:
    """Return the scatter of period totals round what each model's own rate expects; defects[period][model].

    The totals of periods are compared, not the single cells: a week in which the units of all models are worse is
    scatter too. Fewer than two periods that expect any defect is TooLittle.
    Source: Pearson's index of dispersion, Cochran (1954), Biometrics 10, 417-451, with expected counts by model.
    """
    from scipy.special import chdtrc

    counts = demand_table(defects, "defects")
    models, periods = (
        demand_labels(models, "defects[0]", counts[0], "models"),
        demand_labels(periods, "defects", counts, "periods"),
    )
    demand_as_many("units", units, "defects", counts)
    exposures = tuple(demand_sizes(row, f"units[{i}]") for i, row in enumerate(demand_list(units, "units")))
    for i, (row, n) in enumerate(zip(counts, exposures, strict=True)):
        demand_counted_on(row, f"defects[{i}]", n, f"units[{i}]")
    expected = _expected(counts, exposures)
    kept = [i for i, e in enumerate(expected) if e > 0]
    if len(kept) < 2:
        return TooLittle("scatter within models", say("fewer than two periods expect any defect"), len(kept), 2)
    chi_square = sum((sum(counts[i]) - expected[i]) ** 2 / expected[i] for i in kept)
    degrees = len(kept) - 1
    index, small = chi_square / degrees, sum(expected[i] < 1 for i in kept)
    names = tuple(periods[i] for i in kept)
    return DispersionWithin(
        index=index,
        factor=max(1.0, index),
        p_more=float(chdtrc(degrees, chi_square)),
        degrees=degrees,
        small_expected=small,
        periods=names,
        models=models,
        method="Pearson, period totals round each model's own rate",
    )


def _expected(counts: Sequence[Sequence[int]], exposures: Sequence[Sequence[float]]) -> list[float]:
    """Return what each period expects when every model keeps its rate over all periods."""
    whole = [sum(column) for column in zip(*exposures, strict=True)]
    found = [sum(column) for column in zip(*counts, strict=True)]
    rates = [c / n if n else 0.0 for c, n in zip(found, whole, strict=True)]
    return [sum(n * rate for n, rate in zip(row, rates, strict=True)) for row in exposures]
