"""Count whole production days from the rows of the record: the statements, in the order in which they run.

They read `temp.stale_day` (days to count), `temp.build`, `temp.needed_point` and `temp.lead_day`, and fill the D rows
(detail 1) of the summary tables and the work parts of those days. CROSS JOIN keeps the written order, from the few
units of the days to their rows by index; ANALYZE of the scratch tables tells the planner that they are few (it takes
an unknown table for a large one, once the record itself has statistics, and reads every row of the record).
"""

from qc.domain.counted.counts import FOLLOW_DAYS

SCRATCH = (
    "CREATE TEMP TABLE IF NOT EXISTS asked_day (day TEXT PRIMARY KEY) WITHOUT ROWID",
    "CREATE TEMP TABLE IF NOT EXISTS candidate (unit TEXT PRIMARY KEY) WITHOUT ROWID",
    "CREATE TEMP TABLE IF NOT EXISTS touched_unit (unit TEXT PRIMARY KEY) WITHOUT ROWID",
    "CREATE TEMP TABLE IF NOT EXISTS stale_day (day TEXT PRIMARY KEY) WITHOUT ROWID",
    """
    CREATE TEMP TABLE IF NOT EXISTS build (
      model TEXT, line TEXT, station TEXT, PRIMARY KEY (model, line, station)
    ) WITHOUT ROWID
    """,
    """
    CREATE TEMP TABLE IF NOT EXISTS needed_point (
      model TEXT, line TEXT, point TEXT, first_day TEXT, end_day TEXT, PRIMARY KEY (model, line, point)
    ) WITHOUT ROWID
    """,
    "CREATE TEMP TABLE IF NOT EXISTS meant_point (type TEXT PRIMARY KEY, point TEXT) WITHOUT ROWID",
    """
    CREATE TEMP TABLE IF NOT EXISTS lead_day (
      day TEXT, station TEXT, work_day TEXT, PRIMARY KEY (day, station)
    ) WITHOUT ROWID
    """,
    """
    CREATE TEMP TABLE IF NOT EXISTS seen_unit (
      unit TEXT PRIMARY KEY, day TEXT, model TEXT, line TEXT, shift TEXT, left_day TEXT, clean_major INTEGER,
      clean_all INTEGER
    ) WITHOUT ROWID
    """,
    """
    CREATE TEMP TABLE IF NOT EXISTS flaw (
      unit TEXT, day TEXT, model TEXT, line TEXT, shift TEXT, point TEXT, type TEXT, meant TEXT, origin TEXT,
      settled INTEGER, critical INTEGER, major INTEGER, minor INTEGER, late INTEGER
    )
    """,
    "CREATE INDEX IF NOT EXISTS temp.flaw_unit ON flaw (unit, origin)",
    """
    CREATE TEMP TABLE IF NOT EXISTS worked_unit (
      unit TEXT, origin TEXT, day TEXT, work_day TEXT, model TEXT, line TEXT, shift TEXT,
      PRIMARY KEY (unit, origin)
    ) WITHOUT ROWID
    """,
)

WORK_DAYS_OF_SEEN = """
SELECT start FROM work_part WHERE seen_day IN (SELECT day FROM temp.stale_day)
 UNION
SELECT start FROM work_point_part WHERE seen_day IN (SELECT day FROM temp.stale_day)
"""

CANDIDATES = """
INSERT OR IGNORE INTO temp.candidate (unit)
SELECT i.unit
  FROM temp.stale_day AS d
 CROSS JOIN inspection AS i ON i.production_day = d.day
"""

# The first presentations of the units at the end points that they need, one a unit and point.
_PRESENTATIONS = """
          FROM {units} AS c
         CROSS JOIN unit AS u ON u.chassis = c.unit
         CROSS JOIN inspection AS i ON i.unit = c.unit
         CROSS JOIN temp.needed_point AS n
            ON n.model = u.model AND n.line = u.line AND n.point = i.point
           AND n.first_day <= u.planned_day AND u.planned_day < n.end_day
         WHERE i.purpose = 'presentation'
           AND i.presentation = 1
           AND i.ended_ms IS NOT NULL
           AND i.production_day IS NOT NULL"""

# Also those that had a presentation on one of the days and have none any more, which no inspection tells.
NO_LONGER_PRESENTED = """
DELETE FROM presented_unit
 WHERE unit IN (SELECT unit FROM temp.candidate
                 UNION
                SELECT p.unit FROM temp.stale_day AS d CROSS JOIN presented_unit AS p ON p.day = d.day
                 UNION
                SELECT p.unit FROM temp.stale_day AS d
                 CROSS JOIN presented_unit AS p ON p.day IS NULL AND p.first_day = d.day)
"""

