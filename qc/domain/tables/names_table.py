"""The table of names in further languages: other words over the same codes, for who reads another language.

What has no words in a language is shown by the plant's own name. Nothing that is recorded depends on it.
"""

import re
from collections.abc import Mapping
from types import MappingProxyType

from qc.domain.plant.plant import Names, Plant
from qc.domain.tables.table_rows import NO_SUCH, Faults, Row, csv_rows
from qc.domain.words.speaking import say

NAMES = "names.csv"
NAME_COLUMNS = ("language", "table", "code", "column", "words")
NO_NAMES = ",".join(NAME_COLUMNS) + "\n"
MOST = 1000  # characters, as of the plant's own words
# A language tag as plants write them, of BCP 47 (RFC 5646, section 2.1): language, perhaps a script, perhaps a region.
TAG = re.compile(r"[a-z]{2,3}(-[A-Z][a-z]{3})?(-([A-Z]{2}|[0-9]{3}))?\Z")
PLANT = "plant"  # the code, too, of what the plant says of itself
# What may be named of each, the column first without which it is not named.
NAMED: Mapping[str, tuple[str, ...]] = {
    "zone": ("name",),
    "view": ("name", "left", "right"),
    "type": ("name", "words"),
    "group": ("name",),
    "station": ("name",),
    "test": ("name", "conditions", "who"),
    "caution": ("short", "more", "before_photo", "call"),
    "model": ("name", "what"),
    "severity": ("name",),
    "option": ("name",),
    "line": ("name",),
    PLANT: ("standing_line", "stop_who"),
}
# Where a code is defined: a fault there explains that it is not known here.
_DEFINED_IN = {
    "zone": "zones.csv:zone_key",
    "type": "defect_types.csv:code",
    "group": "defect_types.csv:group",
    "station": "stations.csv:id",
    "test": "tests.csv:id",
    "caution": "cautions.csv:code",
}


def names(faults: Faults, text: str, plant: Plant) -> Names:
    """Return the words of a table by language, kind of thing, code and column; every fault is noted."""
    told: dict[str, dict[str, dict[str, dict[str, str]]]] = {}
    for row in csv_rows(faults, NAMES, text, NAME_COLUMNS, may_be_empty=True):
        tag, table, code, column = (row.text(name) for name in NAME_COLUMNS[:4])
        words = row.text("words", most=MOST)
        if not _is_sound(row, tag, table, column):
            continue
        faults.lines.setdefault((NAMES, f"{tag} {table} {code}"), row.line)
        of_code = told.setdefault(tag, {}).setdefault(table, {}).setdefault(code, {})
        if column in of_code:
            row.fault("code", say("has its {column} in {tag} twice; keep one", column=column, tag=tag))
        of_code[column] = words
    return MappingProxyType(told)


def check_codes(faults: Faults, plant: Plant) -> None:
    """Note each code that is named and is none of the plant's."""
    known = _codes(plant)
    for tag, tables in plant.names.items():
        for table, codes in tables.items():
            for code in codes:
                if code not in known[table]:
                    line = faults.lines.get((NAMES, f"{tag} {table} {code}"), 0)
                    faults.note(
                        NAMES,
                        line,
                        "code",
                        code,
                        say(NO_SUCH[table]),
                        _DEFINED_IN.get(table, ""),
                    )


def half_named(plant: Plant) -> tuple[str, ...]:
    """Return each kind of thing that a language names in part, in a sentence; the others keep the plant's own names."""
    sentences = []
    for tag, tables in plant.names.items():
        for table, codes in tables.items():
            lacking = [one for one in _codes(plant, in_use=True)[table] if NAMED[table][0] not in codes.get(one, {})]
            if lacking and table != PLANT:
                some = ", ".join(lacking[:5]) + (f" and {len(lacking) - 5} more" if len(lacking) > 5 else "")
                sentences.append(
                    f"Names in {tag}: {len(lacking)} of the {table} codes have none ({some}); the plant's own stand."
                )
    return tuple(sentences)


def _is_sound(row: Row, tag: str, table: str, column: str) -> bool:
    if tag and not TAG.match(tag):
        row.fault("language", say("is no language tag; write one of BCP 47, such as de, pl or pt-BR"))
    if table and table not in NAMED:
        row.fault("table", say("is nothing that has names; use {named}", named=", ".join(NAMED)))
    if table not in NAMED:
        return False
    if column and column not in NAMED[table]:
        row.fault("column", say("is not named of a {table}; use {named}", table=table, named=", ".join(NAMED[table])))
    return bool(TAG.match(tag)) and column in NAMED[table]


def _codes(plant: Plant, *, in_use: bool = False) -> dict[str, list[str]]:
    """Return the codes of each kind of thing, in table order; in_use: without those that are ended."""
    zones = [one for one in plant.zones.values() if not (in_use and one.ended)]
    types = [one for one in plant.types.values() if not (in_use and one.retired)]
    tests = [one for one in plant.tests.values() if not (in_use and one.ended)]
    return {
        "zone": list(dict.fromkeys(one.key for one in zones)),
        "view": list(plant.views),
        "type": [one.code for one in types],
        "group": list(dict.fromkeys(one.group for one in types)),
        "station": list(plant.stations),
        "test": [one.id for one in tests],
        "caution": list(plant.cautions),
        "model": list(plant.models),
        "severity": list(plant.severities),
        "option": list(plant.options),
        "line": list(plant.lines),
        PLANT: [PLANT],
    }
