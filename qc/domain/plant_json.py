"""The plant as the inspector's phone gets it: one plain object, ready for JSON."""

from collections.abc import Mapping
from typing import Any

from qc.domain.acts.kinds import KINDS
from qc.domain.facts.operations import AGAIN_REASONS, LIGHTS, NOT_LOOKED_REASONS, PURPOSES, WEATHERS
from qc.domain.numbers.check_signs import CHECKS
from qc.domain.numbers.number_form import Part
from qc.domain.plant.graph import BuildGraph
from qc.domain.plant.plant import Caution, DefectType, Model, Outline, Plant, Station, Test, ViewPicture, Zone
from qc.domain.tables.plant_parts import SHOWN


def phone_plant(plant: Plant) -> dict[str, Any]:
    """Return what a phone needs to work without signal: codes, drawings, tests, cautions, possible origins.

    Lists keep table order (zones: walk-round order). What is ended stands with the rest, since what was recorded of it
    is still named and repaired under its caution; nobody may pick it. roles: who may author each kind of operation on a
    unit, so that a phone does not offer what the door refuses. A type's caution is null where the tables do not say it:
    the phone then shows the general one.
    """
    shown = {place: plant.shown_at(place) for place in SHOWN}
    return {
        "revision": plant.revision,
        "maker": plant.maker,
        "site": plant.site,
        "demo": plant.demo,
        "time_zone": plant.time_zone,
        "stop_phone": plant.stop_phone,
        "stop_who": plant.stop_who,
        "standing_line": plant.standing_line,
        "numbers": _numbers(plant),
        "options": [{"code": one.code, "name": one.name} for one in plant.options.values()],
        "lines": [{"code": one.code, "name": one.name, "ended": one.ended} for one in plant.lines.values()],
        "severities": [
            {"code": one.code, "name": one.name, "counts_as": one.counts_as} for one in plant.severities.values()
        ],
        "models": [_model(one, plant) for one in plant.models.values()],
        "views": [{"id": v.id, "name": v.name, "left": v.left, "right": v.right} for v in plant.views.values()],
        "zones": [_zone(zone) for model in plant.models for zone in plant.zones_of(model, ended=True)],
        "outlines": [_outline(one) for one in plant.outlines],
        "pictures": [_picture(one) for one in plant.pictures.values()],
        "types": [_type(one) for one in plant.types.values()],
        "stations": [_station(one, plant) for one in plant.stations.values()],
        "tests": [_test(one) for one in plant.tests.values()],
        "cautions": [_caution(one, shown) for one in plant.cautions.values()],
        "names": {tag: {table: dict(codes) for table, codes in told.items()} for tag, told in plant.names.items()},
        "origins": _origins(plant),
        "lights": list(LIGHTS),
        "weathers": list(WEATHERS),
        "not_looked_reasons": list(NOT_LOOKED_REASONS),
        "again_reasons": list(AGAIN_REASONS),
        "purposes": list(PURPOSES),
        "roles": {kind.name: sorted(kind.roles) for kind in KINDS.values() if kind.on_unit and kind.effective},
    }


def _numbers(plant: Plant) -> dict[str, Any]:
    """Return how numbers are read: ends, the letters that may stand among the last signs by which a unit is found.

    What is made and not asked of a number that is told is any sign to a phone.
    """
    form = plant.numbers

    def parts(of: tuple[Part, ...]) -> list[dict[str, Any]]:
        return [
            {"kind": "any" if one.loose else one.kind, "text": "" if one.loose else one.text, "length": one.length}
            for one in of
        ]

    return {
        "letters": form.letters,
        "ends": "".join(sorted(_last_letters(plant))),
        "find": form.find,
        "check": form.check,
        "chassis": parts(form.chassis),
        "shop": parts(form.shop),
    }


