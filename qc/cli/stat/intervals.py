"""Intervals for one share or rate, and two shares or rates against each other: an answer for each row."""

from qc.cli.stat.asking import LEVEL, Column, Statistic, counts_in
from qc.cli.stat.cells import count, name, size
from qc.cli.stat.series import of_one_rate
from qc.domain.counted.by_unit import part_by_unit
from qc.stats.by_command.intervals.contrasts import (
    difference_interval,
    odds_ratio_interval,
    paired_test,
    rate_ratio_interval,
)
from qc.stats.charts.point_tails import at_least, at_most
from qc.stats.charts.usual_range import usual_range
from qc.stats.intervals.by_unit import design_effects, shares_by_unit
from qc.stats.intervals.one_sample import (
    agresti_coull_interval,
    clopper_pearson_interval,
    jeffreys_interval,
    poisson_interval,
    rate_upper_bound,
    share_upper_bound,
    wilson_interval,
)
from qc.stats.refusals import demand_found, demand_part, demand_positive

SHARE = counts_in({"defectives": "defective units.", "inspected": "units inspected."})
RATE = (Column("count", count, "defects."), Column("exposure", size, "units (or hours, metres) they were found on."))
TWO_SHARES = counts_in(
    {
        "first_defectives": "defective units of the first group.",
        "first_inspected": "units inspected in the first group.",
        "second_defectives": "defective units of the second group.",
        "second_inspected": "units inspected in the second group.",
    }
)
TWO_RATES = (
    Column("first_count", count, "defects of the first group."),
    Column("first_exposure", size, "exposure of the first group."),
    Column("second_count", count, "defects of the second group."),
    Column("second_exposure", size, "exposure of the second group."),
)
LOOKS = counts_in({"only_first": "units called defective by the first look alone.",
                   "only_second": "units called defective by the second look alone."})  # fmt: skip
BY_UNIT = (
    Column("share", name, "which share the row is of; those of one table stand in one file."),
    Column("part", count, "defects of the share on one unit."),
    Column("whole", count, "defects on the unit of which they are a part."),
)
UNITS = Column("units", size, "units of the period to judge.")

TAILS = counts_in({"count": "defects of the period.", "defects": "defects of the baseline."})
SIZE = Column("size", size, "the period's exposure over the baseline's.")


def _rate_ratio(
    first_count: int, first_exposure: float, second_count: int, second_exposure: float, level: float
) -> object:
    first = demand_found(first_count, "first_count", first_exposure, "first_exposure")
    second = demand_found(second_count, "second_count", second_exposure, "second_exposure")
    return rate_ratio_interval(*first, *second, level)


def _share_by_units(share: list[str], part: list[int], whole: list[int], level: float) -> object:
    units: dict[str, list[tuple[int, int]]] = {}
    for row, (one, own, every) in enumerate(zip(share, part, whole, strict=True)):
        units.setdefault(one, []).append(demand_part(own, f"part[{row}]", every, f"whole[{row}]"))
    rows = [part_by_unit(own) for own in units.values()]
    told = zip(units, rows, design_effects(rows), shares_by_unit(rows, level), strict=True)
    shares = [
        {"share": one, "units": row.units, "design_effect": effect, "interval": answer}
        for one, row, effect, answer in told
    ]
    return {"shares": shares, "level": level}


def _usual_range(count: int, exposure: float, units: float, level: float) -> object:
    return usual_range(*demand_found(count, "count", exposure, "exposure"), units, level)


def _tails(count: int, defects: int, size: float) -> object:
    demand_positive(size, "size")
    return {"at_least": at_least(count, defects, size), "at_most": at_most(count, defects, size),
            "count": count, "defects": defects, "size": size}  # fmt: skip


STATISTICS: dict[str, Statistic] = {
    "wilson": Statistic(wilson_interval, SHARE, (LEVEL,), each_row=True),
    "clopper-pearson": Statistic(clopper_pearson_interval, SHARE, (LEVEL,), each_row=True),
    "agresti-coull": Statistic(agresti_coull_interval, SHARE, (LEVEL,), each_row=True),
    "jeffreys": Statistic(jeffreys_interval, SHARE, (LEVEL,), each_row=True),
    "share-bound": Statistic(share_upper_bound, SHARE, (LEVEL,), each_row=True),
    "share-by-units": Statistic(_share_by_units, BY_UNIT, (LEVEL,), labels=False),
    "garwood": Statistic(of_one_rate(poisson_interval), RATE, (LEVEL,), each_row=True),
    "rate-bound": Statistic(of_one_rate(rate_upper_bound), RATE, (LEVEL,), each_row=True),
    "share-difference": Statistic(difference_interval, TWO_SHARES, (LEVEL,), each_row=True),
    "rate-ratio": Statistic(_rate_ratio, TWO_RATES, (LEVEL,), each_row=True),
    "odds-ratio": Statistic(odds_ratio_interval, TWO_SHARES, (LEVEL,), each_row=True),
    "paired": Statistic(paired_test, LOOKS, each_row=True),
    "usual-range": Statistic(_usual_range, (*RATE, UNITS), (LEVEL,), each_row=True),
    "count-tails": Statistic(_tails, (*TAILS, SIZE), each_row=True),
}
