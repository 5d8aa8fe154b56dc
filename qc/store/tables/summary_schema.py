"""The summary tables: what the count tables are read from, derived from the projections, never kept for ever.

Every sum stands at three spans: D a production day, W an ISO week (its Monday), B a block of 13 ISO weeks (the
Monday of its first); start is the first day of the span. detail 1 rows are by model and shift; detail 0 rows are
their total, with model and shift ''. found is which severities a unit had: 4 critical + 2 major + 1 minor;
with_major_minor counts units with a major or a minor, and so on; meant is the first point that is meant to find the
type, '' where the plant names none.

A unit counts on its *seen day*, once every end point of its build has presented it (`qc.domain.counts` says when and
why). All its defects of first presentations count on that day, so that defects and units are always the same units'.
The work tables also hold the day on which the unit was worked on at the origin; their *_part tables are by seen
day, so that one seen day can be taken out and put back.
"""

SUMMARIES = """
CREATE TABLE presented_sum (
  span TEXT NOT NULL CHECK (span IN ('D', 'W', 'B')),
  detail INTEGER NOT NULL CHECK (detail IN (0, 1)),
  start TEXT NOT NULL,
  point TEXT NOT NULL,
  found INTEGER NOT NULL CHECK (found BETWEEN 0 AND 7),
  model TEXT NOT NULL,
  shift TEXT NOT NULL,
  units INTEGER NOT NULL CHECK (units > 0),
  whole INTEGER NOT NULL CHECK (whole <= units),
  clean_major INTEGER NOT NULL CHECK (clean_major <= whole),
  clean_all INTEGER NOT NULL CHECK (clean_all <= clean_major),
  critical INTEGER NOT NULL,
  major INTEGER NOT NULL,
  minor INTEGER NOT NULL,
  PRIMARY KEY (span, detail, start, point, found, model, shift)
) STRICT, WITHOUT ROWID;

CREATE TABLE type_sum (
  span TEXT NOT NULL CHECK (span IN ('D', 'W', 'B')),
  detail INTEGER NOT NULL CHECK (detail IN (0, 1)),
  start TEXT NOT NULL,
  type TEXT NOT NULL,
  model TEXT NOT NULL,
  shift TEXT NOT NULL,
  critical INTEGER NOT NULL,
  major INTEGER NOT NULL,
  minor INTEGER NOT NULL,
  PRIMARY KEY (span, detail, start, type, model, shift)
) STRICT, WITHOUT ROWID;

CREATE TABLE origin_type_sum (
  span TEXT NOT NULL CHECK (span IN ('D', 'W', 'B')),
  detail INTEGER NOT NULL CHECK (detail IN (0, 1)),
  start TEXT NOT NULL,
  origin TEXT NOT NULL,
  type TEXT NOT NULL,
  model TEXT NOT NULL,
  shift TEXT NOT NULL,
  confirmed_critical INTEGER NOT NULL,
  confirmed_major INTEGER NOT NULL,
  confirmed_minor INTEGER NOT NULL,
  suspected_critical INTEGER NOT NULL,
  suspected_major INTEGER NOT NULL,
  suspected_minor INTEGER NOT NULL,
  PRIMARY KEY (span, detail, start, origin, type, model, shift)
) STRICT, WITHOUT ROWID;

CREATE TABLE origin_point_sum (
  span TEXT NOT NULL CHECK (span IN ('D', 'W', 'B')),
  detail INTEGER NOT NULL CHECK (detail IN (0, 1)),
  start TEXT NOT NULL,
  origin TEXT NOT NULL,
  meant TEXT NOT NULL,
  point TEXT NOT NULL,
  model TEXT NOT NULL,
  shift TEXT NOT NULL,
  confirmed_critical INTEGER NOT NULL,
  confirmed_major INTEGER NOT NULL,
  confirmed_minor INTEGER NOT NULL,
  suspected_critical INTEGER NOT NULL,
  suspected_major INTEGER NOT NULL,
  suspected_minor INTEGER NOT NULL,
  PRIMARY KEY (span, detail, start, origin, meant, point, model, shift)
) STRICT, WITHOUT ROWID;

CREATE TABLE station_sum (
  span TEXT NOT NULL CHECK (span IN ('D', 'W', 'B')),
  detail INTEGER NOT NULL CHECK (detail IN (0, 1)),
  start TEXT NOT NULL,
  origin TEXT NOT NULL,
  found INTEGER NOT NULL CHECK (found BETWEEN 1 AND 7),
  model TEXT NOT NULL,
  shift TEXT NOT NULL,
  units INTEGER NOT NULL CHECK (units > 0),
  confirmed_critical INTEGER NOT NULL,
  confirmed_major INTEGER NOT NULL,
  confirmed_minor INTEGER NOT NULL,
  suspected_critical INTEGER NOT NULL,
  suspected_major INTEGER NOT NULL,
  suspected_minor INTEGER NOT NULL,
  PRIMARY KEY (span, detail, start, origin, found, model, shift)
) STRICT, WITHOUT ROWID;

CREATE TABLE work_part (
  seen_day TEXT NOT NULL,
  start TEXT NOT NULL,
  origin TEXT NOT NULL,
  found INTEGER NOT NULL CHECK (found BETWEEN 0 AND 7),
  model TEXT NOT NULL,
  shift TEXT NOT NULL,
  units INTEGER NOT NULL CHECK (units > 0),
  confirmed_critical INTEGER NOT NULL,
  confirmed_major INTEGER NOT NULL,
  confirmed_minor INTEGER NOT NULL,
  suspected_critical INTEGER NOT NULL,
  suspected_major INTEGER NOT NULL,
  suspected_minor INTEGER NOT NULL,
  PRIMARY KEY (seen_day, start, origin, found, model, shift)
) STRICT, WITHOUT ROWID;
CREATE INDEX work_part_start ON work_part (start);

CREATE TABLE work_sum (
  span TEXT NOT NULL CHECK (span IN ('W', 'B')),
  detail INTEGER NOT NULL CHECK (detail IN (0, 1)),
  start TEXT NOT NULL,
  origin TEXT NOT NULL,
  found INTEGER NOT NULL CHECK (found BETWEEN 0 AND 7),
  model TEXT NOT NULL,
  shift TEXT NOT NULL,
  units INTEGER NOT NULL CHECK (units > 0),
  confirmed_critical INTEGER NOT NULL,
  confirmed_major INTEGER NOT NULL,
  confirmed_minor INTEGER NOT NULL,
  suspected_critical INTEGER NOT NULL,
  suspected_major INTEGER NOT NULL,
  suspected_minor INTEGER NOT NULL,
  PRIMARY KEY (span, detail, start, origin, found, model, shift)
) STRICT, WITHOUT ROWID;

CREATE TABLE work_point_part (
  seen_day TEXT NOT NULL,
  start TEXT NOT NULL,
  origin TEXT NOT NULL,
  point TEXT NOT NULL,
  model TEXT NOT NULL,
  shift TEXT NOT NULL,
  confirmed_critical INTEGER NOT NULL,
  confirmed_major INTEGER NOT NULL,
  confirmed_minor INTEGER NOT NULL,
  suspected_critical INTEGER NOT NULL,
  suspected_major INTEGER NOT NULL,
  suspected_minor INTEGER NOT NULL,
  PRIMARY KEY (seen_day, start, origin, point, model, shift)
) STRICT, WITHOUT ROWID;
CREATE INDEX work_point_part_start ON work_point_part (start);

CREATE TABLE work_point_sum (
  span TEXT NOT NULL CHECK (span IN ('W', 'B')),
  detail INTEGER NOT NULL CHECK (detail IN (0, 1)),
  start TEXT NOT NULL,
  origin TEXT NOT NULL,
  point TEXT NOT NULL,
  model TEXT NOT NULL,
  shift TEXT NOT NULL,
  confirmed_critical INTEGER NOT NULL,
  confirmed_major INTEGER NOT NULL,
  confirmed_minor INTEGER NOT NULL,
  suspected_critical INTEGER NOT NULL,
  suspected_major INTEGER NOT NULL,
  suspected_minor INTEGER NOT NULL,
  PRIMARY KEY (span, detail, start, origin, point, model, shift)
) STRICT, WITHOUT ROWID;

CREATE TABLE looker_sum (
  span TEXT NOT NULL CHECK (span IN ('D', 'W', 'B')),
  detail INTEGER NOT NULL CHECK (detail IN (0, 1)),
  start TEXT NOT NULL,
  point TEXT NOT NULL,
  inspector TEXT NOT NULL,
  model TEXT NOT NULL,
  shift TEXT NOT NULL,
  units INTEGER NOT NULL CHECK (units > 0),
  PRIMARY KEY (span, detail, start, point, inspector, model, shift)
) STRICT, WITHOUT ROWID;

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

# A station's units with a defect, one column for each set of severities, where 2 had a row for each: seven times
# fewer rows to read for two years of every station. The days are all counted again at the next reading.
STATION_SUMS = """
DROP TABLE station_sum;
CREATE TABLE station_sum (
  span TEXT NOT NULL CHECK (span IN ('D', 'W', 'B')),
  detail INTEGER NOT NULL CHECK (detail IN (0, 1)),
  start TEXT NOT NULL,
  origin TEXT NOT NULL,
  model TEXT NOT NULL,
  shift TEXT NOT NULL,
  with_minor INTEGER NOT NULL,
  with_major INTEGER NOT NULL,
  with_major_minor INTEGER NOT NULL,
  with_critical INTEGER NOT NULL,
  with_critical_minor INTEGER NOT NULL,
  with_critical_major INTEGER NOT NULL,
  with_any INTEGER NOT NULL,
  confirmed_critical INTEGER NOT NULL,
  confirmed_major INTEGER NOT NULL,
  confirmed_minor INTEGER NOT NULL,
  suspected_critical INTEGER NOT NULL,
  suspected_major INTEGER NOT NULL,
  suspected_minor INTEGER NOT NULL,
  PRIMARY KEY (span, detail, start, origin, model, shift)
) STRICT, WITHOUT ROWID;

