"""What people and phones get wrong: each rule of the record meets an operation that it must refuse or set aside.

They stand on the first units of the play, so that a short play has them too.
"""

from qc.demo.acts import Act, Log
from qc.demo.cast import DESK, lead_of, phone_of
from qc.demo.findings import Finding, Visit
from qc.demo.hours import MINUTE
from qc.demo.schedule import Unit
from qc.domain.plant.plant import Plant

DAY = 24 * 60 * MINUTE


def planned_twice(log: Log, plant: Plant, unit: Unit, ms: int) -> None:
    """Plan a unit that is planned already, and one whose number does not fit its model."""
    body = {"model": unit.model, "shop_number": unit.shop_number, "sequence": unit.sequence}
    body["planned_day"] = unit.day.isoformat()
    log.add(ms, DESK, "PL1", "unit_planned", unit.chassis, body)
    wrong = unit.chassis[:-5] + "29999"
    log.add(ms + 9_000, DESK, "PL1", "unit_planned", wrong, {**body, "sequence": 29998, "shop_number": "PC7129998"})


def while_looking(log: Log, visit: Visit) -> None:
    """Slips of the inspector in the walk-round of one unit: unplanned number, wrong codes, no reason, ended twice."""
    unit, ms = visit.unit, visit.ended - 2 * MINUTE
    device, who = phone_of(unit.inspector, unit.week), unit.inspector

    def tap(kind: str, body: dict[str, object], chassis: str = unit.chassis, author: str = who) -> Act:
        return log.add(ms, device, author, kind, chassis, body)

    defect = {
        "point": "D01",
        "zone": "in.kitchen",
        "type": "FUR-03",
        "severity": "minor",
        "inspection": visit.inspection,
    }
    tap("inspection_begun", {"point": "D01", "purpose": "presentation", "light": "bright"}, unit.chassis[:-5] + "99999")
    tap("defect_recorded", {**defect, "zone": "nearside.door9"})
    tap("defect_recorded", {**defect, "type": "OPE-02", "zone": "nearside.door", "severity": "minor"})
    tap("defect_recorded", {**defect, "type": "GAS-03", "zone": "front.gas", "severity": "major"})
    tap("defect_recorded", {**defect, "note": ""})
    tap("hold_placed", {"scope": "FU1", "reason": "runners of this rack"})
    ms = visit.ended + MINUTE
    tap("inspection_ended", {"inspection": visit.inspection})


def while_settling(log: Log, visit: Visit, found: Finding) -> None:
    """Slips round one defect: an origin downstream, another station's lead, the repairer's own re-check, too early."""
    unit, ms = visit.unit, found.known + 5 * MINUTE

    def say(kind: str, body: dict[str, object], author: str) -> Act:
        return log.add(ms, DESK, author, kind, unit.chassis, {"defect": found.id, **body}, (found.id,))

    say("origin_suspected", {"station": "X01"}, "QM1")
    say("origin_disputed", {"reason": "not ours"}, lead_of("X01"))
    say("recheck_accepted", {}, "TB1")
    early = log.add(ms, phone_of("I1", unit.week), "I1", "unit_released", unit.chassis, {"against": "a first look"})
    early.digest = True


def own_recheck(log: Log, visit: Visit) -> None:
    """Let the repairer accept the own repair, once it is known."""
    repair = next(act for act in log.acts if act.kind == "repair_done")
    body = {"defect": repair.body["defects"][0]}
    log.add(repair.ms + MINUTE, repair.device, repair.author, "recheck_accepted", visit.unit.chassis, body)


def signed_twice(log: Log, visit: Visit) -> None:
    """Sign from a list of long ago just before the release, and once more after it."""
    release = next(act for act in log.acts if act.kind == "unit_released" and act.ms >= visit.ended + 20 * MINUTE)
    for shift, seen in ((-2 * MINUTE, "long ago"), (3 * MINUTE, "now")):
        ms = release.ms + shift
        again = log.add(ms, release.device, release.author, "unit_released", visit.unit.chassis, dict(release.body))
        again.digest, again.seen = True, seen


def withdrawn_twice(log: Log, visit: Visit) -> None:
    """Withdraw again what is withdrawn."""
    first = next(act for act in log.acts if act.kind == "defect_withdrawn")
    log.add(first.ms + MINUTE, first.device, first.author, "defect_withdrawn", visit.unit.chassis, dict(first.body))


def lowered_critical(log: Log, visit: Visit, found: Finding) -> None:
    """Let a tester lower a critical, which only the quality manager may."""
    body = {"defect": found.id, "changes": {"severity": "major"}, "reason": "small leak only"}
    log.add(found.ms + 10 * MINUTE, found.device, found.finder, "defect_corrected", visit.unit.chassis, body)
