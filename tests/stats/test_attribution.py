"""Origin chances: borrowing, edges, unknown stays unknown. Sources: tests/reference/test_origin_cases.py."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.stats.answers import TooLittle
from qc.stats.by_command.intervals.origin_shares import dirichlet_shares, origins_of_cell
from qc.stats.origins.attribution import SettledCount, origin_posterior, settled_origins
from qc.stats.origins.borrowing import learned_borrowing
from qc.stats.origins.expected_origins import (
    OpenCount,
    SuspectRecord,
    chances_with_suspicion,
    expected_origins,
    suspicion_weights,
)
from qc.stats.series import counts_of

ORIGINS = ("RP2", "S07", "SUP")


def settled(*cells):
    return settled_origins([SettledCount(tuple(path.split("/")), origin, count) for path, origin, count in cells])


PANELS = settled(
    ("PAN/PAN-03/side", "S07", 30),
    ("PAN/PAN-03/side", "RP2", 10),
    ("PAN/PAN-03/roof", "RP2", 12),
    ("PAN/PAN-05/side", "S07", 25),
    ("SEA/SEA-01/roof", "SUP", 40),
)


def test_a_new_type_starts_from_its_group():
    """By hand: the group has 55 at S07 and 22 at RP2, and one defect's worth spread over three origins."""
    answer = origin_posterior(PANELS, ("PAN", "PAN-99", "side"), ORIGINS, (1, 5, 5), 0.95)

    assert answer.chances == pytest.approx(tuple((n + 1 / 3) / 78 for n in (22, 55, 0)))
    assert answer.evidence == (77, 0, 0)


def test_what_is_known_of_the_very_cell_outweighs_its_group():
    answer = origin_posterior(PANELS, ("PAN", "PAN-03", "roof"), ORIGINS, (1, 2, 2), 0.95)

    assert answer.chances[0] > 0.8
    assert answer.evidence == (77, 52, 12)


def test_each_settled_defect_counts_once():
    """The only cell of its group borrows from nobody: its own counts and a flat prior are all there is."""
    alone = settled(("ELE/ELE-01/roof", "S07", 6), ("ELE/ELE-01/roof", "RP2", 2))

    answer = origin_posterior(alone, ("ELE", "ELE-01", "roof"), ORIGINS, (1, 3, 3), 0.95)

    assert answer.shape == pytest.approx((2 + 1, 6 + 1, 0 + 1))


def test_a_group_nobody_settled_stays_unknown():
    answer = origin_posterior(PANELS, ("GAS", "GAS-01", "floor"), ORIGINS, (1, 5, 5), 0.95)

    assert isinstance(answer, TooLittle)
    assert "GAS" in answer.reason


def test_settled_at_an_origin_that_is_not_upstream_is_shown_and_not_learned():
    answer = origin_posterior(PANELS, ("PAN", "PAN-03", "side"), ("S07", "SUP"), (1, 5, 5), 0.95)

    assert answer.not_upstream == 10
    assert answer.evidence[-1] == 30
    assert answer.origins == ("S07", "SUP")


def test_the_only_possible_origin_is_certain():
    answer = origin_posterior(PANELS, ("PAN", "PAN-03", "side"), ("S07",), (1, 5, 5), 0.95)

    assert (answer.chances, answer.low, answer.high) == ((1.0,), (1.0,), (1.0,))


paths = st.tuples(st.sampled_from("AB"), st.sampled_from("xyz"), st.sampled_from("12"))
cells = st.lists(st.builds(SettledCount, paths, st.sampled_from(ORIGINS), st.integers(0, 20)), min_size=1, max_size=20)


@given(cells, paths)
def test_chances_sum_to_one_and_lie_in_their_intervals(counts, path):
    answer = origin_posterior(settled_origins(counts), path, ORIGINS, (1, 4, 8), 0.95)
    if isinstance(answer, TooLittle):
        return

    assert sum(answer.chances) == pytest.approx(1)
    for low, high in zip(answer.low, answer.high, strict=True):
        assert 0 <= low < high <= 1  # the mean of a very skewed beta may stand outside its equal tails


@given(cells, paths, st.permutations(range(3)))
def test_the_order_of_the_origins_does_not_matter(counts, path, order):
    turned = tuple(ORIGINS[i] for i in order)
    one, other = (origin_posterior(settled_origins(counts), path, o, (1, 4, 8), 0.95) for o in (ORIGINS, turned))
    if isinstance(one, TooLittle):
        assert isinstance(other, TooLittle)
        return

    assert dict(zip(other.origins, other.chances, strict=True)) == pytest.approx(
        dict(zip(one.origins, one.chances, strict=True))
    )


