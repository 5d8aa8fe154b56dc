"""Chassis numbers: form per ISO 3779 (from memory: 17 characters, no I, O, Q; year letters), shop form, near misses."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.assets import folder
from qc.domain.plant.chassis import chassis_fault, distance, full_number, nearest_known, shop_number, year_code
from qc.domain.tables.plant_tables import read_plant

PLANT = read_plant(folder("demo_data") / "plant")


def test_full_and_shop_numbers_of_the_invented_plant():
    assert full_number(PLANT, "T36", 30001) == "0PC7T3600TW030001"
    assert shop_number(PLANT, "M50", 30412) == "PC7230412"


@given(st.sampled_from(["T36", "M50", "H62"]), st.integers(1, 99_999))
def test_every_number_made_is_well_formed_and_ends_in_its_sequence(model, sequence):
    number = full_number(PLANT, model, sequence)

    assert chassis_fault(PLANT, number) is None
    assert int(number[-5:]) == sequence == int(shop_number(PLANT, model, sequence)[-5:])


@pytest.mark.parametrize("sequence", [0, -1, 100_000])
def test_a_sequence_that_does_not_fit_is_refused(sequence):
    with pytest.raises(ValueError, match=str(sequence)):
        full_number(PLANT, "T36", sequence)


@pytest.mark.parametrize(
    ("entered", "words"),
    [
        ("0PC7T3600TW03OO01", "never holds O"),
        ("0PC7T3600TWI30001", "never holds I"),
        ("0PC7T3600TWQ30001", "never holds Q"),
        ("0PC7T3600TW0300", "has 17 characters, this has 15"),
        ("0PC7T3600TW0300011", "this has 18"),
        ("0PC7T3600TW03/001", "'/' cannot stand"),
        ("", "this has 0"),
    ],
)
def test_what_is_no_chassis_number_is_told_why(entered, words):
    assert words in chassis_fault(PLANT, entered)


def test_small_letters_spaces_and_dashes_are_forgiven():
    assert chassis_fault(PLANT, "0pc7 t3600-tw03 0001") is None


def test_year_letters_are_those_of_the_standard():
    # ISO 3779 / 49 CFR 565 table of model years (from memory): 1980 A, 1987 H, 1988 J, 2000 Y, 2001 1, 2010 A, 2018 J.
    assert [year_code(y) for y in (1980, 1987, 1988, 2000, 2001, 2009, 2010, 2018, 2026)] == list("AHJY19AJT")
    assert not {year_code(year) for year in range(1980, 2040)} - set(PLANT.numbers.allowed)
    with pytest.raises(ValueError, match="1979"):
        year_code(1979)


KNOWN = [full_number(PLANT, model, 30001 + k) for k, model in enumerate(["T36", "M50", "H62"] * 40)]


def test_the_last_five_or_six_find_the_unit():
    assert [near.number for near in nearest_known("30002", KNOWN, 1)] == [full_number(PLANT, "M50", 30002)]
    assert nearest_known("030003", KNOWN, 5)[0].slips == 0


@pytest.mark.parametrize("typed", ["30120", "30112", "31002", "3002", "300022"])
def test_a_slip_still_finds_near_numbers_and_says_so(typed):
    found = nearest_known(typed, KNOWN, 9)

    assert found
    assert all(near.slips <= 1 for near in found)
    assert [near.slips for near in found] == sorted(near.slips for near in found)


def test_a_whole_number_with_two_slips_finds_its_unit_first():
    assert nearest_known("0PC7T3600TM030010", KNOWN, 3)[0].number == full_number(PLANT, "T36", 30010)
    assert nearest_known("OPC7T3600TW030001", KNOWN, 1)[0].number == KNOWN[0]


def test_a_short_or_strange_entry_is_not_guessed_at():
    assert nearest_known("", KNOWN, 5) == ()
    assert nearest_known("999", KNOWN, 5) == ()
    assert nearest_known("99887", KNOWN, 5) == ()


@pytest.mark.parametrize(
    ("a", "b", "slips"),
    # Damerau's four kinds of slip: one character wrong, missing, too many, two neighbours swapped.
    [("30002", "30002", 0), ("30002", "30012", 1), ("30002", "3002", 1), ("30002", "300021", 1), ("30102", "31002", 1)],
)
def test_the_four_kinds_of_slip_count_one_each(a, b, slips):
    assert distance(a, b, 2) == slips


@given(st.text("0123456789", max_size=8), st.text("0123456789", max_size=8))
def test_distance_is_the_same_both_ways_and_nought_only_for_equals(a, b):
    assert distance(a, b, 8) == distance(b, a, 8)
    assert (distance(a, b, 8) == 0) == (a == b)
