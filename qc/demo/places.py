"""Where on a unit a defect is marked, whom a guess at its origin falls on, and what a test reads."""

from collections import defaultdict
from collections.abc import Mapping

import numpy as np

from qc.demo.acts import Log
from qc.domain.plant.graph import BuildGraph
from qc.domain.plant.plant import UNKNOWN, Plant, Test, Zone

# The station that last touched a kind of zone: six in ten wrong guesses name it (invented, like the plant).
LAST_TOUCHED = {
    "panel": "S10",
    "opening": "S10",
    "roof": "S08",
    "coupling": "S12",
    "lights": "S10",
    "plate": "S12",
    "wheel": "S12",
    "underside": "S03",
    "gas": "S06",
    "services": "S11",
    "board": "S11",
    "whole": "S12",
}


Shares = Mapping[str, float]


class Places:
    """Zones by model and kind, and the origins that can be named."""

    def __init__(self, plant: Plant) -> None:
        self.plant = plant
        self._graph = BuildGraph(plant)
        self._zones: dict[tuple[str, str], list[Zone]] = defaultdict(list)
        for zone in plant.zones.values():
            self._zones[zone.model, zone.kind].append(zone)

    def zone(self, log: Log, type_: str, model: str) -> Zone:
        """Return a zone of the model that the type can be on."""
        zones = [zone for kind in self.plant.types[type_].zone_kinds for zone in self._zones[model, kind]]
        picked: Zone = log.pick(zones)
        return picked

    def neighbour(self, log: Log, zone: Zone) -> Zone:
        """Return another zone near by: the next in the walk-round of the same view; the zone itself if it is alone."""
        same = [one for one in self.plant.zones_of(zone.model) if one.view == zone.view]
        others = [one for one in same if one.key != zone.key]
        if not others:
            return zone
        near = sorted(others, key=lambda one: abs(one.walk_order - zone.walk_order))[:2]
        picked: Zone = log.pick(near)
        return picked

    def mark(self, log: Log, zone: Zone) -> list[int]:
        """Return a point inside the zone's outline, whole millimetres."""
        xs, ys = [x for x, _ in zone.points], [y for _, y in zone.points]
        for _ in range(50):
            x = int(log.rng.integers(min(xs), max(xs) + 1))
            y = int(log.rng.integers(min(ys), max(ys) + 1))
            if inside(zone.points, x, y):
                return [x, y]
        return list(zone.points[0])

    def suspected(self, log: Log, shares: Mapping[str, float], origin: str, type_: str, zone: Zone, point: str) -> str:
        """Return the finder's guess at an origin, UNK for "don't know", by the story's shares."""
        draw = log.rng.random()
        right = shares["suspected_right"]
        if draw < right:
            return origin
        if draw >= right + shares["suspected_wrong"]:
            return UNKNOWN
        return self.wrong_origin(log, origin, type_, zone, point)

    def wrong_origin(self, log: Log, origin: str, type_: str, zone: Zone, point: str) -> str:
        """Return an origin that can be named and is not the true one."""
        possible = self._graph.possible_origins(point, zone.model)
        last = LAST_TOUCHED.get(zone.kind, "S11")
        if log.chance(0.6) and last != origin and last in possible:
            return last
        usual = [one for one in self.plant.types[type_].usual_origins if one != origin and one in possible]
        stations = [one for one in possible if one.startswith("S") and one not in (origin, "SUP")]
        picked: str = log.pick(usual or stations)
        return picked


def inside(points: tuple[tuple[int, int], ...], x: int, y: int) -> bool:
    """Return whether a point lies inside an outline (even-odd rule)."""
    result = False
    for (x1, y1), (x2, y2) in zip(points, points[1:] + points[:1], strict=True):
        if (y1 > y) != (y2 > y) and x < (x2 - x1) * (y - y1) / (y2 - y1) + x1:
            result = not result
    return result


def good_value(rng: np.random.Generator, test: Test) -> float:
    """Return a reading inside the limits, as a sound unit gives."""
    return _rounded(test, _inside(rng, test))


def _inside(rng: np.random.Generator, test: Test) -> float:
    low, high = test.lower, test.upper
    if low is not None and high is not None:
        return low + (high - low) * float(np.clip(rng.normal(0.5, 0.13), 0.05, 0.95))
    if high is not None:
        return high * float(np.clip(rng.gamma(6, 0.06), 0.02, 0.92))
    assert low is not None
    return low * float(1.1 + rng.gamma(3, 0.1)) if test.unit == "A" else low * float(rng.lognormal(4.8, 0.5) + 5)


def bad_value(rng: np.random.Generator, test: Test) -> float:
    """Return a reading outside the limits."""
    beyond = float(0.15 + rng.gamma(2, 0.15))
    if test.upper is not None:
        scale = test.upper - test.lower if test.lower is not None else test.upper
        return _outside_rounded(test, test.upper + beyond * scale)
    assert test.lower is not None
    return _rounded(test, test.lower * max(0.05, 1 - beyond))


def _rounded(test: Test, value: float) -> float:
    return round(value, _decimals(test))


def _outside_rounded(test: Test, value: float) -> float:
    assert test.upper is not None
    step = 10.0 ** -_decimals(test)
    return max(_rounded(test, value), _rounded(test, test.upper + step))


def _decimals(test: Test) -> int:
    return {"ohm": 2, "V": 2, "bar": 2, "kg": 0, "ms": 0, "s": 0, "Nm": 0}.get(test.unit, 1)


def instrument(test: Test) -> tuple[str, str]:
    """Return the instrument of a test and the day until which it is calibrated (invented)."""
    family = test.id.rstrip("abc")
    return f"IN-{family}", "2027-02-26" if family[0] in "GM" else "2026-12-18"
