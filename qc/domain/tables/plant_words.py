"""The plant in the words of a language: its tables may name the same codes in further languages (`names_table`).

Only what people read is another: no code, no zone key, no revision. So counts, rules and forms work on it as on the
plant itself; what is recorded or written into tables is still taken from the plant itself.
"""

import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Any

from qc.domain.plant.plant import Plant
from qc.domain.tables.names_table import PLANT

_Told = Mapping[str, Mapping[str, Mapping[str, str]]]


def in_words(plant: Plant, tag: str) -> Plant:
    """Return the plant with its names in a language, its own names where it has no other; itself where it has none."""
    told = _told_in(plant, tag)
    if not told:
        return plant

    own: dict[str, Any] = dict(told.get(PLANT, {}).get(PLANT, {}))

    def named(table: str, all_: Mapping[Any, Any], code: Callable[[Any], str]) -> MappingProxyType[Any, Any]:
        of = told.get(table, {})
        return MappingProxyType({key: replace(one, **of.get(code(one), {})) for key, one in all_.items()})

    return replace(
        plant,
        models=named("model", plant.models, lambda one: one.code),
        views=named("view", plant.views, lambda one: one.id),
        zones=named("zone", plant.zones, lambda one: one.key),
        stations=named("station", plant.stations, lambda one: one.id),
        tests=named("test", plant.tests, lambda one: one.id),
        cautions=named("caution", plant.cautions, lambda one: one.code),
        severities=named("severity", plant.severities, lambda one: one.code),
        options=named("option", plant.options, lambda one: one.code),
        lines=named("line", plant.lines, lambda one: one.code),
        types=_types(plant, told),
        **own,
    )


def with_shown_names(plant: Plant, shown: Plant, text: str) -> str:
    """Return a text of the record with names as shown: it calls tests and types by code and own name, zones by name."""
    pairs: list[tuple[Mapping[str, Any], Mapping[str, Any]]] = [(plant.tests, shown.tests), (plant.types, shown.types)]
    for own, worded in pairs:
        for code, one in own.items():
            if code in text and one.name != worded[code].name:
                text = text.replace(f"{code} {one.name}", f"{code} {worded[code].name}")
    zones = {one.name: shown.zones[key].name for key, one in plant.zones.items()}
    for own_name, name in zones.items():
        if own_name != name and f" in {own_name}" in text:
            # Between the "in" before a zone's name and the stop or bracket behind it
            text = name.join(re.split(rf"(?<= in ){re.escape(own_name)}(?=[,)])", text))
    return text


def _told_in(plant: Plant, tag: str) -> _Told | None:
    """Return the words of a language: of its very tag, else of another of the same main part."""
    main = tag.split("-")[0]
    near = next((one for one in plant.names if one.split("-")[0] == main), "")
    return plant.names.get(tag) or plant.names.get(near)


def _types(plant: Plant, told: _Told) -> MappingProxyType[str, Any]:
    """Return the types, found by the words of the language beside the plant's own."""
    of, groups, types = told.get("type", {}), told.get("group", {}), {}
    for code, one in plant.types.items():
        own = of.get(code, {})
        words = [word.strip().lower() for word in own.get("words", "").split(";")]
        types[code] = replace(
            one,
            name=own.get("name", one.name),
            group_name=groups.get(one.group, {}).get("name", one.group_name),
            words=(*one.words, *(word for word in words if word)),
        )
    return MappingProxyType(types)
