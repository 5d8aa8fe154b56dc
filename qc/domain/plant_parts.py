"""Each table of a plant read into its records. What must hold between the tables is `plant_checks`."""

from collections.abc import Iterable, Mapping
from datetime import date
from types import MappingProxyType
from typing import Any, TypeVar, cast

from qc.domain.chassis import ALLOWED as CHASSIS_CHARACTERS
from qc.domain.outlines import outline_fault
from qc.domain.plant import (
    FIELD,
    SEVERITIES,
    Caution,
    DefectType,
    Links,
    Model,
    Shift,
    Station,
    Test,
    View,
    Zone,
)
from qc.domain.table_rows import Faults, Row, csv_rows, toml_rows

PLANT_FILE = "plant.toml"
STATION_KINDS = ("main", "feeder", "remote", "test", "inspection", "rework", "dispatch", "external", "unknown")
BASES = ("S", "M", "P")
STATION_COLUMNS = ("id", "name", "kind", "line", "lead_days", "crew", "can_detect", "note")
STATION_OPTIONAL = ("models", "first_day", "end_day", "successors")
TYPE_COLUMNS = (
    "code",
    "group",
    "group_name",
    "name",
    "default_severity",
    "stop_unit",
    "photo_rule",
    "rework_min",
    "first_detect_point",
    "usual_origins",
    "zone_kinds",
    "models",
)
ZONE_COLUMNS = ("zone_id", "model", "view", "zone_key", "name", "kind", "layer", "points", "walk_order", "caution")
TEST_COLUMNS = (
    "id",
    "name",
    "point",
    "defect_on_fail",
    "kind",
    "unit",
    "lower",
    "upper",
    "conditions",
    "reference",
    "basis",
    "models",
    "caution",
    "who",
    "voided_by",
)
NO_IOQ = "letters I, O and Q are not used (ISO 3779)"

Record = TypeVar("Record")
Key = TypeVar("Key")


def keyed(pairs: Iterable[tuple[Row, str, Key, Record]]) -> MappingProxyType[Key, Record]:
    """Return records by key in table order; a key met twice is noted at the second row, in the named column."""
    found: dict[Key, Record] = {}
    for row, column, key, record in pairs:
        if key in found:
            row.fault(column, "stands in the table twice; keys must differ")
        else:
            found[key] = record
            row.faults.lines[row.file, " ".join(key) if isinstance(key, tuple) else str(key)] = row.line
    return MappingProxyType(found)


def models(faults: Faults, data: Mapping[str, Any]) -> MappingProxyType[str, Model]:
    """Return the models by code."""
    rows = toml_rows(faults, PLANT_FILE, data, "model", Model.__match_args__)
    return keyed((row, "code", (one := model(row)).code, one) for row in rows)


def model(row: Row) -> Model:
    """Return one model; its code and digit go into chassis numbers and so hold no I, O or Q."""
    found = Model(
        code=row.code("code"),
        name=row.text("name"),
        what=row.text("what"),
        length_mm=row.whole("length_mm", 500, 60_000),
        axles=row.whole("axles", 1, 9),
        mass_kg=row.whole("mass_kg", 1, 60_000),
        digit=row.text("digit", most=1),
    )
    if len(found.code) != 3 or set(found.code) - set(CHASSIS_CHARACTERS):
        row.fault("code", f"must be 3 capital letters or figures; {NO_IOQ}")
    if not (found.digit.isascii() and found.digit.isdigit()):
        row.fault("digit", "must be one figure 0 to 9; it stands in the shop number")
    return found


def views(faults: Faults, data: Mapping[str, Any]) -> MappingProxyType[str, View]:
    """Return the views by id, in walk-round order."""
    rows = toml_rows(faults, PLANT_FILE, data, "view", View.__match_args__)
    return keyed((row, "id", row.code("id"), view(row)) for row in rows)


def view(row: Row) -> View:
    """Return one view with its edges named in plain words."""
    return View(str(row.cells.get("id", "")), *(row.text(name) for name in ("name", "left", "right", "x0", "y0")))


def shifts(faults: Faults, data: Mapping[str, Any]) -> MappingProxyType[str, Shift]:
    """Return the shifts by id; one whose end is not after its start crosses midnight."""
    rows = toml_rows(faults, PLANT_FILE, data, "shift", Shift.__match_args__)
    return keyed((row, "id", row.code("id"), shift(row)) for row in rows)


