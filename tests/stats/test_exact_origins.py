"""Expected open defects of origins, summed up exactly: against scipy's beta-binomial, enumeration and simulation.

Counts are constructed; what they must give is worked out beside them or by a second way.
"""

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import betabinom

from qc.stats.answers import TooLittle
from qc.stats.origins.attribution import SettledCount, origin_posterior, settled_origins
from qc.stats.origins.exact_origins import ExactOrigins, exact_expected_origins
from qc.stats.origins.expected_origins import OpenCount, expected_origins

PLACES = ("frame", "roof", "wall")
SETTLED = settled_origins(
    [
        SettledCount(("water", "leak"), "frame", 30),
        SettledCount(("water", "leak"), "wall", 4),
        SettledCount(("water", "leak"), "roof", 2),
        SettledCount(("water", "stain"), "roof", 9),
        SettledCount(("trim", "loose"), "wall", 12),
    ]
)
BORROW = (2.0, 8.0)


def answer(opened, settled=SETTLED, confirmed=None, closed=0, level=0.95):
    return exact_expected_origins(settled, opened, confirmed or {}, closed, BORROW, level)


def row(told, origin):
    return next(one for one in told.origins if one.origin == origin)


def test_one_path_is_the_beta_binomial_of_its_posterior():
    """scipy.stats.betabinom is the published law of one origin's count under a Dirichlet posterior."""
    told = answer([OpenCount(("water", "leak"), PLACES, None, 10)])
    posterior = origin_posterior(SETTLED, ("water", "leak"), PLACES, BORROW, 0.95)

    for place, origin in enumerate(PLACES):
        law = betabinom(10, posterior.shape[place], sum(posterior.shape) - posterior.shape[place])
        one = row(told, origin)
        assert one.expected == pytest.approx(law.mean(), rel=1e-12)
        assert (one.low, one.high) == (law.ppf(0.025), law.ppf(0.975))


def test_several_paths_add_up_as_enumeration_does():
    cells = [OpenCount(("water", "leak"), PLACES, None, 3), OpenCount(("water", "stain"), PLACES, None, 2),
             OpenCount(("trim", "loose"), ("roof", "wall"), None, 4)]  # fmt: skip
    told = answer(cells, level=0.8)
    laws = []
    for cell in cells:
        shape = origin_posterior(SETTLED, cell.path, cell.origins, BORROW, 0.8).shape
        here = cell.origins.index("wall")
        laws.append(betabinom(cell.count, shape[here], sum(shape) - shape[here]).pmf(range(cell.count + 1)))
    chances = np.zeros(10)
    for hits in product(*(range(len(law)) for law in laws)):
        chances[sum(hits)] += np.prod([law[n] for law, n in zip(laws, hits, strict=True)])
    reached = np.cumsum(chances)

    assert (row(told, "wall").low, row(told, "wall").high) == (
        int(np.argmax(reached >= 0.1)),
        int(np.argmax(reached >= 0.9)),
    )


def test_simulation_without_guesses_comes_to_the_same():
    cells = [OpenCount(("water", "leak"), PLACES, None, 12), OpenCount(("trim", "loose"), PLACES, None, 9)]
    exact = answer(cells)
    drawn = expected_origins(SETTLED, cells, {}, 0, None, BORROW, 0.95, 20_000, 7)

    for one, other in zip(exact.origins, drawn.origins, strict=True):
        assert one.expected == pytest.approx(other.expected, rel=1e-12)
        assert abs(one.low - other.low) <= 1 >= abs(one.high - other.high)  # a limit on the edge may fall either way


def test_cells_of_one_path_share_one_doubt():
    """Ten open defects in one cell or in ten cells are the same ten: their share is doubted once."""
    together = answer([OpenCount(("water", "leak"), PLACES, None, 10)])
    apart = answer([OpenCount(("water", "leak"), PLACES, guess, 1) for guess in ("frame", None) * 5])

    assert [(o.expected, o.low, o.high) for o in together.origins] == [
        (pytest.approx(o.expected), o.low, o.high) for o in apart.origins
    ]
    assert row(apart, "frame").suspected == 5


