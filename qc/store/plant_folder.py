"""The data folder's editable part: where a plant's tables stand and how a new folder begins."""

from collections.abc import Mapping
from pathlib import Path


class PlantFolderExists(Exception):
    """Raised where a new plant would be written over one that is there."""


def tables_folder(folder: Path) -> Path:
    """Return where the plant's tables stand in a data folder."""
    return folder / "plant"


def make_plant_folder(folder: Path, tables: Mapping[str, str]) -> Path:
    """Write tables, file name → text, into a new ``plant`` folder and return it.

    Raises PlantFolderExists, with nothing written, where there is one already.
    """
    made = tables_folder(folder)
    folder.mkdir(parents=True, exist_ok=True)
    try:
        made.mkdir()
    except FileExistsError as error:
        message = f"{made} is there already; choose another folder, or change the tables in it. Nothing was changed."
        raise PlantFolderExists(message) from error
    for name, text in tables.items():
        (made / name).write_text(text, encoding="utf-8", newline="\n")
    return made
