"""What was noted as changed at the stations, as the charts of weeks show it."""

from collections.abc import Iterable
from datetime import date

from qc.charts.kinds.week_notes import WeekNote
from qc.domain.calendar import iso_week
from qc.reports.stations.station import ChangeNote
from qc.reports.table_revisions import criteria_revisions
from qc.web.house import House
from qc.web.pages.template_filters import CHANGES


def station_notes(notes: Iterable[ChangeNote]) -> tuple[WeekNote, ...]:
    """Return one station's notes by the week they count from."""
    return tuple(WeekNote(iso_week(note.from_day), f"{CHANGES[note.change]}: {note.what}") for note in notes)


def criteria_notes(house: House) -> tuple[WeekNote, ...]:
    """Return every change of criteria, noted or of the plant's tables: what was found before is not the same thing."""
    found = [
        WeekNote(iso_week(date.fromisoformat(note["from_day"])), f"{CHANGES['criteria']} at {station}: {note['what']}")
        for station in house.shown.stations
        for note in house.reads.change_notes(station)
        if note["change"] == "criteria"
    ]
    revised = (
        WeekNote(iso_week(one.from_day), f"The plant's tables changed: {'; '.join(one.criteria)} ({one.reason})")
        for one in criteria_revisions(house.reads)
    )
    return (*found, *revised)
