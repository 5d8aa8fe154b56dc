"""The line on the vital few of a Pareto: named with their share, ties by name, or plainly none."""

from functools import cache

import numpy as np
import pytest

from qc.charts.pages.pareto import CHOSEN, pareto_picture, vital_words
from qc.reports.week.pareto_tables import ParetoTable
from qc.stats.answers import TooLittle
from qc.stats.causes.pareto import VitalFew, pareto, vital_few
from qc.stats.charts.usual_range import UsualRange, usual_range
from qc.stats.series import counts_of
from tests.charts import made_reports as made


def words_of(counts, share=0.8):
    ranked = pareto(counts_of(counts, [f"T{place}" for place in range(len(counts))]), counts, "defects", other="others")
    return vital_words(ParetoTable("count", "defects", (), ranked, ranked, vital_few(ranked, share)), "type")


@pytest.mark.parametrize(
    ("counts", "told"),
    [
        ([60, 25, 10, 5], "The vital few: T0 and T1 make 85.0 % of the defects (2 of 4 types)."),
        ([40, 25, 15, 15, 5], "The vital few: T0, T1 and T2 make 80.0 % of the defects (3 of 5 types; T3 as much"),
        ([5] * 20, "No vital few: it takes 16 of 20 types to make 80.0 % of the defects."),
    ],
)
def test_the_few_are_named_with_their_share_or_there_are_none(counts, told):
    assert words_of(counts).replace("\u202f", " ").replace("\xa0", " ").startswith(told)


def test_nothing_found_has_no_few():
    nothing = TooLittle("Pareto", "nothing was found", 0, 1)
    table = ParetoTable("count", "defects", (), nothing, nothing)

    assert isinstance(table.vital, TooLittle)
    assert not isinstance(table.vital, VitalFew)
    assert vital_words(table, "origin").startswith("No vital few: nothing was found")


@cache
def range_of(defects: int) -> tuple[int, int]:
    usual = usual_range(defects, 16 * 54, 54, 0.95)
    assert isinstance(usual, UsualRange)
    return usual.low, usual.high


def test_rows_chosen_as_the_largest_lie_above_their_range_as_often_as_is_said():
    """Plants of sixty types, 190 defects a week, nothing changes: sixteen weeks, then one whose largest are judged."""
    source, above, beyond, weeks, rows = np.random.default_rng(5), 0, 0, 600, 15
    for _ in range(weeks):
        means = source.dirichlet(np.full(60, 0.6)) * 190
        now = source.poisson(means)
        largest = np.argsort(-now)[:rows]
        low, high = np.array([range_of(int(before)) for before in source.poisson(16 * means)[largest]]).T
        above += int((now[largest] > high).sum())
        beyond += int(((now[largest] > high) | (now[largest] < low)).any())

    assert 1 / 30 < above / (weeks * rows) < 1 / 20
    assert 0.4 < beyond / weeks < 0.6
    assert "one row in twenty-five" in CHOSEN[1]
    assert pareto_picture(made.pareto_tables("type"), "count", "2026-W24", "8 weeks").method == CHOSEN
