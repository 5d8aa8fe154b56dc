"""The summary tables: what the count tables are read from, derived from the projections, never kept for ever.

Every sum stands at three spans: D a production day, W an ISO week (its Monday), B a block of 13 ISO weeks (the
Monday of its first); start is the first day of the span. detail 1 rows are by model and shift; detail 0 rows are
their total, with model, line and shift ''. line: as told of the unit, which
`Plant.line_of` reads. found is which severities a unit had: 4 critical + 2 major + 1 minor;
with_major_minor counts units with a major or a minor, and so on; meant is the first point that is meant to find the
type, '' where the plant names none.

A unit counts on its *seen day*, once every end point of its build has presented it (`qc.domain.counted.counts` says
when and why). All its defects of first presentations count on that day, so that both are always of the same units.
The work tables also hold the day on which the unit was worked on at the origin; their *_part tables are by seen
day, so that one seen day can be taken out and put back.
"""

from qc.store.tables.summary_tables import SEVEN, SIX

THREE = ("critical", "major", "minor")
SPANS = """
  span TEXT NOT NULL CHECK (span IN ('D', 'W', 'B')),
  detail INTEGER NOT NULL CHECK (detail IN (0, 1)),
  start TEXT NOT NULL,"""
WEEKS_UP = SPANS.replace("'D', ", "")
BY_SEEN_DAY = """
  seen_day TEXT NOT NULL,
  start TEXT NOT NULL,"""
FOUND = "found INTEGER NOT NULL CHECK (found BETWEEN 1 AND 7)"
FOUND_OR_NONE = "found INTEGER NOT NULL CHECK (found BETWEEN 0 AND 7)"
UNITS = "units CHECK (units > 0)"
PRESENTED = (
    UNITS,
    "whole CHECK (whole <= units)",
    "clean_major CHECK (clean_major <= whole)",
    "clean_all CHECK (clean_all <= clean_major)",
    *THREE,
)


def sums_table(
    name: str, when: str, keys: tuple[str, ...], sums: tuple[str, ...], shared: tuple[str, ...] = ("model", "shift")
) -> str:
    """Return the statement that makes a table of sums. when: the columns of its spans or days; each sum with its check.

    keys: its own dimensions before the shared ones, text unless they say more; a note may follow one after " -- ".
    SQLite keeps a statement as it was written and verify compares it, so a record's tables never change by a blank.
    """
    dimensions = [key.partition(" -- ") for key in (*keys, *shared)]
    columns = [f"{key if ' ' in key else f'{key} TEXT NOT NULL'},{dashes}{note}" for key, dashes, note in dimensions]
    columns += [" ".join(f"{one} ".replace(" ", " INTEGER NOT NULL ", 1).split()) + "," for one in sums]
    spans = [line.split()[0] for line in when.split("\n")[1:]]
    by = ", ".join((*spans, *(key.split()[0] for key, _, _ in dimensions)))
    inner = "".join(f"\n  {column}" for column in columns)
    return f"CREATE TABLE {name} ({when}{inner}\n  PRIMARY KEY ({by})\n) STRICT, WITHOUT ROWID;\n"


SUMMARIES = (
    sums_table("presented_sum", SPANS, ("point", FOUND_OR_NONE), PRESENTED)
    + sums_table("type_sum", SPANS, ("type",), THREE)
    + sums_table("origin_type_sum", SPANS, ("origin", "type"), SIX)
    + sums_table("origin_point_sum", SPANS, ("origin", "meant", "point"), SIX)
    + sums_table("station_sum", SPANS, ("origin", FOUND), (UNITS, *SIX))
    + sums_table("work_part", BY_SEEN_DAY, ("origin", FOUND_OR_NONE), (UNITS, *SIX))
    + """CREATE INDEX work_part_start ON work_part (start);

"""
    + sums_table("work_sum", WEEKS_UP, ("origin", FOUND_OR_NONE), (UNITS, *SIX))
    + sums_table("work_point_part", BY_SEEN_DAY, ("origin", "point"), SIX)
    + """CREATE INDEX work_point_part_start ON work_point_part (start);

"""
    + sums_table("work_point_sum", WEEKS_UP, ("origin", "point"), SIX)
    + sums_table("looker_sum", SPANS, ("point", "inspector"), (UNITS,))
    + """
CREATE INDEX defect_critical ON defect (production_day) WHERE severity = 'critical';
CREATE INDEX unit_planned ON unit (planned_day);

-- A pass that arrives after its unit was seen moves the day of the unit's work, whether it has a defect or not.
-- (No OR IGNORE: within a trigger the conflict rule of the statement that fired it would stand in its place.)
CREATE TRIGGER pass_marks_days AFTER INSERT ON station_pass
BEGIN
  INSERT INTO dirty_day (production_day)
  SELECT DISTINCT production_day
    FROM inspection
   WHERE unit = NEW.unit
     AND production_day IS NOT NULL
     AND production_day NOT IN (SELECT production_day FROM dirty_day);
END;
CREATE TRIGGER moved_pass_marks_days AFTER UPDATE ON station_pass
BEGIN
  INSERT INTO dirty_day (production_day)
  SELECT DISTINCT production_day
    FROM inspection
   WHERE unit = NEW.unit
     AND production_day IS NOT NULL
     AND production_day NOT IN (SELECT production_day FROM dirty_day);
END;
"""
)

