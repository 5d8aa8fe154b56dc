"""Commands for a plant's tables: make a data folder, check its tables."""

from pathlib import Path

import click


@click.command(short_help="Make a data folder with a plant's tables to start from.")
@click.argument("folder", type=click.Path(path_type=Path, file_okay=False))
def init(folder: Path) -> None:
    """Make FOLDER with the invented plant's tables in FOLDER/plant, to be changed into your own.

    Nothing that stands there already is touched.
    """
    from qc.assets import folder as asset_folder
    from qc.domain.tables.names_table import NAMES
    from qc.domain.tables.plant_tables import tables_of
    from qc.store.folder.plant_folder import PlantFolderExists, make_plant_folder

    try:
        tables = tables_of(asset_folder("demo_data") / "plant")
        # Names in another language are of the invented plant's codes, which go one by one as a plant puts in its own.
        made = make_plant_folder(folder, {name: text for name, text in tables.items() if name != NAMES})
    except PlantFolderExists as error:
        raise click.ClickException(str(error)) from error
    click.echo(f"Made {made}. The tables are the invented plant's; its limits are not for use.")
    click.echo(f"What each table and column holds: {asset_folder('demo_data') / 'README.md'}")
    click.echo("Change them to your plant, set demo = false in plant.toml, then check:")
    click.echo(f"  qc check-plant {folder}")


@click.command(name="check-plant", short_help="Check a folder's plant tables and name every fault.")
@click.argument("folder", type=click.Path(path_type=Path, exists=True, file_okay=False))
def check_plant(folder: Path) -> None:
    """Check the plant's tables in FOLDER/plant and name every fault with its place and a remedy."""
    from qc.domain.plant.side_by_side import side_by_side
    from qc.domain.tables.plant_tables import PlantFaults, checked_plant, tables_of
    from qc.domain.tables.plant_use import what_is_absent
    from qc.reports.wording import counted
    from qc.store.folder.plant_folder import tables_folder

    try:
        plant = checked_plant(tables_of(tables_folder(folder)))
    except PlantFaults as wrong:
        for fault in wrong.faults:
            click.echo(str(fault))
        if wrong.of_form:
            click.echo("These are faults of the tables' form; what the cells say is looked at once they are mended.")
        count = len(wrong.faults)
        raise click.ClickException(f"{count} fault{'s' if count > 1 else ''}; nothing was changed") from wrong
    click.echo(f"{plant.maker}, {plant.site}: no fault found.")
    click.echo(
        f"{counted(len(plant.models), 'model')}, {len(plant.stations)} stations and origins, "
        f"{counted(len(plant.types), 'defect type')}, {counted(len(plant.zones), 'zone')}, "
        f"{counted(len(plant.tests), 'test')}"
    )
    for sentence in (*what_is_absent(plant), *side_by_side(plant)):
        click.echo(sentence)
    click.echo(f"revision {plant.revision}")
    if plant.demo:
        click.echo("Demo data, limits not for use.")
