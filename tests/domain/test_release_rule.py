"""The release rule by itself: what is missing blocks, and the words say what was released by whom, never "safe"."""

import hashlib
from dataclasses import replace
from types import MappingProxyType

import pytest

from qc.domain.unit.origins import Origin
from qc.domain.unit.release import blockers, open_digest
from qc.domain.unit.unit_record import DefectRecord, InspectionRecord, Look, TestRecord, UnitRecord
from tests.domain.test_unit_fold import PLANT, UNIT

NOON = 1_772_452_800_000  # 2026-03-02 12:00 UTC


def passed(test, value=None):
    value = value if value is not None else test.lower if test.upper is None else test.upper
    measured = value if test.kind == "measure" else None
    return TestRecord(
        id=f"t-{test.id}", test=test.id, point=test.point, inspection=None, value=measured, passed=True,
        instrument="IN-1", calibrated_until=None, note="", tester="TB1", tested_ms=NOON, number=5, unit=test.unit,
        lower=test.lower, upper=test.upper,
    )  # fmt: skip


def ready(**changed):
    """Return a unit with nothing open."""
    looks = tuple(Look(zone.key, True, "", "", 3) for zone in PLANT.zones_of("T36"))
    look = InspectionRecord(
        id="i1",
        point="D01",
        purpose="presentation",
        inspector="I1",
        device="P1",
        light="bright",
        weather=None,
        begun_ms=NOON,
        number=2,
        presentation=1,
        ended_ms=NOON,
        looks=looks,
    )
    tests = tuple(passed(test) for test in PLANT.tests_of("T36"))
    unit = UnitRecord(
        chassis=UNIT,
        shop_number="PC7130001",
        sequence=30001,
        model="T36",
        options=(),
        build_sheet=None,
        planned_day="2026-03-02",
        inspections=(look,),
        tests=tests,
    )
    return replace(unit, **changed)


def defect(id_="d1", state="open", severity="minor", **changed):
    made = DefectRecord(
        id=id_, inspection=None, point="D01", zone="front.gas", type="EXT-01", severity=severity, note="", mark=None,
        found_ms=NOON, finder="I1", device="P1", number=9, state=state, origin=Origin(),
    )  # fmt: skip
    return replace(made, **changed)


def codes(unit, plant=PLANT):
    return [one.code for one in blockers(unit, plant)]


def test_a_unit_with_nothing_open_has_no_blocker():
    assert blockers(ready(), PLANT) == ()


def test_a_unit_of_which_nothing_is_known_is_blocked_by_everything():
    empty = ready(inspections=(), tests=())

    assert codes(empty).count("zone") + codes(empty).count("identity") == len(PLANT.zones_of("T36"))
    assert codes(empty).count("test") == len(PLANT.tests_of("T36"))


def test_a_model_without_zones_or_a_plate_is_blocked():
    """A plant's tables that say too little release nothing."""
    bare = replace(PLANT, zones=MappingProxyType({}))

    assert codes(ready(), bare) == ["identity", "zone"]


@pytest.mark.parametrize("severity", ["critical", "major", "minor"])
@pytest.mark.parametrize(("state", "code"), [("open", "defect"), ("repaired", "recheck"), ("withdrawn", None)])
def test_a_defect_blocks_until_it_is_closed_or_withdrawn(severity, state, code):
    assert codes(ready(defects=(defect(state=state, severity=severity),))) == ([code] if code else [])


def test_an_open_minor_says_that_concessions_come_later_and_a_critical_offers_none():
    minor, critical = (blockers(ready(defects=(defect(severity=one),)), PLANT)[0] for one in ("minor", "critical"))

    assert "concessions come with a later version" in minor.what
    assert "concession" not in critical.what


def test_a_closed_defect_that_nobody_repaired_or_looked_at_blocks():
    """No operation makes one; a fold that did would not open the gate."""
    assert codes(ready(defects=(defect(state="closed"),))) == ["recheck"]


def test_a_test_whose_limits_were_tightened_since_is_asked_for_again():
    stricter = replace(PLANT.tests["G1"], upper=5.0)
    plant = replace(PLANT, tests=MappingProxyType({**PLANT.tests, "G1": stricter}))

    (blocker,) = blockers(ready(), plant)
    assert (blocker.ref, "today's limits" in blocker.what) == ("G1", True)


@pytest.mark.parametrize(("until", "blocked"), [("2026-03-01", True), ("2026-03-02", False), (None, False)])
def test_an_instrument_counts_to_the_end_of_its_last_day(until, blocked):
    tests = [replace(one, calibrated_until=until) if one.test == "M1" else one for one in ready().tests]

    assert codes(ready(tests=tuple(tests))) == (["test"] if blocked else [])


def test_the_digest_of_the_open_list_is_what_a_phone_computes():
    """SHA-256 (FIPS 180-4) of one line a defect, in id order, those closed or withdrawn left out."""
    unit = ready(defects=(defect("d2", "repaired", "major"), defect("d1", "open", "minor"), defect("d3", "closed")))

    assert open_digest(unit) == hashlib.sha256(b"d1 open minor\nd2 repaired major\n").hexdigest()
    # The digest of no bytes, as FIPS 180-4 programs print it.
    assert open_digest(ready()) == "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"


def test_no_word_says_that_a_unit_is_safe():
    everything = ready(inspections=(), tests=(), defects=(defect(), defect("d2", "repaired")), alarm="arrived")

    words = " ".join(one.what for one in blockers(everything, PLANT)).lower()
    assert "safe" not in words.split()
