"""What a lead's cards show beside the words: where it was touched, which card comes next, the weeks in a drawing."""

from collections.abc import Sequence
from dataclasses import dataclass

from qc.charts.drawing.sparkline import SparkWeek, spark_line
from qc.charts.kinds.point_map import point_drawing
from qc.domain.plant.plant import Plant
from qc.reports.stations.station import WaitingDefect
from qc.reports.stations.station_trend import StationTrend
from qc.stats.answers import TooLittle


@dataclass(frozen=True, slots=True)
class Place:
    """The view on which a defect was touched, drawn, with its name."""

    name: str
    svg: str


def touched(plant: Plant, waiting: Sequence[WaitingDefect]) -> dict[str, Place | None]:
    """Return for each defect the drawing of its view, None where the plant's drawings have no such zone any more."""
    return {one.defect: _place(plant, one) for one in waiting}


def _place(plant: Plant, one: WaitingDefect) -> Place | None:
    zone = plant.zones.get((one.model, one.zone))
    view = plant.views.get(zone.view) if zone else None
    if view is None:
        return None
    return Place(
        view.name,
        point_drawing(view, plant.zones_of(one.model, ended=True), one.zone, one.mark, plant.outlines_of(one.model)),
    )


def following(waiting: Sequence[WaitingDefect]) -> dict[str, str]:
    """Return for each card's defect that of the card after it, or of the one before the last; "" for none."""
    ids = [one.defect for one in waiting]
    after = [*ids[1:], ids[-2] if len(ids) > 1 else ""] if ids else []
    return dict(zip(ids, after, strict=True))


def trend_spark(trend: StationTrend) -> str:
    """Return the station's weeks of work in the height of two lines, over what is usual for each."""
    return spark_line(
        [
            SparkWeek(
                float(dot.defects) if dot.exposed else None,
                None if isinstance(dot.usual, TooLittle) else dot.usual.low,
                None if isinstance(dot.usual, TooLittle) else dot.usual.high,
                dot.state == "more",
                dot.state == "partial",
            )
            for dot in trend.dots
        ]
    )
