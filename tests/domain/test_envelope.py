"""An envelope is held to its shape the same way, whether what it has in common with others was seen before or not."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.domain.facts import operations
from qc.domain.facts.operations import ENVELOPE_FIELDS, Operation, envelope_fault, operation_of

RIGHT = {
    "id": "019cad59-a7e0-77f1-b5c8-14862279ecf2",
    "device": "P1",
    "install_epoch": "e1",
    "seq": 1,
    "kind": "defect_recorded",
    "schema": 1,
    "unit": "0PC7T3600TW030001",
    "body": {},
    "author": "I1",
    "deps": [],
    "seen_through": 0,
    "wall_ms": 1_772_434_800_000,
    "tz_min": 60,
    "session": "s1",
    "mono_ms": 7,
}
TEXTS = st.sampled_from(["P1", "e1", "", " P1", "P1\n", "x" * 300, "\ud800", "1"])
ODD = st.one_of(TEXTS, st.none(), st.booleans(), st.integers(-2, 2**54), st.floats(), st.just([]), st.just({}))
DAMAGE = st.dictionaries(st.sampled_from([*ENVELOPE_FIELDS, "plant", "more"]), ODD, max_size=3)


def seen_anew(raw, **under):
    operations._known_common.clear()
    return envelope_fault(raw, **under)


@given(DAMAGE, st.sets(st.sampled_from(ENVELOPE_FIELDS), max_size=2), st.booleans(), st.booleans())
def test_what_was_seen_before_makes_no_difference(damage, missing, names_plant, own_numbers):
    raw = {name: value for name, value in {**RIGHT, **damage}.items() if name not in missing}
    under = {"names_plant": names_plant, "own_numbers": own_numbers}
    anew = seen_anew(raw, **under)
    assert seen_anew(RIGHT) is None
    assert envelope_fault(raw, **under) == anew
    assert envelope_fault(raw, **under) == anew


@pytest.mark.parametrize("name", operations._COMMON)
@pytest.mark.parametrize("value", [True, 1, 1.0, ["P1"], {"P1": 1}, "no code!"])
def test_nothing_but_the_text_itself_is_known_again(name, value):
    assert seen_anew({**RIGHT, name: "1"}) is None
    assert envelope_fault({**RIGHT, name: value}).field == name


@pytest.mark.parametrize("name", operations._NUMBERS)
def test_numbers_are_whole_and_in_their_range(name):
    least, most = operations._NUMBERS[name]
    assert seen_anew(RIGHT) is None
    assert [envelope_fault({**RIGHT, name: value}) for value in (least, most)] == [None, None]
    for value in (True, 1.0, "1", None, float("nan"), least - 1, most + 1, [1]):
        assert envelope_fault({**RIGHT, name: value}).field == name


@pytest.mark.parametrize(
    ("name", "value"),
    [("id", "x"), ("id", None), ("body", []), ("deps", None), ("deps", ()), ("deps", ["x"]), ("plant", 1), ("more", 1)],
)
def test_the_rest_is_looked_at_each_time(name, value):
    assert seen_anew(RIGHT) is None
    assert envelope_fault({**RIGHT, name: value}).field == ("" if name == "more" else name)


def test_no_more_is_remembered_than_there_is_room_for(monkeypatch):
    monkeypatch.setattr(operations, "_MOST_KNOWN", 3)
    operations._known_common.clear()
    for number in range(10):
        assert envelope_fault({**RIGHT, "session": f"s{number}"}) is None
        assert len(operations._known_common) <= 3


def test_an_operation_is_what_its_envelope_tells():
    anew = Operation(**{**RIGHT, "deps": ()})
    made = operation_of(RIGHT)
    assert made == anew
    assert (made.plant, made.deps, repr(made)) == ("", (), repr(anew))
    assert operation_of({**RIGHT, "plant": "a" * 64}).plant == "a" * 64
