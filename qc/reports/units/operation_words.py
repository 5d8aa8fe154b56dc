"""An operation told in words, for a unit's story and a defect's steps."""

from collections.abc import Callable, Mapping
from typing import Any

from qc.domain.acts.kinds import KINDS, body_fault
from qc.domain.facts.operations import Operation
from qc.domain.plant.judging import told_reading
from qc.domain.plant.naming import SaidNames
from qc.domain.plant.plant import Plant
from qc.domain.unit.unit_record import Event
from qc.domain.words.code_words import code_words
from qc.domain.words.speaking import marked, say, say_many, told, tongue
from qc.reports.wording import listed

Body = Mapping[str, Any]
VERDICTS = {"refused": marked("refused"), "parked": marked("parked"), "quarantined": marked("quarantined")}
_CHANGED = {
    "zone": marked("zone"),
    "type": marked("type"),
    "severity": marked("severity"),
    "note": marked("note"),
    "mark": marked("mark"),
    "grade": marked("the plant's own severity"),
    "lot": marked("lot of the part"),
}
_WITHDRAWN = {"not_a_defect": marked("not a defect"), "duplicate": marked("a duplicate")}
PURPOSES = {
    "presentation": marked("presentation"),
    "relook": marked("second look"),
    "containment": marked("containment look"),
    "zones": marked("look at single zones"),
}


class OperationWords:
    """Puts operations on units of one model into the words of the plant."""

    def __init__(self, plant: Plant, model: str) -> None:
        self._plant, self._model, self._names = plant, model, SaidNames(plant)

    def tell(self, event: Event) -> str:
        """Return what an operation says; one that is not in effect says why it is not."""
        words = self.said(event.operation, readable=is_readable(event))
        if event.verdict == "applied":
            return words
        verdict = say(VERDICTS.get(event.verdict, event.verdict))
        if not event.reason:
            return say("{what} ({verdict}, not in effect)", what=words, verdict=verdict)
        why = told(event.reason)
        return say("{what} ({verdict}, not in effect: {why})", what=words, verdict=verdict, why=why)

    def said(self, op: Operation, *, readable: bool) -> str:
        """Return an operation's own words; of one whose body has not the shape of its kind only the kind is told."""
        words = _WORDS.get(op.kind, _plain)(self, op.body) if readable else ""
        return words or code_words(op.kind)

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

    def line(self, code: str) -> str:
        """Return one of the plant's lines with its name."""
        return self._names.line(code)

    def option(self, code: str) -> str:
        """Return the name of one of the plant's options."""
        return self._names.option(code)

    def severity(self, body: Body) -> str:
        """Return how grave a body says that a defect is, in the plant's own word and the one it counts as."""
        own = self._plant.severities.get(body.get("grade", ""))
        counted = code_words(str(body["severity"]))
        return f"{own.name} ({counted})" if own else counted

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
        again = say("; done again, reason: {why}", why=code_words(body["again"])) if body.get("again") else ""
        more = (say("; asked about and confirmed") if body.get("confirmed") else "") + again
        if body.get("value") is not None:
            unit = f" {known.unit}" if known and known.unit else ""
            said = said_reading(body["value"], body.get("beyond", "")) + unit
        else:
            said = say("passed") if body.get("passed") else say("failed")
        instrument = body["instrument"]
        return say("test {name}: {said}, instrument {instrument}", name=name, said=said, instrument=instrument) + more


def said_reading(value: float, beyond: str) -> str:
    """Return a reading as it was entered, with the language's own sign before its decimals."""
    return told_reading(value, beyond).replace(".", tongue().decimal)


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
    return say_many("{number} zone looked at", "{number} zones looked at", len(body["zones"]))


def _or_none(words: str | None) -> str:
    return words or say("none")


def _corrected(t: OperationWords, body: Body) -> str:
    shown = {"zone": t.zone, "type": t.type, "severity": code_words, "grade": t.own_severity, "lot": _or_none}
    changes = [
        say("{what} now {value}", what=say(_CHANGED.get(name, name)), value=shown.get(name, str)(value))
        for name, value in body["changes"].items()
    ]
    return say("defect corrected: {changes} ({reason})", changes=listed(changes), reason=body["reason"])


def _planned(t: OperationWords, body: Body) -> str:
    if line := body.get("line"):
        told_so = {"model": body["model"], "line": t.line(line), "day": body["planned_day"]}
        return say("planned as {model} on {line} for {day}", **told_so)
    return say("planned as {model} for {day}", model=body["model"], day=body["planned_day"])


