"""The simulated acts are what phones would send: order, clocks, signal and shares as the story sets them."""

import hashlib
from collections import Counter, defaultdict

import pytest
from scipy import stats

from qc.assets import folder
from qc.demo.cast import phone_of
from qc.demo.looks import SHOWS
from qc.demo.phones import Phones
from qc.demo.simulate import FOLLOWING, Simulation
from qc.demo.story import read_story
from qc.domain.acts.kinds import KINDS, body_fault
from qc.domain.facts.operations import envelope_fault
from qc.domain.plant.plant import UNKNOWN
from qc.domain.tables.plant_tables import read_plant

PLANT = read_plant(folder("demo_data") / "plant")
STORY = read_story(folder("demo_data") / "story")
HOUR = 3_600_000


class Whole:
    """The whole play's acts, made once for the module."""

    def __init__(self):
        self.simulation = Simulation(STORY, PLANT, 11, 26)
        self.acts = self.simulation.acts()
        self.by_kind = defaultdict(list)
        for act in self.acts:
            self.by_kind[act.kind].append(act)


@pytest.fixture(scope="module")
def whole():
    return Whole()


def binomial_band(share, of, level=0.9999):
    """Limits that a count with this share stays in; a check with them fails on 1 seed in 10 000."""
    low, high = stats.binom.interval(level, of, share)
    return range(int(low), int(high) + 1)


def test_the_same_seed_makes_the_same_acts():
    first, second = (Simulation(STORY, PLANT, 3, 1).acts() for _ in range(2))

    assert [(a.id, a.kind, a.body) for a in first] == [(a.id, a.kind, a.body) for a in second]
    assert Simulation(STORY, PLANT, 4, 1).acts()[100].id not in {a.id for a in first}


def test_every_operation_has_the_shape_that_the_app_sends(whole):
    from zoneinfo import ZoneInfo

    phones = Phones(whole.simulation.network, whole.simulation.hours, ZoneInfo("Europe/London"), authors=None)
    broken = []
    for act in whole.acts:
        raw = phones.envelope(act, 0)
        assert envelope_fault(raw) is None
        body = {**raw["body"], "open_digest": hashlib.sha256().hexdigest()} if act.digest else raw["body"]
        if body_fault(KINDS[act.kind], act.unit, body):
            broken.append(act)

    assert len(broken) == 2  # the planted slip with an empty note, on two units


def test_ids_are_unique_and_sequences_dense_in_each_device(whole):
    assert len({act.id for act in whole.acts}) == len(whole.acts)
    last = {}
    for act in whole.acts:
        assert act.ms >= last.get(act.device, 0), "a device sends in the order in which it recorded"
        last[act.device] = act.ms


def test_pushes_hold_one_device_and_a_hundred_operations_at_most(whole):
    phones = Phones(whole.simulation.network, whole.simulation.hours, None, authors=None)
    sizes = []
    for portion in phones.pushes(whole.acts):
        assert len({(act.device, act.known) for act in portion}) == 1
        sizes.append(len(portion))

    assert sum(sizes) == len(whole.acts)
    assert max(sizes) <= 100


def test_a_third_of_what_phones_record_is_without_signal_for_eleven_hours_at_most(whole):
    phone_acts = [act for act in whole.acts if act.device.startswith("P")]
    offline = sum(whole.simulation.network.offline(act.device, act.ms) for act in phone_acts)
    waits = [act.known - act.ms for act in phone_acts]

    assert 0.30 < offline / len(phone_acts) < 0.40
    assert 10 * HOUR < max(waits) <= 11 * HOUR
    assert min(waits) >= 0


def test_the_slow_phone_is_37_minutes_slow_in_its_weeks_only(whole):
    network, hours = whole.simulation.network, whole.simulation.hours

    def slow(device, week):
        ms = hours.end_of_week(week) - HOUR
        return (ms - network.clock(device, ms)) / 60_000

    assert [slow("P3", week) for week in (6, 7, 8, 9, 10)] == [0, 37, 37, 37, 0]
    assert slow("P2", 8) == 0
    used = [
        act for act in whole.by_kind["defect_recorded"] if act.device == "P3" and hours.at(act.ms).week in (7, 8, 9)
    ]
    assert len(used) > 30


def test_an_id_carries_the_clock_of_its_own_phone(whole):
    for act in whole.by_kind["defect_recorded"][:3000]:
        made = int(act.id.replace("-", "")[:12], 16)
        assert made == whole.simulation.network.clock(act.device, act.ms)


