"""Counts regressed on columns with exposure: Poisson, quasi-Poisson and negative binomial, one answer for all."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from qc.stats.answers import TooLittle
from qc.stats.by_command.change.likelihood_climb import climbed, profile
from qc.stats.refusals import (
    demand_as_many,
    demand_kind,
    demand_labels,
    demand_level,
    demand_list,
    demand_numbers,
    demand_positive,
)
from qc.stats.series import Rates
from qc.stats.stated_chances import stated_chance

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

SETTLED, ROUNDED = 1e-12, 64  # of the deviance: absolute where counts are small, else machine steps of its terms
SEEN = 1e-4  # gain in log likelihood from which on scatter beyond Poisson could be seen
SIZES = (-7.0, 12.0)  # natural log of theta, where it is sought: from wild scatter to none that could be seen


@dataclass(frozen=True, slots=True, kw_only=True)
class CountRegression:
    """Coefficients on the log rate, the first being the intercept "level".

    errors: standard errors; low, high: of the coefficients at the level; exp of them are rate ratios for one unit
    of a column. pearson_chi_square: on its degrees, about as many for Poisson counts. dispersion: factor on the
    variance that the errors were widened by (1 unless quasi-Poisson). theta: the negative binomial's size, variance
    mean + mean^2 / theta; math.inf for Poisson.
    """

    names: tuple[str, ...]
    coefficients: tuple[float, ...]
    errors: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    p_values: tuple[float, ...]
    deviance: float
    log_likelihood: float
    pearson_chi_square: float
    degrees: int
    dispersion: float
    theta: float
    level: float
    method: str


def poisson_regression(
    rates: Rates,
    columns: Sequence[Sequence[float]],
    names: Sequence[str],
    level: float,
) -> CountRegression | TooLittle:
    """Return the Poisson regression of defects on the columns, with log units as offset.

    columns: one sequence for each name, as long as the series; units more than 0. No defect, fewer observations
    than coefficients plus one, columns that repeat each other, or a fit that does not settle, is TooLittle.
    Computed by statsmodels (GLM, Poisson, log link). Source: McCullagh & Nelder (1989), Generalized Linear Models,
    ch. 6.
    """
    return _regression(rates, columns, names, level, quasi=False)


def quasi_poisson_regression(
    rates: Rates,
    columns: Sequence[Sequence[float]],
    names: Sequence[str],
    level: float,
) -> CountRegression | TooLittle:
    """Return the Poisson regression with errors widened by the Pearson dispersion where that is above 1.

    As poisson_regression; never narrowed. Source: McCullagh & Nelder (1989), sec. 6.2.
    """
    return _regression(rates, columns, names, level, quasi=True)


def negative_binomial_regression(
    rates: Rates,
    columns: Sequence[Sequence[float]],
    names: Sequence[str],
    level: float,
) -> CountRegression | TooLittle:
    """Return the negative binomial regression (variance mean + mean^2 / theta), theta by maximum likelihood.

    As poisson_regression. Where the counts scatter no more than Poisson, theta runs off: it is math.inf then and
    the answer is the Poisson one. Errors take theta as known. statsmodels fits the coefficients for the theta that
    scipy finds on the profile of the likelihood, which does not fail where statsmodels' joint fit warns.
    Source: Venables & Ripley (2002), Modern Applied Statistics with S, sec. 7.4; Lawless (1987), Canadian J.
    Statistics 15, 209-225.
    """
    from scipy.optimize import minimize_scalar

    data = _demand_data(rates, columns, names, level)
    if isinstance(data, TooLittle):
        return data

    def cost(log_theta: float) -> float:
        return -profile(data.counts, data.offset, data.design, math.exp(log_theta))

    # The profile may have more than one top: the highest of a row of places is where the search begins.
    near = min((SIZES[0] + place / 2 for place in range(int(2 * (SIZES[1] - SIZES[0])) + 1)), key=cost)
    found = minimize_scalar(cost, bounds=(near - 0.5, near + 0.5), method="bounded", options={"xatol": 1e-8})
    gained = -float(found.fun) - profile(data.counts, data.offset, data.design, math.inf)
    theta = math.inf if gained < SEEN else math.exp(float(found.x))
    fit = _settled_fit(data, theta)
    if fit is None:
        return _unsettled(data)
    told = "no scatter beyond Poisson" if math.isinf(theta) else "profile likelihood"
    return _answer(data, fit, 1.0, theta, f"negative binomial, {told}")


@dataclass(frozen=True, slots=True)
class _Data:
    counts: "NDArray[np.float64]"
    offset: "NDArray[np.float64]"
    design: "NDArray[np.float64]"
    names: tuple[str, ...]
    level: float


def _regression(
    rates: Rates,
    columns: Sequence[Sequence[float]],
    names: Sequence[str],
    level: float,
    quasi: bool,
) -> CountRegression | TooLittle:
    data = _demand_data(rates, columns, names, level)
    if isinstance(data, TooLittle):
        return data
    fit = _settled_fit(data, math.inf)
    if fit is None:
        return _unsettled(data)
    dispersion = max(1.0, float(fit.pearson_chi2 / fit.df_resid)) if quasi else 1.0
    method = "quasi-Poisson, log link" if quasi else "Poisson, log link"
    return _answer(data, fit, dispersion, math.inf, method)


def _demand_data(
    rates: Rates,
    columns: Sequence[Sequence[float]],
    names: Sequence[str],
    level: float,
) -> _Data | TooLittle:
    import numpy as np

    demand_kind(rates, Rates, "rates")
    counts, exposures = rates.defects, rates.units
    for label, units in zip(rates.labels, exposures, strict=True):
        demand_positive(units, f"units for {label!r}")
    names, level = demand_labels(names, "columns", columns, "names"), demand_level(level)
    named = zip(names, demand_list(columns, "columns"), strict=True)
    columns = tuple(demand_numbers(column, f"columns[{name!r}]") for name, column in named)
    for name, column in zip(names, columns, strict=True):
        demand_as_many(f"columns[{name!r}]", column, "rates", rates.labels)
    need = len(names) + 2
    if len(counts) < need:
        return TooLittle("regression of counts", "too few observations for the columns", len(counts), need)
    if sum(counts) == 0:
        return TooLittle("regression of counts", "no defect in any of them", 0, 1)
    design = np.column_stack([np.ones(len(counts)), *(np.array(column, dtype=float) for column in columns)])
    rank = int(np.linalg.matrix_rank(design))
    if rank < design.shape[1]:
        return TooLittle("regression of counts", "columns repeat each other or do not vary", rank, design.shape[1])
    y = np.array(counts, dtype=float)
    if _runs_off(y, design):
        reason = "the defects lie all on one side of the columns, so no finite slope fits them best"
        return TooLittle("regression of counts", reason, int((y > 0).sum()), int((y > 0).sum()) + 1)
    return _Data(y, np.log(np.array(exposures)), design, ("level", *names), level)


def _runs_off(y: "NDArray[np.float64]", design: "NDArray[np.float64]") -> bool:
    """Return whether some direction lowers the means of zero counts and leaves all others: no maximum then.

    Source: Santos Silva & Tenreyro (2010), Economics Letters 107, 310-312; decided by a linear programme.
    """
    from scipy.optimize import linprog

    zero, some = design[y == 0], design[y > 0]
    if not len(zero):
        return False
    aim = zero.sum(axis=0)
    found = linprog(aim, A_ub=zero, b_ub=[0.0] * len(zero), A_eq=some, b_eq=[0.0] * len(some), bounds=(-1, 1))
    return found.fun is not None and float(found.fun) < -1e-9 * max(1.0, float(abs(aim).max()))


def _fit(data: _Data, theta: float, start: "NDArray[np.float64] | None" = None) -> Any:
    import warnings

    import numpy as np
    from statsmodels.genmod import families
    from statsmodels.genmod.generalized_linear_model import GLM
    from statsmodels.tools.sm_exceptions import PerfectSeparationWarning, SingularMatrixWarning

    family = families.Poisson() if math.isinf(theta) else families.NegativeBinomial(alpha=1 / theta)
    model = GLM(data.counts, data.design, family=family, offset=data.offset)
    with warnings.catch_warnings(), np.errstate(all="ignore"):
        # Counts that lie exactly on the line are called "perfectly predicted"; a slope that runs off was refused, and
        # steps that overflow on the way show in the fit, which is then none.
        for kind in (PerfectSeparationWarning, SingularMatrixWarning, RuntimeWarning):
            warnings.simplefilter("ignore", kind)
        return model.fit(start_params=start, tol=_deviance_settled(data), maxiter=200)


def _deviance_settled(data: _Data) -> float:
    """Return the change of the deviance from which on it has settled: what rounding alone makes of its terms."""
    import numpy as np

    terms = float((data.counts * (1 + np.log(np.maximum(data.counts, 1.0)))).sum())
    return max(SETTLED, ROUNDED * float(np.finfo(float).eps) * terms)


def _settled_fit(data: _Data, theta: float) -> Any:
    """Return the fit, begun again from the top of the likelihood where it did not settle; None where that fails too."""
    fit = _tried(data, theta, None)
    return fit if fit is not None else _tried(data, theta, climbed(data.counts, data.offset, data.design, theta))


def _tried(data: _Data, theta: float, start: "NDArray[np.float64] | None") -> Any:
    import numpy as np

    try:
        fit = _fit(data, theta, start)
    except (ValueError, np.linalg.LinAlgError):  # how the library says that a step left what numbers can hold
        return None
    with np.errstate(all="ignore"):  # worked out when they are first asked for
        told = [*fit.params, *fit.bse, fit.deviance, fit.llf, fit.pearson_chi2]
    return fit if fit.converged and np.isfinite(told).all() and (fit.bse > 0).all() else None


def _unsettled(data: _Data) -> TooLittle:
    reason = "the fit did not settle: exposures or columns lie too far apart for these counts"
    return TooLittle("regression of counts", reason, len(data.counts), len(data.counts) + 1)


def _answer(data: _Data, fit: Any, dispersion: float, theta: float, method: str) -> CountRegression:
    from scipy.special import ndtr, ndtri

    coefficients = tuple(float(b) for b in fit.params)
    errors = tuple(float(e) * math.sqrt(dispersion) for e in fit.bse)
    reach = float(ndtri((1 + data.level) / 2))
    low = tuple(b - reach * e for b, e in zip(coefficients, errors, strict=True))
    high = tuple(b + reach * e for b, e in zip(coefficients, errors, strict=True))
    p_values = tuple(stated_chance(2 * ndtr(-abs(b) / e)) for b, e in zip(coefficients, errors, strict=True))
    return CountRegression(
        names=data.names,
        coefficients=coefficients,
        errors=errors,
        low=low,
        high=high,
        p_values=p_values,
        deviance=float(fit.deviance),
        log_likelihood=float(fit.llf),
        pearson_chi_square=float(fit.pearson_chi2),
        degrees=int(fit.df_resid),
        dispersion=dispersion,
        theta=theta,
        level=data.level,
        method=method,
    )
