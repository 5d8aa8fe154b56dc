"""Projections: what each kind of operation does to the derived tables, one module a subject.

A handler gets the connection and the `Arrival`. It raises `Refusal` before it writes anything, or writes all of it.
To add a kind: its shape in `domain.operations`, its step in `domain.unit`, its handler here.
"""

import sqlite3
from collections.abc import Callable

from qc.store.arrivals import Arrival
from qc.store.projections import changes, defects, inspections, lines, mutes, origin, release, repairs, tests, units

Handler = Callable[[sqlite3.Connection, Arrival], None]

HANDLERS: dict[str, Handler] = {
    "unit_planned": units.planned,
    "station_passed": units.station_passed,
    "inspection_begun": inspections.begun,
    "inspection_ended": inspections.ended,
    "zone_looked_at": inspections.zones_looked_at,
    "zone_not_looked_at": inspections.zone_not_looked_at,
    "defect_recorded": defects.recorded,
    "field_finding": defects.field_finding,
    "defect_corrected": changes.corrected,
    "defect_withdrawn": changes.withdrawn,
    "photo_attached": defects.photo_attached,
    "photo_withdrawn": defects.photo_withdrawn,
    "test_recorded": tests.recorded,
    "test_withdrawn": tests.withdrawn,
    "origin_suspected": origin.spoken,
    "origin_confirmed": origin.spoken,
    "origin_passed_on": origin.spoken,
    "origin_disputed": origin.spoken,
    "origin_settled": origin.spoken,
    "repair_done": repairs.done,
    "recheck_accepted": repairs.accepted,
    "recheck_failed": repairs.failed,
    "unit_released": release.released,
    "change_noted": lines.change_noted,
    "signal_muted": mutes.muted,
    "signal_unmuted": mutes.unmuted,
}
