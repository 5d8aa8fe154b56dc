"""What phones and pages read: found by the end of a number, pulled by the server's number, never by time."""

from datetime import date

import pytest

from qc.domain.counted.backlogs import ConfirmBefore
from qc.store.reading.reads import _UNSETTLED, _WAITING, DAY_MS, Reads, Unsettled
from qc.store.record.history import holds
from tests.store.record_kit import PLANT, Phone, open_journal, unit_number

VIEW = {
    "chassis",
    "shop_number",
    "sequence",
    "model",
    "options",
    "unplanned",
    "place",
    "passings",
    "state",
    "alarm",
    "last_number",
    "inspections",
    "defects",
    "tests",
    "results",
    "blockers",
    "release",
    "open_digest",
}


@pytest.fixture
def phone(tmp_path):
    with open_journal(tmp_path) as journal:
        yield Phone(journal)


@pytest.fixture
def reads(phone):
    reads = Reads(phone.journal.folder, PLANT)
    yield reads
    reads.close()


def pulled(reads, after, limit, now):
    """Pull until there is no more, as a phone does; return the views in order and the last number."""
    views, more = [], True
    while more:
        some, after, more = reads.phone_units(after, limit, now)
        views += some
    return views, after


def found(phone, unit, **more):
    body = {"point": "D01", "zone": "front.gas", "type": "EXT-01", "severity": "minor", **more}
    return phone.must("defect_recorded", "I1", unit, **body)


def test_a_pull_in_small_pieces_gets_every_unit_once(phone, reads):
    units = [phone.plan(30001 + number) for number in range(7)]
    found(phone, units[2])

    views, through = pulled(reads, 0, 2, phone.journal.clock())

    assert [view["chassis"] for view in views] == [*units[:2], *units[3:], units[2]]
    assert through == 8
    assert pulled(reads, through, 2, phone.journal.clock()) == ([], 8)


def test_a_pull_goes_on_past_operations_that_touch_no_unit(phone, reads):
    phone.plan()
    phone.must("change_noted", "QM1", None, station="S06", change="tool", what="new tool", from_day="2026-03-02")

    assert reads.phone_units(1, 10, phone.journal.clock()) == ([], 2, False)


def test_what_changes_after_a_pull_comes_with_the_next(phone, reads):
    unit = phone.plan()
    phone.plan(30002)
    _, through = pulled(reads, 0, 10, phone.journal.clock())
    id_ = found(phone, unit)

    (view,), _, _ = reads.phone_units(through, 10, phone.journal.clock())

    assert (view["chassis"], [one["id"] for one in view["defects"]]) == (unit, [id_])


def test_what_was_parked_comes_when_it_takes_effect(phone, reads):
    """Its own number is lower than what the phone has pulled."""
    unit = phone.plan()
    made = phone.make("defect_recorded", "I1", unit, point="D01", zone="front.gas", type="EXT-01", severity="minor")
    held, phone.unsent = phone.unsent, []
    Phone(phone.journal, "P2").do("repair_done", "RW1", unit, defects=[made["id"]], method="rework", minutes=1)
    _, through = pulled(reads, 0, 10, phone.journal.clock())
    phone.unsent = held
    phone.send()

    (view,), _, _ = reads.phone_units(through, 10, phone.journal.clock())
    assert view["defects"][0]["state"] == "repaired"


def test_a_new_phone_is_not_sent_what_was_released_long_ago_but_every_alarm(phone, reads):
    old, alarmed = phone.plan(30001), phone.plan(30002)
    for unit in (old, alarmed):
        phone.test_all(unit)
        phone.look(unit)
        assert phone.sign(unit).verdict == "applied"
    body = {"zone": "front.gas", "type": "GAS-03", "severity": "critical", "found_day": "2026-03-02"}
    phone.must("field_finding", "QM1", alarmed, **body)
    now = phone.journal.clock()

    def sent(days):
        return {view["chassis"] for view in pulled(reads, 0, 10, now + round(days * DAY_MS))[0]}

    assert sent(13.9) == {old, alarmed}
    assert sent(14.1) == {alarmed}
    assert {view["chassis"] for view in pulled(reads, 1, 10, now + 99 * DAY_MS)[0]} == {old, alarmed}


def test_a_view_has_what_the_sync_protocol_names(phone, reads):
    unit = phone.plan()
    inspection = phone.look(unit)
    found(phone, unit, inspection=inspection, mark=[10, 20], note="loose")
    phone.must("test_recorded", "TB1", unit, test="G1", value=3.5, instrument="IN-1")

    (view,), _, _ = reads.phone_units(0, 10, phone.journal.clock())

    assert set(view) == VIEW
    assert set(view["inspections"][0]) == {
        *("id", "point", "purpose", "presentation", "inspector", "light", "weather", "begun_ms", "ended_ms"),
        *("looked", "not_looked"),
    }
    assert set(view["defects"][0]) == {
        *("id", "inspection", "point", "zone", "type", "severity", "note", "mark", "found_ms", "finder", "state"),
        *(
            "cycles",
            "suspected",
            "confirmed",
            "origin_state",
            "photos",
            "circles",
            "repaired_by",
            "changed_also_by",
            "number",
        ),
        "said",
    }
    assert view["tests"] == [{"test": "G1", "passed": True, "value": 3.5, "voided": False, "number": 6}]
    (result,) = view["results"]
    assert (result["beyond"], result["again"], result["taken_back"], result["untold"]) == ("", "", False, False)
    assert {"code", "what", "ref"} == set(view["blockers"][0])
    assert (view["release"], view["defects"][0]["mark"]) == (None, [10, 20])


