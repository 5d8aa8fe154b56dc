"""The quality manager's week: safety, fitness of the data, level, first-pass, Pareto, escapes, in that order."""

from dataclasses import dataclass

from qc.reports.data_quality import DataQuality
from qc.reports.first_pass import FirstPassBoth
from qc.reports.level import Level
from qc.reports.origin_table import OriginTable
from qc.reports.pareto_tables import ParetoTables
from qc.reports.periods import Period
from qc.reports.safety import Safety


@dataclass(frozen=True, slots=True)
class Review:
    """One week's review. window: the weeks before it (8) of the Pareto; history: the weeks of the charts, this one
    included; escape_window: the weeks of the origin × detection table. models, shifts: what it is narrowed to, ()
    all. made_ms: the instant for which it was made. cautions: sentences that close the page.
    """

    week: Period
    window: Period
    history: Period
    escape_window: Period
    models: tuple[str, ...]
    shifts: tuple[str, ...]
    made_ms: int
    safety: Safety
    data_quality: DataQuality
    level: Level
    first_pass: FirstPassBoth
    pareto_by_type: ParetoTables
    pareto_by_origin: ParetoTables
    origin_table: OriginTable
    cautions: tuple[str, ...]
