"""The zones of one view as somebody drew them, put into the table of zones in the place of those that stood there."""

import re
import unicodedata
from collections.abc import Mapping, Sequence
from typing import Any

from qc.domain.tables.kept_rows import KeptRow, kept_table
from qc.domain.tables.plant_parts import PICTURE_COLUMNS, ZONE_COLUMNS, ZONE_OPTIONAL
from qc.domain.tables.plant_tables import NO_PICTURES, PICTURES
from qc.domain.words.speaking import say

ZONES = "zones.csv"
MOST_ZONES, MOST_POINTS, MOST_TEXT, MOST_MM, MOST_OPTIONS = 500, 200, 200, 999_999, 200
_TEXTS = ("id", "key", "name", "kind", "caution", "holds")
_WHOLE = ("layer", "walk_order")


class NoDrawing(Exception):
    """What came is not a drawing of zones; its words say what of it."""


def drawn_rows(told: Any, model: str, view: str) -> list[dict[str, str]]:
    """Return the cells of a drawing's zones by column; what they say is not judged. Raises NoDrawing for another shape.

    told: a list of {id, key, name, kind, layer, points, walk_order, caution, holds, ended, options}; id "" for one that
    is new. Where it says nothing of options there is no such cell, and those that stand stay.
    """
    if not isinstance(told, list) or len(told) > MOST_ZONES:
        raise NoDrawing(say("a drawing is a list of at most {most} zones", most=MOST_ZONES))
    return [_row(zone, place, model, view) for place, zone in enumerate(told, start=1)]


def _row(zone: Any, place: int, model: str, view: str) -> dict[str, str]:
    if not isinstance(zone, dict):
        raise NoDrawing(say("zone {place} is no zone", place=place))
    texts = {name: zone.get(name) for name in _TEXTS}
    for name, text in texts.items():
        if not _is_line(text):
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
    options = zone.get("options")
    if options is not None and not (
        isinstance(options, list) and len(options) <= MOST_OPTIONS and all(_is_line(one) for one in options)
    ):
        raise NoDrawing(
            say("zone {place}: options must be at most {most} codes of one line", place=place, most=MOST_OPTIONS)
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
    } | ({} if options is None else {"options": ";".join(options)})


def _is_line(text: Any) -> bool:
    whole = isinstance(text, str) and len(text) <= MOST_TEXT
    return whole and not re.search(r"[\x00-\x1f\x7f\ud800-\udfff]", text)


def _is_point(point: Any) -> bool:
    whole = isinstance(point, list) and len(point) == 2 and all(type(part) is int for part in point)
    return whole and max(map(abs, point)) <= MOST_MM


def with_drawn(tables: Mapping[str, str], model: str, view: str, rows: Sequence[Mapping[str, str]]) -> str:
    """Return the table of zones with a view's rows as they were drawn; all others stand as they stood.

    A zone that stood there, by its id or a new one by its shared key, keeps its place; new ones follow the last of
    their view, each with the next free id of the model. A row that is not drawn any more is left out, which the tables'
    own door refuses. Raises NoDrawing for one drawn under the id of a zone that is not of this view.
    """
    table = kept_table(tables[ZONES], ZONE_COLUMNS)
    known = {row.cells["zone_id"]: row for row in table.rows if _is_of(row, model, view)}
    for row in rows:
        if row["zone_id"] and row["zone_id"] not in known:
            raise NoDrawing(say("{zone} is no zone of {model} {view}", zone=row["zone_id"], model=model, view=view))
    more = [one for one in ZONE_OPTIONAL if one not in table.columns and any(row.get(one) for row in rows)]
    by_key = {row.cells["zone_key"]: zone_id for zone_id, row in known.items()}
    rows = [row if row["zone_id"] else {**row, "zone_id": by_key.get(row["zone_key"], "")} for row in rows]
    drawn = {row["zone_id"]: row for row in rows if row["zone_id"]}
    after: list[KeptRow] = []
    for one in table.rows:
        if not _is_of(one, model, view):
            after.append(one)
        elif one.cells["zone_id"] in drawn:
            after.append(one.with_cells(_as_it_stood(one.cells, drawn[one.cells["zone_id"]])))
    places = [place for place, one in enumerate(after) if _is_of(one, model, view)]
    place = places[-1] + 1 if places else len(after)
    ids = {one.cells["zone_id"] for one in table.rows}
    for row in rows:
        if not row["zone_id"]:
            id_ = _free(ids, model)
            ids.add(id_)
            after.insert(place, KeptRow({**row, "zone_id": id_}))
            place += 1
    return table.written(after, more)


def _is_of(row: KeptRow, model: str, view: str) -> bool:
    return (row.cells["model"], row.cells["view"]) == (model, view)


def _as_it_stood(row: Mapping[str, str], drawn: Mapping[str, str]) -> Mapping[str, str]:
    """Return what was drawn, each cell written as it stood where it says the same."""
    return {
        column: row[column] if column in row and _said(column, row[column]) == _said(column, value) else value
        for column, value in drawn.items()
    }


def _said(column: str, cell: str) -> object:
    """Return what a cell says, however it is written: "no" and "" end nothing, options have no order."""
    if column in ("points", *_WHOLE):
        return [int(one) for one in re.findall(r"-?\d+", cell)]
    if column == "options":
        return {unicodedata.normalize("NFC", one.strip()) for one in cell.split(";")} - {""}
    return "" if column == "ended" and cell == "no" else cell


def _free(ids: set[str], model: str) -> str:
    numbers = [int(found[1]) for id_ in ids if (found := re.fullmatch(rf"{re.escape(model)}-(\d{{1,9}})", id_))]
    return f"{model}-{max(numbers, default=0) + 1:02d}"


def view_as_it_stands(tables: Mapping[str, str], model: str, view: str) -> tuple[object, ...]:
    """Return what tables say of one view, its zones and its picture, to be held against another time's."""
    tables_of_both = (
        kept_table(tables[ZONES], ZONE_COLUMNS),
        kept_table(tables.get(PICTURES, NO_PICTURES), PICTURE_COLUMNS),
    )
    own = [row.cells for table in tables_of_both for row in table.rows if _is_of(row, model, view)]
    return tuple(tuple(sorted((name, cell) for name, cell in cells.items() if cell)) for cells in own)