@given(cells)
def test_one_more_settled_defect_raises_its_origins_chance(counts):
    path = counts[0].path
    before = origin_posterior(settled_origins(counts), path, ORIGINS, (1, 4, 8), 0.95)
    after = origin_posterior(settled_origins([*counts, SettledCount(path, "S07", 1)]), path, ORIGINS, (1, 4, 8), 0.95)
    if isinstance(before, TooLittle):
        return

    assert after.chances[1] > before.chances[1]


def test_zones_that_look_like_their_type_borrow_more_than_zones_that_differ():
    alike = settled(*((f"PAN/PAN-03/z{i}", o, n) for i in range(8) for o, n in (("S07", 9), ("RP2", 3))))
    apart = settled(*((f"PAN/PAN-03/z{i}", "S07" if i % 2 else "RP2", 12) for i in range(8)))

    assert learned_borrowing(alike, ORIGINS).weights[-1] > 30 * learned_borrowing(apart, ORIGINS).weights[-1]


def test_nothing_settled_lends_nothing():
    assert isinstance(learned_borrowing(settled(), ORIGINS), TooLittle)


def test_paths_of_different_length_are_refused():
    with pytest.raises(ValueError, match=r"path must have 3 steps like the first, got \('PAN', 'PAN-05'\)"):
        settled(("PAN/PAN-03/side", "S07", 1), ("PAN/PAN-05", "S07", 1))
    with pytest.raises(ValueError, match=r"path must have 3 steps"):
        origin_posterior(PANELS, ("PAN",), ORIGINS, (1,), 0.95)


def test_a_guess_by_a_record_of_good_guesses_moves_the_chance():
    posterior = origin_posterior(PANELS, ("PAN", "PAN-03", "side"), ORIGINS, (1, 5, 5), 0.95)
    good = chances_with_suspicion(posterior, "RP2", SuspectRecord(70, 15, 15))
    blind = chances_with_suspicion(posterior, "RP2", SuspectRecord(0, 999, 0))

    assert good[0] > posterior.chances[0] > blind[0]
    assert sum(good) == pytest.approx(1)


def test_nobodys_guess_moves_nothing():
    assert suspicion_weights(ORIGINS, None, SuspectRecord(7, 2, 1)) == (1, 1, 1)


def expectation(open_counts, trust=None, seed=5, draws=2000):
    return expected_origins(PANELS, open_counts, {"S07": 55, "RP2": 22}, 3, trust, (1, 5, 5), 0.95, draws, seed)


def test_expected_and_unknown_open_defects_sum_to_the_open_ones():
    answer = expectation(
        [
            OpenCount(("PAN", "PAN-03", "side"), ORIGINS, "S07", 9),
            OpenCount(("GAS", "GAS-01", "floor"), ORIGINS, None, 4),
        ],
        SuspectRecord(70, 15, 15),
    )

    assert sum(row.expected for row in answer.origins) == pytest.approx(9)
    assert answer.unknown == 4 + 3
    assert answer.open_count == 13
    assert [row.origin for row in answer.origins] == sorted(row.origin for row in answer.origins)


def test_confirmed_and_suspected_stand_beside_the_expected_and_are_not_mixed_into_it():
    answer = expectation([OpenCount(("PAN", "PAN-03", "side"), ORIGINS, "SUP", 2)])
    rows = {row.origin: row for row in answer.origins}

    assert (rows["S07"].confirmed, rows["S07"].suspected) == (55, 0)
    assert rows["SUP"].suspected == 2
    assert rows["S07"].expected + rows["RP2"].expected + rows["SUP"].expected == pytest.approx(2)


def test_the_same_seed_repeats_the_interval():
    cell = [OpenCount(("PAN", "PAN-03", "side"), ORIGINS, None, 40)]

    assert expectation(cell, seed=1) == expectation(cell, seed=1)
    row = next(r for r in expectation(cell).origins if r.origin == "S07")
    assert 0 <= row.low <= row.expected <= row.high <= 40


def test_no_defect_at_all_is_too_little():
    answer = expected_origins(PANELS, [], {}, 0, None, (1, 5, 5), 0.95, 1000, 1)

    assert isinstance(answer, TooLittle)


def test_an_empty_table_has_no_origin_and_an_empty_cell_has_one():
    assert isinstance(origins_of_cell([[0, 0], [0, 0]], ("a", "b"), ("c", "d"), 0.5, "c"), TooLittle)
    answer = origins_of_cell([[0, 8], [0, 2]], ("a", "b"), ("c", "d"), 0.5, "c")

    assert sum(answer.chances) == pytest.approx(1)
    assert answer.counts == (0, 0)


def test_one_origin_has_no_shares_and_a_prior_of_nought_is_refused():
    assert isinstance(dirichlet_shares(counts_of((5,), ("a",)), (1,), 0.95), TooLittle)
    with pytest.raises(ValueError, match=r"prior\[1\] must be more than 0, got 0"):
        dirichlet_shares(counts_of((5, 3), ("a", "b")), (1, 0), 0.95)
