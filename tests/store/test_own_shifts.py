"""What happens at a station counts on the day and in the shift that it works in itself. Times are counted by hand."""

from datetime import UTC, datetime

from qc.domain.tables.plant_tables import plant_from_tables
from qc.store.intake.journal import Journal
from tests.empty_record import laid_in
from tests.store.record_kit import PEOPLE, TABLES, Clock, Phone, story_of

FRAME = '[[shift]]\nid = "frame"\nstart = "10:00"\nend = "18:00"\ndays = ["mon", "tue", "wed", "thu", "sun"]\n'
NIGHT = 'other_hours = { sun = ["21:00", "05:00"] }\nbelongs_to = "end"\n'


def with_own_shifts():
    heading, *lines = TABLES["stations.csv"].rstrip("\n").split("\n")
    own = {"D01": "frame", "T01": "frame", "S06": "early"}
    told = [f"{heading},shifts", *(f"{line},{own.get(line.split(',')[0], '')}" for line in lines)]
    toml = TABLES["plant.toml"].replace("[calendar]", f"{FRAME}{NIGHT}\n[calendar]")
    return {**TABLES, "stations.csv": "\n".join(told) + "\n", "plant.toml": toml}


def utc(*when):
    return int(datetime(*when, tzinfo=UTC).timestamp() * 1000)


def test_looks_defects_tests_and_passings_count_where_their_station_works(tmp_path):
    tables = with_own_shifts()
    plant, clock = plant_from_tables(tables), Clock(utc(2026, 3, 2, 15, 30))
    with Journal(laid_in(tmp_path / "plant"), plant, tables, clock, people=PEOPLE.get) as journal:
        phone = Phone(journal)
        unit = phone.plan()
        look = phone.must("inspection_begun", "I1", unit, point="D01", purpose="presentation", light="bright")
        what = {"zone": "front.gas", "type": "GAS-01", "severity": "critical"}
        defect = phone.must("defect_recorded", "I1", unit, point="D01", inspection=look, **what)
        phone.must("inspection_ended", "I1", unit, inspection=look)
        result = phone.must("test_recorded", "TB1", unit, test="G1", value=0, instrument="IN-1")
        clock.now_ms = utc(2026, 3, 8, 23, 30)  # a Sunday night, which is Monday's at D01
        late = phone.must("inspection_begun", "I2", unit, point="D01", purpose="relook", light="bright")
        phone.must("inspection_ended", "I2", unit, inspection=late)
        again = phone.must("test_recorded", "TB1", unit, test="G1", value=0, instrument="IN-1")
        clock.now_ms = utc(2026, 3, 9, 15)
        phone.must("station_passed", "PL1", unit, station="S06")
        clock.now_ms = utc(2026, 3, 9, 4, 30)
        taken_back = phone.do("test_withdrawn", "TB1", unit, result=again, reason="slip of the thumb")[1]
        record = story_of(journal, unit)

    looks = {one.id: (one.production_day, one.shift) for one in record.inspections}
    assert looks == {look: ("2026-03-02", "frame"), late: ("2026-03-09", "frame")}
    assert [(one.production_day, one.shift) for one in record.defects] == [("2026-03-02", "frame")]
    assert {one.id: one.production_day for one in record.tests} == {result: "2026-03-02", again: "2026-03-09"}
    assert defect
    assert taken_back.verdict == "applied"  # the same night, and the same day at T01
    assert [one.production_day for one in record.passings] == ["2026-03-09"]
