"""Which presentation an inspection is, whether it was clean, and which days are to be counted again.

Original inspection as against one after resubmission: ISO 2859-1. First presentations alone enter rates: common
practice, no source.
"""

import pytest

from tests.store.record_kit import MINUTE, Phone, open_journal

HOUR = 60 * MINUTE


@pytest.fixture
def phone(tmp_path):
    with open_journal(tmp_path) as journal:
        yield Phone(journal)


@pytest.fixture
def unit(phone):
    return phone.plan()


def begin(phone, unit, purpose="presentation", point="D01", hours=0.0):
    at = {"wall_ms": phone.journal.clock() + round(hours * HOUR)}
    return phone.must("inspection_begun", "I1", unit, point=point, purpose=purpose, light="wet", envelope=at)


def found(phone, unit, inspection, type_="EXT-01", severity="minor"):
    where = {"point": "D01", "zone": "nearside.door"}
    return phone.must("defect_recorded", "I1", unit, inspection=inspection, **where, type=type_, severity=severity)


def presentations(phone):
    return dict(phone.journal.write(lambda c: c.execute("SELECT id, presentation FROM inspection").fetchall()))


def clean(phone, id_):
    query = "SELECT clean_all, clean_major FROM inspection WHERE id = ?"
    return phone.journal.write(lambda c: c.execute(query, (id_,)).fetchone())


def dirty_days(phone):
    def take(conn):
        days = [day for (day,) in conn.execute("SELECT production_day FROM dirty_day ORDER BY production_day")]
        conn.execute("DELETE FROM dirty_day")
        return days

    return phone.journal.write(take)


def test_presentations_are_numbered_at_each_point_and_re_looks_are_none(phone, unit):
    ids = [
        begin(phone, unit, hours=-4),
        begin(phone, unit, point="T01", hours=-3),
        begin(phone, unit, "relook", hours=-2),
        begin(phone, unit, "containment", hours=-1),
        begin(phone, unit),
    ]

    assert [presentations(phone)[id_] for id_ in ids] == [1, 1, 0, 0, 2]


def test_one_that_arrives_late_takes_the_place_at_which_it_began(phone, unit):
    second = begin(phone, unit)
    defect = found(phone, unit, second)
    phone.must("inspection_ended", "I1", unit, inspection=second)
    dirty_days(phone)
    first = begin(phone, unit, hours=-72)

    counted = phone.journal.write(lambda c: c.execute("SELECT first_presentation FROM defect").fetchone())
    assert (presentations(phone)[first], presentations(phone)[second]) == (1, 2)
    assert counted == (0,), defect
    assert dirty_days(phone) == ["2026-03-02"]


def test_a_defect_outside_an_inspection_is_in_no_first_presentation(phone, unit):
    phone.must("defect_recorded", "RW1", unit, point="S07", zone="in.kitchen", type="EXT-01", severity="minor")

    assert phone.journal.write(lambda c: c.execute("SELECT first_presentation FROM defect").fetchone()) == (0,)


def test_a_running_inspection_is_neither_clean_nor_not(phone, unit):
    assert clean(phone, begin(phone, unit)) == (None, None)


def test_an_inspection_is_clean_until_something_of_it_is_told(phone, unit):
    inspection = begin(phone, unit)
    phone.must("inspection_ended", "I1", unit, inspection=inspection)
    seen = [clean(phone, inspection)]
    minor = found(phone, unit, inspection)
    seen.append(clean(phone, inspection))
    raise_ = {"defect": minor, "changes": {"severity": "major"}, "reason": "it is loose"}
    phone.must("defect_corrected", "I1", unit, **raise_)
    seen.append(clean(phone, inspection))
    phone.must("defect_withdrawn", "I1", unit, defect=minor, why="not_a_defect", reason="a shadow")
    seen.append(clean(phone, inspection))
    phone.must("test_recorded", "TB1", unit, test="D1", value=9, instrument="IN-1", inspection=inspection)
    seen.append(clean(phone, inspection))

    assert seen == [(1, 1), (0, 1), (0, 0), (1, 1), (0, 0)]


@pytest.mark.parametrize("act", ["defect", "withdrawal", "correction", "repair", "recheck", "origin", "ended"])
def test_what_changes_a_count_marks_its_found_day(phone, unit, act):
    inspection = begin(phone, unit)
    id_ = found(phone, unit, inspection)
    if act == "recheck":
        phone.must("repair_done", "RW1", unit, defects=[id_], method="rework", minutes=1)
    dirty_days(phone)
    phone.journal.clock.after(24 * 60)
    {
        "defect": lambda: found(phone, unit, inspection),
        "withdrawal": lambda: phone.must(
            "defect_withdrawn", "I1", unit, defect=id_, why="not_a_defect", reason="a shadow"
        ),
        "correction": lambda: phone.must(
            "defect_corrected", "I1", unit, defect=id_, changes={"type": "EXT-02"}, reason="looked again"
        ),
        "repair": lambda: phone.must("repair_done", "RW1", unit, defects=[id_], method="rework", minutes=1),
        "recheck": lambda: phone.must("recheck_accepted", "I2", unit, defect=id_),
        "origin": lambda: phone.must("origin_suspected", "I1", unit, defect=id_, station="S07"),
        "ended": lambda: phone.must("inspection_ended", "I1", unit, inspection=inspection),
    }[act]()

    assert dirty_days(phone) == ["2026-03-03" if act in ("defect", "ended") else "2026-03-02"]


def test_an_inspection_is_ended_once(phone, unit):
    inspection = begin(phone, unit)
    phone.must("inspection_ended", "I1", unit, inspection=inspection)

    assert phone.do("inspection_ended", "I2", unit, inspection=inspection)[1].code == "inspection_ended"


def test_a_field_finding_counts_on_the_day_it_was_found_and_in_no_rate(phone, unit):
    dirty_days(phone)
    body = {"zone": "front.gas", "type": "EXT-01", "severity": "minor", "found_day": "2026-02-20"}
    phone.must("field_finding", "QM1", unit, **body)

    row = phone.journal.write(
        lambda c: c.execute("SELECT point, production_day, first_presentation FROM defect").fetchone()
    )
    assert (row, dirty_days(phone)) == (("FIELD", "2026-02-20", 0), ["2026-02-20"])
