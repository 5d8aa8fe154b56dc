"""Is the scatter between periods more than chance? The answer decides between p and p′, u and u′.

scipy.special has the chi-square tails; the sum of squares is one line.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, lgamma, log
from typing import Literal

from qc.domain.words.speaking import marked, say
from qc.stats.answers import TooLittle
from qc.stats.refusals import demand_count, demand_kind, demand_level, demand_number
from qc.stats.series import Rates, Shares
from qc.stats.stated_chances import stated_chance

MOST_COUNTS = 10_000  # that are listed one by one


@dataclass(frozen=True, slots=True, kw_only=True)
class DispersionTest:
    """The index of dispersion: the sum of squared standardised deviations over its degrees of freedom.

    index is 1 where the scatter is chance alone; chi_square is on degrees degrees of freedom then.
    p_more, p_less: probability of so much scatter or more, so little or less, by chance.
    centre: pooled share or rate; variance: of the periods' counts (divisor periods - 1); periods, events,
    size: what was counted. smallest_expected: the least expected count of a period; far below 1 in few
    periods the chi-square is a rough guide.
    """

    index: float
    chi_square: float
    degrees: int
    p_more: float
    p_less: float
    centre: float
    variance: float
    periods: int
    events: int
    size: float
    smallest_expected: float
    method: str


@dataclass(frozen=True, slots=True)
class ChartChoice:
    """Which chart the scatter asks for, and why, in a sentence for the reader of the page."""

    kind: Literal["p", "p′", "u", "u′"]
    reason: str
    test: DispersionTest
    level: float


def share_dispersion(shares: Shares) -> DispersionTest | TooLittle:
    """Return the test of binomial scatter of defective units between periods; inspected 0 is a gap.

    Fewer than two periods, or no (or only) defective units, answer TooLittle. Raises ValueError.
    Source: Cochran (1954), Biometrics 10, 417-451 (variance test for homogeneity of the binomial).
    """
    demand_kind(shares, Shares, "shares")
    rows = [(count, size) for count, size in zip(shares.defectives, shares.inspected, strict=True) if size > 0]
    size = sum(size for _, size in rows)
    share = sum(count for count, _ in rows) / size if size else 0.0
    return _test(rows, share, share * (1 - share), "binomial index of dispersion")


def rate_dispersion(rates: Rates) -> DispersionTest | TooLittle:
    """Return the test of Poisson scatter of defects between periods; units 0 are a gap.

    Fewer than two periods, or no defect, answer TooLittle. Raises ValueError.
    Source: Fisher, Thornton & Mackenzie (1922), Annals of Applied Biology 9, 325-359; Cochran (1954).
    """
    demand_kind(rates, Rates, "rates")
    rows = [(count, size) for count, size in zip(rates.defects, rates.units, strict=True) if size > 0]
    size = sum(size for _, size in rows)
    rate = sum(count for count, _ in rows) / size if size else 0.0
    return _test(rows, rate, rate, "Poisson index of dispersion")


def _test(rows: Sequence[tuple[int, float]], centre: float, variance: float, method: str) -> DispersionTest | TooLittle:
    periods, events = len(rows), sum(count for count, _ in rows)
    if periods < 2:
        return TooLittle("scatter between periods", say("it takes two periods to see scatter"), periods, 2)
    if variance == 0:
        reason = say("all periods are alike: nothing was found, or everything was defective")
        return TooLittle("scatter between periods", reason, have=0, need=1)
    from scipy.special import chdtr, chdtrc

    chi_square = sum((count - size * centre) ** 2 / (size * variance) for count, size in rows)
    mean = events / periods
    return DispersionTest(
        index=chi_square / (periods - 1),
        chi_square=chi_square,
        degrees=periods - 1,
        p_more=stated_chance(chdtrc(periods - 1, chi_square)),
        p_less=stated_chance(chdtr(periods - 1, chi_square)),
        centre=centre,
        variance=sum((count - mean) ** 2 for count, _ in rows) / (periods - 1),
        periods=periods,
        events=events,
        size=sum(size for _, size in rows),
        smallest_expected=centre * min(size for _, size in rows),
        method=method,
    )


def share_chart_choice(shares: Shares, level: float) -> ChartChoice | TooLittle:
    """Return whether a p or a p′ chart fits the scatter of the baseline, judged at level (say 0.99).

    Source: Laney (2002), Quality Engineering 14, 531-537, on when binomial limits are too tight.
    """
    return _choice(share_dispersion(shares), "p", "p′", level)


def rate_chart_choice(rates: Rates, level: float) -> ChartChoice | TooLittle:
    """Return whether a u or a u′ chart fits the scatter of the baseline, judged at level (say 0.99).

    Source: as share_chart_choice.
    """
    return _choice(rate_dispersion(rates), "u", "u′", level)


_TOO_WIDE = marked(
    "the scatter between {periods} periods is {index:.2f} times what chance gives (p = {chance:.2g}): plain limits "
    "would signal too often."
)
_TOO_NARROW = marked(
    "the scatter between {periods} periods is {index:.2f} times what chance gives (p = {chance:.2g}): look for mixed "
    "streams or smoothed counts."
)
_BY_CHANCE = marked(
    "the scatter between {periods} periods is {index:.2f} times what chance gives (p = {chance:.2g}), which chance "
    "alone could give."
)


def _choice(
    test: DispersionTest | TooLittle,
    plain: Literal["p", "u"],
    widened: Literal["p′", "u′"],
    level: float,
) -> ChartChoice | TooLittle:
    level = demand_level(level)
    if isinstance(test, TooLittle):
        return test
    chart: Literal["p", "u", "p′", "u′"] = plain
    chance, words = test.p_more, _BY_CHANCE
    if test.p_more < 1 - level:
        chart, words = widened, _TOO_WIDE
    elif test.p_less < 1 - level:
        chance, words = test.p_less, _TOO_NARROW
    why = say(words, periods=test.periods, index=test.index, chance=chance)
    return ChartChoice(chart, why, test, level)


def expected_poisson_counts(periods: int, mean: float, highest: int) -> tuple[float, ...]:
    """Return how many of so many periods would hold 0, 1, ... highest events at this mean, last not "or more".

    periods at least 1; mean at least 0, in events a period. Raises ValueError. Source: the Poisson law.
    """
    periods = demand_count(periods, "periods", 1)
    if demand_count(highest, "highest") > MOST_COUNTS:
        raise ValueError(f"highest must be at most {MOST_COUNTS}, got {highest!r}")
    if (mean := demand_number(mean, "mean")) < 0:
        raise ValueError(f"mean must be at least 0, got {mean!r}")
    if mean == 0:
        return (float(periods), *(0.0,) * highest)
    # On the log scale: from a mean of 746 on, exp(-mean) alone is 0 in floating point.
    return tuple(periods * exp(count * log(mean) - mean - lgamma(count + 1)) for count in range(highest + 1))
