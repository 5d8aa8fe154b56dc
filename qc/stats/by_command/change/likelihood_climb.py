"""Where the likelihood of counts on a log link is highest, however far apart the numbers lie.

The library's steps (iterated weighted least squares) can leap out of what numbers hold. On the log link the log
likelihood is concave in the coefficients, for Poisson counts and for negative binomial ones of any given theta, so
that Newton's steps, each damped until it climbs, arrive wherever there is a maximum.
"""

import math
from collections.abc import Callable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

STEPS, TRIES = 1_000, 40
NEAR = 1e-13  # relative gain of the log likelihood from which on there is nothing more to climb
LARGEST = 700.0  # natural log of a mean: beyond, a number is infinite


def climbed(
    counts: "NDArray[np.float64]", offset: "NDArray[np.float64]", design: "NDArray[np.float64]", theta: float
) -> "NDArray[np.float64]":
    """Return the coefficients of the highest likelihood for this theta, math.inf being Poisson.

    design: observations by coefficients, of full rank, its first column ones; offset: log exposures.
    Source: Newton's method with the damping of Levenberg (1944), Quarterly of Applied Mathematics 2, 164-168.
    """
    import numpy as np

    scale = np.abs(design).max(axis=0)
    scaled, place = design / scale, np.zeros(design.shape[1])
    place[0] = np.log(counts.sum()) - np.logaddexp.reduce(offset)

    def height(at: "NDArray[np.float64]") -> float:
        return _log_likelihood(counts, offset + scaled @ at, theta)

    reached, damping = height(place), 1e-6
    for _ in range(STEPS):
        slope, bend = _slope_and_bend(counts, offset + scaled @ place, theta)
        place, higher, damping = _higher(
            place, scaled.T @ slope, scaled.T @ (bend[:, None] * scaled), height, reached, damping
        )
        if higher - reached <= NEAR * max(1.0, abs(reached)):
            break
        reached = higher
    return np.asarray(place / scale)


def profile(
    counts: "NDArray[np.float64]", offset: "NDArray[np.float64]", design: "NDArray[np.float64]", theta: float
) -> float:
    """Return the whole log likelihood at the best coefficients for this theta, as climbed."""
    import numpy as np
    from scipy.special import gammaln

    eta = offset + design @ climbed(counts, offset, design, theta)
    whole = _log_likelihood(counts, eta, theta) - float(gammaln(counts + 1).sum())
    if math.isinf(theta):
        return whole
    parts = gammaln(counts + theta) - gammaln(theta) + theta * math.log(theta)
    return whole + float(np.sum(parts))


def _higher(
    place: "NDArray[np.float64]",
    slope: "NDArray[np.float64]",
    bend: "NDArray[np.float64]",
    height: "Callable[[NDArray[np.float64]], float]",
    reached: float,
    damping: float,
) -> "tuple[NDArray[np.float64], float, float]":
    """Return a higher place, its height and the damping for the next step; the same place where none is higher."""
    import numpy as np

    for _ in range(TRIES):
        try:
            tried = place + np.linalg.solve(bend + damping * np.eye(len(place)), slope)
        except np.linalg.LinAlgError:  # flat in one direction to a number's last digit: a shorter step
            damping *= 10
            continue
        found = height(tried)
        if found > reached:
            return tried, found, max(damping / 100, 1e-12)
        damping *= 10
    return place, reached, damping


def _log_likelihood(counts: "NDArray[np.float64]", eta: "NDArray[np.float64]", theta: float) -> float:
    """Return the log likelihood less what does not depend on the means; eta: their logs."""
    import numpy as np

    if math.isinf(theta):
        return float((counts * eta - np.exp(np.minimum(eta, LARGEST))).sum())
    return float((counts * eta - (counts + theta) * np.logaddexp(math.log(theta), eta)).sum())


def _slope_and_bend(
    counts: "NDArray[np.float64]", eta: "NDArray[np.float64]", theta: float
) -> "tuple[NDArray[np.float64], NDArray[np.float64]]":
    """Return the first and minus the second derivative of each observation's log likelihood by eta."""
    import numpy as np
    from scipy.special import expit

    if math.isinf(theta):
        mean = np.exp(np.minimum(eta, LARGEST))
        return counts - mean, mean
    share = expit(eta - math.log(theta))
    return counts - (counts + theta) * share, (counts + theta) * share * (1 - share)
