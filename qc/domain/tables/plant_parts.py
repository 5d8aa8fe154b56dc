"""Each CSV table of a plant read into its records. What must hold between the tables is `plant_checks`."""

import unicodedata
from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import Any, cast

from qc.domain.facts.operations import BEYOND, digest
from qc.domain.plant.plant import (
    CLOSED_PARTS,
    DESIGN,
    FIELD,
    PARTS,
    SEVERITIES,
    SWINGS,
    Caution,
    DefectType,
    Outline,
    OwnSeverity,
    Station,
    Test,
    ViewPicture,
    Zone,
)
from qc.domain.tables.outlines import outline_fault
from qc.domain.tables.table_rows import Faults, Row, csv_rows, keyed
from qc.domain.words.speaking import say

STATION_KINDS = ("main", "feeder", "remote", "test", "inspection", "rework", "dispatch", "external", "unknown")
BASES = ("S", "M", "P")
STATION_COLUMNS = ("id", "name", "kind", "line", "lead_days", "crew", "can_detect", "note")
STATION_OPTIONAL = ("models", "first_day", "end_day", "successors", "final", "outside", "shifts")
WAYS_IN = ("supplied", "handled")
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
PICTURE_COLUMNS = ("model", "view", "picture", "width", "height", "corners")
OUTLINE_COLUMNS = ("model", "view", "part", "points", "swing")
TYPE_OPTIONAL = ("retired", "caution", "words")
ZONE_OPTIONAL = ("holds", "ended", "options")
HOLDS = ("plate", "whole")
CAUTION_COLUMNS = ("code", "short", "more")
CAUTION_OPTIONAL = ("camera", "before_photo", "move_away", "call", "phone", "shown")
CAMERA = ("free", "ask", "no")
SHOWN = ("begin", "unit")
NO_CAUTION = "none"
TEST_OPTIONAL = ("least", "most", "beyond", "hazard", "ended", "options")


def cautions(faults: Faults, text: str) -> MappingProxyType[str, Caution]:
    """Return the cautions by code; a plant may have none."""
    rows = csv_rows(faults, "cautions.csv", text, CAUTION_COLUMNS, CAUTION_OPTIONAL, may_be_empty=True)
    return keyed((row, "code", row.code("code"), caution(row)) for row in rows)


def caution(row: Row) -> Caution:
    """Return one caution. A column that the table lacks is left unsaid, which is never taken as harmless."""
    found = Caution(
        code=row.text("code"),
        short=row.text("short", most=300),
        more=row.text("more"),
        camera=row.choice("camera", *CAMERA) if row.has("camera") else "",
        before_photo=row.text("before_photo", may_be_empty=True, most=120),
        move_away=row.yes("move_away") if row.has("move_away") else True,
        call=row.text("call", may_be_empty=True, most=60),
        phone=row.text("phone", may_be_empty=True, most=40),
        shown=row.codes("shown") if row.has("shown") else None,
    )
    if found.code == NO_CAUTION:
        row.fault("code", say("is kept for types without a caution; choose another code"))
    if found.camera == "ask" and not found.before_photo:
        row.fault("before_photo", say("is empty, and camera is ask; write what a person confirms before a photo"))
    if found.camera != "ask" and found.before_photo:
        row.fault("before_photo", say("is asked only where camera is ask; write ask there, or leave this empty"))
    for part in found.shown or ():
        if part not in SHOWN:
            row.fault("shown", say("may only hold {shown}, divided by ';'", shown=", ".join(SHOWN)))
    return found


def stations(
    faults: Faults, text: str, known_models: Iterable[str], known_lines: Iterable[str]
) -> MappingProxyType[str, Station]:
    """Return the stations and the origins that are none, by id. known_lines: none where the plant names no lines."""
    rows = csv_rows(faults, "stations.csv", text, STATION_COLUMNS, STATION_OPTIONAL)
    for row in rows:
        if known_lines and (line := _line(row)):
            row.known("line", line, known_lines, "line")
    return keyed((row, "id", row.code("id"), station(row, known_models)) for row in rows)