# The release with which a unit left, by `qc.domain.counted.counts`; plant_day is a function that the keeper gives.
LEFT_DAY = """coalesce(
         (SELECT max(plant_day(r.released_ms)) FROM release_record AS r
           WHERE r.unit = p.unit
             AND plant_day(r.released_ms) <= coalesce((SELECT min(d.production_day) FROM defect AS d
                                                        WHERE d.unit = p.unit AND d.point = 'FIELD'
                                                          AND d.state <> 'withdrawn'), '~')),
         (SELECT min(plant_day(r.released_ms)) FROM release_record AS r WHERE r.unit = p.unit))"""

# When a unit counts is said in `qc.domain.counted.counts`; here is where it is worked out, and nowhere else.
PRESENTED_UNITS = f"""
INSERT INTO presented_unit (unit, model, line, first_day, day, shift, left_day)
SELECT p.unit, p.model, p.line, p.first_day, CASE WHEN p.whole THEN p.production_day END,
       CASE WHEN p.whole THEN p.shift END, {LEFT_DAY}
  FROM (SELECT i.unit, u.model, u.line, i.production_day, i.shift,
               row_number() OVER (PARTITION BY i.unit ORDER BY i.ended_ms DESC, i.number DESC) AS place,
               min(i.production_day) OVER (PARTITION BY i.unit) AS first_day,
               count(*) OVER (PARTITION BY i.unit)
                 = (SELECT count(*) FROM temp.needed_point AS w
                     WHERE w.model = u.model AND w.line = u.line
                       AND w.first_day <= u.planned_day AND u.planned_day < w.end_day) AS whole
{_PRESENTATIONS.format(units="temp.candidate")}) AS p
 WHERE p.place = 1
"""

_STALE_UNITS = "(SELECT p.unit FROM temp.stale_day AS d CROSS JOIN presented_unit AS p ON p.day = d.day)"
SEEN_UNITS = f"""
INSERT INTO temp.seen_unit (unit, day, model, line, shift, left_day, clean_major, clean_all)
SELECT s.unit, s.day, s.model, s.line, s.shift, s.left_day, p.clean_major, p.clean_all
  FROM (SELECT i.unit, min(coalesce(i.clean_major, 0)) AS clean_major, min(coalesce(i.clean_all, 0)) AS clean_all
{_PRESENTATIONS.format(units=_STALE_UNITS)}
         GROUP BY i.unit) AS p
 CROSS JOIN presented_unit AS s ON s.unit = p.unit
"""

# Found at a first presentation that has ended, or before any (inspection NULL), or after dispatch.
FLAWS = f"""
INSERT INTO temp.flaw (unit, day, model, line, shift, point, type, meant, origin, settled, critical, major, minor, late)
SELECT s.unit, s.day, s.model, s.line, s.shift, d.point, d.type, coalesce(t.point, ''),
       CASE WHEN d.origin_state IN ('confirmed', 'settled') THEN coalesce(d.confirmed, 'UNK')
            WHEN d.origin_state = 'suspected' THEN coalesce(d.suspected, 'UNK')
            ELSE 'UNK' END,
       d.origin_state IN ('confirmed', 'settled'),
       d.severity = 'critical', d.severity = 'major', d.severity = 'minor',
       coalesce(d.point = 'FIELD' AND d.production_day > date(s.left_day, '+{FOLLOW_DAYS} days'), 0)
  FROM temp.seen_unit AS s
 CROSS JOIN defect AS d ON d.unit = s.unit
  LEFT JOIN inspection AS i ON i.id = d.inspection
  LEFT JOIN temp.meant_point AS t ON t.type = d.type
 WHERE d.state <> 'withdrawn'
   AND (d.point = 'FIELD' OR d.first_presentation = 1)
   AND (d.inspection IS NULL OR i.ended_ms IS NOT NULL)
"""

POINT_UNITS = """
INSERT INTO presented_sum
SELECT 'D', 1, p.day, p.point, 4 * (p.critical > 0) + 2 * (p.major > 0) + (p.minor > 0), p.model, p.line, p.shift,
       count(*), count(*), sum(p.clean_major), sum(p.clean_all), sum(p.critical), sum(p.major), sum(p.minor)
  FROM (SELECT i.production_day AS day, i.point, u.model, u.line, i.shift,
               coalesce(i.clean_major, 0) AS clean_major, coalesce(i.clean_all, 0) AS clean_all,
               coalesce(sum(d.severity = 'critical'), 0) AS critical,
               coalesce(sum(d.severity = 'major'), 0) AS major,
               coalesce(sum(d.severity = 'minor'), 0) AS minor
          FROM temp.stale_day AS s
         CROSS JOIN inspection AS i ON i.production_day = s.day
         CROSS JOIN unit AS u ON u.chassis = i.unit
          LEFT JOIN defect AS d
            ON d.unit = i.unit AND d.point = i.point AND d.first_presentation = 1 AND d.state <> 'withdrawn'
         WHERE i.purpose = 'presentation'
           AND i.presentation = 1
           AND i.ended_ms IS NOT NULL
         GROUP BY i.id) AS p
 GROUP BY 3, 4, 5, 6, 7, 8
"""

