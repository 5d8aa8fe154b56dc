"""What tests of one unit's page share: its report, and a defect found on it."""

from qc.reports.units.unit import UnitReport, unit_report
from qc.store.reading.reads import Reads
from tests.store.record_kit import PLANT


def reported(journal, unit) -> UnitReport:
    reads = Reads(journal.folder, PLANT)
    try:
        return unit_report(reads, PLANT, unit)
    finally:
        reads.close()


def found(phone, unit, inspection, **more):
    body = {"point": "D01", "zone": "front.panel", "type": "EXT-01", "severity": "minor", **more}
    return phone.must("defect_recorded", "I1", unit, inspection=inspection, **body)
