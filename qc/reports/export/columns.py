"""What goes out: each table's columns in order, what each holds, and of which sort it is.

The words stand in each file and, held to these by a test, in ``static/docs/export.md``.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

Sort = Literal["text", "number", "day", "instant", "yes or no", "list"]


@dataclass(frozen=True, slots=True)
class Column:
    """A column. name: its heading; sort: of its values; words: what it holds, what empty means."""

    name: str
    sort: Sort
    words: str


def _table(*rows: tuple[str, Sort, str]) -> tuple[Column, ...]:
    return tuple(Column(*row) for row in rows)


_UNIT: tuple[str, Sort, str] = ("unit", "text", "chassis number of the unit")
_MODEL: tuple[str, Sort, str] = ("model", "text", "code of the unit's model")
_DAY: tuple[str, Sort, str] = (
    "production_day",
    "day",
    "production day by the plant's calendar; empty while an inspection runs",
)
_SHIFT: tuple[str, Sort, str] = ("shift", "text", "shift by the plant's calendar; empty after dispatch")

TABLES: Mapping[str, tuple[Column, ...]] = {
    "units": _table(
        ("chassis", "text", "chassis number"),
        ("shop_number", "text", "shop number"),
        ("sequence", "number", "place in the build sequence"),
        _MODEL,
        ("options", "list", "options as planned, with semicolons between"),
        ("build_sheet", "text", "build sheet; empty where none is named"),
        ("planned_day", "day", "day for which it is planned; empty while no plan holds it"),
        ("state", "text", "planned, on_line, at_end_points, in_rework, released or cancelled, as of this export"),
        ("alarm", "text", "what arrived after its release, in words; empty without"),
        (
            "released_at",
            "instant",
            "when its last release was signed; empty without. Whether it stands, the state says",
        ),
        ("released_by", "text", "code of who signed that"),
    ),
    "inspections": _table(
        ("inspection", "text", "id of the inspection, as defects and tests name it"),
        _UNIT,
        _MODEL,
        ("point", "text", "where it was done"),
        ("purpose", "text", "presentation, relook, containment or zones; rates count first presentations alone"),
        ("presentation", "number", "1 for the first at this point, 2 and on for later ones, 0 where it is none"),
        ("inspector", "text", "code of who looked"),
        ("light", "text", "light as told"),
        ("weather", "text", "weather as told; empty where not"),
        ("begun_at", "instant", "when it began"),
        ("ended_at", "instant", "when it ended; empty while it runs"),
        _DAY,
        _SHIFT,
        ("clean", "yes or no", "whether it found nothing that stands and no test in it failed; empty while it runs"),
        ("clean_of_major", "yes or no", "the same, minors left aside"),
        ("zones_looked_at", "number", "zones marked as looked at"),
        ("zones_not_looked_at", "number", "zones marked as not looked at"),
    ),
    "defects": _table(
        ("defect", "text", "id of the defect"),
        _UNIT,
        _MODEL,
        ("inspection", "text", "inspection in which it was found; empty for none"),
        ("point", "text", "where it was first recorded; FIELD after dispatch"),
        ("first_presentation", "yes or no", "whether at a first presentation; rates count no others"),
        ("zone", "text", "zone of the unit"),
        ("type", "text", "code of the type"),
        ("severity", "text", "critical, major or minor, as it stands"),
        (
            "own_severity",
            "text",
            "code of the plant's own severity that counts so; empty where it has none or none said",
        ),
        ("lot", "text", "lot of the part that it is on, as the finder read it; empty where nobody said"),
        ("note", "text", "the finder's words; free text, which may name people"),
        ("found_at", "instant", "when it was found"),
        ("production_day", "day", "production day of that; after dispatch the day that the finder names"),
        _SHIFT,
        ("finder", "text", "code of who found it"),
        ("state", "text", "open, repaired, closed or withdrawn; withdrawn ones are in no count"),
        ("failed_rechecks", "number", "how often its repair came back"),
        ("repair_minutes", "number", "minutes clocked on its repairs; 0 where none were"),
        ("repaired_by", "text", "code of who repaired it last, in the present round; empty for nobody"),
        ("rechecked_by", "text", "code of who accepted the repair; empty for nobody"),
        ("withdrawn_as", "text", "not_a_defect or duplicate; empty where it stands"),
        ("duplicate_of", "text", "id of the record that tells it already; empty for none"),
        ("suspected_origin", "text", "station suspected; empty for none. A guess is no finding"),
        ("confirmed_origin", "text", "station that its lead confirmed or the manager settled; empty for none"),
        ("origin_state", "text", "none, suspected, confirmed, disputed or settled"),
        ("work_day", "day", "day of the work at the origin; empty where not known"),
        ("work_day_by", "text", "how that is known: scan of the unit there, or lead time; empty where not"),
    ),
    "tests": _table(
        ("result", "text", "id of the result"),
        _UNIT,
        _MODEL,
        ("test", "text", "code of the test"),
        ("point", "text", "where it is done"),
        ("inspection", "text", "inspection in which it was done; empty for none"),
        ("value", "number", "value measured, in the unit of the tests' table; empty for a test without a value"),
        ("beyond", "text", "above or below where the reading passed the instrument's range; empty where not"),
        ("passed", "yes or no", "by the limits of its day"),
        ("instrument", "text", "instrument as told"),
        ("calibrated_until", "day", "until when that was calibrated; empty where not told"),
        ("tester", "text", "code of who tested"),
        ("tested_at", "instant", "when"),
        ("production_day", "day", "production day of that"),
        ("done_again", "text", "why a failed test was done again; empty for a first value"),
        ("voided", "yes or no", "whether a later repair took its word away"),
        ("taken_back", "yes or no", "whether its tester took it back as a slip"),
    ),
    "releases": _table(
        ("release", "text", "id of the release"),
        _UNIT,
        _MODEL,
        ("signed_by", "text", "code of who released it"),
        ("against", "text", "against which checks, as signed"),
        ("released_at", "instant", "when"),
        ("story_digest", "text", "SHA-256 of the unit's story as frozen at that moment"),
        ("record_number", "number", "number of the row of the journal"),
    ),
    "weeks": _table(
        ("week", "text", "ISO week"),
        ("running", "yes or no", "whether the week is not over: leave it out of limits"),
        ("units", "number", "units that every end point of their build presented first, by the day of the last one"),
        ("units_with_a_defect", "number", "of these, with any defect that stands"),
        ("units_clean_of_major", "number", "of these, passed at first look with nothing above minor"),
        ("units_clean", "number", "of these, passed at first look with nothing at all"),
        ("defects", "number", "defects of their first presentations that stand"),
        ("criticals", "number", "of these, critical"),
        ("majors", "number", "of these, major"),
        ("minors", "number", "of these, minor"),
    ),
    "people": _table(
        ("person", "text", "code"),
        ("name", "text", "name"),
        ("role", "text", "role"),
        ("stations", "list", "stations that a lead answers for, with semicolons between"),
        ("ended", "yes or no", "whether the person has left"),
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