# Point '' is the unit as a whole.
WHOLE_UNITS = """
INSERT INTO presented_sum
SELECT 'D', 1, p.day, '', 4 * (p.critical > 0) + 2 * (p.major > 0) + (p.minor > 0), p.model, p.line, p.shift,
       count(*), count(*), sum(p.clean_major), sum(p.clean_all),
       sum(p.critical), sum(p.major), sum(p.minor)
  FROM (SELECT s.day, s.model, s.line, s.shift, s.clean_major, s.clean_all,
               coalesce(sum(f.critical), 0) AS critical,
               coalesce(sum(f.major), 0) AS major,
               coalesce(sum(f.minor), 0) AS minor
          FROM temp.seen_unit AS s
          LEFT JOIN temp.flaw AS f ON f.unit = s.unit AND f.point <> 'FIELD'
         GROUP BY s.unit) AS p
 GROUP BY 3, 5, 6, 7, 8
"""

TYPES = """
INSERT INTO type_sum
SELECT 'D', 1, day, type, model, line, shift, sum(critical), sum(major), sum(minor)
  FROM temp.flaw
 WHERE point <> 'FIELD'
 GROUP BY day, type, model, line, shift
"""

ORIGIN_TYPES = """
INSERT INTO origin_type_sum
SELECT 'D', 1, day, origin, type, model, line, shift,
       sum(settled * critical), sum(settled * major), sum(settled * minor),
       sum((1 - settled) * critical), sum((1 - settled) * major), sum((1 - settled) * minor)
  FROM temp.flaw
 WHERE point <> 'FIELD'
 GROUP BY day, origin, type, model, line, shift
"""

ORIGIN_POINTS = """
INSERT INTO origin_point_sum
SELECT 'D', 1, day, origin, meant, point, model, line, shift,
       sum(settled * critical), sum(settled * major), sum(settled * minor),
       sum((1 - settled) * critical), sum((1 - settled) * major), sum((1 - settled) * minor)
  FROM temp.flaw
 GROUP BY 3, 4, 5, 6, 7, 8, 9
"""

LEFT_UNITS = """
INSERT INTO left_sum
SELECT 'D', 1, p.day, coalesce(p.left_day, ''), p.model, p.line, p.shift,
       count(*), sum(p.at_points), sum(p.after_dispatch > 0), sum(p.after_dispatch), sum(p.later)
  FROM (SELECT s.day, s.left_day, s.model, s.line, s.shift,
               coalesce(sum(f.point <> 'FIELD'), 0) AS at_points,
               coalesce(sum(f.point = 'FIELD' AND NOT f.late), 0) AS after_dispatch,
               coalesce(sum(f.late), 0) AS later
          FROM temp.seen_unit AS s
          LEFT JOIN temp.flaw AS f ON f.unit = s.unit
         GROUP BY s.unit) AS p
 GROUP BY 3, 4, 5, 6, 7
"""

STATIONS = """
INSERT INTO station_sum
SELECT 'D', 1, p.day, p.origin, p.model, p.line, p.shift,
       sum((p.found & 1) > 0), sum((p.found & 2) > 0), sum((p.found & 3) > 0), sum((p.found & 4) > 0),
       sum((p.found & 5) > 0), sum((p.found & 6) > 0), sum((p.found & 7) > 0),
       sum(p.c4), sum(p.c2), sum(p.c1), sum(p.s4), sum(p.s2), sum(p.s1)
  FROM (SELECT day, origin, model, line, shift, 4 * max(critical) + 2 * max(major) + max(minor) AS found,
               sum(settled * critical) AS c4, sum(settled * major) AS c2, sum(settled * minor) AS c1,
               sum((1 - settled) * critical) AS s4, sum((1 - settled) * major) AS s2, sum((1 - settled) * minor) AS s1
          FROM temp.flaw
         WHERE point <> 'FIELD'
         GROUP BY unit, origin) AS p
 GROUP BY 3, 4, 5, 6, 7
"""

