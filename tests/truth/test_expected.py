"""Expected origins hold the true ones, in short; `python -m tests.truth` and `-m long` do it over twenty seeds."""

import pytest

from tests.truth.expected import SILENT_LEAD, SLOW_LEADS, covered, lines, ways_covered


def test_the_ranges_of_a_seed_hold_the_true_numbers():
    told = covered(1)

    assert told.opened > 250
    assert told.left_out == 0
    assert told.held >= 0.9 * told.origins > 15


def test_leads_who_answer_late_do_not_make_their_own_seem_few():
    """Sharing open defects out as settled ones of their type go misses about a third of the origins here."""
    told = covered(1, SLOW_LEADS)

    assert told.held >= 0.85 * told.origins
    assert told.as_settled < 0.8 * told.origins


def test_guesses_that_nobody_ever_answers_are_left_out_and_the_others_still_hold():
    told = covered(1, SILENT_LEAD)

    assert told.left_out > 500
    assert told.held >= 0.85 * told.origins


@pytest.mark.long
def test_over_twenty_seeds_the_ranges_reach_their_level():
    """Reached over seeds 1 to 20 at 95 %: see the table of `python -m tests.truth`."""
    missed = [line.line() for line in lines([ways_covered(seed) for seed in range(1, 21)]) if not line.is_reached]

    assert missed == []
