"""A plant's folder of tables, read and checked whole: every fault is told at once, with its place and a remedy."""

import hashlib
import json
import re
import tomllib
from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from qc.domain.numbers.number_form import FIGURES, ISO_LETTERS
from qc.domain.plant.plant import Plant
from qc.domain.tables import names_table
from qc.domain.tables import plant_numbers as numbers
from qc.domain.tables import plant_parts as parts
from qc.domain.tables import plant_sections as sections
from qc.domain.tables.plant_checks import check_across
from qc.domain.tables.plant_sections import PLANT_FILE
from qc.domain.tables.plant_use import check_use
from qc.domain.tables.table_form import form_faults
from qc.domain.tables.table_rows import Faults, Row, TableFault, toml_row
from qc.domain.words.speaking import say

__all__ = [
    "FILES",
    "OPTIONAL_FILES",
    "PlantFaults",
    "TableFault",
    "checked_plant",
    "plant_from_tables",
    "read_plant",
    "revision_of",
    "tables_of",
]

FILES = (PLANT_FILE, "stations.csv", "defect_types.csv", "zones.csv", "tests.csv", "cautions.csv")
OUTLINES = "outlines.csv"
PICTURES = "pictures.csv"
OPTIONAL_FILES = (OUTLINES, PICTURES, names_table.NAMES)  # a plant may lack them
NO_PICTURES = ",".join(parts.PICTURE_COLUMNS) + "\n"
SECTIONS = (
    "plant", "chassis", "severity", "option", "line", "model", "view", "shift", "calendar", "shutdown", "links",
    "review", "plan", "backup", "drop", "mail",
)  # fmt: skip
MOST_DOTS = 64
KEPT = 8  # plants at hand, some megabytes; by the whole of their texts, so each stands for these tables alone
_QUOTED = re.compile(r'"(?:[^"\\]|\\.)*"|\'[^\']*\'|#.*')  # of one line: texts in quotation marks, and a comment
_BETWEEN = re.compile(r"[=,\[\]{}]")
ABOUT = ("maker", "site", "product", "time_zone", "demo", "stop_phone", "standing_line")
ABOUT_OPTIONAL = ("stop_who",)
CHASSIS = ("world_code", "series", "works", "model_year", "sequence_start")


class PlantFaults(Exception):
    """Raised when a plant's tables cannot be used; faults holds everything that is wrong, in file order.

    of_form: they are of the tables' form alone, and what the cells say is looked at once that is mended.
    """

    def __init__(self, faults: tuple[TableFault, ...], of_form: bool = False) -> None:
        super().__init__("\n".join(str(fault) for fault in faults))
        self.faults = faults
        self.of_form = of_form


def tables_of(folder: Path) -> dict[str, str]:
    """Return the folder's tables as text by file name, line ends as \\n. Raises PlantFaults for what cannot be read."""
    faults = Faults()
    if not any((folder / name).exists() for name in FILES):
        words = say(
            "and every other table is missing from {folder}; give the folder in which plant lies, or make one: "
            "qc init FOLDER",
            folder=folder,
        )
        faults.note(PLANT_FILE, 0, "", "", words)
        raise PlantFaults(tuple(faults.noted))
    there = [name for name in OPTIONAL_FILES if (folder / name).exists()]
    tables = {name: _text(faults, folder / name) for name in (*FILES, *there)}
    if faults.noted:
        raise PlantFaults(tuple(faults.noted))
    return tables


def _text(faults: Faults, path: Path) -> str:
    try:
        # utf-8-sig: spreadsheet programs put a byte order mark before the first heading.
        return path.read_bytes().decode("utf-8-sig").replace("\r\n", "\n").replace("\r", "\n")
    except FileNotFoundError:
        faults.note(
            path.name,
            0,
            "",
            "",
            say("is missing from {parent}; every plant has {files}", parent=path.parent, files=", ".join(FILES)),
        )
    except UnicodeDecodeError as error:
        line = error.object[: error.start].count(b"\n") + 1
        value = error.object[error.start : error.end].hex()
        faults.note(path.name, line, "", f"byte {value}", say("is not UTF-8; save the file as UTF-8 text"))
    return ""


