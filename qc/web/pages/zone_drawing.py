"""A view's zones drawn over its picture; what was drawn goes through the very door of new tables."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import orjson
from flask import Response, render_template, request

from qc.domain.facts.operations import digest as digest_shape
from qc.domain.plant.plant import Plant, ViewPicture, Zone
from qc.domain.tables.drawn_names import Named, drawn_names, with_names, zone_names
from qc.domain.tables.drawn_zones import MOST_MM, ZONES, NoDrawing, drawn_rows, view_as_it_stands, with_drawn
from qc.domain.tables.names_table import NAMES
from qc.domain.tables.pictures_table import corners_at_first, with_picture, without_picture
from qc.domain.tables.plant_parts import HOLDS
from qc.domain.tables.plant_tables import PICTURES
from qc.domain.words.speaking import say
from qc.store.folder.photos import Photo
from qc.web.house import House, the_house
from qc.web.page_session import acting_person, require_role
from qc.web.pages.plant_tables import CORNERS, Files, Offer, Overtaken, drawing_address, offered, tables_in_force

MOST_BYTES = 220_000  # of a drawing: 500 zones of a dozen points and more


@require_role("administrator", "quality_manager")
def show() -> Response:
    """Return a view's drawing, the first one where none is named; one that is none is told, and the first shown."""
    plant = the_house().plant
    model, view = request.args.get("model", ""), request.args.get("view", "")
    problems = []
    if model and model not in plant.models:
        there = ", ".join(plant.models)
        problems.append(say("There is no model “{asked}”; there are {there}.", asked=model[:40], there=there))
    if view and view not in plant.views:
        there = ", ".join(plant.views)
        problems.append(say("There is no view “{asked}”; there are {there}.", asked=view[:40], there=there))
    told, status = " ".join(problems), 404 if problems else 200
    return _page(model, view, request.args.get("picture", ""), problem=told, status=status)


@require_role("administrator")
def look() -> Response:
    """Hold a drawing against the tables in force and show what it would change; nothing is changed."""
    house, person = the_house(), acting_person()
    model, view, base = (request.form.get(name, "") for name in ("model", "view", "base"))
    if model not in house.plant.models or view not in house.plant.views:
        return _page("", "", problem=say("The drawing named no model or view of this plant."), status=400)
    try:
        drawn = _drawing(house, request.form.get("drawing", ""), model, view)
        before = house.reads.tables_of(base) if not digest_shape(base) else None
        if before is None:
            raise NoDrawing(say("it does not say on which tables it rests"))
        offer = Offer(_files(model, view, drawn, orjson.loads(before)), drawing_address(model, view))
        return offered(house, person, offer)
    except NoDrawing as why:
        words = say(
            "The drawing cannot be read: {why}. Nothing was changed; the drawing is kept in this browser.", why=why
        )
        return _page(model, view, problem=words, status=400)
    except Overtaken as why:
        return _page(model, view, problem=say("{why} Nothing was changed.", why=why), status=409)


@dataclass(frozen=True, slots=True)
class _Drawn:
    rows: list[dict[str, str]]
    picture: ViewPicture | None
    named: Named


def _files(model: str, view: str, drawn: _Drawn, before: Mapping[str, str]) -> Any:
    """Return what a drawing makes of the tables in force, which may be others than those that it began from."""
    stood, stood_named = view_as_it_stands(before, model, view), zone_names(before)
    picture = drawn.picture

    def files(tables: Mapping[str, str]) -> Files:
        made = [(ZONES, with_drawn(tables, model, view, drawn.rows))]
        if PICTURES in tables or picture is not None:
            pictures = without_picture(tables, model, view) if picture is None else with_picture(tables, picture)
            made.append((PICTURES, pictures))
        now, then = (view_as_it_stands(some, model, view) for some in (tables, {**tables, **dict(made)}))
        if now not in (stood, then):  # as it is drawn it stands after a second tap
            words = say(
                "Somebody else has put another drawing of this view in force since yours began. Yours is kept in this "
                "browser: go back to the drawing, look at theirs, and say which is to go on."
            )
            raise Overtaken(words)
        if drawn.named:
            now_named = zone_names(tables)
            for place, words in drawn.named.items():
                if now_named.get(place, "") not in (stood_named.get(place, ""), words):
                    raise Overtaken(_named_meanwhile(*place))
            made.append((NAMES, with_names(tables, drawn.named)))
        return [(name, text.encode()) for name, text in made]

    return files


def _named_meanwhile(tag: str, key: str) -> str:
    return say(
        "Somebody else has put another name of {zone} in {language} in force since yours began. Yours is kept in this "
        "browser: go back to the drawing, look at theirs, and say which is to go on.",
        zone=key,
        language=tag,
    )


