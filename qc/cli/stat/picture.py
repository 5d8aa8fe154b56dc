"""A chart of the command line as a file: a drawing (SVG), or a page with its sentence and table (HTML)."""

from pathlib import Path
from typing import Any

import click

from qc.assets import folder
from qc.charts.drawing.picture import Picture
from qc.charts.drawing.standalone import drawing_file, page_file
from qc.charts.kinds.control_chart import control_chart_picture
from qc.charts.kinds.running_sums import cusum_picture, ewma_picture
from qc.cli.stat.sheet import Refused
from qc.stats.answers import TooLittle
from qc.stats.by_command.charts.cusum import CusumChart
from qc.stats.by_command.charts.ewma import EwmaChart
from qc.stats.charts.chart_points import ControlChart

STYLES = ("tokens.css", "charts.css")
WRITERS = {".svg": drawing_file, ".html": page_file}


def write_picture(answer: object, path: str, statistic: str, file: str, label: str | None) -> None:
    """Write the chart of an answer to path and say so on standard error; too little data has none, and says why.

    label: the column of the rows' names, None where they are numbers. Refused for a path that cannot be written.
    """
    writer = WRITERS.get(Path(path).suffix.lower())
    if writer is None:
        raise Refused(f"--picture {path!r}: a name that ends in {' or '.join(WRITERS)} would do")
    if isinstance(answer, TooLittle):
        click.echo(f"No picture: {answer.reason}.", err=True)
        return
    picture = _picture(answer, f"{statistic}: {file}", label or "row")
    style = "".join((folder("static") / "css" / name).read_text(encoding="utf-8") for name in STYLES)
    try:
        Path(path).write_text(writer(picture, style), encoding="utf-8")
    except OSError as why:
        raise Refused(f"--picture {path!r} cannot be written: {why.strerror or why}") from why
    click.echo(f"Drawn in {path}: {picture.says}", err=True)


def _picture(answer: object, title: str, period: str) -> Picture:
    """Return the picture of a chart, which may stand beside what else was asked: run rules, a cusum's constants."""
    parts: dict[str, Any] = answer if isinstance(answer, dict) else {"chart": answer}
    chart = parts["chart"]
    if isinstance(chart, ControlChart):
        return control_chart_picture(chart, "chart", title, period, parts.get("run_rules"))
    if isinstance(chart, EwmaChart):
        return ewma_picture(chart, "chart", title, period)
    if isinstance(chart, CusumChart):
        return cusum_picture(chart, "chart", title, period)
    raise TypeError(f"only a chart can be drawn, got {type(chart).__name__}")