def _met(t: OperationWords, body: Body) -> str:
    if line := body.get("line"):
        return say("met as {model} on {line}", model=body["model"], line=t.line(line))
    return say("met as {model}", model=body["model"])


def _replanned(t: OperationWords, body: Body) -> str:
    changes = body["changes"]
    said = []
    if "planned_day" in changes:
        said.append(say("day now {day}", day=changes["planned_day"]))
    if "options" in changes:
        said.append(
            say("options now {options}", options=_or_none(listed([t.option(one) for one in changes["options"]])))
        )
    if "line" in changes:
        said.append(say("line now {line}", line=t.line(changes["line"])))
    if "build_sheet" in changes:
        said.append(say("build sheet now {sheet}", sheet=_or_none(changes["build_sheet"])))
    return say("plan changed: {changes}", changes=listed(said))


def _taken_back(_: OperationWords, body: Body) -> str:
    if body.get("reason"):
        return say("a passing of a station taken back as a slip ({reason})", reason=body["reason"])
    return say("a passing of a station taken back as a slip")


def _attached(body: Body) -> str:
    if "circle" not in body:
        return say("photo attached")
    return say("photo with the flaw circled on it") if body["circle"] else say("circle taken away from a photo")


def _repaired(_: OperationWords, body: Body) -> str:
    note = f": {body['note']}" if body.get("note") else ""
    how = {"method": code_words(body["method"]), "minutes": body["minutes"]}
    return (
        say_many(
            "{number} defect repaired ({method}, {minutes} minutes)",
            "{number} defects repaired ({method}, {minutes} minutes)",
            len(body["defects"]),
            **how,
        )
        + note
    )


def _found(t: OperationWords, body: Body) -> str:
    return say(
        "{severity} {type} in {zone}", severity=t.severity(body), type=t.type(body["type"]), zone=t.zone(body["zone"])
    )


_WORDS: dict[str, Callable[[OperationWords, Body], str]] = {
    "unit_planned": _planned,
    "plan_changed": _replanned,
    "unit_cancelled": lambda t, b: say("cancelled ({reason})", reason=b["reason"]),
    "unit_taken_up": lambda t, b: say("taken up again ({reason})", reason=b["reason"]),
    "station_passed": lambda t, b: say("passed {station}", station=t.place(b["station"])),
    "unit_met": _met,
    "unit_moved": lambda t, b: say("moved to {place}", place=b["place"].strip()),
    "passing_withdrawn": _taken_back,
    "inspection_begun": lambda t, b: say(
        "{what} begun at {point}, light {light}",
        what=say(PURPOSES[b["purpose"]]),
        point=t.place(b["point"]),
        light=code_words(b["light"]),
    ),
    "inspection_ended": lambda t, b: say("inspection ended"),
    "zone_looked_at": _looked,
    "zone_not_looked_at": lambda t, b: say(
        "{zone} not looked at: {reason}", zone=t.zone(b["zone"]), reason=code_words(b["reason"])
    ),
    "defect_recorded": lambda t, b: say("found at {point}: {what}", point=t.place(b["point"]), what=_found(t, b)),
    "defect_corrected": _corrected,
    "defect_withdrawn": lambda t, b: say(
        "withdrawn, {why} ({reason})", why=say(_WITHDRAWN[b["why"]]), reason=b["reason"]
    ),
    "photo_attached": lambda t, b: _attached(b),
    "photo_withdrawn": lambda t, b: say("photo removed ({reason})", reason=b["reason"]),
    "test_recorded": lambda t, b: t.test(b),
    "test_withdrawn": lambda t, b: say("a test's value taken back as a slip ({reason})", reason=b["reason"]),
    "origin_suspected": lambda t, b: say("origin suspected: {station}", station=t.place(b["station"])),
    "origin_confirmed": lambda t, b: say("origin confirmed: {station}", station=t.place(b["station"])),
    "origin_passed_on": lambda t, b: say(
        "origin passed on to {station} ({reason})", station=t.place(b["station"]), reason=b["reason"]
    ),
    "origin_disputed": lambda t, b: say("origin disputed ({reason})", reason=b["reason"]),
    "origin_settled": lambda t, b: say(
        "origin settled: {station} ({reason})", station=t.place(b["station"]), reason=b["reason"]
    ),
    "repair_done": _repaired,
    "recheck_accepted": lambda t, b: say("re-check accepted"),
    "recheck_failed": lambda t, b: say("re-check failed ({reason})", reason=b["reason"]),
    "unit_released": lambda t, b: say("released against {against}", against=told(b["against"])),
    "field_finding": lambda t, b: say("found after dispatch on {day}: {what}", day=b["found_day"], what=_found(t, b)),
}
