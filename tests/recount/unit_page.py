"""One unit's page: its nonconformities, tests, inspections and every operation on it, each by its record number."""

import re

from tests.recount.attributed import Cells, Expected, Marks, Rows, Sheet, Table, Told, Value, Words
from tests.recount.everywhere import counted, literal, nothing
from tests.recount.record import Defect, Look, Said, Tested, Unit
from tests.recount.view import View, spoken

CARDS_AT_ONCE = 6
IDENTITY = "plate"  # the kind of zone that says which unit it is


def unit_sheet(view: View, unit: Unit) -> Sheet:
    defects = sorted(unit.defects, key=lambda one: one.number)
    sheet = Sheet(
        words=[
            counted("Nonconformities ({n})", n=len(defects)),
            counted("Every operation: {n}", n=len(unit.said)),
            counted("All {n} inspections together", n=len(unit.looks)),
            *_holding(view, unit),
            *_stand(view, unit),
            *_folded(view, unit),
        ],
        rows=[
            Rows("Every operation on {words:words}", lambda *_: _operations(unit.said)),
            Rows("The line of time of {words:words}", lambda *_: Expected(_moments(view, unit))),
            Rows("Tests this model needs: {words:words}", lambda _, table: _tests(view, unit, table)),
        ],
    )
    for place, one in enumerate(defects, start=1):
        sheet.words += _defect(view, unit, place, one)
        own = [said for said in unit.said if _concerns(said, one)]
        sheet.rows.append(Rows(f"Defect {place}", lambda *_, own=own: _operations(own)))
    released = [said for said in unit.said if said.kind == "unit_released" and said.applied]
    if released:
        sheet.words.append(counted("record number {n}", "Release record", n=released[-1].number))
    for view_id in {zone["view"] for zone in view.plant.zones_of(unit.model)}:
        _drawn(view, unit, view_id, defects, sheet)
    sheet.words += [word for look in unit.looks for word in _look(view, unit, look)]
    return sheet


def seen_zones(unit: Unit) -> dict[str, bool]:
    """Return the zones that somebody looked at, True, or marked as not looked at, False."""
    told: dict[str, bool] = {}
    for look in unit.looks:
        for zone, seen in look.zones.items():
            told[zone] = told.get(zone, False) or seen
    return told


def _drawn(view: View, unit: Unit, view_id: str, defects: list[Defect], sheet: Sheet) -> None:
    """Add what one drawing of the unit counts: its zones, and the defects on it by their number."""
    zones = [zone["zone_key"] for zone in view.plant.zones_of(unit.model) if zone["view"] == view_id]
    seen = [seen_zones(unit).get(zone) for zone in zones]
    here = [place for place, one in enumerate(defects, start=1) if one.zone in zones]
    for words, wanted in (("looked at", True), ("not looked at", False), ("no record of anyone looking", None)):
        sheet.words.append(
            counted(f"{{n}} {words}", f"Zones on the drawings <svg desc {view_id}", n=seen.count(wanted))
        )
    sheet.words.append(counted("Defects marked: {n}", f"Zones on the drawings <svg desc {view_id}", n=len(here)))
    sheet.marks.append(Marks(f"view-{view_id}$", lambda _: here))


def _holding(view: View, unit: Unit) -> list[Words]:
    """Return what holds a unit: open defects, repairs that nobody looked at again, tests without a valid pass."""
    needed = [
        code
        for code, test in view.plant.tests.items()
        if test["models"] in ("all", "") or unit.model in test["models"].split(";")
    ]
    latest = {one.test: one for one in unit.tests}
    tests = sum(code not in latest or latest[code].voided or not latest[code].passed for code in needed)
    again = sum(one.state == "repaired" for one in unit.defects)
    open_ = sum(one.state == "open" for one in unit.defects)
    unseen = len(view.plant.zones_of(unit.model)) - sum(seen is True for seen in seen_zones(unit).values())
    identity = sum(
        zone["kind"] == IDENTITY and seen_zones(unit).get(zone["zone_key"]) is not True
        for zone in view.plant.zones_of(unit.model)
    )
    told = {
        "re-checks": again,
        "re-check": again,
        "tests": tests,
        "test": tests,
        "defect": open_,
        "defects": open_,
        "open defects": open_,
        "plate not read": identity,
        "plates not read": identity,
        "zones not looked at": unseen - identity,
        "things": again + open_ + tests + unseen,
    }
    return [counted(f"{{n}} {noun}", "Release record", n=count) for noun, count in told.items()]


