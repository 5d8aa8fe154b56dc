"""Whether the codes that an operation names exist in the plant, for the unit's model."""

from collections.abc import Iterator, Mapping
from typing import Any

from qc.domain.operations import Fault, Operation
from qc.domain.plant import FIELD, Plant

REST = "rest"  # label of what is left at a station once its types and type groups are watched by themselves
_NOWHERE = frozenset({"external", "unknown"})  # origins that are no place where somebody stands


def reference_fault(op: Operation, plant: Plant, model: str | None) -> Fault | None:
    """Return the first code of the operation that this plant does not have, None when all exist.

    model is the unit's, None where the operation is on no unit. The words never echo more than a code.
    """
    return next(_faults(op.kind, op.body, plant, model), None)


def _faults(kind: str, body: Mapping[str, Any], plant: Plant, model: str | None) -> Iterator[Fault]:
    if kind == "unit_planned":
        if body["model"] not in plant.models:
            yield Fault("body.model", f"{body['model']} is no model of this plant ({', '.join(plant.models)})")
        return
    if (place := body.get("point")) is not None:
        yield from _place("body.point", place, plant)
    if (station := body.get("station")) is not None:
        yield from _station(kind, station, plant)
    if kind == "test_recorded":
        yield from _test(body["test"], plant, model)
    if kind == "signal_muted":
        yield from _watched(body["type"], plant)
        return
    if kind == "defect_corrected":
        yield from _coded("body.changes", body["changes"], plant, model)
        return
    yield from _coded("body", body, plant, model)
    for zone in body.get("zones", ()):
        yield from _zone("body.zones", zone, plant, model)
    for type_ in body.get("types", ()):
        yield from _type("body.types", type_, plant, None)


def _coded(where: str, body: Mapping[str, Any], plant: Plant, model: str | None) -> Iterator[Fault]:
    if (zone := body.get("zone")) is not None:
        yield from _zone(f"{where}.zone", zone, plant, model)
    if (type_ := body.get("type")) is not None:
        yield from _type(f"{where}.type", type_, plant, model)


def _place(field: str, point: str, plant: Plant) -> Iterator[Fault]:
    station = plant.stations.get(point)
    if point == FIELD:
        yield Fault(field, "FIELD is for findings after dispatch; record it as a field finding")
    elif station is None or station.kind in _NOWHERE:
        yield Fault(field, f"{point} is no station of this plant")


def _station(kind: str, station: str, plant: Plant) -> Iterator[Fault]:
    known = plant.stations.get(station)
    if known is None:
        yield Fault("body.station", f"{station} is no station of this plant")
    elif kind == "station_passed" and known.kind in _NOWHERE:
        yield Fault("body.station", f"{station} is no place that a unit can pass")


def _zone(field: str, zone: str, plant: Plant, model: str | None) -> Iterator[Fault]:
    if model is not None and (model, zone) not in plant.zones:
        yield Fault(field, f"{zone} is no zone of a {model}")


def _type(field: str, code: str, plant: Plant, model: str | None) -> Iterator[Fault]:
    known = plant.types.get(code)
    if known is None:
        yield Fault(field, f"{code} is no defect type of this plant; take the nearest and add a note")
    elif model is not None and known.models and model not in known.models:
        yield Fault(field, f"{code} does not occur on a {model}, only on {', '.join(known.models)}")


def _watched(label: str, plant: Plant) -> Iterator[Fault]:
    groups = {type_.group for type_ in plant.types.values()}
    if label != REST and label not in plant.types and label not in groups:
        yield Fault(
            "body.type", f"{label} is no defect type or type group of this plant, nor '{REST}'; mute it from its signal"
        )


def _test(test: str, plant: Plant, model: str | None) -> Iterator[Fault]:
    known = plant.tests.get(test)
    if known is None:
        yield Fault("body.test", f"{test} is no test of this plant")
    elif model is not None and known.models and model not in known.models:
        yield Fault("body.test", f"{test} is not for a {model}, only for {', '.join(known.models)}")