# A station's units with a defect, one column for each set of severities, where 2 had a row for each: seven times
# fewer rows to read for two years of every station. The days are all counted again at the next reading.
STATION_SUMS = (
    """
DROP TABLE station_sum;
"""
    + sums_table("station_sum", SPANS, ("origin",), (*SEVEN, *SIX))
    + """
DROP TABLE work_part;
"""
    + sums_table("work_part", BY_SEEN_DAY, ("origin",), (UNITS, *SEVEN, *SIX))
    + """CREATE INDEX work_part_start ON work_part (start);

DROP TABLE work_sum;
"""
    + sums_table("work_sum", WEEKS_UP, ("origin",), (UNITS, *SEVEN, *SIX))
    + """
INSERT OR IGNORE INTO dirty_day (production_day)
SELECT production_day FROM inspection WHERE production_day IS NOT NULL;
"""
)

# Units that any end point of their build has presented; day, shift: NULL until all of them have, and the unit counts.
# The days are all counted again at the next reading.
PRESENTED_UNITS = """
CREATE TABLE presented_unit (
  unit TEXT PRIMARY KEY,
  model TEXT NOT NULL,
  first_day TEXT NOT NULL,
  day TEXT,
  shift TEXT,
  CHECK (day >= first_day),
  CHECK ((day IS NULL) = (shift IS NULL))
) STRICT, WITHOUT ROWID;
CREATE INDEX presented_unit_day ON presented_unit (day);
CREATE INDEX presented_unit_under_way ON presented_unit (day, first_day) WHERE day IS NULL OR day > first_day;

INSERT OR IGNORE INTO dirty_day (production_day)
SELECT production_day FROM inspection WHERE production_day IS NOT NULL;
"""

# When each unit left, and what was found on it after dispatch, up to day 60 (after_dispatch) and later. A release marks
# the days of its unit, as a pass does. The days are all counted again at the next reading.
LEFT_UNITS = (
    """
ALTER TABLE presented_unit ADD COLUMN left_day TEXT;
"""
    + sums_table(
        "left_sum",
        SPANS,
        ("left_day -- '' for units that have not",),
        (UNITS, "at_points", "with_after CHECK (with_after <= units)", "after_dispatch", "later"),
    )
    + """CREATE TRIGGER release_marks_days AFTER INSERT ON release_record
BEGIN
  INSERT INTO dirty_day (production_day)
  SELECT DISTINCT production_day
    FROM inspection
   WHERE unit = NEW.unit
     AND production_day IS NOT NULL
     AND production_day NOT IN (SELECT production_day FROM dirty_day);
END;

INSERT OR IGNORE INTO dirty_day (production_day)
SELECT production_day FROM inspection WHERE production_day IS NOT NULL;
"""
)

# The open criticals, which every review and station page asks for, and the units by when they left. What is found after
# dispatch is one point whenever it was found; the days are all counted again at the next reading.
OPEN_CRITICALS = """
CREATE INDEX defect_critical_open ON defect (production_day, found_ms, id)
 WHERE severity = 'critical' AND state IN ('open', 'repaired');
CREATE INDEX presented_unit_left ON presented_unit (left_day) WHERE left_day IS NOT NULL;
DROP INDEX release_done; -- when a unit left is asked, not each release

INSERT OR IGNORE INTO dirty_day (production_day)
SELECT production_day FROM inspection WHERE production_day IS NOT NULL;
"""

# On which of several lines a unit is built, as told of it, '' where nobody said. The days are all counted again at the
# next reading.
_BY_LINE = ("model", "line", "shift")
_SUMS_BY_LINE = (
    ("presented_sum", SPANS, ("point", FOUND_OR_NONE), PRESENTED),
    ("type_sum", SPANS, ("type",), THREE),
    ("origin_type_sum", SPANS, ("origin", "type"), SIX),
    ("origin_point_sum", SPANS, ("origin", "meant", "point"), SIX),
    ("station_sum", SPANS, ("origin",), (*SEVEN, *SIX)),
    ("looker_sum", SPANS, ("point", "inspector"), (UNITS,)),
    (
        "left_sum",
        SPANS,
        ("left_day -- '' for units that have not",),
        (UNITS, "at_points", "with_after CHECK (with_after <= units)", "after_dispatch", "later"),
    ),
    ("work_part", BY_SEEN_DAY, ("origin",), (UNITS, *SEVEN, *SIX)),
    ("work_sum", WEEKS_UP, ("origin",), (UNITS, *SEVEN, *SIX)),
    ("work_point_part", BY_SEEN_DAY, ("origin", "point"), SIX),
    ("work_point_sum", WEEKS_UP, ("origin", "point"), SIX),
)
LINES = (
    """
ALTER TABLE unit ADD COLUMN line TEXT NOT NULL DEFAULT '';
ALTER TABLE presented_unit ADD COLUMN line TEXT NOT NULL DEFAULT '';
"""
    + "".join(
        f"""
DROP TABLE {name};
{sums_table(name, when, keys, sums, _BY_LINE)}"""
        for name, when, keys, sums in _SUMS_BY_LINE
    )
    + """
CREATE INDEX work_part_start ON work_part (start);
CREATE INDEX work_point_part_start ON work_point_part (start);

INSERT OR IGNORE INTO dirty_day (production_day)
SELECT production_day FROM inspection WHERE production_day IS NOT NULL;
"""
)
