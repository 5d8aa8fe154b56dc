"""Capture and recapture against published examples and simulation."""

import numpy as np
from scipy import stats

from qc.stats.looks.recapture import chapman, lincoln_petersen, paired_relook


def test_the_rabbits_have_the_published_estimate(case):
    facts = case("cr-rabbits")
    n1, n2, m = (facts.given[key] for key in ("n1", "n2", "m"))

    answer = chapman(n1, n2, m, 0.95)

    facts.agrees("chapman", answer.total)
    facts.agrees("var", answer.variance)
    facts.agrees("se", answer.error)
    facts.agrees("ci", [answer.low, answer.high])
    facts.agrees("lincoln_petersen", lincoln_petersen(n1, n2, m).total)


def test_the_turtles_have_the_textbook_estimates(case):
    facts = case("cr-turtles")
    n1, n2, m = (facts.given[key] for key in ("n1", "n2", "m"))

    facts.agrees("chapman", chapman(n1, n2, m, 0.95).total)
    facts.agrees("lincoln_petersen", lincoln_petersen(n1, n2, m).total)


def test_two_inspectors_by_hand(case):
    facts = case("cr-two-inspectors")
    n1, n2, m = (facts.given[key] for key in ("n1", "n2", "m"))
    petersen, relook, nearly = lincoln_petersen(n1, n2, m), paired_relook(n1, n2, m, 0.95), chapman(n1, n2, m, 0.95)

    facts.agrees("lincoln_petersen", petersen.total)
    facts.agrees("found", petersen.found)
    facts.agrees("remaining_lp", petersen.left)
    facts.agrees("chapman", nearly.total)
    facts.agrees("remaining_chapman", nearly.left)
    facts.agrees("eff1", relook.by_first.share)
    facts.agrees("eff2", relook.by_second.share)
    facts.agrees("eff_joint", relook.by_either)


def test_the_intervals_hold_the_truth_as_often_as_they_say():
    """Simulation with known truth, seeded: 120 defects, looks that find 0.62 and 0.9; level 0.9.

    The log interval covers like the normal one and never claims fewer than were found.
    """
    source, held = np.random.default_rng(31), {"log": 0, "exact": 0, "share": 0}
    for _ in range(600):
        seen, again = source.random(120) < 0.62, source.random(120) < 0.9
        counts = int(seen.sum()), int(again.sum()), int((seen & again).sum())
        answer, relook = chapman(*counts, 0.9), paired_relook(*counts, 0.9)
        held["log"] += answer.low_log <= 120 <= answer.high_log
        held["exact"] += answer.low_exact <= 120 <= answer.high_exact
        held["share"] += relook.by_first.low <= 0.62 <= relook.by_first.high

    assert 0.85 <= held["log"] / 600 <= 0.97
    assert held["exact"] / 600 >= 0.89
    assert 0.88 <= held["share"] / 600 <= 0.97


def test_the_overlap_chance_is_scipys_hypergeometric():
    """Reference library: scipy.stats.hypergeom; the exact limits are where it crosses the tail."""
    answer = chapman(25, 20, 15, 0.95)

    def overlap(total):
        return stats.hypergeom(total, 25, 20)

    assert overlap(answer.high_exact).sf(14) > 0.025 >= overlap(answer.high_exact + 1).sf(14)
    assert overlap(answer.low_exact).cdf(15) > 0.025 >= overlap(answer.low_exact - 1).cdf(15)
