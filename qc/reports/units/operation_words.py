"""An operation told in words, for a unit's story and a defect's steps."""

from collections.abc import Callable, Mapping
from typing import Any

from qc.domain.judging import told_reading
from qc.domain.kinds import KINDS, body_fault
from qc.domain.naming import Names
from qc.domain.operations import Operation
from qc.domain.plant import Plant
from qc.domain.unit_record import Event
from qc.reports.wording import counted, listed

Body = Mapping[str, Any]
_WITHDRAWN = {"not_a_defect": "not a defect", "duplicate": "a duplicate"}
PURPOSES = {
    "presentation": "presentation",
    "relook": "second look",
    "containment": "containment look",
    "zones": "look at single zones",
}


class OperationWords:
    """Puts operations on units of one model into the words of the plant."""

    def __init__(self, plant: Plant, model: str) -> None:
        self._plant, self._model, self._names = plant, model, Names(plant)

    def tell(self, event: Event) -> str:
        """Return what an operation says; one that is not in effect says why it is not."""
        words = self.said(event.operation, readable=is_readable(event))
        if event.verdict == "applied":
            return words
        why = f": {event.reason}" if event.reason else ""
        return f"{words} ({event.verdict}, not in effect{why})"

    def said(self, op: Operation, *, readable: bool) -> str:
        """Return an operation's own words; of one whose body has not the shape of its kind only the kind is told."""
        words = _WORDS.get(op.kind, _plain)(self, op.body) if readable else ""
        return words or op.kind.replace("_", " ")

    def type(self, code: str) -> str:
        """Return a type with its name."""
        return self._names.type(code)

    def type_name(self, code: str) -> str:
        """Return a type's name alone, its code where the plant has no such type."""
        known = self._plant.types.get(code)
        return known.name if known else code

    def place(self, code: str) -> str:
        """Return a station with its name."""
        return self._names.place(code)

    def severity(self, body: Body) -> str:
        """Return how grave a body says that a defect is, in the plant's own word and the one it counts as."""
        own = self._plant.severities.get(body.get("grade", ""))
        return f"{own.name} ({body['severity']})" if own else str(body["severity"])

    def own_severity(self, code: str) -> str:
        """Return the plant's own name of a severity."""
        own = self._plant.severities.get(code)
        return own.name if own else code

    def zone(self, key: str) -> str:
        """Return the name of a zone."""
        known = self._plant.zones.get((self._model, key))
        return known.name if known else key

    def test(self, body: Body) -> str:
        """Return a test's result: its number with the unit, else passed or failed."""
        known = self._plant.tests.get(body["test"])
        name = self._names.test(body["test"])
        more = f"; done again, reason: {body['again'].replace('_', ' ')}" if body.get("again") else ""
        more = ("; asked about and confirmed" if body.get("confirmed") else "") + more
        if body.get("value") is not None:
            unit = f" {known.unit}" if known and known.unit else ""
            reading = told_reading(body["value"], body.get("beyond", ""))
            return f"test {name}: {reading}{unit}, instrument {body['instrument']}{more}"
        return f"test {name}: {'passed' if body.get('passed') else 'failed'}, instrument {body['instrument']}{more}"


def is_readable(event: Event) -> bool:
    """Return whether an event's body has the shape of its kind; always so where it is in effect."""
    if event.verdict == "applied":
        return True
    return has_shape(event.operation)


def has_shape(op: Operation) -> bool:
    """Return whether an operation's body has the shape of its kind."""
    kind = KINDS.get(op.kind)
    return kind is not None and body_fault(kind, op.unit, op.body) is None


def _plain(_: OperationWords, __: Body) -> str:
    return ""


def _looked(t: OperationWords, body: Body) -> str:
    return f"{counted(len(body['zones']), 'zone')} looked at"


def _or_none(told: str | None) -> str:
    return told or "none"


