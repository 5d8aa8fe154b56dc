"""Two sets of a plant's tables held against each other, in words: what is added, ended and changed, what may not be.

Codes are never deleted and never used again for another thing: what is past is named by them.
"""

import csv
import io
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from qc.domain.plant.plant import Plant
from qc.domain.tables.names_table import NAMES
from qc.domain.tables.plant_sections import PLANT_FILE
from qc.domain.tables.plant_tables import FILES, OUTLINES, PICTURES, plant_from_tables
from qc.domain.words.speaking import marked, say

What = Literal["added", "ended", "taken up again", "changed", "gone"]
Counted = Literal["types", "tests", "zones", "points"]
Rows = dict[str, dict[str, str]]

SHOWN = 80  # characters of a cell
ORDER, DRAWING = marked("order of rows"), marked("drawing")  # what differs, where no column does
_WHAT: Mapping[What, str] = {
    "added": marked("added"),
    "ended": marked("ended"),
    "taken up again": marked("taken up again"),
    "changed": marked("changed"),
    "gone": marked("gone"),
}
_COUNTED: Mapping[Counted, str] = {
    "types": marked("types and their severities: {codes}"),
    "tests": marked("tests and their limits: {codes}"),
    "zones": marked("zones looked at: {codes}"),
    "points": marked("end points: {codes}"),
}

