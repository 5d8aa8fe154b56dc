"""The gate: what stands between a unit and its release, and whether a signer saw what the record holds.

Judged from the unit's operations (`unit.fold`), never from a status column; what is missing blocks (fails closed).
The rule: identity read off the plate; every required test passed and not voided; every zone looked at in a final
inspection; no open defect; every failure of a hazardous test told by a defect; every repair looked at again by another
person; no alarm; planned and not cancelled. Planned arrangements done before
release, with who authorised it: ISO 9001, 8.6. Conformity verified after correction: ISO 9001, 8.7; that it be
another person is common practice, no source. Nothing here says that a unit is safe.
"""

import hashlib
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import partial

from qc.domain.facts.rule_set import CANCELLING, FAILURES_STAND, RULES, UNITS_MET
from qc.domain.plant.judging import judged_reading, told_reading
from qc.domain.plant.naming import Names
from qc.domain.plant.plant import Plant, Test
from qc.domain.unit.retests import untold
from qc.domain.unit.unit_record import CancelRecord, DefectRecord, Event, TestRecord, UnitRecord

# Operations that change what a release rests on; others (a photo, an origin) leave a signature standing.
SIGNED_KINDS = frozenset(
    {
        "zone_not_looked_at",
        "defect_recorded",
        "defect_corrected",
        "defect_withdrawn",
        "field_finding",
        "test_recorded",
        "test_withdrawn",
        "repair_done",
        "recheck_accepted",
        "recheck_failed",
        "unit_cancelled",
    }
)


@dataclass(frozen=True, slots=True)
class Blocker:
    """One thing between a unit and its release. code is stable; ref names the zone, test, defect or inspection.

    what: in whole, which a verdict keeps; why: how the zone or defect stands, without its name, "" of anything else.
    """

    code: str
    what: str
    ref: str
    why: str = ""

    def as_dict(self) -> dict[str, str]:
        """Return the blocker as the JSON object that phones and pages get."""
        return {"code": self.code, "what": self.what, "ref": self.ref}


def blockers(record: UnitRecord, plant: Plant, rules: int = RULES) -> tuple[Blocker, ...]:
    """Return everything that blocks the unit's release under the plant's present tables; empty where nothing does.

    rules: the rule set to judge by; a release that was signed under an earlier one is judged again by that.
    """
    names = Names(plant, rules)
    return tuple(one for rule, since in GATE if rules >= since for one in rule(record, plant, names))


def open_digest(record: UnitRecord) -> str:
    """Return the SHA-256 (hex) of the unit's open list, as a signer's phone computes it from what it shows."""
    return digest_of_open((one.id, one.state, one.severity) for one in record.defects if one.is_open)


def digest_of_open(defects: Iterable[tuple[str, str, str]]) -> str:
    """Return the SHA-256 (hex) of defects that are open or repaired: id, state and severity of each, in any order.

    One line "<id> <state> <severity>\\n" for each, in id order, as UTF-8. A unit with nothing open has the digest of
    no bytes.
    """
    lines = sorted(f"{id_} {state} {severity}\n" for id_, state, severity in defects)
    return hashlib.sha256("".join(lines).encode()).hexdigest()


def unseen(events: Iterable[Event], sign_off: Event) -> tuple[Event, ...]:
    """Return what came into effect on the unit after the newest number that the signer's device had pulled.

    What the signing installation made itself, before signing, it knew. Only kinds that a release rests on.
    """
    signed = sign_off.operation
    own = (signed.device, signed.install_epoch)
    return tuple(
        event
        for event in events
        if event.verdict == "applied"
        and event.since > signed.seen_through
        and event.operation.kind in SIGNED_KINDS
        and not ((event.operation.device, event.operation.install_epoch) == own and event.operation.seq < signed.seq)
    )


def unseen_words(event: Event, record: UnitRecord, names: Names) -> str:
    """Return an unseen operation in a few words, for the person whose signature it made stale.

    record: of its unit. names: of the plant, by the rule set of the signature.
    """
    op, body = event.operation, event.operation.body
    what = body.get("defect") or ""
    if names.are_told and (defect := next((one for one in record.defects if one.id == what), None)):
        what = _flaw(record, defect, names)
    for field, named in (("zone", partial(names.zone, record.model)), ("test", names.test), ("type", names.type)):
        if code := body.get(field):
            what = named(code)
    return f"{op.kind.replace('_', ' ')} {what} by {op.author} (no. {event.number})".replace("  ", " ")


def final_looks(record: UnitRecord, plant: Plant) -> dict[str, tuple[bool, str]]:
    """Return for each zone marked in a final inspection whether it was looked at, and why not: its latest mark."""
    marks = sorted(
        (look for one in record.inspections if plant.is_final_inspection(one.point) for look in one.looks),
        key=lambda look: look.number,
    )
    return {look.zone: (look.looked, look.reason) for look in marks}


def _final_points(record: UnitRecord, plant: Plant, names: Names) -> str:
    """Return where a zone is to be looked at, in words that a verdict keeps: those of its time for tables of before."""
    if not plant.says_final:
        return "in the daylight bay"
    finals = " or ".join(names.place(one.id) for one in plant.final_inspections(record.model, record.line))
    return f"at {finals or 'a final inspection'}"


def _identity(record: UnitRecord, plant: Plant, names: Names) -> Iterator[Blocker]:
    plates = [zone for zone in plant.zones_of(record.model, options=record.options) if zone.holds == "plate"]
    looks = final_looks(record, plant)
    if not plates:
        yield Blocker("identity", f"the plant's tables name no plate zone on a {record.model}", "")
    for zone in plates:
        if not looks.get(zone.key, (False, ""))[0]:
            what = f"the chassis number has not been read off the metal ({zone.name})"
            yield Blocker("identity", what, zone.key, "the number is not read off the metal")