def _corrected(t: OperationWords, body: Body) -> str:
    shown = {"zone": t.zone, "type": t.type, "grade": t.own_severity, "lot": _or_none}
    names = {"grade": "the plant's own severity", "lot": "lot of the part"}
    changes = [f"{names.get(name, name)} now {shown.get(name, str)(value)}" for name, value in body["changes"].items()]
    return f"defect corrected: {listed(changes)} ({body['reason']})"


def _replanned(t: OperationWords, body: Body) -> str:
    changes = body["changes"]
    said = []
    if "planned_day" in changes:
        said.append(f"day now {changes['planned_day']}")
    if "options" in changes:
        said.append(f"options now {listed(changes['options']) or 'none'}")
    if "build_sheet" in changes:
        said.append(f"build sheet now {changes['build_sheet'] or 'none'}")
    return f"plan changed: {listed(said)}"


def _taken_back(_: OperationWords, body: Body) -> str:
    return "a passing of a station taken back as a slip" + (f" ({body['reason']})" if body.get("reason") else "")


def _attached(body: Body) -> str:
    if "circle" not in body:
        return "photo attached"
    return "photo with the flaw circled on it" if body["circle"] else "circle taken away from a photo"


def _repaired(_: OperationWords, body: Body) -> str:
    which = counted(len(body["defects"]), "defect")
    note = f": {body['note']}" if body.get("note") else ""
    return f"{which} repaired ({body['method']}, {body['minutes']} minutes){note}"


def _found(t: OperationWords, body: Body) -> str:
    return f"{t.severity(body)} {t.type(body['type'])} in {t.zone(body['zone'])}"


_WORDS: dict[str, Callable[[OperationWords, Body], str]] = {
    "unit_planned": lambda t, b: f"planned as {b['model']} for {b['planned_day']}",
    "plan_changed": _replanned,
    "unit_cancelled": lambda t, b: f"cancelled ({b['reason']})",
    "unit_taken_up": lambda t, b: f"taken up again ({b['reason']})",
    "station_passed": lambda t, b: f"passed {t.place(b['station'])}",
    "unit_met": lambda t, b: f"met as {b['model']}",
    "unit_moved": lambda t, b: f"moved to {b['place'].strip()}",
    "passing_withdrawn": _taken_back,
    "inspection_begun": lambda t, b: f"{PURPOSES[b['purpose']]} begun at {t.place(b['point'])}, light {b['light']}",
    "inspection_ended": lambda t, b: "inspection ended",
    "zone_looked_at": _looked,
    "zone_not_looked_at": lambda t, b: f"{t.zone(b['zone'])} not looked at: {b['reason'].replace('_', ' ')}",
    "defect_recorded": lambda t, b: f"found at {t.place(b['point'])}: {_found(t, b)}",
    "defect_corrected": _corrected,
    "defect_withdrawn": lambda t, b: f"withdrawn, {_WITHDRAWN[b['why']]} ({b['reason']})",
    "photo_attached": lambda t, b: _attached(b),
    "photo_withdrawn": lambda t, b: f"photo removed ({b['reason']})",
    "test_recorded": lambda t, b: t.test(b),
    "test_withdrawn": lambda t, b: f"a test's value taken back as a slip ({b['reason']})",
    "origin_suspected": lambda t, b: f"origin suspected: {t.place(b['station'])}",
    "origin_confirmed": lambda t, b: f"origin confirmed: {t.place(b['station'])}",
    "origin_passed_on": lambda t, b: f"origin passed on to {t.place(b['station'])} ({b['reason']})",
    "origin_disputed": lambda t, b: f"origin disputed ({b['reason']})",
    "origin_settled": lambda t, b: f"origin settled: {t.place(b['station'])} ({b['reason']})",
    "repair_done": _repaired,
    "recheck_accepted": lambda t, b: "re-check accepted",
    "recheck_failed": lambda t, b: f"re-check failed ({b['reason']})",
    "unit_released": lambda t, b: f"released against {b['against']}",
    "field_finding": lambda t, b: f"found after dispatch on {b['found_day']}: {_found(t, b)}",
}
