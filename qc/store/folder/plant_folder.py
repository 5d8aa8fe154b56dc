"""The data folder's editable part: where a plant's tables stand and how a new folder begins."""

import json
import os
import shutil
import time
from collections.abc import Callable, Mapping
from pathlib import Path

from qc.domain.tables.plant_tables import FILES, OPTIONAL_FILES

KNOWN = frozenset({*FILES, *OPTIONAL_FILES})


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


def lay_out(folder: Path, tables: Mapping[str, str]) -> None:
    """Make tables, file name → text, a data folder's own, each file whole or not at all.

    What stood there is copied to ``plant-before`` first. Done again after it was cut short it comes to the same.
    """
    own, before = tables_folder(folder), folder / "plant-before"
    before.mkdir(exist_ok=True)
    own.mkdir(exist_ok=True)
    for name in KNOWN:
        if (own / name).exists():
            shutil.copyfile(own / name, before / name)
    for name, text in tables.items():
        made = own / f".{name}.new"
        with made.open("w", encoding="utf-8", newline="\n") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        made.replace(own / name)
    for name in KNOWN - tables.keys():
        (own / name).unlink(missing_ok=True)


CLOCK = "clock.json"


def set_clock_ahead(folder: Path, ahead_ms: int) -> None:
    """Have an invented plant's folder live at another time: its clock stands ``ahead_ms`` after this machine's."""
    (folder / CLOCK).write_text(json.dumps({"ahead_ms": ahead_ms}) + "\n", encoding="utf-8")


def folder_clock(folder: Path) -> Callable[[], int]:
    """Return the folder's clock in milliseconds since 1970 UTC: this machine's, or as `set_clock_ahead` left it.

    Only for an invented plant; a plant that builds units lives now.
    """
    try:
        ahead = int(json.loads((folder / CLOCK).read_text(encoding="utf-8"))["ahead_ms"])
    except FileNotFoundError:
        ahead = 0
    return lambda: time.time_ns() // 1_000_000 + ahead