def _zones(record: UnitRecord, plant: Plant, names: Names) -> Iterator[Blocker]:
    looks, where = final_looks(record, plant), _final_points(record, plant, names)
    zones = plant.zones_of(record.model, options=record.options)
    if not zones:
        yield Blocker("zone", f"the plant's tables name no zone of a {record.model}", "")
    for zone in zones:
        looked, reason = looks.get(zone.key, (False, ""))
        if not looked and zone.holds != "plate":
            why = f"not looked at ({reason.replace('_', ' ')})" if reason else "not marked as looked at"
            yield Blocker("zone", f"{zone.name}: {why} {where}", zone.key, f"{why} {where}")


def _running(record: UnitRecord, plant: Plant, names: Names) -> Iterator[Blocker]:
    for one in record.inspections:
        if one.ended_ms is None and one.point in plant.end_points():
            begun = f"{one.inspector} began to look at {names.place(one.point)}"
            yield Blocker("inspection_running", f"{begun} and has not ended; end it, or wait for that phone", one.id)


def _tests(record: UnitRecord, plant: Plant, names: Names) -> Iterator[Blocker]:
    day_of = _days(plant)
    for test in plant.tests_of(record.model, options=record.options, line=record.line):
        if why := _test_lack(record.latest_test(test.id), test, day_of):
            yield Blocker("test", f"{test.id} {test.name}: {why}", test.id)


def _test_lack(latest: TestRecord | None, test: Test, day_of: Callable[[int], str]) -> str:
    if latest is None:
        return "not tested"
    if latest.voided_by:
        return "voided by a later repair, test again"
    if not latest.passed:
        return "failed"
    if test.kind == "measure" and (
        latest.value is None or judged_reading(test, latest.value, latest.beyond) is not True
    ):
        return "outside today's limits, which changed since; test again"
    if latest.calibrated_until is not None and latest.calibrated_until < day_of(latest.tested_ms):
        return f"instrument {latest.instrument} was past its calibration date; test again with one in date"
    return ""


def _days(plant: Plant) -> Callable[[int], str]:
    from qc.domain.plant.calendar import (
        ProductionCalendar,  # time zones are read from disk: only where tests are judged
    )

    calendar = ProductionCalendar(plant)
    return lambda ms: calendar.local(ms).date().isoformat()


def _defects(record: UnitRecord, _plant: Plant, names: Names) -> Iterator[Blocker]:
    for one in record.defects:
        if one.state == "open":
            more = "; concessions come with a later version" if one.severity == "minor" else ""
            yield Blocker(
                "defect",
                f"{names.severity(one.severity, one.grade)} {_flaw(record, one, names)} is open{more}",
                one.id,
                "open",
            )
        elif one.state == "repaired":
            yield _standing(
                record, one, names, "recheck", f"repaired by {', '.join(one.repairers())}, another must look again"
            )


def _repairs(record: UnitRecord, _plant: Plant, names: Names) -> Iterator[Blocker]:
    for one in record.defects:
        if one.state != "closed":
            continue
        if one.rechecked_by is None or one.rechecked_by in one.repairers() or not one.repairers():
            yield _standing(record, one, names, "recheck", "no other person than the repairer looked")
        elif one.repairs[-1].method == "repair":
            why = "repaired short of the requirement, which needs a concession"
            yield _standing(
                record, one, names, "concession", f"{why}; those come with a later version, rework it until then"
            )


def _standing(record: UnitRecord, one: DefectRecord, names: Names, code: str, why: str) -> Blocker:
    return Blocker(code, f"{_flaw(record, one, names)}: {why}", one.id, why)


def _flaw(record: UnitRecord, one: DefectRecord, names: Names) -> str:
    return f"{names.type(one.type)} in {names.zone(record.model, one.zone)}"


def _failures(record: UnitRecord, _plant: Plant, names: Names) -> Iterator[Blocker]:
    for one in untold(record.tests):
        reading = "" if one.value is None else f" ({told_reading(one.value, one.beyond)} {one.unit})"
        failed = f"{names.test(one.test)} failed{reading}, measured by {one.tester}, and no defect tells it"
        what = f"{failed}; record {names.type(one.fails_into)}"
        yield Blocker("failure_untold", what, one.id)


def _cancelled(record: UnitRecord, _plant: Plant, names: Names) -> Iterator[Blocker]:
    if record.cancelled is not None:
        what = f"{cancelled_words('the unit', record.cancelled)}; a planner takes it up again first"
        yield Blocker("cancelled", what, "")


def cancelled_words(unit: str, one: CancelRecord) -> str:
    """Return that a unit is cancelled, by whom and why, as the beginning of a sentence."""
    return f"{unit} is cancelled by {one.by} ({one.reason})"


def _unplanned(record: UnitRecord, _plant: Plant, names: Names) -> Iterator[Blocker]:
    if record.is_unplanned:
        yield Blocker(
            "unplanned", "no plan holds the unit: what it is to be is not known; a planner plans it first", ""
        )


def _alarm(record: UnitRecord, _plant: Plant, names: Names) -> Iterator[Blocker]:
    if record.alarm and not record.looked_since_alarm:
        yield Blocker("alarm", record.alarm, "")


# Each rule of the gate with the rule set that brought it.
GATE: tuple[tuple[Callable[[UnitRecord, Plant, Names], Iterator[Blocker]], int], ...] = (
    (_cancelled, CANCELLING),
    (_unplanned, UNITS_MET),
    (_alarm, 1),
    (_identity, 1),
    (_defects, 1),
    (_failures, FAILURES_STAND),
    (_repairs, 1),
    (_tests, 1),
    (_zones, 1),
    (_running, 1),
)
