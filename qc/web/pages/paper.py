"""The printable sheet for the day a phone fails: the model's zones and type codes, room to write."""

from dataclasses import dataclass

from flask import render_template, request

from qc.domain.facts.operations import LIGHTS, NOT_LOOKED_REASONS, WEATHERS
from qc.domain.numbers.number_form import length_of
from qc.domain.plant.plant import DefectType, Model, Plant, Zone
from qc.domain.words.code_words import code_words
from qc.domain.words.speaking import say
from qc.web.house import the_house
from qc.web.page_session import require_role

DEFECT_LINES = tuple(range(1, 17))


@dataclass(frozen=True, slots=True)
class SheetView:
    """One view of the sheet: its edges and its zones in walk-round order."""

    name: str
    left: str
    right: str
    zones: tuple[Zone, ...]


@dataclass(frozen=True, slots=True)
class SheetGroup:
    """One group of type codes."""

    name: str
    types: tuple[DefectType, ...]


def sheet_views(plant: Plant, model: str) -> tuple[SheetView, ...]:
    """Return the views that the model has zones in, in the plant's walk-round order."""
    zones = plant.zones_of(model)
    views = [
        SheetView(view.name, view.left, view.right, tuple(zone for zone in zones if zone.view == view.id))
        for view in plant.views.values()
    ]
    return tuple(view for view in views if view.zones)


def sheet_groups(plant: Plant, model: str) -> tuple[SheetGroup, ...]:
    """Return the type codes that can be found on the model, by group in table order, retired ones left out."""
    groups: dict[str, list[DefectType]] = {}
    for one in plant.types.values():
        if not one.retired and (not one.models or model in one.models):
            groups.setdefault(one.group_name, []).append(one)
    return tuple(SheetGroup(name, tuple(types)) for name, types in groups.items())


@require_role()
def show() -> str | tuple[str, int]:
    """Return the sheet of the model asked for, or the list of models."""
    plant = the_house().shown
    asked = request.args.get("model", "")
    model = plant.models.get(asked)
    if model is None:
        there = ", ".join(plant.models)
        problems = (
            [say("There is no model “{asked}”; there are {there}.", asked=asked[:40], there=there)] if asked else []
        )
        return render_template("paper/choose.html", problems=problems), 404 if asked else 200
    return _sheet(plant, model)


def _sheet(plant: Plant, model: Model) -> str:
    views = sheet_views(plant, model.code)
    work = {one.caution for one in plant.types.values() if not one.models or model.code in one.models}
    used = work | {zone.caution for view in views for zone in view.zones}
    return render_template(
        "paper/paper.html",
        model=model,
        number_length=length_of(plant.numbers.chassis, model.code),
        views=views,
        groups=sheet_groups(plant, model.code),
        lines=DEFECT_LINES,
        lights=_spoken(LIGHTS),
        weathers=_spoken(WEATHERS),
        reasons=_spoken(NOT_LOOKED_REASONS),
        # Where the tables do not say which work carries which, all are printed.
        cautions=[caution for caution in plant.cautions.values() if None in used or caution.code in used],
    )


def _spoken(codes: tuple[str, ...]) -> str:
    return ", ".join(map(code_words, codes))