def _last_letters(plant: Plant) -> set[str]:
    """Return the letters that can stand among the last ``find`` signs of a chassis or shop number of any model."""
    form, found = plant.numbers, set()
    for parts in (form.chassis, form.shop):
        for code in plant.models:
            left = form.find
            for part in reversed(parts):
                if left <= 0:
                    break
                size = part.length or len(code)
                told = {"text": part.text, "model": code}.get(part.kind, "")
                found |= set(told[-left:])
                if part.kind == "any" or part.loose:
                    found |= set(form.letters)
                if part.kind == "check":
                    found |= set(CHECKS[form.check].made)
                left -= size
    return {sign for sign in found if sign.isalpha()}


def _model(one: Model, plant: Plant) -> dict[str, Any]:
    lines = list(plant.lines_of(one.code))
    told = {"code": one.code, "name": one.name, "what": one.what, "length_mm": one.length_mm, "digit": one.digit}
    return {**told, "lines": lines}


def _caution(one: Caution, shown: Mapping[str, tuple[str, ...]]) -> dict[str, Any]:
    return {
        "code": one.code,
        "short": one.short,
        "more": one.more,
        "camera": one.camera or "ask",
        "before_photo": one.before_photo,
        "move_away": one.move_away,
        "call": one.call,
        "phone": one.phone,
        "shown": [place for place, codes in shown.items() if one.code in codes],
    }


def _zone(one: Zone) -> dict[str, Any]:
    return {
        "model": one.model,
        "view": one.view,
        "key": one.key,
        "name": one.name,
        "kind": one.kind,
        "layer": one.layer,
        "points": [list(point) for point in one.points],
        "walk_order": one.walk_order,
        "caution": one.caution,
        "holds": one.holds,
        "ended": one.ended,
        "options": list(one.options),
    }


def _outline(one: Outline) -> dict[str, Any]:
    points = [list(point) for point in one.points]
    return {"model": one.model, "view": one.view, "part": one.part, "points": points, "swing": one.swing}


def _picture(one: ViewPicture) -> dict[str, Any]:
    corners = [one.left, one.bottom, one.right, one.top]
    size = {"width": one.width, "height": one.height}
    return {"model": one.model, "view": one.view, "sha256": one.sha256, **size, "corners": corners}


def _type(one: DefectType) -> dict[str, Any]:
    return {
        "code": one.code,
        "group": one.group,
        "group_name": one.group_name,
        "name": one.name,
        "severity": one.default_severity,
        "grade": one.grade,
        "stop_unit": one.stop_unit,
        "photo_required": one.photo_required,
        "zone_kinds": list(one.zone_kinds),
        "models": list(one.models),
        "origins": list(one.usual_origins),
        "caution": one.caution,
        "words": list(one.words),
        "ended": one.retired,
    }


def _station(one: Station, plant: Plant) -> dict[str, Any]:
    return {
        "id": one.id,
        "name": one.name,
        "kind": one.kind,
        "line": plant.line_at(one.id),
        "can_detect": one.can_detect,
        "final": one.final,
        "first_day": one.first_day and one.first_day.isoformat(),
        "end_day": one.end_day and one.end_day.isoformat(),
    }


def _test(one: Test) -> dict[str, Any]:
    return {
        "id": one.id,
        "name": one.name,
        "point": one.point,
        "kind": one.kind,
        "unit": one.unit,
        "lower": one.lower,
        "upper": one.upper,
        "conditions": one.conditions,
        "reference": one.reference,
        "basis": one.basis,
        "models": list(one.models),
        "caution": one.caution,
        "who": one.who,
        "type": one.defect_on_fail,
        "least": one.least,
        "most": one.most,
        "beyond": list(one.beyond),
        "hazard": one.hazard,
        "ended": one.ended,
        "options": list(one.options),
    }


def _origins(plant: Plant) -> dict[str, dict[str, list[str]]]:
    graph = BuildGraph(plant)
    points = [station.id for station in plant.stations.values() if graph.upstream_of(station.id)]
    # Of every line: a phone leaves out what stands on another than the unit's.
    return {
        point: {model: list(graph.possible_origins(point, model, None)) for model in plant.models} for point in points
    }
