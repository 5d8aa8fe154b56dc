"""What is asked of a plant's new tables beyond that they can be read: that what they name can be used.

A record that was made under tables without these checks goes on opening, so they stand apart from `plant_checks`.
"""

from collections import defaultdict
from collections.abc import Iterator
from itertools import combinations

from qc.domain.plant.plant import Plant, Zone
from qc.domain.tables.names_table import check_codes, half_named
from qc.domain.tables.outlines import overlap
from qc.domain.tables.plant_sections import PLANT_FILE
from qc.domain.tables.table_rows import ALL, Faults
from qc.domain.words.speaking import say

# Words that cells and counts have for every model and for the end points together.
_MEANT = {(PLANT_FILE, "model.code"): ALL, ("stations.csv", "id"): "line"}
FAR = 2  # lengths of the model: no drawing of it reaches further, drawbar and awning included


def check_use(faults: Faults, plant: Plant, before: Plant | None) -> None:
    """Note each code that is there and of no use where it is named, and each zone that nobody could touch.

    before: the plant that these tables are to follow, None for a new one.
    """
    _codes(faults, plant, before)
    _found_where_nobody_looks(faults, plant)
    _failures(faults, plant)
    check_codes(faults, plant)
    _idle_zones(faults, plant)
    _overlaps(faults, plant, _far_zones(faults, plant))


def _codes(faults: Faults, plant: Plant, before: Plant | None) -> None:
    """Note a code that begins with no letter or figure, or that means something else wherever it is named.

    A plant that has such a code on record can never take it away: those of the tables before are let alone.
    """
    told = {(file, column, code) for file, column, _, code in _all_codes(before)} if before else set()
    for file, column, key, code in _all_codes(plant):
        if (file, column, code) in told:
            continue
        if not code[:1].isalnum():  # "-5" is an option to a command and a number in a sheet
            remedy = say("begins with '{sign}'; begin a code with a letter or a figure", sign=code[0])
            _note(faults, file, key, column, code, remedy)
        elif code == _MEANT.get((file, column)):
            _note(faults, file, key, column, code, say("means all of them; take another code"))


def _all_codes(plant: Plant) -> Iterator[tuple[str, str, str, str]]:
    """Yield (file, column, key of its row, code) of each code that a plant's tables choose."""
    sections = {
        "model.code": plant.models,
        "view.id": plant.views,
        "shift.id": plant.shifts,
        "severity.code": plant.severities,
        "option.code": plant.options,
        "line.code": plant.lines,
    }
    for column, records in sections.items():
        for code in records:
            yield PLANT_FILE, column, code, code
    tables = {"stations.csv": plant.stations, "tests.csv": plant.tests}
    for file, table in tables.items():
        for code in table:
            yield file, "id", code, code
    for code in plant.cautions:
        yield "cautions.csv", "code", code, code
    for one in plant.types.values():
        yield "defect_types.csv", "code", one.code, one.code
        yield "defect_types.csv", "group", one.code, one.group
    for zone in plant.zones.values():
        for column, code in (("zone_id", zone.id), ("zone_key", zone.key), ("kind", zone.kind)):
            yield "zones.csv", column, f"{zone.model} {zone.key}", code


def what_is_absent(plant: Plant) -> tuple[str, ...]:
    """Return what a plant may do without and does, each in a sentence: a table that lost its rows looks the same."""
    told = []
    if not any(not one.ended for one in plant.tests.values()):
        told.append("No tests: nothing is measured, and no test stands between a unit and its release.")
    if not plant.cautions:
        told.append("No cautions: no work, place or test carries a reminder of what can hurt.")
    for view in plant.views.values():
        without = [model for model in plant.models if not any(z.view == view.id for z in plant.zones_of(model))]
        if without:
            told.append(f"View {view.id}: no zone on {', '.join(without)}, so it is not walked there.")
    return (*told, *half_named(plant))


def _found_where_nobody_looks(faults: Faults, plant: Plant) -> None:
    for one in plant.types.values():
        point = plant.stations.get(one.first_detect_point)
        if one.retired:
            continue
        if point is not None and not point.can_detect:
            remedy = say(
                "can detect nothing (stations.csv, can_detect); name the first point that can find {code}",
                code=one.code,
            )
            _note(faults, "defect_types.csv", one.code, "first_detect_point", point.id, remedy)


def _failures(faults: Faults, plant: Plant) -> None:
    for test in plant.tests.values():
        type_ = plant.types.get(test.defect_on_fail)
        if type_ is None or test.ended:
            continue
        built = [model for model in test.models or plant.models if type_.models and model not in type_.models]
        if type_.retired:
            _note(
                faults,
                "tests.csv",
                test.id,
                "defect_on_fail",
                type_.code,
                say("is retired; name a type that is in use"),
            )
        elif built:
            remedy = say(
                "is no type of model {built}, on which this test is done; name one of all its models",
                built=", ".join(built),
            )
            _note(faults, "tests.csv", test.id, "defect_on_fail", type_.code, remedy)


def _idle_zones(faults: Faults, plant: Plant) -> None:
    """Note a kind of zone in which no type of the model can be recorded: what is found there has no name."""
    told: set[tuple[str, str]] = set()
    for zone in plant.zones.values():
        types = (one for one in plant.types.values() if not one.retired and zone.kind in one.zone_kinds)
        is_named = any(not one.models or zone.model in one.models for one in types)
        if is_named or zone.ended or (zone.model, zone.kind) in told:
            continue
        told.add((zone.model, zone.kind))
        remedy = say(
            "is a kind of zone that no defect type of model {model} names; name it in a type's zone_kinds",
            model=zone.model,
        )
        _note(faults, "zones.csv", f"{zone.model} {zone.key}", "kind", zone.kind, remedy)


def _far_zones(faults: Faults, plant: Plant) -> set[str]:
    """Note zones that lie off their drawing, and return their ids."""
    far = set()
    for zone in plant.zones.values():
        length = plant.models[zone.model].length_mm
        reach = max(abs(part) for point in zone.points for part in point)
        if reach > FAR * length:
            far.add(zone.id)
            remedy = say(
                "reaches {reach:g} m out, and {model} is {length:g} m long; mend the corners",
                reach=reach / 1000,
                model=zone.model,
                length=length / 1000,
            )
            _note(faults, "zones.csv", f"{zone.model} {zone.key}", "points", zone.key, remedy)
    return far


def _overlaps(faults: Faults, plant: Plant, told: set[str]) -> None:
    """Note zones of one layer that lie over one another: a touch there would mean either. told: ids told already."""
    drawings: dict[tuple[str, str, int], list[Zone]] = defaultdict(list)
    for zone in plant.zones.values():
        if zone.id not in told and not zone.ended:
            drawings[zone.model, zone.view, zone.layer].append(zone)
    for zones in drawings.values():
        for one, other in combinations(zones, 2):
            if overlap(one.points, other.points):
                remedy = say("lies over {key} in the same layer; part them, or put one in a layer above", key=one.key)
                _note(faults, "zones.csv", f"{other.model} {other.key}", "points", other.key, remedy)


def _note(faults: Faults, file: str, key: str, column: str, value: str, remedy: str) -> None:
    faults.note(file, faults.lines.get((file, key), 0), column, value, remedy)
