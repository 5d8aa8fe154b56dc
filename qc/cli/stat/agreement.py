"""How far people agree with each other and with the truth, and how much two looks at the same units missed."""

from collections.abc import Callable, Mapping
from typing import Any

import click

from qc.cli.stat.asking import LEVEL, SEED, Column, Plain, Statistic, counts_in
from qc.cli.stat.cells import Unfit, count, name, number_or_gap, text
from qc.stats.by_command.agreement.agreement import (
    cohen_kappa,
    judgements_of_two,
    linear_weighted_kappa,
    quadratic_weighted_kappa,
    weighted_kappa,
)
from qc.stats.by_command.agreement.effectiveness import against_reference, effectiveness
from qc.stats.by_command.agreement.krippendorff import krippendorff_alpha, krippendorff_interval
from qc.stats.by_command.agreement.many_raters import fleiss_kappa, gwet_ac1
from qc.stats.looks.recapture import chapman, lincoln_petersen, paired_relook
from qc.stats.looks.recapture_strata import missed_by_both
from qc.stats.looks.relooks import shares_found
from qc.stats.refusals import demand_no_more

MOST_CATEGORIES = 100  # a column of units taken for one of judgements made a table of all of them by all
TWO_RATERS = (
    Column("first", name, "what the first rater said."),
    Column("second", name, "what the second rater said."),
    Column("times", count, "how many units were judged so; without it each row is one unit.", required=False),
)
CATEGORY = Plain(
    argument="category",
    type=click.STRING,
    help="A category, in order from one end to the other. Once for each.",
    may_lack=True,
    many=True,
)
DISTANCE = Plain(
    argument="distance",
    type=click.STRING,
    help="FIRST,SECOND,WEIGHT: disagreement of two categories, 0 being none. Repeatable.",
    many=True,
)
CHOSEN = Column("counts", count, "how many raters chose this category, rows being units.", many=True)
LOOKS = counts_in({"first": "defects found by the first look.", "second": "defects found by the second look.",
                   "both": "defects found by both."})  # fmt: skip


def _square(
    first: list[str], second: list[str], times: list[int] | None, category: list[str]
) -> tuple[list[list[int]], list[str]]:
    """Return the square table of two raters' judgements and its categories, in the order given or by name."""
    said = category or sorted({*first, *second})
    if len(said) > MOST_CATEGORIES:
        raise ValueError(
            f"--first and --second must hold at most {MOST_CATEGORIES} categories together, got {len(said)}; name the "
            "columns of what was said (good, bad), not of units or measured values"
        )
    table, place = [[0] * len(said) for _ in said], {judged: at for at, judged in enumerate(said)}
    for one, two, n in zip(first, second, times or [1] * len(first), strict=True):
        for judged in (one, two):
            if judged not in place:
                raise ValueError(f"--category must name every category, got {judged!r} in the file and not there")
        table[place[one]][place[two]] += n
    return table, said


def _kappa(kappa: Callable[..., object]) -> Callable[..., object]:
    def ask(
        first: list[str], second: list[str], category: list[str], level: float, times: list[int] | None = None
    ) -> object:
        return kappa(*_square(first, second, times, category), level)

    return ask


def _weighted(
    first: list[str], second: list[str], category: list[str], distance: list[str], level: float,
    times: list[int] | None = None,
) -> object:  # fmt: skip
    table, said = _square(first, second, times, category)
    apart = [[0.0] * len(said) for _ in said]
    for given in distance:
        one, two, weight = _distance(given)
        if one not in said or two not in said:
            raise ValueError(f"--distance {given!r} must name two of the categories {', '.join(said)}")
        apart[said.index(one)][said.index(two)] = apart[said.index(two)][said.index(one)] = weight
    return weighted_kappa(table, apart, said, level)


def _distance(given: str) -> tuple[str, str, float]:
    parts = [part.strip() for part in given.split(",")]
    try:
        one, two, weight = parts
        return one, two, float(number_or_gap(weight) or 0.0)
    except (ValueError, Unfit) as why:
        raise ValueError(f"--distance {given!r}: FIRST,SECOND,WEIGHT would do, say pass,fail,1") from why


def _ac1_of_two(
    first: list[str], second: list[str], category: list[str], level: float, times: list[int] | None = None
) -> object:
    table, said = _square(first, second, times, category)
    if sum(map(sum, table)) > 100_000:
        raise ValueError(f"times must sum to at most 100000 judged units here, got {sum(map(sum, table))}")
    return gwet_ac1(judgements_of_two(table), said, level)


