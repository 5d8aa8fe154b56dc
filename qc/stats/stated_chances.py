"""No chance of what can happen is stated as 0: the least that a method tells apart stands for whatever is less."""

LEAST = 1e-300  # of a tail that is worked out by itself: below, numbers lose their digits and end at 0
BY_DIFFERENCE = 1e-12  # of what is left of 1


def stated_chance(chance: float, least: float = LEAST) -> float:
    """Return a chance as it is stated: from ``least``, which stands for whatever is less, to 1."""
    return min(1.0, max(least, float(chance)))