def test_the_full_phone_keeps_the_record_and_loses_only_the_picture(whole):
    hours = whole.simulation.hours
    pictured = {act.body["defect"] for act in whole.by_kind["photo_attached"]}
    full = [a for a in whole.by_kind["defect_recorded"] if a.device == "P5" and hours.at(a.ms).week == 16]

    assert phone_of("I2", 16) == "P5"
    assert full
    assert not pictured & {act.id for act in full}
    compulsory = [act for act in full if PLANT.types[act.body["type"]].photo_required]
    assert compulsory
    assert all("no picture" in act.body["note"] for act in compulsory)


def test_compulsory_pictures_are_there_otherwise(whole):
    pictured = {act.body["defect"] for act in whole.by_kind["photo_attached"]}
    refused = {act.id for act in whole.by_kind["defect_recorded"] if "mark" not in act.body}  # the planted slips
    missing = [
        act
        for act in whole.by_kind["defect_recorded"]
        if PLANT.types[act.body["type"]].photo_required
        and act.id not in pictured | refused
        and not (act.device == "P5" and whole.simulation.hours.at(act.ms).week == 16)
        and act.known < whole.simulation.ends - HOUR
    ]

    assert missing == []


def test_all_fourteen_criticals_are_recorded_and_the_escape_by_the_dealer_in_its_week(whole):
    planted = {c.type for c in STORY.criticals}
    found = [a for a in whole.by_kind["defect_recorded"] if a.body["severity"] == "critical" and "mark" in a.body]
    distinct = {(act.unit, act.body["type"]) for act in found}
    field = [act for act in whole.by_kind["field_finding"] if act.body["severity"] == "critical"]

    assert len(distinct) == 13
    assert {kind for _, kind in distinct} | {field[0].body["type"]} == planted
    assert [whole.simulation.hours.at(act.ms).week for act in field] == [19]
    assert [act.body["type"] for act in field] == ["GAS-03"]


def test_the_faulty_device_is_disputed_by_its_lead_and_settled_as_the_suppliers(whole):
    (recorded,) = [a for a in whole.by_kind["defect_recorded"] if a.body["type"] == "MNS-01"]
    said = [act for act in whole.acts if act.body.get("defect") == recorded.id and act.kind.startswith("origin")]

    assert [(act.kind, act.author, act.body.get("station")) for act in said] == [
        ("origin_suspected", recorded.author, "EH1"),
        ("origin_disputed", "L-EH1", None),
        ("origin_settled", "QM1", "SUP"),
    ]


def first_finds(whole):
    """Findings of first presentations, with what is truly there."""
    return [found for visit in whole.simulation.visits for found in visit.findings if found.made.planted is None]


def test_guesses_at_the_origin_are_right_wrong_and_open_by_the_storys_shares(whole):
    guess = {}
    for act in whole.by_kind["origin_suspected"]:
        guess.setdefault(act.body["defect"], act)
    asked = [(found, guess.get(found.id)) for found in first_finds(whole) if found.made.origin != UNKNOWN]
    own = [(found, act.body["station"] if act and act.author == found.finder else UNKNOWN) for found, act in asked]
    right = sum(station == found.made.origin for found, station in own)
    unknown = sum(station == UNKNOWN for _, station in own)

    assert right in binomial_band(STORY.origin["suspected_right"], len(own))
    assert unknown in binomial_band(STORY.origin["suspected_unknown"], len(own))


def test_confirmed_origins_are_right_by_the_storys_share_and_come_within_three_days(whole):
    confirmed = {act.body["defect"]: act for act in whole.by_kind["origin_confirmed"]}
    early = whole.simulation.ends - 15 * 24 * HOUR  # later ones may still come
    asked = [f for f in first_finds(whole) if f.made.origin != UNKNOWN and f.ms < early]
    done = [(found, confirmed[found.id]) for found in asked if found.id in confirmed]
    right = sum(act.body["station"] == found.made.origin for found, act in done)
    soon = sum(act.ms - found.known <= 3 * 24 * HOUR + 64 * HOUR for found, act in done)  # three days and a weekend

    assert right in binomial_band(STORY.origin["confirmed_right"], len(done))
    assert soon / len(done) > STORY.origin["within_3_days"] - 0.03
    assert 0.86 < len(done) / len(asked) < 0.93


