"""How many units a period of a p chart needs: for a lower limit, and for seeing a shift soon enough."""

from dataclasses import dataclass
from math import floor

from qc.stats.refusals import demand_inner_share, demand_positive, demand_shifted_share


@dataclass(frozen=True, slots=True)
class PeriodSize:
    """The units that a period needs; bound is the number that formula gives before it is made whole."""

    units: int
    bound: float
    method: str


def size_for_lower_limit(share: float, width: float) -> PeriodSize:
    """Return the fewest units with which a p chart of this share has a lower limit: n > width² (1 - p) / p.

    share in (0, 1); width in standard deviations, above 0. Source: Montgomery, ch. 7, section 7.2.1.
    """
    share = demand_inner_share(share, "share")
    width = demand_positive(width, "width")
    bound = width**2 * (1 - share) / share
    # Strictly above the bound; a bound that is whole but for rounding counts as whole.
    return PeriodSize(floor(bound + 1e-9) + 1, bound, "smallest period with a lower limit")


def size_for_even_chance(share: float, ratio: float, width: float) -> PeriodSize:
    """Return the units with which one point has about an even chance of showing a shift to ratio times the share.

    n = (width / |ratio share - share|)² share (1 - share), made whole upwards.
    Source: Duncan, Quality Control and Industrial Statistics, as in Montgomery, ch. 7, section 7.2.1.
    """
    share, shifted = demand_shifted_share(share, ratio)
    width = demand_positive(width, "width")
    bound = (width / (shifted - share)) ** 2 * share * (1 - share)
    whole = floor(bound + 1e-9)
    units = whole if abs(bound - whole) < 1e-9 else whole + 1
    return PeriodSize(max(1, units), bound, "even chance to see the shift at the next point")
