"""The level: units with a defect a week on a p chart, defects per unit plain and adjusted for the model mix."""

from dataclasses import dataclass

from qc.domain.counts import WeekCounts
from qc.stats.adjustment import DirectRate
from qc.stats.answers import TooLittle
from qc.stats.chart_points import ControlChart


@dataclass(frozen=True, slots=True)
class UnitsWithDefect:
    """Share of units with a defect by week: all models (model "") or one; chart or why there is none yet.

    what: the counted severities in words ("critical or major", "any defect"). sentence: the last whole week against
    its limits, the partial week told apart.
    """

    model: str
    model_name: str
    what: str
    counts: WeekCounts
    chart: ControlChart | TooLittle
    sentence: str


@dataclass(frozen=True, slots=True)
class MixAdjustedWeek:
    """Defects per unit of one week, plain and as it would be in the baseline's model mix.

    answer: both rates with their intervals, or TooLittle. defects, units: of the week; partial: not over yet.
    """

    week: str
    units: int
    defects: int
    partial: bool
    answer: DirectRate | TooLittle


@dataclass(frozen=True, slots=True)
class DefectsPerUnitWeeks:
    """Plain and mix-adjusted defects per unit, week by week; criticals are in neither.

    standard: the mix used, units by model in the order of models; standard_name: where it comes from.
    disagree: the plain rate moved and the adjusted one did not, or the other way round (last whole week against
    the weeks before). sentence: says it.
    """

    models: tuple[str, ...]
    standard: tuple[int, ...]
    standard_name: str
    weeks: tuple[MixAdjustedWeek, ...]
    disagree: bool
    sentence: str


@dataclass(frozen=True, slots=True)
class Level:
    """The week's level. units_with_defect: all models first, then each model; a chart of any defect comes last."""

    units_with_defect: tuple[UnitsWithDefect, ...]
    defects_per_unit: DefectsPerUnitWeeks
