"""The law of a watched cusum's sum, period by period, while its rate is only known as a baseline of few periods has it.

The sum moves on a lattice of heights, a fraction of a defect apart; the allowance is moved to it so that the chain's
sum is never below the true one. Heights are told apart more coarsely as the sum climbs, so that nothing is cut off at
the top, and where defects are many; a move that then ends between two heights is shared between them so that its mean
is kept. Neither numpy nor scipy has this; the moves are convolutions by scipy.fft.
"""

from math import ceil, floor, log, sqrt
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from numpy.typing import NDArray

CELLS = 1_024  # heights told apart up to a decision; beyond, two become one
FINE = 12.0  # heights in the square root of a period's usual defects, at least
FINEST = 64  # heights in one defect that are enough for the rarest
NEAR = 4.0  # normal deviates by which the rate's law is followed to the side that does not alarm
BEYOND = 1e-4  # of a chance to be resolved: as much of the rate's law is left out at the side that alarms
APART = 0.5  # of them between two rates, closer where the watch is long against the baseline
NEGLIGIBLE = 1e-17  # chance of a count that is left out


def allowance_of(usual: float, ratio: float) -> float:
    """Return what the cusum takes off each period that has ``usual`` defects, for a shift of the rate by ratio."""
    return usual * (ratio - 1) / log(ratio)


def rates_and_weights(
    defects: int, periods: float, watched: int, up: bool, resolved: float
) -> "tuple[NDArray[Any], NDArray[Any]]":
    """Return rates a period, and weights, that stand for the gamma law that a baseline leaves (Jeffreys' prior).

    Equal steps of the normal deviate that has the rate's chance; an alarm's chance rises from 0 to 1 over
    about sqrt(periods / watched) of them.
    """
    import numpy as np
    from scipy.special import gammainccinv, gammaincinv, ndtr, ndtri

    apart = min(APART, sqrt(periods / watched))
    places = np.arange(-NEAR, apart - ndtri(resolved * BEYOND), apart) * (1 if up else -1)
    shape = defects + 0.5
    below = gammaincinv(shape, ndtr(np.minimum(places, 0.0)))
    above = gammainccinv(shape, ndtr(-np.maximum(places, 0.0)))
    weights = np.exp(-places * places / 2)
    return np.where(places < 0, below, above) / periods, weights / weights.sum()


class WatchChain:
    """The cusum's sum at each of the rates: chances of its heights, ``step`` defects apart, from 0 on.

    resolved: the least chance that is asked about; highest: a height that has to be told from 0, at the cost of the
    steps below it. is_exact: whether every move ends at a height; else a sum at a height may be up to a step higher.
    """

    def __init__(
        self, defects: int, periods: float, ratio: float, watched: int, resolved: float, highest: float = 0.0
    ) -> None:
        import numpy as np

        usual = defects / periods
        self._up = ratio > 1
        self.step, self._allowance = _lattice(usual, allowance_of(usual, ratio), self._up)
        self.is_exact = usual <= FINE**2 and highest <= CELLS * self.step
        while highest > CELLS * self.step:
            self.step *= 2
        rates, self._weights = rates_and_weights(defects, periods, watched, self._up, resolved)
        self._counts, self._chances = _count_chances(rates)
        self._at = np.ones((len(rates), 1))
        self._moves()

    def move(self) -> None:
        """Let a period pass."""
        import numpy as np
        from scipy.fft import irfft, next_fast_len, rfft

        many = self._at.shape[1] + self._law.shape[1] - 1
        size = next_fast_len(many, real=True)
        if size not in self._transforms:
            self._transforms[size] = rfft(self._law, size)
        moved = np.maximum(irfft(rfft(self._at, size) * self._transforms[size], size)[:, :many], 0.0)
        if self._lowest >= 0:
            self._at = np.pad(moved, ((0, 0), (self._lowest, 0)))
            return
        under = min(-self._lowest, many - 1)  # what lies under 0 goes to 0
        self._at = moved[:, under:].copy()
        self._at[:, 0] += moved[:, :under].sum(axis=1)

    def tails(self) -> "NDArray[Any]":
        """Return for each height the chance of a sum strictly above it, averaged over the rates; the last is 0."""
        import numpy as np

        mean = self._weights @ self._at
        return np.append(np.cumsum(mean[::-1])[::-1][1:], 0.0)

    def restart(self, place: int) -> None:
        """Put the sums above a height back to 0."""
        self._at[:, 0] += self._at[:, place + 1 :].sum(axis=1)
        self.forget(place)

    def forget(self, place: int) -> None:
        """Take the sums above a height out."""
        self._at = self._at[:, : place + 1]
        while self._at.shape[1] > CELLS:
            self.coarsen()

    def coarsen(self) -> None:
        """Make steps of height twice as large; a sum between two of them is shared in halves."""
        import numpy as np

        at = np.pad(self._at, ((0, 0), (0, 1 - self._at.shape[1] % 2)))
        kept, between = at[:, ::2].copy(), at[:, 1::2] / 2
        kept[:, :-1] += between
        kept[:, 1:] += between
        self._at, self.step, self.is_exact = kept, 2 * self.step, False
        self._moves()

    def _moves(self) -> None:
        """Work out for each rate the chances of moving by so many steps, the lowest ``_lowest``."""
        import numpy as np

        by = (self._counts - self._allowance) * (1 if self._up else -1) / self.step
        by = np.maximum(by, -(CELLS + 2.0))  # from any height that is 0 already
        below = np.floor(by + 1e-9).astype(int)
        share = np.clip(by - below, 0.0, 1.0)
        share[share < 1e-9] = 0.0  # rounding, not a height between two
        self._lowest = int(below.min())
        law = np.zeros((int(below.max()) - self._lowest + 2, len(self._chances)))
        np.add.at(law, below - self._lowest, (self._chances * (1 - share)).T)
        np.add.at(law, below - self._lowest + 1, (self._chances * share).T)
        self._law = np.ascontiguousarray(law.T)
        self._transforms: dict[int, NDArray[Any]] = {}


def _lattice(usual: float, allowance: float, up: bool) -> tuple[float, float]:
    """Return a step of height and the allowance on that lattice, never further from the usual defects than it is.

    The step is a fraction of a defect, the one of which the allowance is most nearly a whole number on that side.
    """
    fewest = FINE / sqrt(usual)
    if fewest < 1:
        return 1 / fewest, allowance
    fewest = min(ceil(fewest), FINEST)

    def on_lattice(parts: int) -> float:
        many = allowance * parts
        return (floor(many + 1e-9) if up else ceil(many - 1e-9)) / parts

    parts = min(range(fewest, 2 * fewest + 1), key=lambda parts: abs(allowance - on_lattice(parts)))
    return 1 / parts, on_lattice(parts)


def _count_chances(rates: "NDArray[Any]") -> "tuple[NDArray[Any], NDArray[Any]]":
    """Return the counts of a period that may come, and their Poisson chances at each rate."""
    import numpy as np
    from scipy.special import gammaln, xlogy

    least, most = float(rates.min()), float(rates.max())
    counts = np.arange(max(0, int(least - 9 * sqrt(least) - 9)), int(most + 9 * sqrt(most) + 25))
    chances = np.exp(xlogy(counts, rates[:, None]) - rates[:, None] - gammaln(counts + 1))
    kept = chances.max(axis=0) > NEGLIGIBLE
    return counts[kept], chances[:, kept]
