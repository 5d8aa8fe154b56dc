"""Sampling plans and their curves against the public tables and handbooks."""

import numpy as np
import pytest
from scipy import stats

from qc.stats.by_command.sampling.operating_characteristic import (
    binomial_acceptance,
    hypergeometric_acceptance,
    outgoing,
    outgoing_limit,
    poisson_acceptance,
    quality_at,
)
from qc.stats.by_command.sampling.sampling_plans import code_letter, single_normal_plan


def test_ten_plans_are_the_standards(case):
    facts = case("oc-mil-std-105e-plans")
    plans = [single_normal_plan(n, "II", q) for n, q in zip(facts.given["lots"], facts.given["aqls"], strict=True)]

    assert [[p.letter, p.letter_used, p.sample, p.accept, p.reject] for p in plans] == facts.answer["plans"]


def test_every_printed_number_of_the_extract_is_met(case):
    facts = case("oc-mil-std-105e-table")
    for letter, (smallest, largest) in facts.given["lots"].items():
        assert code_letter(smallest, "II") == code_letter(largest, "II") == letter

    for aql, printed in facts.answer.items():
        for letter, reject in printed.items():
            plan = single_normal_plan(facts.given["lots"][letter][1], "II", float(aql))
            sample = facts.given["samples"][letter]

            assert (plan.letter, plan.letter_used, plan.sample, plan.reject) == (letter, letter, sample, reject)


def test_the_curve_of_52_and_3_is_the_handbooks(case):
    facts = case("oc-nist-n52-c3")

    facts.agrees("pa", [binomial_acceptance(facts.given["n"], facts.given["c"], p).chance for p in facts.given["p"]])


def test_the_curve_and_limit_of_89_and_2_are_the_handbooks(case):
    facts = case("oc-n89-c2")
    n, c, lot = facts.given["n"], facts.given["c"], facts.given["N"]

    facts.agrees("pa", [binomial_acceptance(n, c, p).chance for p in facts.given["p"]])
    facts.agrees("aoql", outgoing_limit(n, c, lot).quality)
    # Montgomery, ch. 15, from memory: average total inspection 687 at p = 0.01.
    assert outgoing(n, c, lot, 0.01).inspected == pytest.approx(687, abs=1)
    # The exact worst, by a fine grid over scipy's binomial.
    shares = np.linspace(0.02, 0.03, 20_001)
    curve = stats.binom(n, shares).cdf(c) * shares * (lot - n) / lot
    assert outgoing_limit(n, c, lot).quality == pytest.approx(curve.max(), abs=1e-9)
    assert outgoing_limit(n, c, lot).incoming == pytest.approx(shares[curve.argmax()], abs=1e-6)


def test_the_laws_agree_with_scipy():
    """Reference library: scipy.stats binom, poisson and hypergeom."""
    assert binomial_acceptance(50, 2, 0.03).chance == pytest.approx(stats.binom(50, 0.03).cdf(2))
    assert poisson_acceptance(50, 2, 0.03).chance == pytest.approx(stats.poisson(1.5).cdf(2))
    assert hypergeometric_acceptance(200, 50, 2, 9).chance == pytest.approx(stats.hypergeom(200, 9, 50).cdf(2))


def test_the_points_of_a_plan_are_where_its_curve_passes():
    """By definition; Montgomery, ch. 15: a plan accepts 0.95 at its producer's and 0.10 at its consumer's point."""
    for chance in (0.95, 0.10):
        assert binomial_acceptance(89, 2, quality_at(89, 2, chance)).chance == pytest.approx(chance)
