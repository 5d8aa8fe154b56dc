"""Every chart gives the numbers of the plainest numpy or scipy call; the bench that times the two holds the cases."""

import numpy as np
import pytest

from tests.bench import stats_bench
from tests.bench.stats_bench import CASES


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_a_case_of_the_bench_gives_the_plain_numbers(case):
    assert np.asarray(case.numbers(case.ours()), dtype=float) == pytest.approx(np.asarray(case.plain()), rel=1e-6)


def test_every_chart_has_its_case():
    assert stats_bench.charts_without_a_case() == []


def test_a_chart_without_a_case_is_seen(monkeypatch):
    monkeypatch.setattr(stats_bench, "CASES", [case for case in CASES if case.name != "u chart"])

    assert stats_bench.charts_without_a_case() == ["u_chart"]
