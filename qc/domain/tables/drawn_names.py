"""What somebody who drew zones named them in further languages, put into the table of names."""

import re
from collections.abc import Mapping
from typing import Any

from qc.domain.tables.drawn_zones import NoDrawing
from qc.domain.tables.kept_rows import KeptRow, kept_table
from qc.domain.tables.names_table import MOST, NAME_COLUMNS, NAMES, NO_NAMES
from qc.domain.words.speaking import say

Named = Mapping[tuple[str, str], str]  # words by language tag and a zone's shared key
MOST_LANGUAGES = 60
_CONTROLS = re.compile(r"[\x00-\x08\x0b-\x1f\x7f\ud800-\udfff]")


def drawn_names(told: Any) -> Named:
    """Return the names that a drawing gives, "" for one that it takes away; what they say is not judged.

    told: the zones, as `drawn_rows` takes them; names of each, {language tag: words}, hold what is to be another. A
    zone without a key is named nothing, and its row tells that it lacks one. Raises NoDrawing for another shape.
    """
    named: dict[tuple[str, str], str] = {}
    for place, zone in enumerate(told, start=1):
        names = zone.get("names")
        if names is None:
            continue
        if not isinstance(names, dict) or len(names) > MOST_LANGUAGES or not all(map(_are_words, names.items())):
            raise NoDrawing(
                say(
                    "zone {place}: names must be at most {most} texts by language, each of at most {long} characters",
                    place=place,
                    most=MOST_LANGUAGES,
                    long=MOST,
                )
            )
        key = zone["key"].strip()
        named |= {(tag.strip(), key): words.strip() for tag, words in names.items() if key}
    return named


def _are_words(name: tuple[str, Any]) -> bool:
    return all(isinstance(text, str) and len(text) <= MOST and not _CONTROLS.search(text) for text in name)


def zone_names(tables: Mapping[str, str]) -> Named:
    """Return what tables name zones in further languages."""
    rows = [row.cells for row in kept_table(tables.get(NAMES, NO_NAMES), NAME_COLUMNS).rows]
    return {(one["language"], one["code"]): one["words"] for one in rows if _names_a_zone(one)}


def with_names(tables: Mapping[str, str], named: Named) -> str:
    """Return the table of names with zones named so; all other rows stand as they stood, in their order.

    A name that stood keeps its place; a new one follows the last of zones in its language, else the last of its
    language, else all.
    """
    table = kept_table(tables.get(NAMES, NO_NAMES), NAME_COLUMNS)
    rows: list[KeptRow] = []
    left = dict(named)
    for row in table.rows:
        words = left.pop(_place(row.cells), None) if _names_a_zone(row.cells) else None
        if words != "":
            rows.append(row if words is None else row.with_cells({"words": words}))
    for (tag, key), words in left.items():
        if words:
            new = dict(zip(NAME_COLUMNS, (tag, "zone", key, "name", words), strict=True))
            rows.insert(_after(rows, tag), KeptRow(new))
    return table.written(rows)


def _after(rows: list[KeptRow], tag: str) -> int:
    of_language = [at for at, row in enumerate(rows, start=1) if row.cells["language"] == tag]
    of_zones = [at for at in of_language if rows[at - 1].cells["table"] == "zone"]
    return [len(rows), *of_language[-1:], *of_zones[-1:]][-1]


def _names_a_zone(cells: Mapping[str, str]) -> bool:
    return (cells["table"], cells["column"]) == ("zone", "name")


def _place(cells: Mapping[str, str]) -> tuple[str, str]:
    return cells["language"], cells["code"]
