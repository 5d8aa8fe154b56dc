"""Agreement of raters against published examples and reference libraries."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from qc.stats.answers import TooLittle
from qc.stats.by_command.agreement.agreement import (
    cohen_kappa,
    judgements_of_two,
    linear_weighted_kappa,
    quadratic_weighted_kappa,
    weighted_kappa,
)
from qc.stats.by_command.agreement.effectiveness import against_reference, effectiveness
from qc.stats.by_command.agreement.krippendorff import krippendorff_alpha
from qc.stats.by_command.agreement.many_raters import fleiss_kappa, gwet_ac1


def test_a_hundred_diagnoses_have_the_published_kappa_and_errors(case):
    facts = case("agree-cohen-100-diagnoses")

    answer = cohen_kappa(facts.given["table"], ("psychotic", "neurotic", "organic"), 0.95)

    facts.agrees("po", answer.observed)
    facts.agrees("pe", answer.expected)
    facts.agrees("kappa", answer.kappa)
    facts.agrees("se0", answer.error_if_none)
    facts.agrees("se", answer.error)


@pytest.mark.parametrize("name", ["agree-unweighted-cohen-1968", "agree-msa-cross-ac"])
def test_kappa_is_the_published_one(case, name):
    facts = case(name)
    table = facts.given["table"]

    facts.agrees("kappa", cohen_kappa(table, tuple("abc")[: len(table)], 0.95).kappa)


def test_weighted_kappa_is_the_published_one(case):
    facts = case("agree-weighted-cohen-1968")

    answer = weighted_kappa(facts.given["table"], facts.given["disagreement"], tuple("abc"), 0.95)

    facts.agrees("kappa", answer.kappa)


def test_the_paradox_shows_kappa_below_nought_beside_ac1(case):
    facts = case("agree-ac1-paradox")

    answer = cohen_kappa(facts.given["table"], ("pass", "defect"), 0.95)

    facts.agrees("kappa", answer.kappa)
    facts.agrees("ac1", answer.ac1)
    facts.agrees("po", answer.observed)
    facts.agrees("ac1", gwet_ac1(judgements_of_two(facts.given["table"]), ("pass", "defect"), 0.95).coefficient)


@given(st.lists(st.lists(st.integers(1, 30), min_size=3, max_size=3), min_size=3, max_size=3))
def test_weights_by_steps_are_those_of_statsmodels(table):
    """Reference library: statsmodels.stats.inter_rater.cohens_kappa, wt="linear" and wt="quadratic"."""
    from statsmodels.stats.inter_rater import cohens_kappa

    for ours, name in ((linear_weighted_kappa, "linear"), (quadratic_weighted_kappa, "quadratic")):
        theirs = cohens_kappa(np.array(table), wt=name)
        answer = ours(table, ("a", "b", "c"), 0.95)

        assert answer.kappa == pytest.approx(theirs.kappa)
        assert answer.error == pytest.approx(theirs.std_kappa)


def test_ten_subjects_have_the_published_fleiss_kappa(case):
    facts = case("agree-fleiss-10x14x5")

    answer = fleiss_kappa(facts.given["table"], tuple("12345"))

    facts.agrees("kappa", answer.kappa)
    facts.agrees("p_bar", answer.observed)
    facts.agrees("pe_bar", answer.expected)
    facts.agrees("P_i", list(answer.agreement))
    facts.agrees("p_j", list(answer.shares))


def test_fleiss_agrees_with_statsmodels_on_random_tables():
    """Reference library: statsmodels.stats.inter_rater.fleiss_kappa."""
    from statsmodels.stats.inter_rater import fleiss_kappa as theirs

    source = np.random.default_rng(3)
    for _ in range(20):
        table = source.multinomial(6, (0.5, 0.3, 0.2), size=15)

        assert fleiss_kappa(table.tolist(), tuple("abc")).kappa == pytest.approx(theirs(table))


def test_the_error_of_fleiss_is_the_scatter_where_nothing_agrees():
    """Simulation with known truth, seeded: raters that choose at random; the formula's error against the scatter."""
    source = np.random.default_rng(4)
    kappas, errors = zip(
        *(
            (answer.kappa, answer.error_if_none)
            for answer in (
                fleiss_kappa(source.multinomial(5, (0.6, 0.3, 0.1), size=40).tolist(), tuple("abc")) for _ in range(600)
            )
        ),
        strict=True,
    )

    assert np.mean(errors) == pytest.approx(np.std(kappas), rel=0.1)


def test_the_error_of_ac1_is_the_scatter_of_ac1():
    """Simulation with known truth, seeded: one rater calls a quarter of the units that the other passes."""
    source = np.random.default_rng(5)
    cells = [[0.70, 0.25], [0.0, 0.05]]
    answers = [
        gwet_ac1(
            judgements_of_two(source.multinomial(150, np.ravel(cells)).reshape(2, 2).tolist()), ("pass", "defect"), 0.95
        )
        for _ in range(400)
    ]

    assert np.mean([a.error for a in answers]) == pytest.approx(np.std([a.coefficient for a in answers]), rel=0.12)


@pytest.mark.parametrize("name", ["agree-kripp-691", "agree-kripp-four-metrics"])
def test_alpha_is_the_published_one(case, name):
    facts = case(name)

    for metric in facts.answer:
        facts.agrees(metric, krippendorff_alpha(facts.given["data"], metric).alpha)


@settings(max_examples=40)
@given(st.lists(st.lists(st.integers(0, 1), min_size=8, max_size=8), min_size=2, max_size=2))
def test_nominal_alpha_of_two_is_scotts_pi_with_its_small_sample_correction(rows):
    """By hand: alpha = 1 - (1 - pi)(2n - 1)/(2n), pi with joint margins (Krippendorff 2004, ch. 11)."""
    answer = krippendorff_alpha(rows, "nominal")
    ones = (sum(rows[0]) + sum(rows[1])) / 16
    if isinstance(answer, TooLittle):
        assert ones in (0, 1)
        return
    observed = np.mean([a == b for a, b in zip(*rows, strict=True)])
    pi = (observed - ones**2 - (1 - ones) ** 2) / (1 - ones**2 - (1 - ones) ** 2)

    assert answer.alpha == pytest.approx(1 - (1 - pi) * 15 / 16)


@pytest.mark.parametrize("appraiser", ["A", "B", "C"])
def test_the_attribute_study_is_the_published_one(case, appraiser):
    facts = case("agree-msa-attribute-study")
    (hit, false), (miss, right) = facts.given["tables"][appraiser]
    published = facts.answer[appraiser]

    answer = against_reference(hit, miss, false, right, 0.95)

    assert hit + miss == facts.given["ref_bad"]
    within = facts.within["abs"]
    assert answer.missed.share == pytest.approx(published["miss_rate"], abs=within)
    assert answer.false_calls.share == pytest.approx(published["false_alarm"], abs=within)
    kappa = cohen_kappa(((hit, false), (miss, right)), ("bad", "good"), 0.95).kappa
    assert kappa == pytest.approx(published["kappa"], abs=within)


@pytest.mark.parametrize("who", ["A", "B", "C", "system"])
def test_effectiveness_has_the_published_interval(case, who):
    facts = case("agree-msa-attribute-study")
    published = facts.answer[f"{who}_effectiveness"]

    answer = effectiveness(*facts.given["effect"][who], 0.95)

    assert answer.share == pytest.approx(published["value"], abs=facts.within["abs"])
    assert [answer.low, answer.high] == pytest.approx(published["ci"], abs=facts.within["abs"])