def read_plant(folder: Path) -> Plant:
    """Return the plant that a folder's tables tell. Raises PlantFaults with every fault."""
    return plant_from_tables(tables_of(folder))


def revision_of(tables: Mapping[str, str]) -> str:
    """Return the SHA-256 (hex) of the tables' canonical JSON."""
    told = [*FILES, *(name for name in OPTIONAL_FILES if name in tables)]
    text = json.dumps({name: tables[name] for name in told}, sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()


def plant_from_tables(tables: Mapping[str, str]) -> Plant:
    """Return the plant that tables, file name → text, tell. Raises PlantFaults with every fault."""
    return _told(frozenset(tables.items()))


def checked_plant(tables: Mapping[str, str], before: Mapping[str, str] | None = None) -> Plant:
    """Return the plant that new tables tell. Raises PlantFaults for more than `plant_from_tables` does.

    before: the tables that they are to follow, None for a new plant's. Tables that a record was made under are opened
    by `plant_from_tables`, whatever is asked of new ones since.
    """
    return _checked(frozenset(tables.items()), None if before is None else frozenset(before.items()))


# A page that looks through new tables, takes them and tells what they changed reads the same texts four times over.
@lru_cache(maxsize=KEPT)
def _told(tables: frozenset[tuple[str, str]]) -> Plant:
    return _read(dict(tables), Faults())


@lru_cache(maxsize=KEPT)
def _checked(tables: frozenset[tuple[str, str]], before: frozenset[tuple[str, str]] | None) -> Plant:
    told = dict(tables)
    _refuse_form(told)
    faults = Faults()
    plant = _read(told, faults)
    check_use(faults, plant, None if before is None else _told(before))
    _refuse(faults)
    return plant


def _read(tables: Mapping[str, str], faults: Faults) -> Plant:
    for name in FILES:
        if name not in tables:
            faults.note(name, 0, "", "", say("is missing"))
    _refuse(faults)
    if line := _endless_key(tables[PLANT_FILE]):
        remedy = say(
            "is no key of a plant: it has more than {most_dots} dots; a section's key has one or none",
            most_dots=MOST_DOTS,
        )
        faults.note(PLANT_FILE, line, "", tables[PLANT_FILE].split("\n")[line - 1], remedy)
    _refuse(faults)
    try:
        data = tomllib.loads(tables[PLANT_FILE])
    except ValueError as error:  # a whole number of thousands of figures is one too
        faults.note(PLANT_FILE, 0, "", "", say("is no TOML: {error}", error=error))
        data = {}
    except RecursionError:
        faults.note(PLANT_FILE, 0, "", "", say("is no TOML of a plant: its brackets are nested too deep to be read"))
        data = {}
    if not data and not faults.noted:
        faults.note(PLANT_FILE, 0, "", "", say("says nothing of a plant; begin with the one that qc init writes"))
    _refuse(faults)
    plant = _plant(faults, data, tables)
    if names_table.NAMES in tables:
        plant = replace(plant, names=names_table.names(faults, tables[names_table.NAMES], plant))
    check_across(faults, plant)
    if faults.noted:
        _refuse_form(tables)
    _refuse(faults)
    return plant


def _endless_key(text: str) -> int:
    """Return the line of a key of more dots than any has, 0 for none.

    The reader of TOML takes time by the square of a key's dots: 20 000 of them took nine seconds to be refused.
    """
    for number, line in enumerate(text.split("\n"), start=1):
        if line.count(".") > MOST_DOTS:
            keys = _BETWEEN.split(_QUOTED.sub("", line))
            if any(key.count(".") > MOST_DOTS for key in keys):
                return number
    return 0


def _refuse_form(tables: Mapping[str, str]) -> None:
    faults = Faults()
    for name, (columns, optional) in parts.COLUMNS.items():
        if name in tables:
            form_faults(faults, name, tables[name], columns, optional)
    _refuse(faults, of_form=True)


def _refuse(faults: Faults, of_form: bool = False) -> None:
    if faults.noted:
        order = {name: place for place, name in enumerate((*FILES, *OPTIONAL_FILES))}
        raise PlantFaults(tuple(sorted(faults.told(), key=lambda f: (order.get(f.file, 99), f.row))), of_form)


def _plant(faults: Faults, data: Mapping[str, Any], tables: Mapping[str, str]) -> Plant:
    for name in data:
        if name not in SECTIONS:
            faults.note(PLANT_FILE, 0, name, name, say("is no section; use {sections}", sections=", ".join(SECTIONS)))
    about = _section(faults, data, "plant", ABOUT, ABOUT_OPTIONAL)
    chassis = _chassis(faults, data)
    own = numbers.own_form(faults, data) if "pattern" in chassis.cells else None
    models = sections.models(faults, data, own)
    numbers.check_lengths(faults, own, models)
    views = sections.views(faults, data)
    cautions = parts.cautions(faults, tables["cautions.csv"])
    options = sections.options(faults, data)
    lines = sections.lines(faults, data)
    own_severities = sections.severities(faults, data)
    types = parts.types(faults, tables["defect_types.csv"], models, cautions, own_severities)
    return Plant(
        maker=about.text("maker"),
        names=MappingProxyType({}),
        site=about.text("site"),
        product=about.text("product"),
        time_zone=_time_zone(about),
        demo=about.truth("demo"),
        revision=revision_of(tables),
        sequence_start=chassis.whole("sequence_start", 1, 10**own.figures - 1 if own else 99_999),
        world_code="" if own else _number_part(chassis, "world_code", 3),
        stop_phone=about.text("stop_phone", may_be_empty=True, most=40),
        models=models,
        views=views,
        zones=parts.zones(faults, tables["zones.csv"], models, views, cautions, options),
        outlines=parts.outlines(faults, OUTLINES, tables[OUTLINES], models, views) if OUTLINES in tables else (),
        pictures=parts.pictures(faults, PICTURES, tables.get(PICTURES, NO_PICTURES), models, views),
        stations=parts.stations(faults, tables["stations.csv"], models, lines),
        says_final=parts.says_final(tables["stations.csv"]),
        types=types,
        tests=parts.tests(faults, tables["tests.csv"], models, cautions, types, options),
        shifts=sections.shifts(faults, data),
        cautions=cautions,
        standing_line=about.text("standing_line", most=300),
        links=sections.links(faults, data),
        holidays=sections.holidays(faults, data),
        shutdowns=sections.shutdowns(faults, data),
        series="" if own else _number_part(chassis, "series", 1),
        works="" if own else _number_part(chassis, "works", 1),
        model_year=2026 if own and not chassis.has("model_year") else chassis.whole("model_year", 1980, 2039),
        own_numbers=own,
        severities=own_severities,
        options=options,
        lines=lines,
        **({"stop_who": about.text("stop_who", most=60)} if about.has("stop_who") else {}),
        vital_few=sections.vital_few(faults, data),
        plan=sections.plan_form(faults, data),
        drop=sections.drop_plan(faults, data),
        backup=sections.backup_plan(faults, data),
        mail=sections.mail_plan(faults, data),
    )


def _section(
    faults: Faults, data: Mapping[str, Any], name: str, keys: tuple[str, ...], optional: tuple[str, ...] = ()
) -> Row:
    found = data.get(name, {})
    return toml_row(faults, PLANT_FILE, found if isinstance(found, dict) else {}, name, keys, optional=optional)


def _chassis(faults: Faults, data: Mapping[str, Any]) -> Row:
    found = data.get("chassis")
    if isinstance(found, dict) and "pattern" in found:
        return _section(faults, data, "chassis", numbers.KEYS, numbers.OPTIONAL)
    return _section(faults, data, "chassis", CHASSIS)


def _time_zone(about: Row) -> str:
    name = about.text("time_zone")
    try:
        ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        about.fault("time_zone", say("is no time zone; use a name such as Europe/London (IANA)"))
    return name


def _number_part(chassis: Row, key: str, length: int) -> str:
    value = chassis.text(key)
    if len(value) != length or set(value) - set(FIGURES + ISO_LETTERS):
        chassis.fault(
            key,
            say("must be {length} capital letters or figures; {no_ioq}", length=length, no_ioq=say(sections.NO_IOQ)),
        )
    return value