def _line(row: Row) -> str:
    return unicodedata.normalize("NFC", row.text("line", may_be_empty=True))


def says_final(text: str) -> bool:
    """Return whether the table has the column that names the final stations."""
    return "final" in [name.strip(' "\ufeff\r') for name in text.partition("\n")[0].split(",")]


def station(row: Row, known_models: Iterable[str]) -> Station:
    """Return one station; the columns of validity may be left out of the table."""
    found = Station(
        id=row.text("id"),
        name=row.text("name"),
        kind=cast(Any, row.choice("kind", *STATION_KINDS)),
        line=_line(row),
        lead_days=row.whole("lead_days", 0, 400),
        crew=row.text("crew", may_be_empty=True),
        can_detect=row.yes("can_detect"),
        note=row.text("note", may_be_empty=True),
        models=row.model_codes("models", known_models) if "models" in row.cells else (),
        first_day=row.day("first_day"),
        end_day=row.day("end_day"),
        successors=row.codes("successors"),
        final=_final(row),
        outside=_outside(row),
        shifts=row.codes("shifts") if row.has("shifts") else (),
    )
    if found.id == FIELD:
        row.fault("id", say("is kept for what is found after dispatch; choose another id"))
    if found.first_day and found.end_day and found.end_day <= found.first_day:
        row.fault("end_day", say("is not after first_day"))
    return found


def _final(row: Row) -> bool:
    """Return whether a unit is presented here; in a table without the column, at every test and inspection station."""
    kind = str(row.cells["kind"]).strip()
    presents = kind in ("test", "inspection")
    if not row.has("final"):
        return presents
    if not presents:
        if row.text("final", may_be_empty=True) not in ("", "no"):
            row.fault(
                "final", say("is for a test or inspection station, and this is {kind}; leave it empty", kind=kind)
            )
        return False
    return row.yes("final")


# What these ids meant while the table had no such column; a record of that time is judged by it.
_OUTSIDE_BY_ID = {"SUP": "supplied", "HND": "handled"}


def _outside(row: Row) -> str:
    """Return how an origin outside the line comes into a unit; in a table without the column, as its id was known."""
    id_, kind = str(row.cells["id"]).strip(), str(row.cells["kind"]).strip()
    if not row.has("outside"):
        return _OUTSIDE_BY_ID.get(id_, "")
    if kind != "external" or id_ == DESIGN:
        if row.text("outside", may_be_empty=True):
            row.fault("outside", say("is for an external origin other than {design}; leave it empty", design=DESIGN))
        return ""
    return row.choice("outside", *WAYS_IN)


def zones(
    faults: Faults,
    text: str,
    known_models: Iterable[str],
    known_views: Iterable[str],
    known_cautions: Iterable[str],
    known_options: Iterable[str],
) -> MappingProxyType[tuple[str, str], Zone]:
    """Return the zones by (model, zone key); ids must differ too."""
    rows = csv_rows(faults, "zones.csv", text, ZONE_COLUMNS, ZONE_OPTIONAL)
    seen: set[str] = set()
    for row in rows:
        row.known("model", row.text("model"), known_models, "model")
        row.known("view", row.text("view"), known_views, "view")
        _caution(row, known_cautions)
        _known_options(row, known_options)
        if row.code("zone_id") in seen:
            row.fault("zone_id", say("stands in the table twice; ids must differ"))
        seen.add(row.text("zone_id"))
    found = keyed((row, "zone_key", ((one := zone(row)).model, one.key), one) for row in rows)
    if any(row.has("holds") for row in rows):
        for model in known_models:
            if not any(one.model == model and one.holds == "plate" and not one.ended for one in found.values()):
                remedy = say(
                    "is plate in no zone of model {model}; say it of the zone with the chassis number", model=model
                )
                if any(one.model == model for one in found.values()):  # else the model or its zones are told of
                    faults.note("zones.csv", 0, "holds", "", remedy, "zones.csv:holds")
    return found