# Of each table the columns that name a row, and what ends one: where there is no such column, nothing names it further.
_KEYS: Mapping[str, tuple[str, ...]] = {
    "stations.csv": ("id",),
    "defect_types.csv": ("code",),
    "zones.csv": ("model", "zone_key"),
    "tests.csv": ("id",),
    "cautions.csv": ("code",),
    "pictures.csv": ("model", "view"),
    "names.csv": ("language", "table", "code", "column"),
    "model": ("code",),
    "view": ("id",),
    "shift": ("id",),
    "shutdown": ("name",),
    "severity": ("code",),
    "option": ("code",),
    "line": ("code",),
}
_ENDS: Mapping[str, str] = {
    "stations.csv": marked("set end_day to the day on which it ended"),
    "defect_types.csv": marked("set retired to yes"),
    "zones.csv": marked("set ended to yes"),
    "tests.csv": marked("set ended to yes"),
    "cautions.csv": marked("nothing needs to name it any more"),
    "model": marked("set ended = true"),
    "view": marked("set ended to yes for its zones"),
    "severity": marked("let no type have it as its default"),
    "option": marked("let no zone and no test name it"),
    "line": marked("set ended = true"),
}
_ENDING = ("retired", "ended", "end_day")
_SECTIONS = ("model", "view", "shift", "shutdown", "severity", "option", "line")
# Another value of these is another thing, which takes a code of its own.
_FIXED: Mapping[str, tuple[str, ...]] = {
    "stations.csv": ("kind",),
    "defect_types.csv": ("group",),
    "zones.csv": ("kind", "view"),
    "tests.csv": ("kind", "unit"),
    "model": ("digit",),
    "severity": ("counts_as",),
}
AT_NEXT_START = ("backup", "drop", "mail")  # sections that a server reads as it starts, and not again
# What the whole record rests on.
_ROOTS: Mapping[str, str] = {
    "chassis.world_code": marked("the units on record bear it in their chassis numbers"),
    "chassis.series": marked("the units on record bear it in their chassis numbers"),
    "chassis.works": marked("the units on record bear it in their chassis numbers"),
    "chassis.pattern": marked("the units on record bear numbers of that form"),
    "chassis.shop": marked("the units on record bear shop numbers of that form"),
    "chassis.check": marked("the units on record bear numbers that check so"),
    "plant.time_zone": marked("the days on record are counted in it"),
    "plant.demo": marked("an invented record and a plant's own stay apart: begin another folder with qc init"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One thing that differs. row: the row's code, "" for the whole table; column "" for the whole row."""

    table: str
    row: str
    what: What
    column: str = ""
    before: str = ""
    after: str = ""

    @property
    def words(self) -> str:
        """What differs, without its table: "PAN-01: default_severity minor → major"."""
        if not self.column:
            told = self.after or self.before
            name = f" {told}" if told not in ("", self.row) else ""
            return f"{self.row}{name}: {say(_WHAT[self.what])}"
        column, before, after = self.column, _shown(self.before), _shown(self.after)
        if self.column == ORDER:
            column, before, after = say(ORDER), say("as before"), say("another")
        elif self.column == DRAWING:
            column, before, after = say(DRAWING), _lines(self.before), _lines(self.after)
        values = f"{column} {before} → {after}"
        return f"{self.row}: {values}" if self.row else values


@dataclass(frozen=True, slots=True)
class PlantChanges:
    """What differs between two sets of tables.

    counted: codes of what changes what is found and counted, by what they are; types: the codes of the types whose
    counts before and after it are not of the same thing.
    """

    changes: tuple[Change, ...]
    counted: tuple[tuple[Counted, tuple[str, ...]], ...]
    types: frozenset[str]

    @property
    def refused(self) -> tuple[str, ...]:
        """Why the later ones may not follow, each told once."""
        return tuple(dict.fromkeys(_refused(self.changes)))

    @property
    def criteria(self) -> tuple[str, ...]:
        """What of it changes what is found and counted, in words."""
        return tuple(say(_COUNTED[what], codes=_listed(codes)) for what, codes in self.counted)

    def waiting(self) -> str:
        """Return what of it a running server does only once it is started anew, in words, "" for nothing."""
        told = {one.column.partition(".")[0] for one in self.changes if one.table == PLANT_FILE}
        sections = [f"[{one}]" for one in AT_NEXT_START if one in told]
        if not sections:
            return ""
        return say(
            "A server goes by {sections} once it is started anew.", sections=(" " + say("and") + " ").join(sections)
        )

    def by_table(self) -> dict[str, tuple[Change, ...]]:
        """Return the changes of each table that has any, in the order of the tables."""
        return {
            one: tuple(c for c in self.changes if c.table == one)
            for one in dict.fromkeys(c.table for c in self.changes)
        }


def plant_changes(before: Mapping[str, str], after: Mapping[str, str]) -> PlantChanges:
    """Return how tables, file name → text, differ from those before. Raises PlantFaults for tables with faults."""
    old, new = plant_from_tables(before), plant_from_tables(after)
    changes = tuple(_changes(before, after))
    return PlantChanges(changes, *_counted(old, new))


def _changes(before: Mapping[str, str], after: Mapping[str, str]) -> Iterator[Change]:
    old, new = tomllib.loads(before[PLANT_FILE]), tomllib.loads(after[PLANT_FILE])
    for section in dict.fromkeys((*old, *new)):
        if section in _SECTIONS:
            yield from _rows_changed(section, _sections(old, section), _sections(new, section))
        else:
            yield from _flat_changed(section, old.get(section, {}), new.get(section, {}))
    for file in FILES:
        if file in _KEYS:
            yield from _rows_changed(file, _csv(file, before[file]), _csv(file, after[file]))
    yield from _lines_changed(before.get(OUTLINES, ""), after.get(OUTLINES, ""))
    for file in (PICTURES, NAMES):
        yield from _rows_changed(file, *(_csv(file, tables.get(file, "")) for tables in (before, after)))


def _sections(data: Mapping[str, Any], section: str) -> Rows:
    key = _KEYS[section][0]
    return {str(one[key]): {name: _plain(value) for name, value in one.items()} for one in data.get(section, [])}


def _csv(file: str, text: str) -> Rows:
    rows: Rows = {}
    for cells in csv.DictReader(io.StringIO(text)):
        row = {str(name).strip(): (value or "").strip() for name, value in cells.items()}
        if any(row.values()):
            rows[" ".join(row[key] for key in _KEYS[file])] = row
    return rows


def _plain(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dict):
        return "; ".join(f"{name} {_plain(one)}" for name, one in value.items())
    if isinstance(value, list):
        return "; ".join(" > ".join(map(str, one)) if isinstance(one, list) else str(one) for one in value)
    return str(value)


def _rows_changed(table: str, old: Rows, new: Rows) -> Iterator[Change]:
    for code, row in old.items():
        if code not in new:
            yield Change(table=table, row=code, what="gone", before=_name(row))
    for code, row in new.items():
        if code in old:
            yield from _cells_changed(table, code, old[code], row)
        else:
            yield Change(table=table, row=code, what="added", after=_name(row))
    shared, now = [code for code in old if code in new], [code for code in new if code in old]
    if shared != now:
        yield Change(table=table, row="", what="changed", column=ORDER)


def _cells_changed(table: str, code: str, old: Mapping[str, str], new: Mapping[str, str]) -> Iterator[Change]:
    for column in dict.fromkeys((*old, *new)):
        before, after = _cell(column, old), _cell(column, new)
        if before == after:
            continue
        what: What = "changed"
        if column in _ENDING:
            what = "ended" if after else "taken up again"
        yield Change(table=table, row=code, what=what, column=column, before=before, after=after)


def _cell(column: str, row: Mapping[str, str]) -> str:
    value = row.get(column, "")
    return "" if column in ("retired", "ended") and value == "no" else value


def _name(row: Mapping[str, str]) -> str:
    return row.get("name") or row.get("short") or row.get("words") or ""


def _flat_changed(section: str, old: Any, new: Any) -> Iterator[Change]:
    old, new = (one if isinstance(one, dict) else {} for one in (old, new))
    for key in dict.fromkeys((*old, *new)):
        before, after = _plain(old.get(key, "")), _plain(new.get(key, ""))
        if before != after:
            yield Change(
                table=PLANT_FILE, row="", what="changed", column=f"{section}.{key}", before=before, after=after
            )


def _lines_changed(before: str, after: str) -> Iterator[Change]:
    """Tell of each drawing with how many lines it was drawn before and is now, where any of them differ."""
    old, new = _drawings(before), _drawings(after)
    for place in dict.fromkeys((*old, *new)):
        if (was := old.get(place, [])) != (now := new.get(place, [])):
            lines = [str(len(some)) for some in (was, now)]
            yield Change(table=OUTLINES, row=place, what="changed", column=DRAWING, before=lines[0], after=lines[1])


def _drawings(text: str) -> dict[str, list[str]]:
    drawings: dict[str, list[str]] = {}
    for row in csv.DictReader(io.StringIO(text)):
        cells = {str(name).strip(): (value or "").strip() for name, value in row.items()}
        if any(cells.values()):
            drawings.setdefault(f"{cells['model']} {cells['view']}", []).append(str(sorted(cells.items())))
    return drawings


def _refused(changes: tuple[Change, ...]) -> Iterator[str]:
    for one in changes:
        if one.what == "gone" and one.table in _ENDS:
            row = f"{one.row} ({one.before})" if one.before else one.row
            yield say(
                "{where}: {row} is gone; a code is never deleted: leave it there and {ending}",
                where=_where(one),
                row=row,
                ending=say(_ENDS[one.table]),
            )
        if one.column in _FIXED.get(one.table, ()):
            yield say(
                "{where}: {row}, {column} {values}: that is another thing, and what was recorded under {row} stays "
                "what it was; end {row} and give the new one a code of its own",
                where=_where(one),
                row=one.row,
                column=one.column,
                values=f"{_shown(one.before)} → {_shown(one.after)}",
            )
        if one.column in _ROOTS:
            yield say(
                "{file}: {column} stays {value}, {why}",
                file=PLANT_FILE,
                column=one.column,
                value=_shown(one.before),
                why=say(_ROOTS[one.column]),
            )


def _where(one: Change) -> str:
    if one.table not in _SECTIONS:
        return one.table
    return say("[[{section}]] of {file}", section=one.table, file=PLANT_FILE)


def _lines(told: str) -> str:
    return say("{number} lines", number=told)


def _shown(value: str) -> str:
    return say("nothing") if not value else value if len(value) <= SHOWN else f"{value[: SHOWN - 1]}…"


def _counted(old: Plant, new: Plant) -> tuple[tuple[tuple[Counted, tuple[str, ...]], ...], frozenset[str]]:
    """Return what changes what is found and counted, and the types that it concerns."""
    told: list[tuple[Counted, tuple[str, ...]]] = []
    every = frozenset({*old.types, *new.types})
    of_types = {code for code in every if _offered(old, code) != _offered(new, code)}
    if of_types:
        told.append(("types", tuple(sorted(of_types))))
    tests = {code for code in {*old.tests, *new.tests} if _judged(old, code) != _judged(new, code)}
    of_tests = {plant.tests[code].defect_on_fail for plant in (old, new) for code in tests if code in plant.tests}
    if tests:
        told.append(("tests", tuple(sorted(tests))))
    zones = {
        f"{model} {zone}"
        for model in {*old.models, *new.models}
        for zone, _ in _looked_at(old, model) ^ _looked_at(new, model)
        if model in old.models  # all zones of a new model are new, and it has no weeks before
    }
    if zones:
        told.append(("zones", tuple(sorted(zones))))
    points = {point for point in {*old.stations, *new.stations} if _presents(old, point) != _presents(new, point)}
    if points:
        told.append(("points", tuple(sorted(points))))
    return tuple(told), every if zones or points else frozenset(of_types | of_tests)


def _offered(plant: Plant, code: str) -> tuple[Any, ...] | None:
    one = plant.types.get(code)
    if one is None or one.retired:
        return None
    return one.default_severity, one.stop_unit, one.first_detect_point, sorted(one.zone_kinds), sorted(one.models)


def _judged(plant: Plant, code: str) -> tuple[Any, ...] | None:
    one = plant.tests.get(code)
    if one is None or one.ended:
        return None
    return one.point, one.lower, one.upper, sorted(one.models), one.conditions, sorted(one.options)


def _looked_at(plant: Plant, model: str) -> set[tuple[str, frozenset[str]]]:
    return {(zone.key, frozenset(zone.options)) for zone in plant.zones_of(model)}


def _presents(plant: Plant, point: str) -> tuple[Any, ...] | None:
    one = plant.stations.get(point)
    if one is None or not one.final:
        return None
    return sorted(one.models), one.first_day, one.end_day, plant.line_at(point)


def _listed(codes: Sequence[str]) -> str:
    first = ", ".join(codes[:12])
    return say("{codes} and {number} more", codes=first, number=len(codes) - 12) if len(codes) > 12 else first
