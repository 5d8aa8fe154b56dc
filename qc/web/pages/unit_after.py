"""What is found on a unit after dispatch, entered at the desk by who hears of it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from qc.domain.facts.people import Person, Role
from qc.domain.plant.judging import is_lower
from qc.domain.plant.plant import FIELD, SEVERITIES, DefectType, Plant, Zone
from qc.domain.unit.unit_record import UnitRecord
from qc.domain.words.code_words import code_words
from qc.domain.words.speaking import say

ROLES: tuple[Role, ...] = ("dispatch", "quality_manager")
FIELDS = ("zone", "type", "severity", "found_day", "note")
USUAL = "usual"  # the severity that the type's table says


@dataclass(frozen=True, slots=True)
class AfterForm:
    """What the form offers. zones: by view's name; types: by group's name; last_day: today, as nothing lies ahead.

    entered: what stood in it when it was not taken, else empty.
    """

    zones: Mapping[str, tuple[Zone, ...]]
    types: Mapping[str, tuple[DefectType, ...]]
    severities: Mapping[str, str]
    last_day: date
    entered: Mapping[str, str]


def after_form(
    plant: Plant, record: UnitRecord, person: Person | None, day: date, entered: Mapping[str, str]
) -> AfterForm | None:
    """Return the form for a person who may tell of a unit that has left; None for others, and while it has not."""
    if person is None or not person.has(*ROLES) or not record.releases:
        return None
    zones = plant.zones_of(record.model)
    types = [one for one in plant.types.values() if not one.retired and (not one.models or record.model in one.models)]
    return AfterForm(
        zones={
            view.name: own for view in plant.views.values() if (own := tuple(z for z in zones if z.view == view.id))
        },
        types={group: tuple(one for one in types if one.group_name == group) for group in _groups(types)},
        severities={USUAL: say("as usual for what it is"), **_severities(plant)},
        last_day=day,
        entered=entered,
    )


def _groups(types: Sequence[DefectType]) -> list[str]:
    return list(dict.fromkeys(one.group_name for one in types))


def _severities(plant: Plant) -> dict[str, str]:
    """Return what a person may choose by its code, in the plant's own words where it has such."""
    return {one.code: one.name for one in plant.severities.values()} or {one: code_words(one) for one in SEVERITIES}


def _counts_as(plant: Plant, severity: str) -> str:
    own = plant.severities.get(severity)
    return own.counts_as if own else severity


def finding_of(plant: Plant, entered: Mapping[str, str]) -> dict[str, str]:
    """Return the body of the finding that a form without a fault tells."""
    usual = plant.types[entered["type"]].default_severity
    told = {name: entered[name] for name in ("zone", "type", "found_day")}
    told |= {"note": entered["note"]} if entered["note"] else {}
    if own := plant.severities.get(
        plant.types[entered["type"]].grade if entered["severity"] == USUAL else entered["severity"]
    ):
        return {**told, "severity": own.counts_as, "grade": own.code}
    return {**told, "severity": usual if entered["severity"] == USUAL else entered["severity"]}


def form_fault(plant: Plant, record: UnitRecord, entered: Mapping[str, str], last_day: date) -> str:
    """Return what is wrong with the form as a sentence, "" where the record may judge it."""
    if not record.releases:
        return say("the unit was never released, so nothing is found after its dispatch. Record it at an end point.")
    zone = plant.zones.get((record.model, entered["zone"]))
    type_ = plant.types.get(entered["type"])
    if zone is None or zone.ended:
        return say("choose the place on the unit.")
    if type_ is None or type_.retired:
        return say("choose what it is.")
    if zone.kind not in type_.zone_kinds or (type_.models and record.model not in type_.models):
        return say(
            "{type} is not recorded in {zone}. Choose another place, or what else it is.",
            type=type_.name,
            zone=zone.name,
        )
    severities = _severities(plant)
    if entered["severity"] not in (USUAL, *severities):
        named = ", ".join(severities.values())
        asked = entered["severity"][:40]
        return say("“{asked}” is no severity; choose one of {named}, or the usual one.", asked=asked, named=named)
    if entered["severity"] != USUAL and is_lower(_counts_as(plant, entered["severity"]), type_.default_severity):
        usual = code_words(plant.severity_name(type_.default_severity, type_.grade))
        return say(
            "{type} is usually {usual}: enter it so. A correction, with its reason, is made in the app.",
            type=type_.name,
            usual=usual,
        )
    try:
        day = date.fromisoformat(entered["found_day"])
    except ValueError:
        asked = entered["found_day"][:40]
        return say("“{asked}” is no day; write it as {day}.", asked=asked, day=last_day.isoformat())
    if day > last_day:
        return say("{day} has not come yet; write the day on which it was found.", day=day.isoformat())
    told = (entered["zone"], entered["type"], day.isoformat(), entered["note"])
    for one in record.defects:
        if (
            one.point == FIELD
            and one.state != "withdrawn"
            and (one.zone, one.type, one.production_day, one.note) == told
        ):
            return say(
                "{who} has entered this already. If it is another one, say in the note what tells them apart.",
                who=one.finder,
            )
    return ""
