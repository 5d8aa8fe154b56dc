"""Origins by Bayes' rule against closed forms, and a coverage check by simulation with known truth."""

from fractions import Fraction

import numpy as np
import pytest
from scipy import stats

from qc.stats.by_command.intervals.origin_shares import dirichlet_shares, origins_of_cell
from qc.stats.origins.attribution import SettledCount, settled_origins
from qc.stats.origins.expected_origins import OpenCount, expected_origins
from qc.stats.series import counts_of


def test_the_dirichlet_posterior_is_the_closed_form(case):
    facts = case("dir-posterior-3")

    answer = dirichlet_shares(counts_of(facts.given["counts"], ("S1", "S2", "S3")), facts.given["prior"], 0.95)

    facts.agrees("mean", list(answer.mean))
    facts.agrees("sd", list(answer.deviation))
    facts.agrees("lower", list(answer.low))
    facts.agrees("log_evidence", answer.log_evidence)


def test_the_posterior_agrees_with_scipys_dirichlet():
    """Reference library: scipy.stats.dirichlet and beta."""
    answer = dirichlet_shares(counts_of((7, 0, 4, 1), tuple("abcd")), (0.5,) * 4, 0.9)
    theirs = stats.dirichlet([7.5, 0.5, 4.5, 1.5])

    assert answer.mean == pytest.approx(tuple(theirs.mean()))
    assert answer.deviation == pytest.approx(tuple(np.sqrt(theirs.var())))
    assert answer.high[1] == pytest.approx(stats.beta(0.5, 13.5).ppf(0.95))


def test_the_origin_of_a_cell_is_the_closed_form(case):
    facts = case("dir-origin-cell")
    table, stations, cells = (facts.given[key] for key in ("table", "stations", "cells"))

    for cell in facts.given["obs"]:
        answer = origins_of_cell(table, stations, cells, float(Fraction(facts.given["prior"])), cell)

        assert list(answer.chances) == pytest.approx(facts.answer["posterior"][cell], abs=facts.within["abs"])


def test_expected_counts_hold_the_truth_about_as_often_as_they_say():
    """Coverage by simulation (no outside numbers): origins drawn from known shares, half of them settled.

    60 plants of 4 types with 3 origins each: 720 intervals at level 0.9 should hold the truth in about 0.9 of
    them; below 0.85 they would be too sure of themselves. Seeded, so the outcome is fixed.
    """
    source, origins, held, asked = np.random.default_rng(11), ("S07", "S08", "S09"), 0, 0
    for _ in range(60):
        group = source.dirichlet((2, 2, 2))
        shares = source.dirichlet(6 * group, size=4)
        settled, open_counts, truth = [], [], np.zeros(3, dtype=int)
        for t, share in enumerate(shares):
            path = ("PAN", f"PAN-{t}")
            known, unknown = source.multinomial(15, share), source.multinomial(15, share)
            settled += [SettledCount(path, o, int(n)) for o, n in zip(origins, known, strict=True)]
            open_counts.append(OpenCount(path, origins, None, 15))
            truth += unknown
        answer = expected_origins(
            settled_origins(settled), open_counts, {}, 0, None, (2.0, 6.0), 0.9, 1000, int(source.integers(1e6))
        )
        held += sum(row.low <= truth[origins.index(row.origin)] <= row.high for row in answer.origins)
        asked += 3

    assert 0.85 <= held / asked <= 0.97