def _fleiss(counts: Mapping[str, list[int]]) -> object:
    return fleiss_kappa(list(zip(*counts.values(), strict=True)), list(counts))


def _ac1(counts: Mapping[str, list[int]], level: float) -> object:
    return gwet_ac1(list(zip(*counts.values(), strict=True)), list(counts), level)


def _judged(judgements: Mapping[str, list[str]], metric: str) -> list[list[float | None]]:
    """Return the judgements as numbers; on the nominal metric any text is a category."""
    if metric != "nominal":
        return [[_numbered(title, cell) for cell in column] for title, column in judgements.items()]
    said = sorted({cell for column in judgements.values() for cell in column if cell})
    return [[float(said.index(cell)) if cell else None for cell in column] for column in judgements.values()]


def _numbered(title: str, cell: str) -> float | None:
    try:
        return number_or_gap(cell)
    except Unfit as why:
        raise ValueError(f"column {title!r}: {cell!r}: {why}; words are categories on the nominal metric") from why


def _alpha(judgements: Mapping[str, list[str]], metric: str) -> object:
    return krippendorff_alpha(_judged(judgements, metric), metric)  # type: ignore[arg-type]


def _alpha_interval(judgements: Mapping[str, list[str]], metric: str, **settings: Any) -> object:
    return krippendorff_interval(_judged(judgements, metric), metric, **settings)  # type: ignore[arg-type]


RATERS = Column(
    "judgements", text, "one rater's judgements, rows being units; empty is none.", many=True, option="--rater"
)
METRIC = Plain(
    argument="metric",
    type=click.Choice(["nominal", "ordinal", "interval", "ratio"]),
    help="How far two judgements are apart.",
)
AGAINST = counts_in(
    {
        "bad_called_bad": "truly bad ones called bad.",
        "bad_called_good": "truly bad ones called good.",
        "good_called_bad": "truly good ones called bad.",
        "good_called_good": "truly good ones called good.",
    }
)
DRAWS = Plain(
    argument="draws", type=click.IntRange(0, 100_000), help="How many times the units are drawn again.", default=2_000
)


def _relooks(both: list[int], second: list[int], labels: list[str], level: float) -> object:
    demand_no_more(both, "both", second, "second")
    return shares_found(both, second, labels, level)


STATISTICS: dict[str, Statistic] = {
    "kappa": Statistic(_kappa(cohen_kappa), TWO_RATERS, (CATEGORY, LEVEL), labels=False),
    "linear-kappa": Statistic(_kappa(linear_weighted_kappa), TWO_RATERS, (CATEGORY, LEVEL), labels=False),
    "quadratic-kappa": Statistic(_kappa(quadratic_weighted_kappa), TWO_RATERS, (CATEGORY, LEVEL), labels=False),
    "weighted-kappa": Statistic(_weighted, TWO_RATERS, (CATEGORY, DISTANCE, LEVEL), labels=False),
    "fleiss": Statistic(_fleiss, (CHOSEN,), labels=False),
    "ac1": Statistic(_ac1, (CHOSEN,), (LEVEL,), labels=False),
    "ac1-of-two": Statistic(_ac1_of_two, TWO_RATERS, (CATEGORY, LEVEL), labels=False),
    "krippendorff": Statistic(_alpha, (RATERS,), (METRIC,), labels=False),
    "krippendorff-interval": Statistic(_alpha_interval, (RATERS,), (METRIC, LEVEL, DRAWS, SEED), labels=False),
    "appraisers": Statistic(against_reference, AGAINST, (LEVEL,), each_row=True),
    "effectiveness": Statistic(
        effectiveness,
        counts_in({"right": "units judged right in every trial.", "units": "units judged."}),
        (LEVEL,),
        each_row=True,
    ),
    "lincoln-petersen": Statistic(lincoln_petersen, LOOKS, each_row=True),
    "recapture": Statistic(chapman, LOOKS, (LEVEL,), each_row=True),
    "missed-by-both": Statistic(missed_by_both, LOOKS, (LEVEL,)),
    "relook": Statistic(paired_relook, LOOKS, (LEVEL,), each_row=True),
    "relooks": Statistic(
        _relooks,
        counts_in(
            {
                "both": "of those, defects that the inspector had found too.",
                "second": "defects that the second, blind look found on the inspector's units.",
            }
        ),
        (LEVEL,),
    ),
}
