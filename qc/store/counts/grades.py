"""How many defects of a slice's units have which of the plant's own severities, beside what these count as."""

import sqlite3

from qc.domain.counted.counts import Slice
from qc.store.counts.narrowing import parameters
from qc.store.counts.spans import Spans

# As the summaries count them: a standing defect of a first presentation, on units that every end point has presented.
GRADES = """
SELECT d.severity, d.grade, count(*)
  FROM presented_unit AS p
 CROSS JOIN defect AS d ON d.unit = p.unit
 WHERE p.day >= :first AND p.day < :end
   AND (:every_model OR p.model IN (SELECT value FROM json_each(:models)))
   AND (:every_build OR p.model || ' ' || p.line IN (SELECT value FROM json_each(:builds)))
   AND (:every_shift OR p.shift IN (SELECT value FROM json_each(:shifts)))
   AND d.state <> 'withdrawn'
   AND d.point <> 'FIELD'
   AND d.first_presentation = 1
   AND (d.severity = 'critical' AND :critical OR d.severity = 'major' AND :major OR d.severity = 'minor' AND :minor)
 GROUP BY d.severity, d.grade
"""


def grade_counts(connection: sqlite3.Connection, slice_: Slice) -> dict[tuple[str, str], int]:
    """Return the defects by (severity, code of the plant's own), the code "" where none was said; absent is none."""
    asked = parameters(slice_, Spans("D", slice_.first, slice_.end), False)
    return {(severity, grade): count for severity, grade, count in connection.execute(GRADES, asked)}
