"""A record entered with all its fields at once is the one that its class makes, and lacks and misnames none."""

import pytest

from qc.domain.unit.unit_record import DefectRecord, InspectionRecord, altered, entered

LOOK = {
    "id": "i1",
    "point": "D01",
    "purpose": "presentation",
    "inspector": "I1",
    "device": "P1",
    "light": "bright",
    "weather": None,
    "begun_ms": 5,
    "number": 2,
}
FOUND = {
    "id": "d1",
    "inspection": "i1",
    "point": "D01",
    "zone": "nearside.door",
    "type": "EXT-01",
    "severity": "minor",
    "note": "",
    "mark": None,
    "found_ms": 6,
    "finder": "I1",
    "device": "P1",
    "number": 3,
}


@pytest.mark.parametrize(("record", "values"), [(InspectionRecord, LOOK), (DefectRecord, FOUND)])
def test_it_is_the_record_that_its_class_makes(record, values):
    made, plain = entered(record, **values), record(**values)
    assert (made, repr(made), vars(made)) == (plain, repr(plain), vars(plain))
    assert altered(made, number=9) == record(**{**values, "number": 9})
    with pytest.raises(AttributeError):
        made.number = 4


@pytest.mark.parametrize(
    ("missing", "more"), [(["zone"], {}), ([], {"gradee": ""}), (["zone"], {"gradee": ""}), (["id", "type"], {})]
)
def test_a_field_that_lacks_or_that_there_is_not_is_told(missing, more):
    values = {**{name: value for name, value in FOUND.items() if name not in missing}, **more}
    with pytest.raises(TypeError, match="|".join([*missing, *more])):
        entered(DefectRecord, **values)


def test_what_one_record_has_by_default_no_change_of_another_reaches():
    one, other = entered(DefectRecord, **FOUND), entered(DefectRecord, **{**FOUND, "id": "d2"})
    changed = altered(one, photos=("a" * 64,), circles={"a" * 64: (0.1, 0.1, 0.2, 0.2)})
    assert (other.photos, dict(other.circles)) == ((), {})
    assert dict(entered(DefectRecord, **FOUND).circles) == {}
    assert changed.circles != one.circles
