"""Whose the defects of a station are: made here by what is settled and expected, or come through from upstream."""

from qc.charts.pages.station_expected import expected_picture, figures
from qc.charts.pages.station_upstream import upstream_figures, upstream_picture, upstream_types_table
from qc.reports.asking import Asking
from qc.reports.stations.station import StationReport
from qc.reports.stations.station_expected import station_expected
from qc.reports.stations.station_upstream import station_upstream
from qc.reports.week.under_way import units_under_way
from qc.web.house import House
from qc.web.pages.page_counts import counts_of


def station_origins(house: House, report: StationReport) -> dict[str, object]:
    """Return what the template prints of it, for the weeks of the station's own trend."""
    ask = Asking(counts=counts_of(house), plant=house.shown, now_ms=house.clock())
    expected = station_expected(ask, report.history, report.station)
    upstream = station_upstream(ask, report.history, report.station)
    return {
        "under_way": units_under_way(ask, report.week),
        "expected": expected,
        "expected_figures": figures(expected),
        "expected_picture": expected_picture(expected),
        "upstream": upstream,
        "upstream_figures": upstream_figures(upstream),
        "upstream_picture": upstream_picture(upstream),
        "upstream_types": upstream_types_table(upstream),
    }