def _caution(row: Row, known_cautions: Iterable[str]) -> None:
    if code := row.text("caution", may_be_empty=True):
        row.known("caution", code, known_cautions, "caution")


def _options(row: Row) -> tuple[str, ...]:
    """Return the options of which a unit must have one to be asked for it; () asks it of every unit."""
    if not row.has("options"):
        return ()
    return tuple(unicodedata.normalize("NFC", one) for one in row.codes("options"))


def _known_options(row: Row, known: Iterable[str]) -> None:
    for one in _options(row):
        row.known("options", one, known, "option")


def zone(row: Row) -> Zone:
    """Return one zone with its outline checked."""
    points = row.outline("points")
    if _options(row) and str(row.cells.get("holds", "")).strip() == "plate":
        row.fault("options", say("stand at the plate, which is read on every unit; leave them empty"))
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
        holds=_holds(row),
        ended=_ended(row),
        options=_options(row),
    )


def outlines(
    faults: Faults, file: str, text: str, known_models: Iterable[str], known_views: Iterable[str]
) -> tuple[Outline, ...]:
    """Return the lines of the units' drawings in table order."""
    found = []
    for row in csv_rows(faults, file, text, OUTLINE_COLUMNS):
        row.known("model", row.text("model"), known_models, "model")
        row.known("view", row.text("view"), known_views, "view")
        found.append(_outline(row))
    return tuple(found)


def pictures(
    faults: Faults, file: str, text: str, known_models: Iterable[str], known_views: Iterable[str]
) -> MappingProxyType[tuple[str, str], ViewPicture]:
    """Return the pictures that lie under the zones, by (model, view); a table of its heading alone names none."""
    rows = csv_rows(faults, file, text, PICTURE_COLUMNS, may_be_empty=True)
    for row in rows:
        row.known("model", row.text("model"), known_models, "model")
        row.known("view", row.text("view"), known_views, "view")
    return keyed((row, "view", ((one := _picture(row)).model, one.view), one) for row in rows)


def _picture(row: Row) -> ViewPicture:
    name, corners = row.text("picture"), row.outline("corners")
    if name and digest(name):
        row.fault(
            "picture", say("names no kept picture; hand the picture in on the page of the tables or with qc picture")
        )
    if corners and (len(corners) != 2 or not (corners[0][0] < corners[1][0] and corners[0][1] < corners[1][1])):
        remedy = say("must be two corners, 'left,bottom right,top', in whole millimetres of the view")
        row.fault("corners", remedy)
    (left, bottom), (right, top) = corners if len(corners) == 2 else ((0, 0), (1, 1))
    return ViewPicture(
        model=str(row.cells["model"]).strip(),
        view=str(row.cells["view"]).strip(),
        sha256=name,
        width=row.whole("width", 1, 10_000),
        height=row.whole("height", 1, 10_000),
        left=left,
        bottom=bottom,
        right=right,
        top=top,
    )


def _outline(row: Row) -> Outline:
    part, points = row.choice("part", *PARTS), row.outline("points")
    swing = row.text("swing", may_be_empty=True)
    if swing and (part != "door" or swing not in SWINGS):
        row.fault("swing", say("is for a door, as {swings}; leave it empty elsewhere", swings=", ".join(SWINGS)))
    _corners(row, part, swing, points)
    return Outline(model=row.text("model"), view=row.text("view"), part=part, points=points, swing=swing)


def _corners(row: Row, part: str, swing: str, points: tuple[tuple[int, int], ...]) -> None:
    """Note points that do not make the part."""
    if not points:
        return
    if swing == "plan":
        if len(points) != 3:
            row.fault("points", say("must be three: the hinge, the free edge shut, the free edge open"))
    elif part == "wheel":
        if len(points) != 2 or points[0] == points[1]:
            row.fault("points", say("must be two: the centre of the wheel and a point of its rim"))
    elif part in CLOSED_PARTS:
        if wrong := outline_fault(points):
            row.fault("points", wrong, "part")
    elif len(points) < 2:
        row.fault("points", say("must be two or more: a line has two ends"))


