"""What must hold between the tables of a plant, once each could be read by itself."""

from collections import Counter, defaultdict
from collections.abc import Iterable

from qc.domain.plant.graph import flow_cycle
from qc.domain.plant.plant import UNKNOWN, Plant
from qc.domain.tables.plant_sections import PLANT_FILE
from qc.domain.tables.table_rows import DEFINED_IN, NO_SUCH, Faults
from qc.domain.words.speaking import say


def check_across(faults: Faults, plant: Plant) -> None:
    """Note every reference that leads nowhere, every cycle, and every type or model that could not be used."""
    _links(faults, plant)
    _stations(faults, plant)
    _types(faults, plant)
    _tests(faults, plant)
    _zones(faults, plant)
    _cautions(faults, plant)
    _final(faults, plant)
    _lines(faults, plant)


def _unknown(faults: Faults, file: str, key: str, column: str, value: str, known: Iterable[str], what: str) -> None:
    if value not in known:
        row = faults.lines.get((file, key), 0)
        faults.note(file, row, column, value, say(NO_SUCH[what]), DEFINED_IN[what])


def _links(faults: Faults, plant: Plant) -> None:
    for name in ("flow", "feed", "rework"):
        for place, pair in enumerate(getattr(plant.links, name), start=1):
            for end in pair:
                if end not in plant.stations:
                    remedy = say("is no station of this plant")
                    faults.note(PLANT_FILE, place, f"links.{name}", end, remedy, DEFINED_IN["station"])
    if cycle := flow_cycle(plant.links):
        remedy = say("is a cycle; flow and feed go one way, put the way back under rework")
        faults.note(PLANT_FILE, 0, "links.flow", " > ".join(cycle), remedy)


def _stations(faults: Faults, plant: Plant) -> None:
    if UNKNOWN not in plant.stations:
        remedy = say("is missing; 'not yet known' must be an answer that can be given")
        faults.note("stations.csv", 0, "id", UNKNOWN, remedy)
    if not plant.end_points():
        faults.note("stations.csv", 0, "kind", "", say("has no test or inspection station; nothing could be released"))
    for station in plant.stations.values():
        for successor in station.successors:
            _unknown(faults, "stations.csv", station.id, "successors", successor, plant.stations, "station")
        for shift in station.shifts:
            _unknown(faults, "stations.csv", station.id, "shifts", shift, plant.shifts, "shift")
    for place, shutdown in enumerate(plant.shutdowns, start=1):
        for one in shutdown.stations:
            if one not in plant.stations:
                remedy = say("is no station of this plant")
                faults.note(PLANT_FILE, place, "shutdown.stations", one, remedy, DEFINED_IN["station"])


def _types(faults: Faults, plant: Plant) -> None:
    kinds = {(zone.model, zone.kind) for zone in plant.zones.values() if not zone.ended}
    every = {zone.kind for zone in plant.zones.values()}
    drawn = {model for model, _ in kinds}  # that another has no zone at all is told once
    built = [code for code, model in plant.models.items() if not model.ended and code in drawn]
    for one in plant.types.values():
        file, key = "defect_types.csv", one.code
        _unknown(faults, file, key, "first_detect_point", one.first_detect_point, plant.stations, "station")
        for origin in one.usual_origins:
            _unknown(faults, file, key, "usual_origins", origin, plant.stations, "station")
        for kind in one.zone_kinds:
            _unknown(faults, file, key, "zone_kinds", kind, every, "kind of zone")
        never = [
            model
            for model in one.models or built
            if model in built and not any((model, kind) in kinds for kind in one.zone_kinds)
        ]
        # Where none of them is a kind of zone, that is told.
        if never and not one.retired and set(one.zone_kinds) & every:
            remedy = say(
                "has no zone on model {never}, so nobody could record {key} there", never=", ".join(never), key=key
            )
            row, kinds_named = faults.lines.get((file, key), 0), ";".join(one.zone_kinds)
            faults.note(file, row, "zone_kinds", kinds_named, remedy, DEFINED_IN["model"])


def _tests(faults: Faults, plant: Plant) -> None:
    groups = {one.group for one in plant.types.values()}
    for one in plant.tests.values():
        _unknown(faults, "tests.csv", one.id, "point", one.point, plant.stations, "station")
        if one.defect_on_fail:  # else it is told as empty
            _unknown(faults, "tests.csv", one.id, "defect_on_fail", one.defect_on_fail, plant.types, "defect type")
        for group in one.voided_by:
            _unknown(faults, "tests.csv", one.id, "voided_by", group, groups, "group of defect types")


def _zones(faults: Faults, plant: Plant) -> None:
    _digits(faults, plant)
    drawn = {zone.view for zone in plant.zones.values()}
    for view in plant.views:
        if view not in drawn:
            remedy = say("has no zone on any model; draw at least one or take the view out")
            faults.note("zones.csv", 0, "view", view, remedy, DEFINED_IN["model"])
    for model in plant.models:
        if not any(zone.model == model for zone in plant.zones.values()):
            remedy = say("has no zone in any view; draw the zones of {model}, or take the model out", model=model)
            faults.note("zones.csv", 0, "model", model, remedy, DEFINED_IN["model"])
    meanings: dict[str, Counter[tuple[str, str]]] = defaultdict(Counter)
    for zone in plant.zones.values():
        if zone.view in plant.views:  # else it is told already
            meanings[zone.key][zone.view, zone.kind] += 1
    for zone in plant.zones.values():
        counted = meanings[zone.key]
        usual = counted.most_common(1)[0][0] if counted else (zone.view, zone.kind)
        if zone.view in plant.views and usual != (zone.view, zone.kind):
            remedy = say(
                "is {usual!r} in view {there!r} on one model and {kind!r} in {view!r} on another; a key means one "
                "place on all models",
                usual=usual[1],
                there=usual[0],
                kind=zone.kind,
                view=zone.view,
            )
            row = faults.lines.get(("zones.csv", f"{zone.model} {zone.key}"), 0)
            faults.note("zones.csv", row, "zone_key", zone.key, remedy)


