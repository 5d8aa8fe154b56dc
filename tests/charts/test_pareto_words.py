"""The line on the vital few of a Pareto: named with their share, ties by name, or plainly none."""

import pytest

from qc.charts.pareto import vital_words
from qc.reports.pareto_tables import ParetoTable
from qc.stats.answers import TooLittle
from qc.stats.pareto import VitalFew, pareto, vital_few
from qc.stats.series import counts_of


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
