"""A shift as the commands take it, the share or rate that is watched for, as the ratio that statistics take."""

from math import inf, nextafter

from qc.stats.refusals import demand_inner_share, demand_number, demand_positive


def ratio_to(shifted: float, usual: float) -> float:
    """Return what usual is multiplied by to give shifted, to the last digit where a computer's numbers have one."""
    near = shifted / usual
    return next((one for one in (near, nextafter(near, inf), nextafter(near, 0)) if usual * one == shifted), near)


def rate_ratio(rate: float, shifted: float) -> float:
    """Return the ratio of --shifted to --rate; ValueError in the words of the two options."""
    rate, shifted = demand_positive(rate, "rate"), demand_positive(shifted, "shifted")
    if rate == shifted:
        raise ValueError(f"shifted must differ from rate ({rate!r}), got {shifted!r}")
    return ratio_to(shifted, rate)


def share_ratio(share: float, shifted: float) -> float:
    """Return the ratio of --shifted to --share, both above 0 and below 1; ValueError in the words of the options."""
    share, shifted = demand_inner_share(share, "share"), demand_inner_share(shifted, "shifted")
    if share == shifted:
        raise ValueError(f"shifted must differ from share ({share!r}), got {shifted!r}")
    return ratio_to(shifted, share)


def rise_ratio(mean: float, shifted: float) -> float:
    """Return the ratio of --shifted to --mean, a rise; ValueError in the words of the two options."""
    mean = demand_positive(mean, "mean")
    if (shifted := demand_number(shifted, "shifted")) <= mean:
        raise ValueError(f"shifted must be above mean ({mean!r}), got {shifted!r}")
    return ratio_to(shifted, mean)
