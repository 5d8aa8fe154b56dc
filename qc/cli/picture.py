"""The command that lays a picture under the zones of a view."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from qc.store.intake.journal import Journal
    from qc.store.people.telling import Beside


@click.command(short_help="Lay a picture under the zones of a view.")
@click.argument("folder", type=click.Path(path_type=Path, exists=True, file_okay=False))
@click.argument("file", type=click.Path(path_type=Path, exists=True, dir_okay=False))
@click.option("--model", required=True, metavar="CODE", help="The model that it shows.")
@click.option("--view", required=True, metavar="ID", help="The view that it shows.")
@click.option("--corners", metavar="CORNERS", help="Where it lies in the view, 'left,bottom right,top' in mm.")
@click.option("--reason", metavar="TEXT", default="", help="Why the tables change; it stands in the record.")
@click.option("--from", "from_day", metavar="DAY", default="", help="The day since which they hold, YYYY-MM-DD.")
@click.option("--take", "author", metavar="CODE", help="Put it in force, as the administrator of this code or console.")
def picture(
    folder: Path,
    file: Path,
    model: str,
    view: str,
    corners: str | None,
    reason: str,
    from_day: str,
    author: str | None,
) -> None:
    """Make FILE (PNG, JPEG, WebP) small and upright, and tell what laying it under a view's zones would change.

    With --take it is kept and the tables that name it are put in force, as qc revise does it. Without --corners it lies
    about the middle of what is drawn. Ends with 1 where the tables may not follow.
    """
    from qc.cli.revise import tables_of_record, tell_and_take
    from qc.domain.plant.plant import ViewPicture
    from qc.domain.tables.pictures_table import corners_at_first, with_picture
    from qc.domain.tables.plant_tables import PICTURES, plant_from_tables
    from qc.reports.table_revisions import tables_report
    from qc.store.folder.photos import PhotoStore, name_of
    from qc.store.folder.view_pictures import MOST_FILE, NotAPicture, made_anew

    in_force = tables_of_record(folder)
    plant = plant_from_tables(in_force)
    for what, code, known in (("model", model, plant.models), ("view", view, plant.views)):
        if code not in known:
            raise click.ClickException(f"{code!r} is no {what} of this plant; it has {', '.join(known)}")
    try:
        with file.open("rb") as opened:
            made = made_anew(opened.read(MOST_FILE + 1))
    except NotAPicture as why:
        raise click.ClickException(f"{file.name} {why}. Nothing was changed") from why
    left, bottom, right, top = _corners(corners) or corners_at_first(plant, model, view, made.width, made.height)
    placed = ViewPicture(
        model=model,
        view=view,
        sha256=name_of(made.data),
        width=made.width,
        height=made.height,
        left=left,
        bottom=bottom,
        right=right,
        top=top,
    )
    click.echo(f"{file.name}: made {made.width} × {made.height} pixels, {len(made.data) / 1000:.0f} kB.")
    report = tables_report([(PICTURES, with_picture(in_force, placed).encode())], in_force)

    def keep(record: "Journal | Beside") -> None:
        PhotoStore(folder, record.write, record.clock).keep(made.data)

    tell_and_take(folder, report, author, reason, from_day, keep)


def _corners(told: str | None) -> tuple[int, int, int, int] | None:
    if told is None:
        return None
    try:
        (left, bottom), (right, top) = ([int(part) for part in corner.split(",")] for corner in told.split())
    except ValueError:
        words = f"--corners {told!r} are no two corners; write 'left,bottom right,top' in whole millimetres"
        raise click.ClickException(words) from None
    return left, bottom, right, top