DROP TABLE work_part;
CREATE TABLE work_part (
  seen_day TEXT NOT NULL,
  start TEXT NOT NULL,
  origin TEXT NOT NULL,
  model TEXT NOT NULL,
  shift TEXT NOT NULL,
  units INTEGER NOT NULL CHECK (units > 0),
  with_minor INTEGER NOT NULL,
  with_major INTEGER NOT NULL,
  with_major_minor INTEGER NOT NULL,
  with_critical INTEGER NOT NULL,
  with_critical_minor INTEGER NOT NULL,
  with_critical_major INTEGER NOT NULL,
  with_any INTEGER NOT NULL,
  confirmed_critical INTEGER NOT NULL,
  confirmed_major INTEGER NOT NULL,
  confirmed_minor INTEGER NOT NULL,
  suspected_critical INTEGER NOT NULL,
  suspected_major INTEGER NOT NULL,
  suspected_minor INTEGER NOT NULL,
  PRIMARY KEY (seen_day, start, origin, model, shift)
) STRICT, WITHOUT ROWID;
CREATE INDEX work_part_start ON work_part (start);

DROP TABLE work_sum;
CREATE TABLE work_sum (
  span TEXT NOT NULL CHECK (span IN ('W', 'B')),
  detail INTEGER NOT NULL CHECK (detail IN (0, 1)),
  start TEXT NOT NULL,
  origin TEXT NOT NULL,
  model TEXT NOT NULL,
  shift TEXT NOT NULL,
  units INTEGER NOT NULL CHECK (units > 0),
  with_minor INTEGER NOT NULL,
  with_major INTEGER NOT NULL,
  with_major_minor INTEGER NOT NULL,
  with_critical INTEGER NOT NULL,
  with_critical_minor INTEGER NOT NULL,
  with_critical_major INTEGER NOT NULL,
  with_any INTEGER NOT NULL,
  confirmed_critical INTEGER NOT NULL,
  confirmed_major INTEGER NOT NULL,
  confirmed_minor INTEGER NOT NULL,
  suspected_critical INTEGER NOT NULL,
  suspected_major INTEGER NOT NULL,
  suspected_minor INTEGER NOT NULL,
  PRIMARY KEY (span, detail, start, origin, model, shift)
) STRICT, WITHOUT ROWID;

INSERT OR IGNORE INTO dirty_day (production_day)
SELECT production_day FROM inspection WHERE production_day IS NOT NULL;
"""

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
LEFT_UNITS = """
ALTER TABLE presented_unit ADD COLUMN left_day TEXT;
CREATE TABLE left_sum (
  span TEXT NOT NULL CHECK (span IN ('D', 'W', 'B')),
  detail INTEGER NOT NULL CHECK (detail IN (0, 1)),
  start TEXT NOT NULL,
  left_day TEXT NOT NULL, -- '' for units that have not
  model TEXT NOT NULL,
  shift TEXT NOT NULL,
  units INTEGER NOT NULL CHECK (units > 0),
  at_points INTEGER NOT NULL,
  with_after INTEGER NOT NULL CHECK (with_after <= units),
  after_dispatch INTEGER NOT NULL,
  later INTEGER NOT NULL,
  PRIMARY KEY (span, detail, start, left_day, model, shift)
) STRICT, WITHOUT ROWID;
CREATE TRIGGER release_marks_days AFTER INSERT ON release_record
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
