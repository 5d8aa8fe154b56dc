"""Tests looked at together: the published example and the reference library."""

from unittest.mock import patch

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.stats.watch.multiplicity import benjamini_hochberg, bonferroni, holm


def numbered(things):
    return tuple(map(str, range(len(things))))


def test_the_fifteen_published_p_values_give_the_published_rejections(case):
    facts = case("multi-bh-1995")
    p = facts.given["p"]

    facts.agrees("bh_rejected", sum(benjamini_hochberg(p, numbered(p), 0.05).rejected))
    facts.agrees("bonferroni_rejected", sum(bonferroni(p, numbered(p), 0.05).rejected))
    facts.agrees("unadjusted_rejected", sum(value <= 0.05 for value in p))


@pytest.mark.parametrize(
    ("ours", "theirs"), [(benjamini_hochberg, "fdr_bh"), (holm, "holm"), (bonferroni, "bonferroni")]
)
@given(st.lists(st.floats(0, 1).map(lambda p: round(p, 6)), min_size=1, max_size=25))
def test_adjusted_p_values_agree_with_statsmodels(ours, theirs, p):
    """Reference library: statsmodels.stats.multitest.multipletests."""
    from statsmodels.stats.multitest import multipletests

    with patch("gc.collect"):  # its Holm collects garbage at each call: a third of a second among all that tests load
        wanted = multipletests(p, 0.05, theirs)[1]

    assert ours(p, numbered(p), 0.05).adjusted == pytest.approx(wanted)