@pytest.mark.parametrize("text", ["30002", "pc7130002", "0PC7T3600TW030002", "W03 0002", "130002"])
def test_a_unit_is_found_by_the_end_of_its_number(phone, reads, text):
    phone.plan(30001)
    unit = phone.plan(30002)

    assert [line.chassis for line in reads.find_units(text)] == [unit]


def test_nothing_is_found_by_nothing_or_by_a_pattern(phone, reads):
    phone.plan()

    assert (reads.find_units(""), reads.find_units("%"), reads.find_units("_0001")) == ([], [], [])


def test_a_mistyped_number_finds_the_nearest(phone, reads):
    phone.plan(30001)
    unit = phone.plan(30042)

    assert reads.nearest_units("30O42".replace("O", "9"))[0].chassis == unit


def test_a_list_puts_alarms_first_and_counts_what_is_open(phone, reads):
    first, second = phone.plan(30001), phone.plan(30002)
    phone.test_all(second)
    phone.look(second)
    phone.sign(second)
    phone.must("inspection_begun", "I2", first, point="D01", purpose="presentation", light="bright")
    found(phone, second, type="GAS-01", severity="critical")

    lines = reads.unit_list()
    assert [line.chassis for line in lines] == [second, first]
    assert (lines[0].open, lines[0].criticals, lines[0].to_recheck, lines[1].in_hand) == (1, 1, 0, "I2")
    assert reads.units_with_alarm() == lines[:1]
    assert [line.chassis for line in reads.unit_list("at_end_points")] == [first]


def test_of_released_units_the_latest_come_first_and_a_cut_list_keeps_them(phone, reads):
    units = [phone.plan(30001 + n) for n in range(3)]
    for unit in units[:2]:
        phone.test_all(unit)
        phone.look(unit)
        phone.sign(unit)
    mine = [line.chassis for line in reads.unit_list("released")]

    assert mine == [units[1], units[0]]
    assert [line.chassis for line in reads.unit_list("released", limit=1)] == mine[:1]
    assert [line.chassis for line in reads.unit_list()] == [units[2], *mine]


def test_a_stations_waiting_defects_are_those_it_is_suspected_of(phone, reads):
    unit = phone.plan()
    mine, other, done, gone = (found(phone, unit) for _ in range(4))
    for id_, station in ((mine, "S06"), (other, "S07"), (done, "S06"), (gone, "S06")):
        phone.must("origin_suspected", "I1", unit, defect=id_, station=station)
    phone.must("origin_confirmed", "L-S06", unit, defect=done, station="S06")
    phone.must("defect_withdrawn", "I1", unit, defect=gone, why="not_a_defect", reason="a shadow")
    phone.must("photo_attached", "I1", unit, defect=mine, sha256="a" * 64, bytes=1)

    (waiting,) = reads.defects_waiting("S06")
    assert (waiting.id, waiting.photo, waiting.shop_number) == (mine, "a" * 64, "PC7130001")


def test_what_a_lead_has_disputed_waits_for_the_manager(phone, reads):
    unit = phone.plan()
    for n in range(5):
        phone.must("origin_suspected", "I1", unit, defect=(defect := found(phone, unit)), station="S06")
        if n < 2:
            phone.must("origin_disputed", "L-S06", unit, defect=defect, reason="made before us")

    assert len(reads.defects_waiting("S06")) == 3
    assert len(reads.defects_disputed("S06")) == 2
    assert len(reads.defects_waiting("S06", limit=1)) == 1
    assert reads.unsettled(ConfirmBefore(date(2026, 3, 2))) == {"S06": Unsettled("S06", 3, 0, 2)}
    assert reads.unsettled(ConfirmBefore(date(2026, 3, 3))) == {"S06": Unsettled("S06", 3, 3, 2)}


def test_what_is_settled_is_not_read_to_know_what_waits(reads):
    conn = reads.connection()
    for statement in (_UNSETTLED, _WAITING):
        named = {"station": "S06", "state": "suspected", "limit": 9, "before": "2026-03-02", "own": "{}"}
        plan = " ".join(row[3] for row in conn.execute(f"EXPLAIN QUERY PLAN {statement}", named))
        assert "INDEX defect_unsettled" in plan


def test_an_unknown_unit_has_no_story(reads):
    assert (reads.unit_story(unit_number()), reads.unit_line(unit_number()), reads.operations_of("x")) == (
        None,
        None,
        [],
    )


def test_the_head_that_a_phone_saw_can_be_held_against_the_chain(phone, reads):
    phone.plan(30001)
    size, head = reads.chain()
    phone.plan(30002)
    conn = reads.connection()

    assert (holds(conn, size, head), holds(conn, 0, "00" * 32)) == (True, True)
    assert (holds(conn, size, "11" * 32), holds(conn, 99, head)) == (False, False)
