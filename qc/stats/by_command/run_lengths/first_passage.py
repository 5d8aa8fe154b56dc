"""How many steps a chain takes to its end, whatever their number: thousands of millions keep their digits.

numpy solves the equations. Where the end is so far off that the chance of it is lost in the rounding of 1 - chance of
staying, the states are taken out one by one without a subtraction; neither numpy nor scipy has that.
"""

import warnings
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from scipy.sparse import csr_matrix

RESOLVED = 1e8  # steps up to which solving the equations keeps eight digits
MOST_TAKEN_OUT = 4_001  # states that can be taken out one by one, in half a minute at worst


def mean_steps(chain: "NDArray[Any]", ends: "NDArray[Any]") -> float:
    """Return the mean number of steps from state 0 to the end, that one counted; inf where it may never come.

    chain[i, j]: chance of a step from i to j; ends[i]: chance of the end at the next step, given by itself and not as
    1 less the rest. Source: Grassmann, Taksar & Heyman (1985), Operations Research 33, 1107-1116.
    """
    import numpy as np

    try:
        found = float(np.linalg.solve(np.eye(len(chain)) - chain, np.ones(len(chain)))[0])
    except np.linalg.LinAlgError:
        found = np.nan
    return found if 0 < found < RESOLVED else _taken_out(chain, ends)


def mean_steps_sparse(chain: "csr_matrix[Any]", ends: "NDArray[Any]") -> float:
    """Return the same for a chain with few steps from each state.

    ValueError where more than 4001 states have their end beyond 1e8 steps.
    """
    import numpy as np
    from scipy.sparse import identity
    from scipy.sparse.linalg import MatrixRankWarning, spsolve

    states = chain.shape[0]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", MatrixRankWarning)  # an end that may never come: told by the states below
        lengths = spsolve((identity(states, format="csc") - chain.tocsc()), np.ones(states))
    found = float(np.atleast_1d(lengths)[0])
    if 0 < found < RESOLVED:
        return found
    if states > MOST_TAKEN_OUT:
        raise ValueError(f"rules must signal within {RESOLVED:g} points on average, {states} situations take longer")
    return _taken_out(chain.toarray(), ends)


def _taken_out(chain: "NDArray[Any]", ends: "NDArray[Any]") -> float:
    """Return the mean steps from state 0: each state's time and chances go to those that lead to it.

    Beyond 1e308 steps it is inf.
    """
    import numpy as np

    chain, ends, steps = np.array(chain, dtype=float), np.array(ends, dtype=float), np.ones(len(chain))
    for state in range(len(chain) - 1, 0, -1):
        onward = chain[state, :state]
        leaving = float(onward.sum() + ends[state])
        reached = chain[:state, state] > 0
        if leaving == 0:
            steps[:state][reached] = np.inf
            continue
        share = chain[:state, state] / leaving
        chain[:state, :state] += share[:, None] * onward
        ends[:state] += share * ends[state]
        with np.errstate(over="ignore", invalid="ignore"):
            steps[:state][reached] += share[reached] * steps[state]
    steps[np.isnan(steps)] = np.inf  # a chance below any number, times a time beyond any
    return float(steps[0] / ends[0]) if ends[0] > 0 else float("inf")
