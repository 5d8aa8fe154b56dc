"""What was noted as changed at the stations, as the charts of weeks show it."""

from collections.abc import Iterable
from datetime import date

from qc.charts.kinds.week_notes import WeekNote
from qc.domain.plant.calendar import iso_week
from qc.domain.words.speaking import say
from qc.reports.stations.station import ChangeNote
from qc.reports.table_revisions import CriteriaRevision, criteria_revisions
from qc.web.house import House
from qc.web.pages.template_filters import CHANGES


def station_notes(notes: Iterable[ChangeNote]) -> tuple[WeekNote, ...]:
    """Return one station's notes by the week they count from."""
    return tuple(WeekNote(iso_week(note.from_day), f"{say(CHANGES[note.change])}: {note.what}") for note in notes)


def criteria_notes(house: House) -> tuple[WeekNote, ...]:
    """Return every change of criteria, noted or of the plant's tables: what was found before is not the same thing."""
    found = [
        WeekNote(
            iso_week(date.fromisoformat(note["from_day"])),
            say("Criteria changed at {station}: {what}", station=station, what=note["what"]),
        )
        for station in house.shown.stations
        for note in house.reads.change_notes(station)
        if note["change"] == "criteria"
    ]
    revised = (WeekNote(iso_week(one.from_day), _revised(one)) for one in criteria_revisions(house.reads))
    return (*found, *revised)


def _revised(one: CriteriaRevision) -> str:
    return say("The plant's tables changed: {criteria} ({reason})", criteria="; ".join(one.criteria), reason=one.reason)
