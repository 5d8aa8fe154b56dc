"""What charts and signals state beside shares: control limits, the funnel's limits, weeks by the date of the work."""

from collections.abc import Iterator

import numpy as np

from qc.domain.counted.counts import WeekCounts
from qc.domain.plant.calendar import iso_week
from qc.reports.periods import Period
from qc.reports.stations.funnel import BUILD_KINDS, INNER, OUTER, WINSORISED
from qc.reports.watch.work_stretch import work_stretch
from qc.reports.week.chosen_chart import rate_chart, share_chart
from qc.stats.answers import TooLittle
from qc.stats.change.mix_exposure import mix_exposure
from qc.stats.charts.chart_points import ControlChart
from qc.stats.series import rates_of
from qc.stats.stations.funnel import Funnel, against_own_past, multiplicative_funnel
from tests.truth.counted import BATCH, ORIGINS
from tests.truth.drawn import PLANT, STORY, Drawn
from tests.truth.stated import Stated

THREE_SIGMA = 0.9973
WEEKS, RECENT = 26, 8
# (weeks of the baseline, weeks judged): early limits and whole ones. The mix of models changes in week 18; all models
# together are judged before it, each model by itself after it.
TOGETHER = ((8, (9, 12)), (12, (13, 17)))
APART = ((20, (21, 26)),)


def control_limits(quiet: Drawn) -> Iterator[Stated]:
    """Yield the limits of weeks after the baseline, on a plant where nothing changes."""
    for models, spans in (((), TOGETHER), *(((model,), APART) for model in quiet.models)):
        for base, judged in spans:
            yield from _limits(quiet, models, base, judged)


def _limits(quiet: Drawn, models: tuple[str, ...], base: int, judged: tuple[int, int]) -> Iterator[Stated]:
    name = models[0] if models else "all"
    baseline = Period(STORY.monday(1), STORY.monday(base + 1), f"first {base} weeks of the record", False)
    for what, majors, page in (
        ("major", True, "review, limits of units with a defect"),
        ("any", False, "review, limits of units with a defect"),
        ("clean", True, "review, limits of first-pass"),
    ):
        shown, before = (_counts(quiet, models, part, majors, clean=what == "clean") for part in (judged, (1, base)))
        named = ("units first-pass", "units not first-pass") if what == "clean" else ("with one", "without one")
        yield from _points(page, f"{name} {what}", share_chart(baseline, shown, before, {}, named).chart)
    shown, before = (_counts(quiet, models, part, False) for part in (judged, (1, base)))
    yield from _points("review, limits of defects per unit", name, rate_chart(baseline, shown, before, {}).chart)


def _counts(record: Drawn, models: tuple[str, ...], span: tuple[int, int], majors: bool, clean: bool = False):
    weeks = range(span[0], span[1] + 1)
    units = {week: [u.sequence for u in record.units if u.week == week and u.model in (models or record.models)]
             for week in weeks}  # fmt: skip
    found: dict[int, int] = {}
    for row in record.rows:
        if not majors or PLANT.types[row.type].default_severity != "minor":
            found[row.unit.sequence] = found.get(row.unit.sequence, 0) + 1
    own = {week: [found.get(sequence, 0) for sequence in here] for week, here in units.items()}
    return WeekCounts(
        "line", tuple(iso_week(STORY.monday(week)) for week in weeks), tuple(len(own[week]) for week in weeks),
        tuple(sum((count > 0) != clean for count in own[week]) for week in weeks),
        tuple(0 if clean else sum(own[week]) for week in weeks), False, "drawn",
    )  # fmt: skip


def _points(page: str, key: str, chart: ControlChart | TooLittle) -> Iterator[Stated]:
    for point in () if isinstance(chart, TooLittle) else chart.points:
        if point.upper is not None:
            held = point.state not in ("signal_low", "signal_high")
            yield Stated(page, key, point.lower or 0.0, point.upper, held=held, level=THREE_SIGMA)


def funnel_limits(quiet: Drawn) -> Iterator[Stated]:
    """Yield the funnel's limits of the last weeks on a plant where nothing changes; both pairs."""
    table = quiet.table(WEEKS)
    units = np.array(table.units)
    made, expected, errors = {}, {}, {}
    now, then = units[-RECENT:].sum(axis=0), units[:-RECENT].sum(axis=0)
    for place in (one for one in ORIGINS if PLANT.stations[one].kind in BUILD_KINDS):
        rows = [np.array(r) for (o, _), r in zip(table.cells, table.defects, strict=True) if o == place]
        counts = sum(rows, np.zeros_like(units))
        before = counts[:-RECENT].sum(axis=0).tolist()
        answer = mix_exposure([now.tolist()], ["now"], rates_of(before, then.tolist(), quiet.models))
        if not isinstance(answer, TooLittle):
            made[place], expected[place] = int(counts[-RECENT:].sum()), answer.expected[0]
            errors[place] = float((now**2 * np.array(answer.rates) / then).sum() ** 0.5)
    indicator = against_own_past(
        rates_of(list(made.values()), list(expected.values()), list(made)), list(errors.values())
    )
    wide = multiplicative_funnel(indicator, INNER, OUTER, WINSORISED)
    assert isinstance(wide, Funnel)
    for point in wide.points:
        outer_low, low, high, outer_high = point.limits
        yield Stated("funnel, usual", point.label, low, high, held=low <= point.value <= high, level=INNER)
        held = outer_low <= point.value <= outer_high
        yield Stated("funnel, outer limits", point.label, outer_low, outer_high, held=held, level=OUTER)


def work_weeks(record: Drawn, listed: int) -> Iterator[Stated]:
    """Yield the weeks in which the planted batch may have begun and ended, by the day of the work."""
    table, weeks = record.table(listed, "work"), [iso_week(STORY.monday(week)) for week in range(1, listed + 1)]
    picked = [np.array(r) for (o, t), r in zip(table.cells, table.defects, strict=True) if o == "FU1" and t in BATCH]
    exposed = record.worked_units(listed, "FU1").sum(axis=1)
    kept = [at for at in range(listed) if exposed[at]]
    defects = sum(picked, np.zeros((listed, len(record.models)), dtype=int)).sum(axis=1)
    answer = work_stretch([weeks[at] for at in kept], [int(defects[at]) for at in kept],
                          [float(exposed[at]) for at in kept], [], 0.0)  # fmt: skip
    event = next(one for one in STORY.events if one.id == "batch")
    if answer is not None:
        first, last = (iso_week(STORY.monday(week)) for week in (event.from_week, event.to_week))
        held = answer.may_begin[0] <= first <= answer.may_begin[1]
        yield Stated("signals, by the date of the work", "begins", 0, 0, held=held)
        if answer.may_end is not None:
            held = answer.may_end[0] <= last <= answer.may_end[1]
            yield Stated("signals, by the date of the work", "ends", 0, 0, held=held)