def _ended(row: Row) -> bool:
    """Return whether a row is ended; a table may lack the column, and an empty cell says no."""
    return bool(row.text("ended", may_be_empty=True)) and row.yes("ended")


def _holds(row: Row) -> str:
    """Return what of the whole unit stands in a zone; in a table without the column its kind says it."""
    column = "holds" if row.has("holds") else "kind"
    said = str(row.cells[column]).strip()
    if column == "holds" and said and said not in HOLDS:
        row.fault(
            "holds", say("is not one of {holds}; leave it empty where a zone holds neither", holds=", ".join(HOLDS))
        )
    return said if said in HOLDS else ""


def types(
    faults: Faults,
    text: str,
    known_models: Iterable[str],
    known_cautions: Iterable[str],
    own: Mapping[str, OwnSeverity],
) -> MappingProxyType[str, DefectType]:
    """Return the defect types by code. own: the plant's own severities, none where it goes by the three themselves."""
    rows = csv_rows(faults, "defect_types.csv", text, TYPE_COLUMNS, TYPE_OPTIONAL)
    return keyed((row, "code", row.code("code"), defect_type(row, known_models, known_cautions, own)) for row in rows)


def defect_type(
    row: Row, known_models: Iterable[str], known_cautions: Iterable[str], own: Mapping[str, OwnSeverity]
) -> DefectType:
    """Return one defect type; the columns retired and caution may be left out of the table."""
    told = row.choice("default_severity", *(own or SEVERITIES))
    found = DefectType(
        code=row.text("code"),
        group=row.code("group"),
        group_name=row.text("group_name"),
        name=row.text("name", most=80),
        default_severity=own[told].counts_as if own else cast(Any, told),
        grade=told if own else "",
        stop_unit=row.yes("stop_unit"),
        photo_required=row.choice("photo_rule", "asked", "required") == "required",
        rework_min=row.whole("rework_min", 0, 6000),
        first_detect_point=row.text("first_detect_point"),
        usual_origins=row.codes("usual_origins"),
        zone_kinds=row.codes("zone_kinds"),
        models=row.model_codes("models", known_models),
        retired="retired" in row.cells and row.yes("retired"),
        caution=_type_caution(row, known_cautions),
        words=_everyday(row),
    )
    if found.default_severity == "critical" and not found.stop_unit:
        row.fault("stop_unit", say("must be yes for a critical type"))
    if not found.zone_kinds:
        row.fault("zone_kinds", say("names no kind of zone, so nobody could record it; name at least one"))
    return found


def _everyday(row: Row) -> tuple[str, ...]:
    """Return what people at the unit say for a type, in small letters; a table may lack the column."""
    words = row.codes("words") if row.has("words") else ()
    for word in words:
        if not word.isalpha() or word != word.lower() or len(word) < 2:
            row.fault(
                "words", say("may only hold single words in small letters, divided by ';', not {word!r}", word=word)
            )
    return words


def _type_caution(row: Row, known_cautions: Iterable[str]) -> str | None:
    """Return the caution of a type's work, None in a table that says of no type what its work carries."""
    if not row.has("caution"):
        return None
    code = row.text("caution", may_be_empty=True)
    if not code:
        row.fault(
            "caution",
            say("is empty; name the caution that this work carries, or write {no_caution}", no_caution=NO_CAUTION),
        )
    elif code != NO_CAUTION:
        row.known("caution", code, known_cautions, "caution")
    return "" if code == NO_CAUTION else code


