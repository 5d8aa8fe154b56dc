"""A unit read from its operations is the unit that the tables tell: two readings that must not part."""

import collections
import sqlite3
from contextlib import closing

import orjson
import pytest

from qc.store.reads import Reads
from tests.store.random_days import a_random_day
from tests.store.record_kit import PLANT, open_journal


def rows(conn, query, unit):
    return conn.execute(query, (unit,)).fetchall()


def told_by_tables(conn, unit):
    return {
        "unit": rows(
            conn,
            "SELECT chassis, shop_number, sequence, model, state, alarm, last_number FROM unit WHERE chassis = ?",
            unit,
        ),
        "passes": sorted(rows(conn, "SELECT station, passed_ms FROM station_pass WHERE unit = ?", unit)),
        "inspections": sorted(
            rows(
                conn,
                "SELECT id, point, purpose, presentation, inspector, light, begun_ms, ended_ms, number"
                "  FROM inspection WHERE unit = ?",
                unit,
            )
        ),
        "looks": sorted(
            rows(
                conn,
                "SELECT inspection, zone, looked, reason, zone_look.number"
                "  FROM zone_look JOIN inspection ON inspection.id = inspection WHERE unit = ?",
                unit,
            )
        ),
        "defects": sorted(
            rows(
                conn,
                "SELECT id, inspection, point, zone, type, severity, note, mark, found_ms, finder, state, cycles,"
                "       repair_minutes, repaired_by, rechecked_by, withdrawn_why, duplicate_of, suspected, confirmed,"
                "       origin_state, origin_ms, changed_also_by, number"
                "  FROM defect WHERE unit = ?",
                unit,
            )
        ),
        "photos": sorted(
            rows(conn, "SELECT defect, sha256 FROM defect_photo JOIN defect ON defect.id = defect WHERE unit = ?", unit)
        ),
        "tests": sorted(
            rows(
                conn,
                "SELECT id, test, value, beyond, passed, again, voided_by, taken_back IS NOT NULL, tested_ms"
                "  FROM test_result WHERE unit = ?",
                unit,
            )
        ),
        "releases": rows(conn, "SELECT id, signed_by, released_ms FROM release_record WHERE unit = ?", unit),
    }


def told_by_operations(record):
    return {
        "unit": [
            (
                record.chassis,
                record.shop_number,
                record.sequence,
                record.model,
                record.state,
                record.alarm,
                record.last_number,
            )
        ],
        "passes": sorted(record.passes),
        "inspections": sorted(
            (i.id, i.point, i.purpose, i.presentation, i.inspector, i.light, i.begun_ms, i.ended_ms, i.number)
            for i in record.inspections
        ),
        "looks": sorted(
            (i.id, look.zone, int(look.looked), look.reason, look.number)
            for i in record.inspections
            for look in i.looks
        ),
        "defects": sorted(
            (
                d.id,
                d.inspection,
                d.point,
                d.zone,
                d.type,
                d.severity,
                d.note,
                None if d.mark is None else orjson.dumps(d.mark).decode(),
                d.found_ms,
                d.finder,
                d.state,
                d.cycles,
                sum(repair.minutes for repair in d.repairs),
                d.repaired_by,
                d.rechecked_by,
                d.withdrawn_why,
                d.duplicate_of,
                d.origin.suspected,
                d.origin.confirmed,
                d.origin.state,
                d.origin.at_ms,
                orjson.dumps(d.changed_also_by()).decode(),
                d.number,
            )
            for d in record.defects
        ),
        "photos": sorted((d.id, sha256) for d in record.defects for sha256 in d.photos),
        "tests": sorted(
            (
                t.id,
                t.test,
                t.value,
                t.beyond,
                int(t.passed),
                t.again,
                t.voided_by,
                int(t.taken_back_by is not None),
                t.tested_ms,
            )
            for t in record.tests
        ),
        "releases": [(r.id, r.signed_by, r.released_ms) for r in record.releases],
    }


def reached_in(conn):
    """Count what happened, by kind and verdict, by refusal, and the turns that only some days take."""
    told = dict(
        conn.execute(
            "SELECT kind || ' ' || verdict || ' ' || code, count(*) FROM verdict JOIN journal USING (number) GROUP BY 1"
        )
    )
    for name, query in TURNS.items():
        told[name] = conn.execute(query).fetchone()[0]
    return told


TURNS = {
    "done again after a failure": "SELECT count(*) FROM test_result WHERE again <> ''",
    "open-ended": "SELECT count(*) FROM test_result WHERE beyond <> ''",
    "voided": "SELECT count(*) FROM test_result WHERE voided_by IS NOT NULL",
    "presentations by when they began": "SELECT count(*) FROM inspection AS a JOIN inspection AS b USING (unit, point)"
    " WHERE a.presentation > b.presentation AND b.presentation > 0 AND a.number < b.number",
    "changed also by": "SELECT count(*) FROM defect WHERE changed_also_by <> '[]'",
    "alarm": "SELECT count(*) FROM unit WHERE alarm <> ''",
    "settled later": "SELECT count(*) FROM verdict WHERE since <> number",
}


def played(folder, seed, steps, reached):
    with open_journal(folder) as journal:
        day = a_random_day(journal, seed, steps)
    reads = Reads(folder, PLANT)
    with closing(sqlite3.connect(folder / "record.sqlite")) as conn:
        for unit in day.units:
            assert told_by_operations(reads.unit_story(unit)) == told_by_tables(conn, unit), f"seed {seed}"
        reached.update(reached_in(conn))
    reads.close()


def test_operations_and_tables_tell_the_same_unit(tmp_path):
    """And the random days reach what they are meant to compare, or empty tables would equal empty records."""
    reached = collections.Counter()
    for seed in range(12):
        played(tmp_path / str(seed), seed, 160, reached)

    refused = {key.split()[-1] for key in reached if " refused " in key}
    lacking = [kind for kind in EXPECTED if reached[f"{kind} applied "] == 0]
    assert (lacking, REFUSALS - refused) == ([], set())
    assert [turn for turn in TURNS if reached[turn] == 0] == []


@pytest.mark.long
def test_operations_and_tables_tell_the_same_unit_on_many_days(tmp_path):
    for seed in range(1000, 1300):
        played(tmp_path / str(seed), seed, 300, collections.Counter())


EXPECTED = (
    "inspection_begun",
    "inspection_ended",
    "zone_looked_at",
    "zone_not_looked_at",
    "defect_recorded",
    "defect_corrected",
    "defect_withdrawn",
    "photo_withdrawn",
    "test_recorded",
    "test_withdrawn",
    "origin_suspected",
    "origin_confirmed",
    "origin_passed_on",
    "origin_disputed",
    "origin_settled",
    "repair_done",
    "recheck_accepted",
    "recheck_failed",
    "field_finding",
    "unit_released",
    "change_noted",
    "signal_muted",
    "signal_unmuted",
)
REFUSALS = {
    "unknown_code",
    "not_your_role",
    "not_upstream",
    "same_person",
    "not_repaired",
    "implausible_value",
    "already_withdrawn",
    "only_manager_lowers_critical",
    "reason_needed",
    "sign_off_stale",
    "inspection_ended",
    "wrong_chassis",
    "depends_on_refused",
    "until_out_of_range",
    "already_muted",
    "not_muted",
}