def _cautions(faults: Faults, plant: Plant) -> None:
    """Note every type whose work can hurt by what else the tables say, and that carries no caution."""
    if not plant.cautions and DEFINED_IN["caution"] in faults.echoes.values():
        remedy = say("has no rows, and other tables name its codes; write the cautions that they name")
        faults.note("cautions.csv", 0, "code", "", remedy)
    tested = {test.defect_on_fail: test for test in plant.tests.values() if test.caution}
    for one in plant.types.values():
        row = faults.lines.get(("defect_types.csv", one.code), 0)
        test = tested.get(one.code)
        if one.caution == "" and one.stop_unit and test is not None:
            remedy = say(
                "is no answer: {code} stops the unit, and test {test}, which fails into it, carries {caution}; name a "
                "caution",
                code=one.code,
                test=test.id,
                caution=test.caution,
            )
            faults.note("defect_types.csv", row, "caution", "none", remedy, "caution")
        caution = plant.cautions.get(one.caution or "")
        if caution is not None and caution.camera == "no" and one.photo_required:
            remedy = say(
                "forbids the camera, and {code} requires a photo; ask for none, or take another caution", code=one.code
            )
            faults.note("defect_types.csv", row, "photo_rule", caution.code, remedy)


def _final(faults: Faults, plant: Plant) -> None:
    """Note every model that could never be released, as no final inspection is in its build.

    Only of tables that say it themselves: a unit of one from before stays blocked, and the block says why.
    """
    never = [model for model in plant.models if plant.says_final and not plant.final_inspections(model)]
    if never:
        remedy = say(
            "is final in the build of no inspection station of model {never}; say yes of one", never=", ".join(never)
        )
        faults.note("stations.csv", 0, "final", "", remedy, "stations.csv:final")


def _lines(faults: Faults, plant: Plant) -> None:
    """Note what cannot be of several lines: one that builds nothing or presents nothing, a model that none builds, a
    station on one where no unit comes by, a unit that would change its line."""
    if not plant.lines:
        return
    _builds_nothing(faults, plant)
    _ways_between(faults, plant)
    for station in plant.stations.values():
        line, row = plant.line_at(station.id), faults.lines.get(("stations.csv", station.id), 0)
        if line and station.kind in ("external", "unknown"):
            remedy = say("is no line of {station}, which stands at none; leave it empty", station=station.id)
            faults.note("stations.csv", row, "line", line, remedy)
        elif line and not any(line in plant.lines_of(model) for model in station.models or plant.models):
            remedy = say(
                "is the line of {station}, and none of its models is built there, so no unit comes by; name another",
                station=station.id,
            )
            faults.note("stations.csv", row, "line", line, remedy)


def _builds_nothing(faults: Faults, plant: Plant) -> None:
    for place, line in enumerate(plant.lines, start=1):
        built = [model for model in plant.models if line in plant.lines_of(model)]
        never = [model for model in built if plant.says_final and not plant.final_inspections(model, line)]
        if not built and not any(one.line == line for one in plant.stations.values()):
            remedy = say("has no station of its own; name it in the line of its stations, or take it out")
            faults.note(PLANT_FILE, place, "line.code", line, remedy)
        elif never and all(plant.final_inspections(model) for model in never):  # else it is told of the model
            remedy = say(
                "has no final inspection in the build of {never}; say yes of one, or leave its line empty",
                never=", ".join(never),
            )
            faults.note("stations.csv", 0, "final", line, remedy)
    for model, one in plant.models.items():
        if not one.ended and not plant.lines_of(model):
            remedy = say(
                "has no station of a line in its build, so no line builds {model}; name it at one, or end it",
                model=model,
            )
            faults.note("stations.csv", 0, "models", model, remedy, DEFINED_IN["line"])


def _ways_between(faults: Faults, plant: Plant) -> None:
    for name in ("flow", "feed"):
        for place, pair in enumerate(getattr(plant.links, name), start=1):
            lines = [plant.line_at(end) for end in pair]
            if all(lines) and lines[0] != lines[1]:
                remedy = say(
                    "leads from line {one} to line {other}, and a unit stays on its line; leave the line of a station "
                    "empty where both come by",
                    one=lines[0],
                    other=lines[1],
                )
                faults.note(PLANT_FILE, place, f"links.{name}", " > ".join(pair), remedy)


def _digits(faults: Faults, plant: Plant) -> None:
    seen: dict[str, str] = {}
    for model in plant.models.values():
        if not model.digit:
            continue
        if (other := seen.setdefault(model.digit, model.code)) != model.code:
            faults.note(
                PLANT_FILE,
                0,
                "model.digit",
                model.digit,
                say("stands for {other} and for {code}", other=other, code=model.code),
            )
