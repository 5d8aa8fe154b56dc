"""EWMA and cusum charts as pictures: averages against their limits, sums against the decision interval."""

from collections.abc import Sequence
from dataclasses import replace

from qc.charts.drawing import words
from qc.charts.drawing.picture import Picture
from qc.charts.drawing.scene import Look
from qc.charts.kinds.run_chart import RunPoint, RunWords, State, run_scene, run_table
from qc.stats.by_command.charts.cusum import CusumChart, CusumPoint
from qc.stats.by_command.charts.ewma import EwmaChart

MOST_NAMED = 12  # of signals in the sentence; the table has them all
AVERAGE_NAMES: dict[Look, str] = {
    "point": "the average up to a period",
    "signal": "the average is outside its limits",
    "hollow": "not over: not judged",
    "limit": "limits of the average",
    "centre": "target",
}
SUM_NAMES: dict[Look, str] = {
    "point": "the sum up to a period",
    "signal": "the sum is above the decision interval",
    "hollow": "not over: not judged",
    "limit": "decision interval",
}


def _written(value: float | None) -> str:
    return words.DASH if value is None else words.figures(value)


def ewma_picture(chart: EwmaChart, id_: str, title: str, period: str) -> Picture:
    """Return the averages in time order against their limits; the values stand beside them in the table."""
    points = [
        RunPoint(
            label=p.label,
            events=0,
            size=1,
            value=None if p.state == "gap" else p.average,
            centre=chart.target,
            lower=p.lower,
            upper=p.upper,
            state=p.state,
            beside=_written(p.value),
        )
        for p in chart.points
    ]
    states: dict[State, str] = {
        "in": "inside the limits", "signal_high": "above the upper limit", "signal_low": "below the lower limit",
        "gap": "nothing inspected: the average stays", "partial": "not over: enters nothing",
    }  # fmt: skip
    spoken = RunWords("Weighted average", "Value", _written, period, states=states, names=AVERAGE_NAMES)
    basis = f"EWMA of weight {chart.weight:g}, {chart.width:g} standard deviations around {_written(chart.target)}"
    return _picture(
        id_, title, _says(chart.signals, len(points), "average", "outside the limits"), basis, points, spoken
    )


def cusum_picture(chart: CusumChart, id_: str, title: str, period: str) -> Picture:
    """Return the sums in time order against the decision interval; of two sums the larger one is drawn."""
    points = [
        RunPoint(
            label=p.label,
            events=0,
            size=1,
            value=None if p.state == "gap" else max(p.high, p.low or 0.0),
            centre=None,
            lower=None,
            upper=chart.decision,
            state=p.state,
            beside=_sums(p),
        )
        for p in chart.points
    ]
    states: dict[State, str] = {
        "in": "not above the interval", "signal_high": "above the decision interval: upwards",
        "signal_low": "above the decision interval: downwards", "gap": "nothing inspected: the sum stays",
        "partial": "not over: enters nothing",
    }  # fmt: skip
    value = "Larger of the sums up and down" if chart.watches == "both" else f"Sum of departures {chart.watches}"
    spoken = RunWords(value, "Value, and sums", _written, period, states=states, names=SUM_NAMES)
    basis = f"{words.sentence(chart.method).rstrip('.')}; decision interval {_written(chart.decision)}"
    says = _says(chart.signals, len(points), "sum", "above the decision interval")
    return _picture(id_, title, says, basis, points, spoken)


def _sums(point: CusumPoint) -> str:
    since = {since for since in (point.since_high, point.since_low) if since}
    begun = f", climbing since {words.listed(sorted(since))}" if since else ""
    both = f"{_written(point.high)}" + ("" if point.low is None else f" up, {_written(point.low)} down")
    return f"{_written(point.value)}; {both}{begun}"


def _says(signals: Sequence[str], periods: int, what: str, where: str) -> str:
    if not signals:
        return f"The {what} is nowhere {where} in {words.counted(periods, 'period')}."
    named = words.listed(signals[:MOST_NAMED])
    more = f" and {len(signals) - MOST_NAMED} more" if len(signals) > MOST_NAMED else ""
    return f"The {what} is {where} at {len(signals)} of {words.counted(periods, 'period')}: {named}{more}."


def _picture(
    id_: str, title: str, says: str, basis: str, points: Sequence[RunPoint], spoken: RunWords
) -> Picture:  # fmt: skip
    table = run_table(basis, points, spoken)
    heads = [replace(column, head="Limits") if column.head == "Usual range" else column for column in table.columns]
    return Picture(
        id=id_,
        title=title,
        says=says,
        basis=basis,
        table=replace(table, columns=tuple(heads)),
        scene=run_scene(points, spoken),
    )
