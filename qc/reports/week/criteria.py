"""From which days the criteria of looking changed, across which counts are not the same thing."""

from datetime import date

from qc.domain.plant.plant import Plant
from qc.reports.table_revisions import criteria_revisions
from qc.store.reading.reads import Reads


def criteria_days(reads: Reads, plant: Plant) -> tuple[date, ...]:
    """Return the production days from which criteria changed, wherever noted, in order."""
    notes = (note for station in plant.stations for note in reads.change_notes(station))
    noted = {date.fromisoformat(note["from_day"]) for note in notes if note["change"] == "criteria"}
    return tuple(sorted(noted | {one.from_day for one in criteria_revisions(reads)}))
