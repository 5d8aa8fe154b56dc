"""Any control chart of the statistics as a picture, whatever its periods are: weeks, lots, rolls, units between."""

from collections.abc import Sequence
from dataclasses import replace

from qc.charts.drawing import words
from qc.charts.drawing.picture import Picture
from qc.charts.drawing.scene import Line, Look, Scene
from qc.charts.kinds.run_chart import RunPoint, RunWords, State, chart_points, marked_by_meaning, run_scene, run_table
from qc.stats.charts.baselines import Standard
from qc.stats.charts.chart_points import ChartPoint, ControlChart
from qc.stats.charts.run_rules import RuleReading

MOST_NAMED = 12  # of signals in the sentence; the table has them all


def _written(value: float | None) -> str:
    return words.DASH if value is None else words.figures(value)


def _share(value: float | None) -> str:
    return words.DASH if value is None else words.percent(value)


SPOKEN = {
    "p": RunWords("Share of defective units", "Defective, of inspected", _share, as_percent=True),
    "np": RunWords("Defective units", "Defective, of inspected", _written),
    "u": RunWords("Defects per unit", "Defects, on units", _written),
    "c": RunWords("Defects", "Defects", _written),
    "demerit": RunWords("Demerits per unit", "Demerits, on units", _written),
    "g": RunWords("Units between", "Units", _written),
    "t": RunWords("Time between", "Time", _written),
}
STATES: dict[State, str] = {
    "in": "inside the limits",
    "signal_high": "above the upper limit",
    "signal_low": "below the lower limit",
    "gap": "nothing inspected",
    "partial": "not over: not judged",
}
NAMES: dict[Look, str] = {
    "point": "a period, judged",
    "signal": "outside the limits",
    "hollow": "not over: not judged",
    "limit": "limits (for each period's own size)",
    "centre": "centre line",
}


MEDIAN = "median: half of all gaps are no longer by chance alone"


def control_chart_picture(
    chart: ControlChart, id_: str, title: str, period: str, reading: RuleReading | None = None
) -> Picture:
    """Return the picture of a chart; period: what a row is ("week", "roll"); reading: what run rules say of it.

    Every row of the chart is drawn, one with nothing inspected as a gap; the table has the newest first.
    """
    points, spoken, says = _points(chart), _spoken(chart, period), sentence(chart, reading)
    basis = f"{_first_capital(chart.method)}; {_basis(chart)}"
    table = run_table(basis, points, spoken)
    return Picture(
        id=id_,
        title=title,
        says=says,
        basis=basis,
        table=marked_by_meaning(table, chart),
        scene=_with_median(run_scene(points, spoken), chart),
        cautions=chart.cautions,
    )


def _with_median(scene: Scene, chart: ControlChart) -> Scene:
    """Return the scene with the line below which half of all gaps lie: most gaps are shorter than their mean."""
    if chart.median is None or all(point.centre == chart.median for point in chart.points):
        return scene
    points = tuple((point.label, chart.median) for point in chart.points)
    return replace(scene, parts=(Line("centre", MEDIAN, points, True, "median"), *scene.parts))


def _spoken(chart: ControlChart, period: str) -> RunWords:
    own = SPOKEN[chart.kind.rstrip("′")]
    value = "Time between, to the power 0.2777" if chart.kind == "t" and "power" in chart.method else own.value
    return replace(own, value=value, period=period, states=STATES, names=NAMES)


def _points(chart: ControlChart) -> list[RunPoint]:
    drawn = zip(chart_points(chart), chart.points, strict=True)
    return [replace(point, beside=_counts(chart.kind, of)) for point, of in drawn]


def _counts(kind: str, point: ChartPoint) -> str:
    if kind in ("p", "p′", "np"):
        return words.of(point.events, point.size)
    if kind in ("u", "u′", "demerit"):
        return f"{words.figures(point.events)} on {words.figures(point.size)}"
    return words.figures(point.events)


def sentence(chart: ControlChart, reading: RuleReading | None = None) -> str:
    """Return what the chart shows in plain words: signals, then what was left out, then patterns."""
    judged = [point for point in chart.points if point.state not in ("gap", "partial")]
    told = [_signals(chart, len(judged))]
    gaps = sum(point.state == "gap" for point in chart.points)
    if gaps:
        told.append(f"In {words.counted(gaps, 'period')} nothing was inspected.")
    told += [f"{point.label} is not over and not judged." for point in chart.points if point.state == "partial"]
    left = [f"{point.label} ({point.excluded})" for point in chart.points if point.excluded]
    if left:
        told.append(f"Left out of the limits, still judged: {words.listed(left)}.")
    if reading is not None:
        told.append(_patterns(reading))
    return " ".join(told)


def _signals(chart: ControlChart, judged: int) -> str:
    if not judged:
        return "No period is judged."
    if not chart.signals:
        return "The one period is inside its limits." if judged == 1 else f"All {judged} periods are inside the limits."
    sides = [
        (side, [point.label for point in chart.points if point.state == state])
        for state, side in (("signal_high", "above"), ("signal_low", "below"))
    ]
    named = words.listed([f"{_named(labels)} {side}" for side, labels in sides if labels])
    be = "is" if len(chart.signals) == 1 else "are"
    return f"{len(chart.signals)} of {words.counted(judged, 'period')} {be} outside the limits: {named}."


def _named(labels: Sequence[str]) -> str:
    if len(labels) <= MOST_NAMED:
        return words.listed(labels)
    return f"{', '.join(labels[:MOST_NAMED])} and {len(labels) - MOST_NAMED} more"


def _patterns(reading: RuleReading) -> str:
    places = list(dict.fromkeys(finding.label for finding in reading.findings))
    if not places:
        return f"Run rules ({reading.rules.name}) find no pattern."
    found = words.counted(len(reading.findings), "pattern")
    return f"Run rules ({reading.rules.name}) find {found}, completed at {_named(places)}."


def _basis(chart: ControlChart) -> str:
    base = chart.baseline
    return f"{base.name}: {words.figures(base.centre)}" if isinstance(base, Standard) else f"baseline {base.name}"


def _first_capital(text: str) -> str:
    return text[:1].upper() + text[1:]