LOOKERS = """
INSERT INTO looker_sum
SELECT 'D', 1, i.production_day, i.point, i.inspector, u.model, u.line, i.shift, count(*)
  FROM temp.stale_day AS s
 CROSS JOIN inspection AS i ON i.production_day = s.day
 CROSS JOIN unit AS u ON u.chassis = i.unit
 WHERE i.purpose = 'presentation'
   AND i.presentation = 1
   AND i.ended_ms IS NOT NULL
 GROUP BY 3, 4, 5, 6, 7, 8
"""

# The day a unit was worked on at a station: its scan there, else the plant's lead-time rule from its seen day.
WORKED_UNITS = """
INSERT INTO temp.worked_unit (unit, origin, day, work_day, model, line, shift)
SELECT s.unit, b.station, s.day, coalesce(p.production_day, l.work_day), s.model, s.line, s.shift
  FROM temp.seen_unit AS s
 CROSS JOIN temp.build AS b ON b.model = s.model AND b.line = s.line
 CROSS JOIN temp.lead_day AS l ON l.day = s.day AND l.station = b.station
  LEFT JOIN station_pass AS p ON p.unit = s.unit AND p.station = b.station
"""

# Supplier, handling, rework bay, not known: no station works there, the seen day stands for the work day.
WORKED_ELSEWHERE = """
INSERT OR IGNORE INTO temp.worked_unit (unit, origin, day, work_day, model, line, shift)
SELECT DISTINCT unit, origin, day, day, model, line, shift FROM temp.flaw
"""

WORK_PARTS = """
INSERT INTO work_part
SELECT p.day, p.work_day, p.origin, p.model, p.line, p.shift, count(*),
       sum((p.found & 1) > 0), sum((p.found & 2) > 0), sum((p.found & 3) > 0), sum((p.found & 4) > 0),
       sum((p.found & 5) > 0), sum((p.found & 6) > 0), sum((p.found & 7) > 0),
       sum(p.c4), sum(p.c2), sum(p.c1), sum(p.s4), sum(p.s2), sum(p.s1)
  FROM (SELECT w.day, w.work_day, w.origin, w.model, w.line, w.shift,
               coalesce(4 * max(f.critical) + 2 * max(f.major) + max(f.minor), 0) AS found,
               coalesce(sum(f.settled * f.critical), 0) AS c4,
               coalesce(sum(f.settled * f.major), 0) AS c2,
               coalesce(sum(f.settled * f.minor), 0) AS c1,
               coalesce(sum((1 - f.settled) * f.critical), 0) AS s4,
               coalesce(sum((1 - f.settled) * f.major), 0) AS s2,
               coalesce(sum((1 - f.settled) * f.minor), 0) AS s1
          FROM temp.worked_unit AS w
          LEFT JOIN temp.flaw AS f ON f.unit = w.unit AND f.origin = w.origin AND f.point <> 'FIELD'
         GROUP BY w.unit, w.origin) AS p
 GROUP BY 1, 2, 3, 4, 5, 6
"""

WORK_POINT_PARTS = """
INSERT INTO work_point_part
SELECT f.day, w.work_day, f.origin, f.point, f.model, f.line, f.shift,
       sum(f.settled * f.critical), sum(f.settled * f.major), sum(f.settled * f.minor),
       sum((1 - f.settled) * f.critical), sum((1 - f.settled) * f.major), sum((1 - f.settled) * f.minor)
  FROM temp.flaw AS f
 CROSS JOIN temp.worked_unit AS w ON w.unit = f.unit AND w.origin = f.origin
 GROUP BY 1, 2, 3, 4, 5, 6, 7
"""

COUNT_DAYS = (
    "DELETE FROM work_part WHERE seen_day IN (SELECT day FROM temp.stale_day)",
    "DELETE FROM work_point_part WHERE seen_day IN (SELECT day FROM temp.stale_day)",
    "DELETE FROM temp.candidate",
    "DELETE FROM temp.seen_unit",
    "DELETE FROM temp.flaw",
    "DELETE FROM temp.worked_unit",
    CANDIDATES,
    "ANALYZE temp.candidate",
    NO_LONGER_PRESENTED,
    PRESENTED_UNITS,
    SEEN_UNITS,
    "ANALYZE temp.seen_unit",
    FLAWS,
    POINT_UNITS,
    WHOLE_UNITS,
    TYPES,
    ORIGIN_TYPES,
    ORIGIN_POINTS,
    STATIONS,
    LOOKERS,
    LEFT_UNITS,
    WORKED_UNITS,
    WORKED_ELSEWHERE,
    WORK_PARTS,
    WORK_POINT_PARTS,
)