def shift(row: Row) -> Shift:
    """Return one shift; start and end must differ."""
    found = Shift(str(row.cells.get("id", "")), row.clock("start"), row.clock("end"), row.week_days("days"))
    if found.start == found.end:
        row.fault("end", "is the start too; a shift must have a length")
    return found


def holidays(faults: Faults, data: Mapping[str, Any]) -> frozenset[date]:
    """Return the days without production."""
    found = data.get("calendar", {})
    listed = found.get("holidays", []) if isinstance(found, dict) else None
    if not isinstance(listed, list):
        faults.note(PLANT_FILE, 0, "calendar.holidays", listed, "must be a list of days, YYYY-MM-DD")
        return frozenset()
    for place, day in enumerate(listed, start=1):
        if type(day) is not date:
            faults.note(PLANT_FILE, place, "calendar.holidays", day, "is no day; write YYYY-MM-DD without quotes")
    return frozenset(day for day in listed if type(day) is date)


def links(faults: Faults, data: Mapping[str, Any]) -> Links:
    """Return the build graph's edges; a pair of another shape is noted and left out."""
    found = data.get("links", {})
    found = found if isinstance(found, dict) else {}
    for name in found:
        if name not in ("flow", "feed", "rework"):
            faults.note(PLANT_FILE, 0, f"links.{name}", name, "is no kind of link; use flow, feed, rework")
    return Links(*(_pairs(faults, found, name) for name in ("flow", "feed", "rework")))


def _pairs(faults: Faults, found: Mapping[str, Any], name: str) -> tuple[tuple[str, str], ...]:
    listed = found.get(name, [])
    if not isinstance(listed, list) or (name == "flow" and not listed):
        faults.note(PLANT_FILE, 0, f"links.{name}", listed, 'must be a list of pairs ["from", "to"]')
        return ()
    pairs: list[tuple[str, str]] = []
    for place, pair in enumerate(listed, start=1):
        if isinstance(pair, list) and len(pair) == 2 and all(isinstance(end, str) for end in pair):
            pairs.append((pair[0], pair[1]))
        else:
            faults.note(PLANT_FILE, place, f"links.{name}", pair, 'is no pair; write ["from", "to"]')
    return tuple(pairs)


def cautions(faults: Faults, text: str) -> MappingProxyType[str, Caution]:
    """Return the cautions by code."""
    rows = csv_rows(faults, "cautions.csv", text, Caution.__match_args__)
    return keyed(
        (row, "code", row.code("code"), Caution(row.text("code"), row.text("short", most=300), row.text("more")))
        for row in rows
    )


def stations(faults: Faults, text: str, known_models: Iterable[str]) -> MappingProxyType[str, Station]:
    """Return the stations and the origins that are none, by id."""
    rows = csv_rows(faults, "stations.csv", text, STATION_COLUMNS, STATION_OPTIONAL)
    return keyed((row, "id", row.code("id"), station(row, known_models)) for row in rows)


def station(row: Row, known_models: Iterable[str]) -> Station:
    """Return one station; the columns of validity may be left out of the table."""
    found = Station(
        id=row.text("id"),
        name=row.text("name"),
        kind=cast(Any, row.choice("kind", *STATION_KINDS)),
        line=row.text("line", may_be_empty=True),
        lead_days=row.whole("lead_days", 0, 400),
        crew=row.text("crew", may_be_empty=True),
        can_detect=row.yes("can_detect"),
        note=row.text("note", may_be_empty=True),
        models=row.model_codes("models", known_models) if "models" in row.cells else (),
        first_day=row.day("first_day"),
        end_day=row.day("end_day"),
        successors=row.codes("successors"),
    )
    if found.id == FIELD:
        row.fault("id", "is kept for what is found after dispatch; choose another id")
    if found.first_day and found.end_day and found.end_day <= found.first_day:
        row.fault("end_day", "is not after first_day")
    return found


def zones(
    faults: Faults, text: str, known_models: Iterable[str], known_views: Iterable[str], known_cautions: Iterable[str]
) -> MappingProxyType[tuple[str, str], Zone]:
    """Return the zones by (model, zone key); ids must differ too."""
    rows = csv_rows(faults, "zones.csv", text, ZONE_COLUMNS)
    seen: set[str] = set()
    for row in rows:
        row.known("model", row.text("model"), known_models, "model")
        row.known("view", row.text("view"), known_views, "view")
        _caution(row, known_cautions)
        if row.code("zone_id") in seen:
            row.fault("zone_id", "stands in the table twice; ids must differ")
        seen.add(row.text("zone_id"))
    return keyed((row, "zone_key", ((one := zone(row)).model, one.key), one) for row in rows)