def tests(
    faults: Faults,
    text: str,
    known_models: Iterable[str],
    known_cautions: Iterable[str],
    known_types: Mapping[str, DefectType],
    known_options: Iterable[str],
) -> MappingProxyType[str, Test]:
    """Return the tests by id; a plant may have none."""
    rows = csv_rows(faults, "tests.csv", text, TEST_COLUMNS, TEST_OPTIONAL, may_be_empty=True)
    for row in rows:
        _caution(row, known_cautions)
        _known_options(row, known_options)
    return keyed((row, "id", row.code("id"), test(row, known_models, known_types)) for row in rows)


def test(row: Row, known_models: Iterable[str], known_types: Mapping[str, DefectType]) -> Test:
    """Return one test; a measurement has a unit and at least one limit, a pass has none.

    Where the table does not say whether it is a hazard, the type that it fails into does: one that stops the unit.
    """
    fails_into = known_types.get(row.text("defect_on_fail", may_be_empty=True))
    says_hazard = bool(str(row.cells.get("hazard", "")).strip())
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
        least=row.number("least"),
        most=row.number("most"),
        beyond=row.codes("beyond"),
        hazard=row.yes("hazard") if says_hazard else fails_into is not None and fails_into.stop_unit,
        ended=_ended(row),
        options=_options(row),
    )
    _limits(row, found)
    _plausible(row, found)
    if says_hazard and found.hazard and fails_into is not None and not fails_into.stop_unit:
        remedy = say(
            "is yes, and {code}, which a failure becomes, does not stop the unit; name one that does",
            code=fails_into.code,
        )
        row.fault("hazard", remedy)
    return found


def _limits(row: Row, found: Test) -> None:
    if found.lower is not None and found.upper is not None and found.lower > found.upper:
        row.fault("upper", say("is below the lower limit {lower:g}; swap them or mend one", lower=found.lower))
    if found.kind == "pass" and (found.lower is not None or found.upper is not None):
        row.fault("kind", say("has limits, so it must be measure, or the limits must go"))
    if found.kind == "measure" and found.lower is None and found.upper is None:
        row.fault("upper", say("is empty as lower is; a measurement needs a limit"), "lower")
    if found.kind == "measure" and not found.unit:
        row.fault("unit", say("is empty; a measurement needs its unit"))


def _plausible(row: Row, found: Test) -> None:
    if found.kind == "pass":
        for column in ("least", "most", "beyond"):
            if str(row.cells.get(column, "")).strip():
                row.fault(column, say("is for a measurement; a pass or fail has no value, so leave it empty"))
        return
    if found.least is not None and found.most is not None and found.least > found.most:
        row.fault("most", say("is below the least plausible value {least:g}; swap them or mend one", least=found.least))
    for limit in (found.lower, found.upper):
        if limit is not None and found.least is not None and limit < found.least:
            row.fault(
                "least",
                say("is above the limit {limit:g}, so values at the limit would be asked about; lower it", limit=limit),
                "most",
            )
        if limit is not None and found.most is not None and limit > found.most:
            row.fault(
                "most",
                say("is below the limit {limit:g}, so values at the limit would be asked about; raise it", limit=limit),
            )
    for part in found.beyond:
        if part not in BEYOND:
            row.fault("beyond", say("may only hold {beyond}, divided by ';'", beyond=", ".join(BEYOND)))


# What each CSV table's heading must and may hold.
COLUMNS = {
    "stations.csv": (STATION_COLUMNS, STATION_OPTIONAL),
    "defect_types.csv": (TYPE_COLUMNS, TYPE_OPTIONAL),
    "zones.csv": (ZONE_COLUMNS, ZONE_OPTIONAL),
    "tests.csv": (TEST_COLUMNS, TEST_OPTIONAL),
    "cautions.csv": (CAUTION_COLUMNS, CAUTION_OPTIONAL),
    "outlines.csv": (OUTLINE_COLUMNS, ()),
    "pictures.csv": (PICTURE_COLUMNS, ()),
    "names.csv": (("language", "table", "code", "column", "words"), ()),
}
