"""Whether the codes that an operation names exist in the plant, for the unit's model: one check a field.

A check yields what is wrong with the body's field, nothing where it is absent or right. model is the unit's, "" where
the operation is on no unit. The words never echo more than a code.
"""

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from qc.domain.facts.operations import Fault
from qc.domain.plant.plant import FIELD, Plant

REST = "rest"  # label of what is left at a station once its types and type groups are watched by themselves
_NOWHERE = frozenset({"external", "unknown"})  # origins that are no place where somebody stands

Body = Mapping[str, Any]
Reference = Callable[[Body, Plant, str], Iterator[Fault]]


def reference_fault(refers: tuple[Reference, ...], body: Body, plant: Plant, model: str) -> Fault | None:
    """Return the first code of a body that this plant does not have, None when all exist."""
    for check in refers:
        for fault in check(body, plant, model):
            return fault
    return None


def model(body: Body, plant: Plant, _model: str) -> Iterator[Fault]:
    """Check the model that a unit is planned as."""
    if body["model"] not in plant.models:
        yield Fault("body.model", f"{body['model']} is no model of this plant ({', '.join(plant.models)})")


def line(body: Body, plant: Plant, model: str) -> Iterator[Fault]:
    """Check the line on which a unit is said to be built: one that the plant names, and that builds its model."""
    if (code := body.get("line")) is not None:
        yield from _line("body.line", code, plant, body.get("model", model))


def plan_changes(body: Body, plant: Plant, model: str) -> Iterator[Fault]:
    """Check the line that a change of plan names."""
    if (code := body["changes"].get("line")) is not None:
        yield from _line("body.changes.line", code, plant, model)


def _line(field: str, code: str, plant: Plant, model: str) -> Iterator[Fault]:
    lines = plant.lines_of(model)
    if code not in plant.lines:
        yield Fault(field, f"{code} is no line of this plant ({', '.join(plant.lines)})")
    elif code not in lines and model in plant.models:
        yield Fault(field, f"{code} builds no {model}; that is built on {', '.join(lines)}")


def point(body: Body, plant: Plant, _model: str) -> Iterator[Fault]:
    """Check the place where somebody looks."""
    station = plant.stations.get(body["point"])
    if body["point"] == FIELD:
        yield Fault("body.point", "FIELD is for findings after dispatch; record it as a field finding")
    elif station is None or station.kind in _NOWHERE:
        yield Fault("body.point", f"{body['point']} is no station of this plant")


def station(body: Body, plant: Plant, _model: str) -> Iterator[Fault]:
    """Check a station, or another origin that the station table has."""
    if body["station"] not in plant.stations:
        yield Fault("body.station", f"{body['station']} is no station of this plant")


def passed_station(body: Body, plant: Plant, _model: str) -> Iterator[Fault]:
    """Check a station that a unit passes: a place, not an origin outside the plant."""
    yield from station(body, plant, _model)
    if body["station"] in plant.stations and plant.stations[body["station"]].kind in _NOWHERE:
        yield Fault("body.station", f"{body['station']} is no place that a unit can pass")


def zone(body: Body, plant: Plant, model: str) -> Iterator[Fault]:
    """Check a zone of the unit's model."""
    yield from _zone("body.zone", body["zone"], plant, model)


def zones(body: Body, plant: Plant, model: str) -> Iterator[Fault]:
    """Check several zones of the unit's model."""
    for one in body["zones"]:
        yield from _zone("body.zones", one, plant, model)


def type_(body: Body, plant: Plant, model: str) -> Iterator[Fault]:
    """Check a defect type that occurs on the unit's model."""
    yield from _type("body.type", body["type"], plant, model)


def types(body: Body, plant: Plant, _model: str) -> Iterator[Fault]:
    """Check defect types, of whatever model."""
    for one in body.get("types", ()):
        yield from _type("body.types", one, plant, "")


def changes(body: Body, plant: Plant, model: str) -> Iterator[Fault]:
    """Check the zone and the type that a correction names."""
    changed = body["changes"]
    if (zone := changed.get("zone")) is not None:
        yield from _zone("body.changes.zone", zone, plant, model)
    if (code := changed.get("type")) is not None:
        yield from _type("body.changes.type", code, plant, model)


def test(body: Body, plant: Plant, model: str) -> Iterator[Fault]:
    """Check a test that the unit's model gets."""
    known = plant.tests.get(body["test"])
    if known is None:
        yield Fault("body.test", f"{body['test']} is no test of this plant")
    elif known.models and model not in known.models:
        yield Fault("body.test", f"{body['test']} is not for a {model}, only for {', '.join(known.models)}")


def watched(body: Body, plant: Plant, _model: str) -> Iterator[Fault]:
    """Check the label of a watched sum: a type, a type group, or the rest."""
    label, groups = body["type"], {one.group for one in plant.types.values()}
    if label != REST and label not in plant.types and label not in groups:
        yield Fault(
            "body.type", f"{label} is no defect type or type group of this plant, nor '{REST}'; mute it from its signal"
        )


def _zone(field: str, zone: str, plant: Plant, model: str) -> Iterator[Fault]:
    if (model, zone) not in plant.zones:
        yield Fault(field, f"{zone} is no zone of a {model}")


def _type(field: str, code: str, plant: Plant, model: str) -> Iterator[Fault]:
    known = plant.types.get(code)
    if known is None:
        yield Fault(field, f"{code} is no defect type of this plant; take the nearest and add a note")
    elif model and known.models and model not in known.models:
        yield Fault(field, f"{code} does not occur on a {model}, only on {', '.join(known.models)}")
