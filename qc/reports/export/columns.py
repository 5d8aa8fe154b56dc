"""What goes out: each table's columns in order, what each holds, and of which sort it is.

The words stand in each file and, held to these by a test, in ``static/docs/export.md``.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from qc.domain.words.speaking import marked

Sort = Literal["text", "number", "day", "instant", "yes or no", "list"]


@dataclass(frozen=True, slots=True)
class Column:
    """A column. name: its heading; sort: of its values; words: what it holds, what empty means."""

    name: str
    sort: Sort
    words: str


def _table(*rows: tuple[str, Sort, str]) -> tuple[Column, ...]:
    return tuple(Column(*row) for row in rows)


_UNIT: tuple[str, Sort, str] = ("unit", "text", marked("chassis number of the unit"))
_MODEL: tuple[str, Sort, str] = ("model", "text", marked("code of the unit's model"))
_DAY: tuple[str, Sort, str] = (
    "production_day",
    "day",
    marked("production day by the plant's calendar; empty while an inspection runs"),
)
_SHIFT: tuple[str, Sort, str] = ("shift", "text", marked("shift by the plant's calendar; empty after dispatch"))

TABLES: Mapping[str, tuple[Column, ...]] = {
    "units": _table(
        ("chassis", "text", marked("chassis number")),
        ("shop_number", "text", marked("shop number")),
        ("sequence", "number", marked("place in the build sequence")),
        _MODEL,
        ("options", "list", marked("options as planned, with semicolons between")),
        ("build_sheet", "text", marked("build sheet; empty where none is named")),
        (
            "line",
            "text",
            marked("code of the line on which it is built, as told of it; empty where nobody said"),
        ),
        ("planned_day", "day", marked("day for which it is planned; empty while no plan holds it")),
        (
            "state",
            "text",
            marked("planned, on_line, at_end_points, in_rework, released or cancelled, as of this export"),
        ),
        ("alarm", "text", marked("what arrived after its release, in words; empty without")),
        (
            "released_at",
            "instant",
            marked("when its last release was signed; empty without. Whether it stands, the state says"),
        ),
        ("released_by", "text", marked("code of who signed that")),
    ),
    "inspections": _table(
        ("inspection", "text", marked("id of the inspection, as defects and tests name it")),
        _UNIT,
        _MODEL,
        ("point", "text", marked("where it was done")),
        (
            "purpose",
            "text",
            marked("presentation, relook, containment or zones; rates count first presentations alone"),
        ),
        (
            "presentation",
            "number",
            marked("1 for the first at this point, 2 and on for later ones, 0 where it is none"),
        ),
        ("inspector", "text", marked("code of who looked")),
        ("light", "text", marked("light as told")),
        ("weather", "text", marked("weather as told; empty where not")),
        ("begun_at", "instant", marked("when it began")),
        ("ended_at", "instant", marked("when it ended; empty while it runs")),
        _DAY,
        _SHIFT,
        (
            "clean",
            "yes or no",
            marked("whether it found nothing that stands and no test in it failed; empty while it runs"),
        ),
        ("clean_of_major", "yes or no", marked("the same, minors left aside")),
        ("zones_looked_at", "number", marked("zones marked as looked at")),
        ("zones_not_looked_at", "number", marked("zones marked as not looked at")),
    ),
    "defects": _table(
        ("defect", "text", marked("id of the defect")),
        _UNIT,
        _MODEL,
        ("inspection", "text", marked("inspection in which it was found; empty for none")),
        ("point", "text", marked("where it was first recorded; FIELD after dispatch")),
        ("first_presentation", "yes or no", marked("whether at a first presentation; rates count no others")),
        ("zone", "text", marked("zone of the unit")),
        ("type", "text", marked("code of the type")),
        ("severity", "text", marked("critical, major or minor, as it stands")),
        (
            "own_severity",
            "text",
            marked("code of the plant's own severity that counts so; empty where it has none or none said"),
        ),
        ("lot", "text", marked("lot of the part that it is on, as the finder read it; empty where nobody said")),
        ("note", "text", marked("the finder's words; free text, which may name people")),
        ("found_at", "instant", marked("when it was found")),
        ("production_day", "day", marked("production day of that; after dispatch the day that the finder names")),
        _SHIFT,
        ("finder", "text", marked("code of who found it")),
        ("state", "text", marked("open, repaired, closed or withdrawn; withdrawn ones are in no count")),
        ("failed_rechecks", "number", marked("how often its repair came back")),
        ("repair_minutes", "number", marked("minutes clocked on its repairs; 0 where none were")),
        ("repaired_by", "text", marked("code of who repaired it last, in the present round; empty for nobody")),
        ("rechecked_by", "text", marked("code of who accepted the repair; empty for nobody")),
        ("withdrawn_as", "text", marked("not_a_defect or duplicate; empty where it stands")),
        ("duplicate_of", "text", marked("id of the record that tells it already; empty for none")),
        ("suspected_origin", "text", marked("station suspected; empty for none. A guess is no finding")),
        ("confirmed_origin", "text", marked("station that its lead confirmed or the manager settled; empty for none")),
        ("origin_state", "text", marked("none, suspected, confirmed, disputed or settled")),
        ("work_day", "day", marked("day of the work at the origin; empty where not known")),
        ("work_day_by", "text", marked("how that is known: scan of the unit there, or lead time; empty where not")),
    ),
    "tests": _table(
        ("result", "text", marked("id of the result")),
        _UNIT,
        _MODEL,
        ("test", "text", marked("code of the test")),
        ("point", "text", marked("where it is done")),
        ("inspection", "text", marked("inspection in which it was done; empty for none")),
        (
            "value",
            "number",
            marked("value measured, in the unit of the tests' table; empty for a test without a value"),
        ),
        ("beyond", "text", marked("above or below where the reading passed the instrument's range; empty where not")),
        ("passed", "yes or no", marked("by the limits of its day")),
        ("instrument", "text", marked("instrument as told")),
        ("calibrated_until", "day", marked("until when that was calibrated; empty where not told")),
        ("tester", "text", marked("code of who tested")),
        ("tested_at", "instant", marked("when")),
        ("production_day", "day", marked("production day of that")),
        ("done_again", "text", marked("why a failed test was done again; empty for a first value")),
        ("voided", "yes or no", marked("whether a later repair took its word away")),
        ("taken_back", "yes or no", marked("whether its tester took it back as a slip")),
    ),
    "releases": _table(
        ("release", "text", marked("id of the release")),
        _UNIT,
        _MODEL,
        ("signed_by", "text", marked("code of who released it")),
        ("against", "text", marked("against which checks, as signed")),
        ("released_at", "instant", marked("when")),
        ("story_digest", "text", marked("SHA-256 of the unit's story as frozen at that moment")),
        ("record_number", "number", marked("number of the row of the journal")),
    ),
    "weeks": _table(
        ("week", "text", marked("ISO week")),
        ("running", "yes or no", marked("whether the week is not over: leave it out of limits")),
        (
            "units",
            "number",
            marked("units that every end point of their build presented first, by the day of the last one"),
        ),
        ("units_with_a_defect", "number", marked("of these, with any defect that stands")),
        ("units_clean_of_major", "number", marked("of these, passed at first look with nothing above minor")),
        ("units_clean", "number", marked("of these, passed at first look with nothing at all")),
        ("defects", "number", marked("defects of their first presentations that stand")),
        ("criticals", "number", marked("of these, critical")),
        ("majors", "number", marked("of these, major")),
        ("minors", "number", marked("of these, minor")),
    ),
    "people": _table(
        ("person", "text", marked("code")),
        ("name", "text", marked("name")),
        ("role", "text", marked("role, the first where there are several")),
        ("also", "list", marked("further roles, with semicolons between")),
        ("stations", "list", marked("stations that a lead answers for, with semicolons between")),
        ("ended", "yes or no", marked("whether the person has left")),
    ),
}
NAMES = "people"  # the table with people's names: for the quality manager and the administrator alone
EXPLAINED = _table(
    ("table", "text", "table"),
    ("column", "text", "column"),
    ("holds", "text", "sort of its values"),
    ("words", "text", "what it is"),
)


def tables_for(*, names: bool) -> tuple[str, ...]:
    """Return the tables of an export in order, the one with people's names only where asked for."""
    return tuple(table for table in TABLES if names or table != NAMES)