def _drawing(house: House, text: str, model: str, view: str) -> _Drawn:
    if len(text) > MOST_BYTES:
        raise NoDrawing(say("it is longer than {most} characters", most=MOST_BYTES))
    try:
        told = orjson.loads(text)
    except orjson.JSONDecodeError as error:
        raise NoDrawing(say("it did not come whole")) from error
    if not isinstance(told, dict):
        raise NoDrawing(say("it is no drawing"))
    zones = told.get("zones")
    rows = drawn_rows(zones, model, view)
    return _Drawn(rows, _picture(house, told.get("picture"), model, view), drawn_names(zones))


def _picture(house: House, told: Any, model: str, view: str) -> ViewPicture | None:
    if told is None:
        return None
    name, corners = (told.get("sha256"), told.get("corners")) if isinstance(told, dict) else (None, None)
    kept = _kept(house, name)
    if kept is None:
        raise NoDrawing(say("its picture is not kept here; hand it in again"))
    if not _are_corners(corners):
        raise NoDrawing(say("its picture must lie between two corners, in whole millimetres"))
    return _placed(kept, model, view, corners)


def _are_corners(told: Any) -> bool:
    whole = isinstance(told, list) and len(told) == 4 and all(type(one) is int and abs(one) <= MOST_MM for one in told)
    return whole and told[0] < told[2] and told[1] < told[3]


def _placed(kept: Photo, model: str, view: str, corners: Any) -> ViewPicture:
    where = dict(zip(CORNERS, corners, strict=True))
    return ViewPicture(model=model, view=view, sha256=kept.sha256, width=kept.width, height=kept.height, **where)


def _kept(house: House, name: object) -> Photo | None:
    return house.photos.photo(name) if isinstance(name, str) and not digest_shape(name) else None


def _page(model: str, view: str, picture: str = "", *, problem: str = "", status: int = 200) -> Response:
    house = the_house()
    tables_in_force(house)
    plant, person = house.plant, acting_person()
    model = model if model in plant.models else next(iter(plant.models))
    view = view if view in plant.views else next(iter(plant.views))
    acts = person.has("administrator")
    told = _told(plant, house.shown, model, view) | {"person": person.code, "acts": acts}
    kept = _kept(house, picture) if acts else None
    told["offered"] = None
    if kept is not None:
        told["offered"] = _shown(
            _placed(kept, model, view, corners_at_first(plant, model, view, kept.width, kept.height))
        )
    page = render_template(
        "plant_tables/zones.html",
        model=house.shown.models[model],
        view=house.shown.views[view],
        drawing=orjson.dumps(told).decode(),
        kinds=list(dict.fromkeys(one.kind for one in plant.zones.values())),
        keys=sorted({one.key for one in plant.zones.values() if one.view == view}),
        holds=HOLDS,
        acts=acts,
        problem=problem,
    )
    return Response(page, status, mimetype="text/html")


def _told(plant: Plant, shown: Plant, model: str, view: str) -> dict[str, Any]:
    """Return what the page's script draws from; shared: zones of other models in this view, by their shared key."""
    own = [one for one in plant.zones.values() if (one.model, one.view) == (model, view)]
    picture = plant.pictures.get((model, view))
    used = {one.key for one in plant.zones.values() if one.model == model}
    shared = {one.key: one for one in plant.zones.values() if one.view == view and one.key not in used}
    return {
        "model": model,
        "view": view,
        "base": plant.revision,
        "zones": [_zone(plant, one) for one in own],
        "picture": None if picture is None else _shown(picture),
        "bodies": [one.points for one in plant.outlines_of(model) if one.view == view and one.part == "body"],
        "lines": [one.points for one in plant.outlines_of(model) if one.view == view and one.part != "wheel"],
        "length": plant.models[model].length_mm,
        "options": [{"code": one.code, "name": shown.options[one.code].name} for one in plant.options.values()],
        "languages": list(plant.names),
        "shared": [
            {name: _zone(plant, one)[name] for name in ("key", "name", "kind", "caution", "options", "names")}
            for one in shared.values()
        ],
    }


def _zone(plant: Plant, one: Zone) -> dict[str, Any]:
    return {
        "id": one.id,
        "key": one.key,
        "name": one.name,
        "kind": one.kind,
        "layer": one.layer,
        "points": one.points,
        "walk_order": one.walk_order,
        "caution": one.caution,
        "holds": one.holds,
        "ended": one.ended,
        "options": [code for code in plant.options if code in one.options],
        "names": {
            tag: tables["zone"][one.key]["name"]
            for tag, tables in plant.names.items()
            if "name" in tables.get("zone", {}).get(one.key, {})
        },
    }


def _shown(one: ViewPicture) -> dict[str, Any]:
    corners = [one.left, one.bottom, one.right, one.top]
    return {"sha256": one.sha256, "width": one.width, "height": one.height, "corners": corners}
