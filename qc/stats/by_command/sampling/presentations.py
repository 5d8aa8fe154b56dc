"""First presentations out of a list of presentations: the number of the presentation decides, not its arrival."""

from collections.abc import Sequence
from dataclasses import dataclass

from qc.stats.refusals import demand_count, demand_kind, demand_list


@dataclass(frozen=True, slots=True)
class Presentation:
    """A unit offered at a gate: number 1 is the first time, 2 the first after rework; defects found then."""

    unit: str
    gate: str
    number: int
    defects: int


@dataclass(frozen=True, slots=True)
class GateCount:
    """First presentations at one gate: units inspected, those with a defect, their defects.

    first_missing: units known there only by a later presentation; they are in no denominator.
    """

    gate: str
    inspected: int
    defectives: int
    defects: int
    first_missing: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ThroughCount:
    """Units first presented at every gate, and those of them with a defect at any."""

    gates: tuple[str, ...]
    inspected: int
    defectives: int


def _defects_by_presentation(presentations: Sequence[Presentation]) -> dict[tuple[str, str, int], int]:
    """Count a presentation that arrived twice once; refuse two that contradict each other."""
    found: dict[tuple[str, str, int], int] = {}
    for one in demand_list(presentations, "presentations"):
        demand_kind(one, Presentation, "presentations")
        demand_count(one.number, f"number for unit {one.unit!r}", 1)
        demand_count(one.defects, f"defects for unit {one.unit!r}")
        earlier = found.setdefault((one.unit, one.gate, one.number), one.defects)
        if earlier != one.defects:
            raise ValueError(
                f"presentation {one.number} of unit {one.unit!r} at {one.gate!r} must have one count of "
                f"defects, got {earlier} and {one.defects}"
            )
    return found


def gate_counts(presentations: Sequence[Presentation], gates: Sequence[str]) -> tuple[GateCount, ...]:
    """Return the first presentations at each gate, in the order of gates; presentations in any order.

    A gate at which nothing was presented has inspected 0. Presentations at other gates are left aside.
    Raises ValueError for a contradiction between two presentations of one number.
    """
    found = _defects_by_presentation(presentations)
    return tuple(_gate_count(found, gate) for gate in demand_list(gates, "gates"))


def _gate_count(found: dict[tuple[str, str, int], int], gate: str) -> GateCount:
    first = {unit: defects for (unit, place, number), defects in found.items() if (place, number) == (gate, 1)}
    seen = {unit for unit, place, _ in found if place == gate}
    return GateCount(
        gate,
        len(first),
        sum(defects > 0 for defects in first.values()),
        sum(first.values()),
        tuple(sorted(seen - first.keys())),
    )


def through_count(presentations: Sequence[Presentation], gates: Sequence[str]) -> ThroughCount:
    """Return the units first presented at every one of the gates and those with a defect at any of them."""
    gates = demand_list(gates, "gates")
    if not gates:
        raise ValueError("gates must name at least one gate, got none")
    found = _defects_by_presentation(presentations)
    units = {unit for unit, _, _ in found}
    through = [unit for unit in units if all((unit, gate, 1) in found for gate in gates)]
    return ThroughCount(gates, len(through), sum(any(found[unit, gate, 1] for gate in gates) for unit in through))