def _caution(row: Row, known_cautions: Iterable[str]) -> None:
    if code := row.text("caution", may_be_empty=True):
        row.known("caution", code, known_cautions, "caution")


def zone(row: Row) -> Zone:
    """Return one zone with its outline checked."""
    points = row.outline("points")
    if points and (wrong := outline_fault(points)):
        row.fault("points", wrong)
    return Zone(
        id=str(row.cells["zone_id"]).strip(),
        model=str(row.cells["model"]).strip(),
        view=str(row.cells["view"]).strip(),
        key=row.code("zone_key"),
        name=row.text("name", most=80),
        kind=row.code("kind"),
        layer=row.whole("layer", 0, 9),
        points=points,
        walk_order=row.whole("walk_order", 0, 9999),
        caution=str(row.cells["caution"]).strip(),
    )


def types(faults: Faults, text: str, known_models: Iterable[str]) -> MappingProxyType[str, DefectType]:
    """Return the defect types by code."""
    rows = csv_rows(faults, "defect_types.csv", text, TYPE_COLUMNS, ("retired",))
    return keyed((row, "code", row.code("code"), defect_type(row, known_models)) for row in rows)


def defect_type(row: Row, known_models: Iterable[str]) -> DefectType:
    """Return one defect type; the column retired may be left out of the table."""
    found = DefectType(
        code=row.text("code"),
        group=row.code("group"),
        group_name=row.text("group_name"),
        name=row.text("name", most=80),
        default_severity=cast(Any, row.choice("default_severity", *SEVERITIES)),
        stop_unit=row.yes("stop_unit"),
        photo_required=row.choice("photo_rule", "asked", "required") == "required",
        rework_min=row.whole("rework_min", 0, 6000),
        first_detect_point=row.text("first_detect_point"),
        usual_origins=row.codes("usual_origins"),
        zone_kinds=row.codes("zone_kinds"),
        models=row.model_codes("models", known_models),
        retired="retired" in row.cells and row.yes("retired"),
    )
    if found.default_severity == "critical" and not found.stop_unit:
        row.fault("stop_unit", "must be yes for a critical type")
    if not found.zone_kinds:
        row.fault("zone_kinds", "names no kind of zone, so nobody could record it; name at least one")
    return found


def tests(
    faults: Faults, text: str, known_models: Iterable[str], known_cautions: Iterable[str]
) -> MappingProxyType[str, Test]:
    """Return the tests by id."""
    rows = csv_rows(faults, "tests.csv", text, TEST_COLUMNS)
    for row in rows:
        _caution(row, known_cautions)
    return keyed((row, "id", row.code("id"), test(row, known_models)) for row in rows)


def test(row: Row, known_models: Iterable[str]) -> Test:
    """Return one test; a measurement has a unit and at least one limit, a pass has none."""
    found = Test(
        id=row.text("id"),
        name=row.text("name", most=80),
        point=row.text("point"),
        defect_on_fail=row.text("defect_on_fail"),
        kind=cast(Any, row.choice("kind", "measure", "pass")),
        unit=row.text("unit", may_be_empty=True),
        lower=row.number("lower"),
        upper=row.number("upper"),
        conditions=row.text("conditions", may_be_empty=True),
        reference=row.text("reference"),
        basis=row.choice("basis", *BASES),
        models=row.model_codes("models", known_models),
        caution=row.text("caution", may_be_empty=True),
        who=row.text("who"),
        voided_by=row.codes("voided_by"),
    )
    _limits(row, found)
    return found


def _limits(row: Row, found: Test) -> None:
    if found.lower is not None and found.upper is not None and found.lower > found.upper:
        row.fault("upper", f"is below the lower limit {found.lower:g}; swap them or mend one")
    if found.kind == "pass" and (found.lower is not None or found.upper is not None):
        row.fault("kind", "has limits, so it must be measure, or the limits must go")
    if found.kind == "measure" and found.lower is None and found.upper is None:
        row.fault("upper", "is empty as lower is; a measurement needs a limit")
    if found.kind == "measure" and not found.unit:
        row.fault("unit", "is empty; a measurement needs its unit")
