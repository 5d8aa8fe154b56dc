"""Where a defect was made: who may say so, and what each word does to what is held.

Suspected is the finder's guess; confirmed is the word of the suspected station's own lead; a dispute is settled by
the quality manager (common practice, no source).
"""

from collections.abc import Collection
from dataclasses import dataclass, replace
from typing import Literal

from qc.domain.facts.standing import Standing
from qc.domain.plant.naming import Names
from qc.domain.plant.plant import Plant

OriginState = Literal["none", "suspected", "confirmed", "disputed", "settled"]
LINE_KINDS = frozenset({"feeder", "remote", "main", "test", "inspection"})  # stations whose work has a day


@dataclass(frozen=True, slots=True)
class Origin:
    """What is held about a defect's origin. at_ms: when it was confirmed, disputed or settled, None before."""

    suspected: str | None = None
    confirmed: str | None = None
    state: OriginState = "none"
    at_ms: int | None = None

    @property
    def charged(self) -> str | None:
        """The place that the defect stands against now: confirmed, else suspected."""
        return self.confirmed or self.suspected


def after(origin: Origin, kind: str, station: str, at_ms: int) -> Origin:
    """Return the origin as an operation of ``kind`` leaves it; station is "" for a dispute."""
    if kind == "origin_suspected":
        if origin.state in ("confirmed", "settled"):
            return replace(origin, suspected=origin.suspected or station)  # a late guess moves nothing
        return Origin(station, None, "suspected")
    if kind == "origin_passed_on":
        return Origin(station, None, "suspected")
    if kind == "origin_confirmed":
        return Origin(origin.suspected, station, "confirmed", at_ms)
    if kind == "origin_disputed":
        return Origin(origin.charged, None, "disputed", at_ms)
    return Origin(origin.suspected, station, "settled", at_ms)


def objection(
    origin: Origin,
    kind: str,
    station: str,
    standing: Standing,
    possible: Collection[str],
    plant: Plant,
    rules: int,
) -> tuple[str, str] | None:
    """Return the refusal's code and words for an origin operation, None where it may stand.

    rules: the rule set by whose words.
    """
    names = Names(plant, rules)
    if station and station not in possible:
        choose = ", ".join(names.place(one) for one in possible)
        return "not_upstream", f"{names.place(station)} is not upstream of where this was found; choose one of {choose}"
    if kind in ("origin_suspected", "origin_settled"):
        return None  # the kind's roles say who may
    if origin.state == "settled":
        return "not_your_role", "the quality manager settled this origin; only the quality manager changes it"
    if kind == "origin_confirmed":
        return _confirming(origin, station, standing, plant, names)
    if standing.has("quality_manager") or standing.leads(origin.charged):
        return None
    held = names.place(origin.charged) if origin.charged else "nobody"
    return "not_your_role", f"this stands against {held}; only that station's lead or the quality manager can say this"


def has_lead(plant: Plant, station: str) -> bool:
    """Tell whether a lead answers for an origin; for supplier, handling, design and not known none does."""
    return plant.stations[station].kind in LINE_KINDS | {"rework", "dispatch"}


def _confirming(origin: Origin, station: str, standing: Standing, plant: Plant, names: Names) -> tuple[str, str] | None:
    if origin.suspected != station:
        held = names.place(origin.suspected) if origin.suspected else "nobody"
        return "not_your_role", f"{names.place(station)} is not suspected ({held} is); suspect it or pass it on first"
    if standing.leads(station) or (standing.has("quality_manager") and not has_lead(plant, station)):
        return None
    return (
        "not_your_role",
        f"only the lead of {names.place(station)} confirms it; the quality manager settles it with a reason",
    )


def work_station(origin: Origin, plant: Plant) -> str | None:
    """Return the station whose work day the defect counts to, None where no station of the line is charged."""
    station = plant.stations.get(origin.charged or "")
    return station.id if station and station.kind in LINE_KINDS else None
