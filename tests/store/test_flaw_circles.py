"""Where on a photo the flaw is circled: named with the photo, said anew, refused where it lies on no photo."""

import json

import pytest

from qc.store.checking.verify import verify
from tests.store.record_kit import Phone, open_journal, story_of
from tests.store.test_rules import found, refused

SHA = "a" * 64
CIRCLE = [0.125, 0.2, 0.5, 1]


@pytest.fixture
def phone(tmp_path):
    with open_journal(tmp_path) as journal:
        yield Phone(journal)


@pytest.fixture
def unit(phone):
    return phone.plan()


def attached(phone, unit, defect, **more):
    return phone.do("photo_attached", "I1", unit, defect=defect, sha256=SHA, bytes=9, **more)[1]


def kept(phone):
    (row,) = phone.journal.write(lambda c: c.execute("SELECT view, number, circle FROM defect_photo").fetchall())
    return row[0], row[1], row[2] and json.loads(row[2])


def test_a_photo_of_an_older_phone_comes_without_a_circle_and_one_of_today_with_it(phone, unit):
    id_ = found(phone, unit)
    assert attached(phone, unit, id_, view="near").verdict == "applied"
    number = kept(phone)[1]
    assert kept(phone) == ("near", number, None)

    assert attached(phone, unit, id_, circle=CIRCLE).verdict == "applied"
    assert kept(phone) == ("near", number, CIRCLE)
    assert story_of(phone.journal, unit).defect(id_).circles == {SHA: tuple(CIRCLE)}

    assert attached(phone, unit, id_).verdict == "applied"  # the same photo named once more says nothing of the circle
    assert kept(phone)[2] == CIRCLE
    assert attached(phone, unit, id_, circle=None).verdict == "applied"
    assert kept(phone) == ("near", number, None)
    assert story_of(phone.journal, unit).defect(id_).photos == (SHA,)


@pytest.mark.parametrize(
    "circle",
    [
        *([-0.001, 0, 1, 1], [0, 0, 1.001, 1], [0, 0, 1, 1e12], [0, 0, 0, 1], [0, 0.5, 1, 0.4], [0.1, 0.1, 0.1, 0.1]),
        *([0, 0, 1], [0, 0, 1, 1, 1], [], "0,0,1,1", {"left": 0}, [0, 0, True, 1], [0, 0, "1", 1], [0, 0, None, 1]),
        *([0.12345, 0, 1, 1], [1e-9, 0, 1, 1], 0.5, True),
    ],
)
def test_a_circle_that_lies_on_no_photo_is_refused_by_name(phone, unit, circle):
    verdict = attached(phone, unit, found(phone, unit), circle=circle)

    assert (verdict.verdict, verdict.code) == ("refused", "malformed")
    assert verdict.reason.startswith("body.circle must ")


def test_a_circle_on_a_photo_of_no_defect_is_refused(phone, unit):
    other = phone.plan(2)

    assert refused(phone, "photo_attached", "I1", other, defect=found(phone, unit), sha256=SHA, bytes=9, circle=CIRCLE)


def test_what_an_earlier_program_refused_stays_refused(tmp_path, monkeypatch):
    with monkeypatch.context() as then:
        then.setattr("qc.store.intake.door.RULES", 6)
        with open_journal(tmp_path) as journal:
            phone = Phone(journal)
            unit = phone.plan()
            id_ = found(phone, unit)
            assert attached(phone, unit, id_).verdict == "applied"
            assert attached(phone, unit, id_, circle=CIRCLE).code == "malformed"
    with open_journal(tmp_path) as journal:
        assert story_of(journal, unit).defect(id_).circles == {}

    report = verify(tmp_path)

    assert report.exit_code == 0, report