def _stand(view: View, unit: Unit) -> list[Words]:
    """Return how many of the tests that the model needs stand how."""
    needed = [
        code
        for code, test in view.plant.tests.items()
        if test["models"] in ("all", "") or unit.model in test["models"].split(";")
    ]
    latest = {one.test: one for one in unit.tests if one.test in needed}
    voided = sum(one.voided for one in latest.values())
    passed = sum(one.passed and not one.voided for one in latest.values())
    told = {
        "tests:": len(needed),
        "not tested": len(needed) - len(latest),
        "voided by": voided,
        "passed": passed,
        "failed": len(latest) - voided - passed,
    }
    return [counted(f"{{n}} {words}", "Tests <p", n=count) for words, count in told.items()]


def _folded(view: View, unit: Unit) -> list[Words]:
    """Return how much is folded away: moments of its life, defects that wait or are settled, inspections."""
    states = [one.state for one in unit.defects]
    disputed = sum(one.state == "closed" and one.origin_state == "disputed" for one in unit.defects)
    closed, withdrawn = states.count("closed") - disputed, states.count("withdrawn")
    waiting = len(states) - closed - withdrawn
    settled = "Nonconformities .* <summary"
    return [
        *(counted(f"{{n}} moment{s}, the first", "Its life so far <summary", n=len(_runs(unit))) for s in ("", "s")),
        *(counted(f"{{n}} inspection{s}, with", "Inspections <summary", n=len(unit.looks)) for s in ("", "s")),
        counted("{n} more that wait", settled, n=waiting - CARDS_AT_ONCE),
        counted("{n} settled", settled, n=closed + withdrawn),
        counted("{n} closed", settled, n=closed),
        counted("{n} withdrawn", settled, n=withdrawn),
    ]


RUNS = ("test_recorded", "repair_done", "recheck_accepted", "recheck_failed", "defect_withdrawn", "field_finding")


def _moments(view: View, unit: Unit) -> list[tuple[str, Cells]]:
    """Return the line of time: acts of one kind by one person in one look, one after another, are one row."""
    rows: list[tuple[str, Cells]] = []
    for run in _runs(unit):
        rows.append((_clock(view, run[0].happened), ((), _figures(view, unit, run))))
    return rows


def _runs(unit: Unit) -> list[list[Said]]:
    runs: list[list[Said]] = []
    for said in unit.said:
        own = _moment_of(said)
        if own is None or not said.applied:
            continue
        if runs and _moment_of(runs[-1][-1]) == own:
            runs[-1].append(said)
        else:
            runs.append([said])
    return runs


def _figures(view: View, unit: Unit, run: list[Said]) -> tuple[Value, ...] | Told:
    kind = run[0].kind
    if kind == "unit_released":
        return Told(str(run[0].body.get("against", "")))
    if kind == "unit_moved":
        return Told(str(run[0].body["place"]))
    if kind == "test_recorded":
        return (len(run),) if len(run) > 1 else ()
    order = sorted(unit.defects, key=lambda one: one.number)
    if kind == "inspection_begun":
        look = next(one for one in unit.looks if one.id == run[0].id)
        nth = _presentation(unit, look)
        seen = (sum(look.zones.values()), len(view.plant.zones_of(unit.model))) if look.zones else ()
        return (*((nth,) if nth else ()), *seen, *(k for k, one in enumerate(order, 1) if one.look == look.id))
    named = {id_ for said in run for id_ in (*said.body.get("defects", ()), said.body.get("defect"), said.id)}
    return tuple(k for k, one in enumerate(order, 1) if one.id in named)


def _clock(view: View, ms: int) -> str:
    at = view.plant.local(ms)
    return f"{at:%a} {at.day} {at:%b %Y %H:%M}"


