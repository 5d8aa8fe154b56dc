"""The page of all stations: what waits for each lead's word."""

from tests.recount.attributed import Expected, Rows, Sheet
from tests.recount.plant import NOT_KNOWN
from tests.recount.record import Defect
from tests.recount.view import View, spoken


def waits(view: View, station: str) -> list[Defect]:
    """Return the defects that wait for a station's lead: suspected there, nobody has answered, not withdrawn."""
    return [
        one
        for one in view.record.defects.values()
        if one.state != "withdrawn" and one.origin_state == "suspected" and one.suspected == station
    ]


def disputed(view: View, station: str) -> list[Defect]:
    """Return the defects of which a station's lead said that they are not from there; they wait for the manager."""
    return [
        one
        for one in view.record.defects.values()
        if one.state != "withdrawn" and one.origin_state == "disputed" and one.suspected == station
    ]


def stations_sheet(view: View, own: tuple[str, ...] = ()) -> Sheet:
    """Return the list that a person gets; own: the stations of a lead, () for the manager, who gets all."""
    stations = view.plant.stations
    rows = [
        (
            f"{spoken(code, stations)} {stations[code]['kind']}",
            ((len(waits(view, code)),), (len(disputed(view, code)),)),
        )
        for code in stations
        if code != NOT_KNOWN and (not own or code in own)
    ]
    return Sheet(
        rows=[Rows("Stations, the defects that wait for their lead's word{words:words}", lambda *_: Expected(rows))]
    )
