"""The zones of one view as somebody drew them, put into the table of zones in the place of those that stood there."""

import csv
import io
import re
from collections.abc import Mapping, Sequence
from typing import Any

from qc.domain.plant_parts import ZONE_COLUMNS
from qc.domain.plant_tables import NO_PICTURES, PICTURES
from qc.domain.speaking import say

ZONES = "zones.csv"
MOST_ZONES, MOST_POINTS, MOST_TEXT, MOST_MM = 500, 200, 200, 999_999
_TEXTS = ("id", "key", "name", "kind", "caution", "holds")
_WHOLE = ("layer", "walk_order")


class NoDrawing(Exception):
    """What came is not a drawing of zones; its words say what of it."""


def drawn_rows(told: Any, model: str, view: str) -> list[dict[str, str]]:
    """Return the cells of a drawing's zones by column; what they say is not judged. Raises NoDrawing for another shape.

    told: a list of {id, key, name, kind, layer, points, walk_order, caution, holds, ended}; id "" for one that is new.
    """
    if not isinstance(told, list) or len(told) > MOST_ZONES:
        raise NoDrawing(say("a drawing is a list of at most {most} zones", most=MOST_ZONES))
    return [_row(zone, place, model, view) for place, zone in enumerate(told, start=1)]


def _row(zone: Any, place: int, model: str, view: str) -> dict[str, str]:
    if not isinstance(zone, dict):
        raise NoDrawing(say("zone {place} is no zone", place=place))
    texts = {name: zone.get(name) for name in _TEXTS}
    for name, text in texts.items():
        if not isinstance(text, str) or len(text) > MOST_TEXT or re.search(r"[\x00-\x1f\x7f\ud800-\udfff]", text):
            raise NoDrawing(
                say(
                    "zone {place}: {name} must be one line of at most {most} characters",
                    place=place,
                    name=name,
                    most=MOST_TEXT,
                )
            )
    for name in _WHOLE:
        if type(zone.get(name)) is not int or abs(zone[name]) > MOST_MM:
            raise NoDrawing(say("zone {place}: {name} must be a whole number", place=place, name=name))
    points = zone.get("points")
    if not isinstance(points, list) or len(points) > MOST_POINTS or not all(_is_point(point) for point in points):
        raise NoDrawing(
            say("zone {place}: points must be at most {most} pairs of whole millimetres", place=place, most=MOST_POINTS)
        )
    return {
        "zone_id": str(texts["id"]),
        "model": model,
        "view": view,
        "zone_key": str(texts["key"]).strip(),
        "name": str(texts["name"]).strip(),
        "kind": str(texts["kind"]).strip(),
        "layer": str(zone["layer"]),
        "points": " ".join(f"{x},{y}" for x, y in points),
        "walk_order": str(zone["walk_order"]),
        "caution": str(texts["caution"]),
        "holds": str(texts["holds"]),
        "ended": "yes" if zone.get("ended") is True else "",
    }


def _is_point(point: Any) -> bool:
    whole = isinstance(point, list) and len(point) == 2 and all(type(part) is int for part in point)
    return whole and max(map(abs, point)) <= MOST_MM


def with_drawn(tables: Mapping[str, str], model: str, view: str, rows: Sequence[Mapping[str, str]]) -> str:
    """Return the table of zones with a view's rows as they were drawn; all others stand as they stood.

    A zone that stood there, by its id or a new one by its shared key, keeps its place; new ones follow the last of
    their view, each with the next free id of the model. A row that is not drawn any more is left out, which the tables'
    own door refuses. Raises NoDrawing for one drawn under the id of a zone that is not of this view.
    """
    columns, before = _table(tables[ZONES])
    known = {row["zone_id"] for row in before if (row["model"], row["view"]) == (model, view)}
    for row in rows:
        if row["zone_id"] and row["zone_id"] not in known:
            raise NoDrawing(say("{zone} is no zone of {model} {view}", zone=row["zone_id"], model=model, view=view))
    for column in ("holds", "ended"):
        if column not in columns and any(row[column] for row in rows):
            columns.append(column)
    by_key = {row["zone_key"]: row["zone_id"] for row in before if row["zone_id"] in known}
    rows = [row if row["zone_id"] else {**row, "zone_id": by_key.get(row["zone_key"], "")} for row in rows]
    drawn = {row["zone_id"]: row for row in rows if row["zone_id"]}
    after: list[Mapping[str, str]] = []
    for row in before:
        if (row["model"], row["view"]) != (model, view):
            after.append(row)
        elif row["zone_id"] in drawn:
            after.append(_as_it_stood(row, drawn[row["zone_id"]]))
    places = [place for place, row in enumerate(after) if (row["model"], row["view"]) == (model, view)]
    place = places[-1] + 1 if places else len(after)
    ids = {row["zone_id"] for row in before}
    for row in rows:
        if not row["zone_id"]:
            id_ = _free(ids, model)
            ids.add(id_)
            after.insert(place, {**row, "zone_id": id_})
            place += 1
    return _written(columns, after)


def _as_it_stood(row: Mapping[str, str], drawn: Mapping[str, str]) -> Mapping[str, str]:
    """Return a row with what was drawn, written as it stood where it says the same: "no" and "" end nothing."""
    told = {**row, **drawn}
    if not told["ended"] and row.get("ended") == "no":
        told["ended"] = "no"
    return told


def _free(ids: set[str], model: str) -> str:
    numbers = [int(found[1]) for id_ in ids if (found := re.fullmatch(rf"{re.escape(model)}-(\d{{1,9}})", id_))]
    return f"{model}-{max(numbers, default=0) + 1:02d}"


def view_as_it_stands(tables: Mapping[str, str], model: str, view: str) -> tuple[object, ...]:
    """Return what tables say of one view, its zones and its picture, to be held against another time's."""
    rows = [_table(tables[ZONES])[1], _table(tables.get(PICTURES, NO_PICTURES))[1]]
    own = [[row for row in some if (row["model"], row["view"]) == (model, view)] for some in rows]
    return tuple(tuple(sorted(row.items())) for some in own for row in some)


def _table(text: str) -> tuple[list[str], list[dict[str, str]]]:
    reader = csv.DictReader(io.StringIO(text))
    rows = [{str(key).strip(): (value or "").strip() for key, value in row.items()} for row in reader]
    return [str(name).strip() for name in reader.fieldnames or ZONE_COLUMNS], [row for row in rows if any(row.values())]


def _written(columns: Sequence[str], rows: Sequence[Mapping[str, str]]) -> str:
    text = io.StringIO()
    table = csv.DictWriter(text, columns, lineterminator="\n", extrasaction="ignore", restval="")
    table.writeheader()
    table.writerows(rows)
    return text.getvalue()
