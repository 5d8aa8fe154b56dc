"""What a record may hold is judged by the rule set of its day: a new kind or field begins with a rule set of its own.

Without it a row that an earlier program refused would come into effect when the record is derived anew.
"""

from qc.domain.acts.kinds import KINDS
from qc.domain.facts.rule_set import RULES, SINCE

# The kinds that were known before a rule set brought any, with the fields of then. Nothing is ever added here.
FROM_THE_BEGINNING = {
    "unit_planned": "model shop_number sequence planned_day options build_sheet",
    "plan_changed": "changes",
    "station_passed": "station",
    "inspection_begun": "point purpose light weather",
    "inspection_ended": "inspection",
    "zone_looked_at": "inspection zones",
    "zone_not_looked_at": "inspection zone reason note",
    "defect_recorded": "point zone type severity inspection note mark severity_reason linked_to",
    "defect_corrected": "defect changes reason",
    "defect_withdrawn": "defect why reason duplicate_of",
    "photo_attached": "defect sha256 bytes width height view",
    "photo_withdrawn": "defect sha256 reason",
    "test_recorded": "test instrument value passed inspection calibrated_until note",
    "test_withdrawn": "result reason",
    "origin_suspected": "defect station",
    "origin_confirmed": "defect station",
    "origin_passed_on": "defect station reason",
    "origin_disputed": "defect reason",
    "origin_settled": "defect station reason",
    "repair_done": "defects method minutes place note",
    "recheck_accepted": "defect",
    "recheck_failed": "defect reason",
    "unit_released": "open_digest against",
    "field_finding": "zone type severity found_day note linked_to",
    "change_noted": "station change what from_day types",
    "signal_muted": "station type direction reason until",
    "signal_unmuted": "mute",
    "quarantine_taken": "operation reason",
    "quarantine_left": "operation reason",
    "key_changed": "key_id public reason vouched_by",
}


def test_a_kind_that_was_not_known_from_the_beginning_names_its_rule_set():
    begun = {name for name, kind in KINDS.items() if kind.effective and not kind.since}

    assert begun == set(FROM_THE_BEGINNING)


def test_a_field_that_a_kind_did_not_have_from_the_beginning_names_its_rule_set():
    for name, told in FROM_THE_BEGINNING.items():
        kind = KINDS[name]
        assert {field for field in (*kind.fields, *kind.optional) if (name, field) not in SINCE} == set(told.split())


def test_no_rule_set_is_named_that_is_still_to_come():
    named = [kind.since for kind in KINDS.values()] + [kind.widened for kind in KINDS.values()] + [*SINCE.values()]

    assert max(named) <= RULES
    assert all(kind.fields.get(field) or kind.optional.get(field) for (name, field) in SINCE for kind in [KINDS[name]])
