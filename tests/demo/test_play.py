"""A short play through the journal: what phones sent is what the record tells, and every rule of it was met.

Three weeks, with the slow phone and the full phone moved into them. Values are compared with what the simulation holds
to be true; nothing here is a figure of the trade.
"""

from collections import Counter
from dataclasses import replace

import orjson
import pytest

from qc.assets import folder
from qc.demo.cast import people
from qc.demo.play import Player
from qc.demo.simulate import FOLLOWING, Simulation
from qc.demo.story import read_story
from qc.domain.facts.uuids import uuid7_of
from qc.domain.tables.plant_tables import plant_from_tables, tables_of
from qc.domain.unit.release import blockers
from qc.store.folder.photos import PhotoStore
from qc.store.intake.awaited import awaited
from qc.store.intake.journal import Journal, PushBatch
from qc.store.people import devices
from qc.store.reading.reads import Reads

TABLES = tables_of(folder("demo_data") / "plant")
PLANT = plant_from_tables(TABLES)
STORY = read_story(folder("demo_data") / "story")
SLOW = {**STORY.phones, "slow": {"device": "P3", "weeks": [2, 3], "minutes": 37}}
END_POINTS = ("T01", "T02", "D01")


class Play:
    """Three weeks played into a record, which stays open."""

    def __init__(self, path):
        everybody = {person.code: person for person in people(PLANT)}
        self.simulation = Simulation(replace(STORY, phones=SLOW), PLANT, 5, 3)
        self.journal = Journal(path, PLANT, TABLES, lambda: self.player.now_ms, everybody.get)
        photos = PhotoStore(path, self.journal.write, lambda: self.player.now_ms)
        self.player = Player(self.simulation, self.journal, photos)
        self.lines = []
        self.played = self.player.play(self.lines.append)
        self.photos = photos
        self.reads = Reads(path, PLANT)
        self.records = {unit.chassis: self.reads.unit_story(unit.chassis) for unit in self.simulation.units}


@pytest.fixture(scope="module")
def play(tmp_path_factory):
    one = Play(tmp_path_factory.mktemp("play") / "record")
    yield one
    one.reads.close()
    one.journal.close()


def test_every_operation_is_applied_save_the_planted_slips(play):
    counts = play.played.verdicts
    refused = Counter(code for _, code, _ in play.played.refused)

    assert refused == {
        "already_released": 1,
        "already_withdrawn": 1,
        "inspection_ended": 1,
        "malformed": 1,
        "not_effective_yet": 1,
        "not_repaired": 1,
        "not_upstream": 1,
        "not_your_role": 1,
        "only_manager_lowers_critical": 2,
        "reason_needed": 1,
        "release_blocked": 1,
        "same_person": 1,
        "sign_off_stale": 1,
        "unit_exists": 1,
        "unknown_code": 1,
        "wrong_chassis": 1,
    }
    assert {code: n for (v, code), n in counts.items() if v == "quarantined"} == {
        "from_future": 1,
        "late": 1,
        "unverified_author": 1,
    }
    assert counts["duplicate", "applied"] > 0
    assert {(one.entries, one.unit[-5:]) for one in awaited(play.reads.connection(), 10)} == {(1, "99999")}
    assert {verdict for verdict, _ in counts} <= {"applied", "refused", "quarantined", "duplicate", "parked"}


def test_what_was_parked_came_into_effect_when_its_inspection_arrived(play):
    aside = [event for record in play.records.values() for event in record.not_in_effect if event.verdict == "parked"]

    assert aside == []


def test_what_happened_when_comes_out_right_from_the_slow_phone_too(play):
    happened = {
        event.operation.id: event.happened_ms
        for unit in play.simulation.units
        for event in play.reads.operations_of(unit.chassis)
    }
    found = [found for visit in play.simulation.visits for found in visit.findings if found.id in happened]
    slow = [one for one in found if one.device == "P3" and play.simulation.hours.at(one.ms).week in (2, 3)]

    assert len(slow) > 10
    assert all(happened[one.id] == one.ms for one in found)
    assert all(play.simulation.network.clock("P3", one.ms) == one.ms - 37 * 60_000 for one in slow)


def test_first_presentations_hold_what_was_first_found_and_nothing_else(play):
    """Re-looks, re-presentations, twins, false calls and failed re-checks change no first-presentation figure."""
    compared = 0
    for visit in play.simulation.visits:
        record = play.records[visit.unit.chassis]
        first = {one.id: one.point for one in record.inspections if one.presentation == 1 and one.ended_ms}
        if set(first.values()) != set(END_POINTS):
            continue  # its walk-round had not reached the server at the end
        kept = [one for one in record.defects if one.inspection in first and one.state != "withdrawn"]
        # A twin by another inspector may still wait, at the play's end, to be withdrawn.
        own = [one for one in kept if one.finder in (visit.unit.inspector, "TB1", "TB2")]
        told = Counter(first[one.inspection] for one in own)
        assert told == Counter(m.found for m in visit.made if m.found in END_POINTS), visit.unit.shop_number
        compared += 1

    assert compared > 140


