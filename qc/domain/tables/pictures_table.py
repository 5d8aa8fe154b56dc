"""The table of pictures that lie under the zones, written anew with one picture put in, and where one lies at first."""

from collections.abc import Mapping

from qc.domain.plant.plant import Plant, ViewPicture
from qc.domain.tables import plant_parts as parts
from qc.domain.tables.kept_rows import KeptRow, kept_table
from qc.domain.tables.plant_tables import NO_PICTURES, PICTURES
from qc.domain.tables.table_rows import Faults

Corners = tuple[int, int, int, int]  # left, bottom, right, top in millimetres of the view


def corners_at_first(plant: Plant, model: str, view: str, width: int, height: int) -> Corners:
    """Return where a picture of so many pixels lies at first: about the middle of what is drawn, and all of it in it.

    Its sides keep their proportion. Where nothing is drawn it is as wide as the model is long.
    """
    lines = [one.points for one in plant.outlines_of(model) if one.view == view]
    points = [point for one in plant.zones_of(model) if one.view == view for point in one.points]
    points += [point for one in lines for point in one]
    length = plant.models[model].length_mm
    xs, ys = ([x for x, _ in points] or [0, length]), ([y for _, y in points] or [0, 0])
    mm = max((max(xs) - min(xs)) / width, (max(ys) - min(ys)) / height, 1 / min(width, height))
    left, bottom = (min(xs) + max(xs) - width * mm) / 2, (min(ys) + max(ys) - height * mm) / 2
    return round(left), round(bottom), round(left + width * mm), round(bottom + height * mm)


def with_picture(tables: Mapping[str, str], picture: ViewPicture) -> str:
    """Return the table of pictures with one in its place, after all others where its view had none."""
    table = kept_table(tables.get(PICTURES, NO_PICTURES), parts.PICTURE_COLUMNS)
    corners = f"{picture.left},{picture.bottom} {picture.right},{picture.top}"
    values = (picture.model, picture.view, picture.sha256, str(picture.width), str(picture.height), corners)
    cells = dict(zip(parts.PICTURE_COLUMNS, values, strict=True))
    rows = [row.with_cells(cells) if _is_of(row, picture.model, picture.view) else row for row in table.rows]
    if not any(_is_of(row, picture.model, picture.view) for row in rows):
        rows.append(KeptRow(cells))
    return table.written(rows)


def without_picture(tables: Mapping[str, str], model: str, view: str) -> str:
    """Return the table of pictures without that of a view; its heading alone where there is no other."""
    table = kept_table(tables.get(PICTURES, NO_PICTURES), parts.PICTURE_COLUMNS)
    return table.written([row for row in table.rows if not _is_of(row, model, view)])


def pictures_of(tables: Mapping[str, str], plant: Plant) -> Mapping[tuple[str, str], ViewPicture]:
    """Return the pictures that tables of another time name, of models and views that the plant still knows."""
    text = tables.get(PICTURES, NO_PICTURES)
    return parts.pictures(Faults(), PICTURES, text, plant.models, plant.views)


def _is_of(row: KeptRow, model: str, view: str) -> bool:
    return (row.cells["model"], row.cells["view"]) == (model, view)
