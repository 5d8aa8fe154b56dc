"""Limits of an agreement beyond chance where its standard error is 0 and would claim certainty."""


def limits_without_error(observed: float, expected: float, judged: int, level: float) -> tuple[float, float]:
    """Return the lowest and highest agreement beyond chance that the observed agreement leaves open.

    observed: mean agreement in [0, 1], weighted or not; expected: by chance, below 1; judged: subjects, at least 1.
    The exact limits of a share are taken at observed times judged, which need not be whole: a mean of values between
    0 and 1 scatters no more than a share of the same size. The lower limit is cut at -1.
    Source: Clopper & Pearson (1934), Biometrika 26, 404-413, as beta quantiles.
    """
    from scipy.special import betaincinv

    tail, agreed = (1 - level) / 2, observed * judged
    apart = judged - agreed
    low = float(betaincinv(agreed, apart + 1, tail)) if agreed > ROUNDING else 0.0
    high = float(betaincinv(agreed + 1, apart, 1 - tail)) if apart > ROUNDING else 1.0
    return max(-1.0, (low - expected) / (1 - expected)), (high - expected) / (1 - expected)


ROUNDING = 1e-9  # subjects: a sum of weights this near to none or all is none or all