def test_relooks_are_no_presentations_and_find_again_what_was_withdrawn_as_twin(play):
    relooks = [one for r in play.records.values() for one in r.inspections if one.purpose == "relook"]
    ids = {one.id for one in relooks}
    found = [one for r in play.records.values() for one in r.defects if one.inspection in ids]

    assert len(relooks) >= 11
    assert {one.presentation for one in relooks} == {0}
    assert any(one.state == "withdrawn" and one.duplicate_of for one in found)
    assert any(one.state != "withdrawn" for one in found)


def test_released_units_have_nothing_open_and_others_say_what_blocks_them(play):
    states = Counter(record.state for record in play.records.values())

    assert states["released"] > 120
    for record in play.records.values():
        open_here = [one for one in record.defects if one.is_open and one.point != "FIELD"]
        if record.state == "released":
            assert open_here == []
        elif open_here:
            assert {"defect", "recheck"} & {one.code for one in blockers(record, PLANT)}


def test_a_third_of_the_following_units_waits_tested_for_daylight(play):
    following = [play.records[unit.chassis] for unit in play.simulation.units[-FOLLOWING:]]
    points = [{one.point for one in record.inspections} for record in following]

    assert points.count({"T01", "T02"}) == 8
    assert Counter(record.state for record in following)["planned"] == 8
    assert Counter(record.state for record in following)["on_line"] == 8


def test_every_picture_that_the_record_names_is_kept(play):
    named = {sha for record in play.records.values() for one in record.defects for sha in one.photos}

    assert len(named) > 50
    assert all(play.photos.path(sha) is not None for sha in named)


def test_a_failed_recheck_is_one_defect_with_one_more_cycle(play):
    again = [one for record in play.records.values() for one in record.defects if one.cycles > 0]

    assert again
    assert all(one.repairs for one in again)


def test_progress_is_told_week_by_week(play):
    assert [line.split(":")[0] for line in play.lines[1:]] == ["week 1 of 3", "week 2 of 3", "week 3 of 3"]


def raw_operation(play, seq, epoch, **changed):
    rising = 1_800_000_000_000 + seq
    raw = {
        "id": uuid7_of(rising, bytes([seq, len(epoch)]) + bytes(8)),
        "device": "P1",
        "install_epoch": epoch,
        "seq": seq,
        "kind": "inspection_begun",
        "schema": 1,
        "unit": play.simulation.units[0].chassis,
        "body": {"point": "D01", "purpose": "relook", "light": "bright"},
        "author": "I1",
        "deps": [],
        "seen_through": 0,
        "wall_ms": rising,
        "tz_min": 0,
        "session": "s",
        "mono_ms": 0,
    }
    return {**raw, **changed}


def pushed(play, *raws, device="P1"):
    now = 1_800_000_100_000
    operations = [(orjson.dumps(raw), raw) for raw in raws]
    answer = play.journal.push(PushBatch(device, raws[0]["install_epoch"], now, operations, None, now))
    return [(verdict.verdict, verdict.code) for verdict in answer.verdicts]


def test_the_rules_that_no_play_meets_are_met_too(play):
    """What only a broken phone sends: a gap, a number used twice, an id with other content, a kind from the future."""
    first = raw_operation(play, 1, "odd")
    other = {**first, "body": {**first["body"], "light": "wet"}}

    assert pushed(play, first) == [("applied", "")]
    assert pushed(play, first) == [("duplicate", "applied")]
    assert pushed(play, other) == [("id_reused", "id_reused")]
    assert pushed(play, raw_operation(play, 3, "odd"))[0][0] == "gap"
    assert pushed(play, raw_operation(play, 2, "odd", kind="unit_weighed"))[0][0] == "too_new"
    assert pushed(play, raw_operation(play, 1, "odd", id=uuid7_of(1_800_000_000_500, b"0123456789")))[0] == (
        "quarantined",
        "sequence_reused",
    )


def test_a_revoked_phone_is_heard_without_effect(play):
    phones = devices.Devices(play.journal, play.reads.connection)
    phones.enrol("P9")
    phones.revoke("P9")

    assert pushed(play, raw_operation(play, 1, "p9", device="P9"), device="P9") == [("quarantined", "device_revoked")]