def _moment_of(said: Said) -> tuple[str, ...] | None:
    if said.kind in ("station_passed", "passing_withdrawn"):
        return (said.kind,)
    if said.kind in ("inspection_begun", "unit_released", "unit_moved"):
        return said.kind, said.id
    if said.kind == "defect_recorded":
        return None if said.body.get("inspection") else (said.kind, said.author, said.body["point"])
    look = said.body.get("inspection") or said.body.get("point") or ""
    return (said.kind, said.author, look) if said.kind in RUNS else None


def _concerns(said: Said, one: Defect) -> bool:
    body = said.body
    return said.id == one.id or body.get("defect") == one.id or one.id in body.get("defects", ())


def _defect(view: View, unit: Unit, place: int, one: Defect) -> list[Words]:
    heading = rf"> {place}\. "
    steps = sum(_concerns(said, one) for said in unit.said)
    return [
        Words(f"{place}. {view.plant.types[one.type]['name']}", nothing, heading),
        counted("{n} failed re-check", heading, n=one.failed),
        Words("Photo {k} of {n}: ", lambda groups: {"n": one.photos, "k": min(int(groups["k"]), one.photos)}, heading),
        counted("Its life, {n} step", heading, n=steps),
        *literal(f"Defect {place}", place=heading),
    ]


def _presentation(unit: Unit, look: Look) -> int:
    """Return which presentation at its point a look is, 0 for none."""
    presented = [
        one
        for one in sorted(unit.looks, key=lambda one: one.begun)
        if one.purpose == "presentation" and one.point == look.point
    ]
    return presented.index(look) + 1 if look in presented else 0


def _look(view: View, unit: Unit, look: Look) -> list[Words]:
    nth = _presentation(unit, look)
    zones = [zone["zone_key"] for zone in view.plant.zones_of(unit.model)]
    seen = sum(look.zones.get(zone) is True for zone in zones)
    which = f"presentation {nth}" if nth else r"(?!presentation)[a-z ]+"
    heading = rf"> {re.escape(spoken(look.point, view.plant.stations))}: {which}( <|$)"
    return [
        Words(f"{spoken(look.point, view.plant.stations)}: presentation {nth}", nothing),
        counted("{a} of {b} zones looked at", heading, a=seen, b=len(zones)),
    ]


def _operations(told: list[Said]) -> Expected:
    return Expected([(str(said.number), [(), (), (), _says(said)]) for said in told], ordered=False)


def _says(said: Said) -> tuple[Value, ...] | Told:
    """Return the numbers of an operation's words: what it holds, and why it was not taken."""
    body, held = said.body, ""
    if said.kind == "repair_done":
        held = f"{len(body['defects'])} {body['minutes']}"
    elif said.kind == "zone_looked_at":
        held = str(len(body["zones"]))
    elif said.kind == "defect_corrected":
        held = " ".join(str(abs(part)) for part in body.get("changes", {}).get("mark") or ())
    elif said.kind == "test_recorded" and body.get("value") is not None:
        held = str(abs(body["value"]))
    written = "" if said.applied else body.get("zone", "")  # a code that the plant does not know is told as it came
    return Told(f"{held} {written} {said.reason}")


def _beside(results: list[Tested]) -> Told:
    """Return the numbers of the words beside the result that counts: its own number, and each before it."""
    earlier = [f"{k} {'' if one.value is None else abs(one.value)}" for k, one in enumerate(results[:-1], start=1)]
    return Told(" ".join([str(len(results)), *earlier]) if earlier else "")


def _tests(view: View, unit: Unit, table: Table) -> Expected:
    rows: list[tuple[str, list[tuple[Value, ...] | Told]]] = []
    for row in table.rows:
        test = view.plant.tests[row[0].split()[0]]
        results = [one for one in unit.tests if one.test == test["id"]]
        last: Tested | None = results[-1] if results else None
        rows.append((row[0], [
            (), _beside(results),
            (float(abs(last.value)),) if last is not None and last.value is not None else (),
            Told(" ".join(test[name] for name in ("lower", "upper", "conditions"))), Told(test["reference"]),
        ]))  # fmt: skip
    return Expected(rows)