def test_a_group_without_a_settled_defect_stays_unknown():
    told = answer(
        [OpenCount(("paint", "run"), PLACES, None, 6), OpenCount(("trim", "loose"), PLACES, None, 1)], closed=2
    )

    assert (told.unknown, told.settled_unknown, told.open_count) == (8, 2, 7)
    assert sum(one.expected for one in told.origins) == pytest.approx(1)


def test_one_possible_origin_is_certain():
    told = answer([OpenCount(("trim", "loose"), ("wall",), None, 5)])

    assert (row(told, "wall").expected, row(told, "wall").low, row(told, "wall").high) == (5, 5, 5)


def test_confirmed_and_suspected_stand_beside_and_are_not_added():
    told = answer([OpenCount(("trim", "loose"), PLACES, "roof", 3)], confirmed={"wall": 12, "jig": 1})

    assert (row(told, "wall").confirmed, row(told, "roof").suspected, row(told, "jig").expected) == (12, 3, 0.0)
    assert sum(one.expected for one in told.origins) == pytest.approx(3)


def test_nothing_at_all_is_too_little():
    assert isinstance(answer([]), TooLittle)
    assert isinstance(answer([], closed=1), ExactOrigins)


@pytest.mark.parametrize(
    ("opened", "more", "said"),
    [
        ([OpenCount(("trim", "loose"), (), None, 1)], {}, "origins must be at least one"),
        ([OpenCount(("trim", "loose"), ("wall", "wall"), None, 1)], {}, "origins must be at least one, each once"),
        ([OpenCount(("trim", "loose"), PLACES, None, -1)], {}, "count of .* must be a whole number"),
        ([OpenCount(("trim",), PLACES, None, 1)], {}, "borrow must"),
        ([], {"closed": -1}, "settled_unknown must"),
        ([], {"confirmed": {"wall": 1.5}}, r"confirmed\['wall'\] must"),
        ([], {"level": 1.0}, "level must"),
        ([], {"settled": {}}, "settled must be"),
        ([], {"confirmed": [("wall", 1)]}, "confirmed must be"),
        ([("trim", "loose")], {}, "open_counts must be"),
        (None, {}, "open_counts must be"),
    ],
)
def test_what_cannot_be_is_refused_by_name(opened, more, said):
    with pytest.raises(ValueError, match=said):
        answer(opened, **more)


@given(st.lists(st.tuples(st.sampled_from(["leak", "stain"]), st.integers(0, 6)), min_size=1, max_size=6))
@settings(max_examples=40, deadline=None)
def test_expected_counts_sum_to_the_open_ones_in_any_order(cells):
    opened = [OpenCount(("water", type_), PLACES, None, count) for type_, count in cells]
    told, turned = (answer(one, confirmed={"wall": 1}) for one in (opened, opened[::-1]))

    assert sum(one.expected for one in told.origins) == pytest.approx(sum(count for _, count in cells))
    assert all(0 <= one.low <= one.high <= told.open_count for one in told.origins)
    assert [(one.low, one.high) for one in told.origins] == [(one.low, one.high) for one in turned.origins]


def test_more_settled_defects_narrow_the_range():
    few = settled_origins([SettledCount(("trim", "loose"), o, n) for o, n in (("wall", 4), ("roof", 4))])
    many = settled_origins([SettledCount(("trim", "loose"), o, n) for o, n in (("wall", 400), ("roof", 400))])
    opened = [OpenCount(("trim", "loose"), ("roof", "wall"), None, 60)]
    wide, narrow = (row(answer(opened, settled), "wall") for settled in (few, many))

    assert wide.high - wide.low > narrow.high - narrow.low