def test_nobody_names_an_origin_that_is_not_upstream_save_in_the_planted_slips(whole):
    from qc.domain.plant.graph import BuildGraph

    graph = BuildGraph(PLANT)
    recorded = {act.id: act for act in whole.by_kind["defect_recorded"]}
    models = {unit.chassis: unit.model for unit in whole.simulation.units}
    wrong = [
        act
        for act in whole.acts
        if act.kind.startswith("origin") and act.body.get("station") and act.body["defect"] in recorded
        if act.body["station"]
        not in graph.possible_origins(recorded[act.body["defect"]].body["point"], models[act.unit])
    ]

    assert Counter(act.body["station"] for act in wrong) == {"X01": 2}


def test_repairs_fail_their_recheck_by_the_storys_share_and_another_person_looks(whole):
    looked = len(whole.by_kind["recheck_failed"]) + len(whole.by_kind["recheck_accepted"])

    assert len(whole.by_kind["recheck_failed"]) in binomial_band(STORY.noise["recheck_fails"], looked)
    repairers = {act.author for act in whole.by_kind["repair_done"]}
    own = [act for act in whole.by_kind["recheck_accepted"] if act.author in repairers]
    assert len(own) == 2  # planted slips


def test_doubles_are_withdrawn_as_such_and_sent_twice_ones_are_marked(whole):
    finds = len(first_finds(whole))
    duplicates = [act for act in whole.by_kind["defect_withdrawn"] if act.body["why"] == "duplicate"]
    relooks = {a.id for a in whole.by_kind["inspection_begun"] if a.body["purpose"] == "relook"}
    recorded = {act.id: act for act in whole.by_kind["defect_recorded"]}
    beside = {a.body["defect"] for a in duplicates if recorded[a.body["defect"]].body["inspection"] not in relooks}
    twice = sum(act.twice for act in whole.by_kind["defect_recorded"])

    # Twins in the daylight bay only, most of the finds; each about half of the story's share of doubles.
    assert 0.004 < len(beside) / finds < 0.012
    assert 0.004 < twice / finds < 0.012
    assert all(recorded[act.body["duplicate_of"]].unit == act.unit for act in duplicates)


def test_thirty_units_are_looked_at_again_in_week_12_and_four_a_week_blind(whole):
    begun = whole.by_kind["inspection_begun"]
    hours = whole.simulation.hours
    again = [act for act in begun if act.body["purpose"] == "containment"]
    blind = [act for act in begun if act.body["purpose"] == "relook"]

    assert len(again) == 30
    assert {hours.at(act.ms).week for act in again} == {12}
    assert Counter(hours.at(act.ms).week for act in blind) == dict.fromkeys(range(1, 27), 4)
    first = {v.unit.chassis: v.unit.inspector for v in whole.simulation.visits}
    assert all(first[act.unit] != act.author for act in blind)


def test_the_scans_agree_with_the_plants_lead_times(whole):
    from qc.domain.plant.calendar import ProductionCalendar

    calendar = ProductionCalendar(PLANT)
    days = {unit.chassis: unit.day for unit in whole.simulation.units[:-FOLLOWING]}
    for act in whole.by_kind["station_passed"]:
        if act.unit in days:
            assert calendar.day_and_shift(act.ms)[0] == calendar.work_day(days[act.unit], act.body["station"])


def test_presentations_end_on_the_units_own_day_and_shift(whole):
    from qc.domain.plant.calendar import ProductionCalendar

    calendar = ProductionCalendar(PLANT)
    for visit in whole.simulation.visits:
        assert calendar.day_and_shift(visit.ended) == (visit.unit.day, visit.unit.shift)


def test_measured_values_are_inside_their_limits_unless_the_test_was_to_fail(whole):
    from qc.domain.plant.judging import within

    results = [act for act in whole.by_kind["test_recorded"] if "value" in act.body]
    outside = [act for act in results if not within(PLANT.tests[act.body["test"]], act.body["value"])]
    made = defaultdict(set)
    for visit in whole.simulation.visits:
        made[visit.unit.chassis] |= {one.type for one in visit.made}

    assert outside
    for act in outside:
        test = act.body["test"]
        shows = SHOWS.get(test, (PLANT.tests[test].defect_on_fail,))
        assert set(shows) & made.get(act.unit, set()) or act.unit not in made


def test_units_are_left_in_work_at_the_end(whole):
    released = {act.unit for act in whole.by_kind["unit_released"]}
    waiting = [unit for unit in whole.simulation.units[-FOLLOWING:] if unit.chassis not in released]
    tested = {act.unit for act in whole.by_kind["inspection_ended"]}

    assert len(waiting) == FOLLOWING
    assert sum(unit.chassis in tested for unit in waiting) == 8
    assert 5 <= sum(v.unit.chassis not in released for v in whole.simulation.visits) <= 40
    assert max(act.known for act in whole.acts) <= whole.simulation.ends
