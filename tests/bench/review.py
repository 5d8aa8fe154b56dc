"""How long a review of 104 weeks takes, beside pandas on the same rows as CSV.

    python tests/bench/review.py [--long]

It fills a record with simulated rows (1e5 and 1e6 defects on 104 weeks; --long: 1e7), counts it once, and times:
the first review after opening, the median of 30 warm ones, a refresh of one dirty day, the whole weekly report,
and pandas' read_csv + groupby to the same tables. The review: Pareto by type and by origin, a p chart for each
station with its usual limits, origin × detection, as JSON. Ratios are what counts; the machine is shared.
"""

import argparse
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path
from statistics import median

import numpy as np

sys.path[:0] = [str(Path(__file__).parents[1] / "rows"), str(Path(__file__).parents[2])]
from record_rows import HOUR, RowRecord, noon  # noqa: E402

from qc.domain.counted.counts import Slice  # noqa: E402
from qc.domain.plant.graph import BuildGraph  # noqa: E402
from qc.stats.series import counts_of, shares_of  # noqa: E402
from qc.store.counts import Counts  # noqa: E402
from qc.store.tables.summaries import SummaryKeeper  # noqa: E402

FIRST, WEEKS = date(2024, 1, 1), 104
END = FIRST + timedelta(weeks=WEEKS)
NOW = noon(END.isoformat()) + 5 * 24 * HOUR
PER_UNIT = 4.0
UNITS_AT_ONCE = 20_000


UNEVEN_FROM = END - timedelta(weeks=13)


def fill(record: RowRecord, defects: int, csv: Path, seed: int = 20260302, *, uneven: bool = False) -> None:
    """Write units, three first presentations each and about so many defects; the defects to a CSV file as well.

    uneven: over the last 13 weeks every third station has half its defects, which then are the supplier's.
    """
    rng = np.random.default_rng(seed)
    working = [FIRST + timedelta(days=n) for n in range(7 * WEEKS) if (FIRST + timedelta(days=n)).weekday() < 5]
    connection = record.connection
    connection.execute("PRAGMA synchronous = OFF")
    plant = record.plant
    origins = [*BuildGraph(plant).stations_in("T36")[:19], "SUP", "HND"]
    types = list(plant.types)
    models, units = list(plant.models), int(defects / PER_UNIT)
    with csv.open("w") as out:
        out.write("id,unit,day,week,model,shift,point,type,severity,origin,origin_state\n")
        for first in range(0, units, UNITS_AT_ONCE):
            last = min(units, first + UNITS_AT_ONCE)
            days = [working[n * len(working) // units] for n in range(first, last)]
            own_models = rng.choice(len(models), last - first, p=[0.5, 0.35, 0.15])
            counts = rng.poisson(PER_UNIT * rng.gamma(6.0, 1 / 6.0, last - first))
            connection.execute("BEGIN")
            _some(record, out, rng, first, days, [models[m] for m in own_models], counts, origins, types, uneven)
            connection.execute("COMMIT")


def _some(record, out, rng, first, days, models, counts, origins, types, uneven) -> None:
    points = record.plant.end_points()
    unit_rows, look_rows, defect_rows = [], [], []
    total = int(counts.sum())
    draws = {
        "type": rng.zipf(1.3, total) % len(types),
        "usual": rng.random(total) < 0.9,
        "astray": rng.integers(1, 4, total),
        "point": rng.choice(len(points), total, p=[0.15, 0.05, 0.8]),
        "told": rng.choice(4, total, p=[0.1, 0.15, 0.7, 0.05]),
        "severity": rng.choice(3, total, p=[0.004, 0.246, 0.75]),
    }
    names = ("none", "suspected", "confirmed", "disputed")
    severities = ("critical", "major", "minor")
    place = {origin: n for n, origin in enumerate(origins)}
    at = 0
    for n, (day, model, count) in enumerate(zip(days, models, counts, strict=True)):
        number, chassis, iso, ms = first + n + 1, f"U{first + n + 1:09d}", day.isoformat(), noon(day.isoformat())
        week, shift = f"{day.isocalendar()[0]}-W{day.isocalendar()[1]:02d}", "early" if n % 2 else "late"
        worst = dict.fromkeys(points, 3)
        for one in range(at, at + count):
            point, severity = points[draws["point"][one]], int(draws["severity"][one])
            worst[point] = min(worst[point], severity)
            told, type_ = names[draws["told"][one]], types[draws["type"][one]]
            usual = record.plant.types[type_].usual_origins
            origin = usual[one % len(usual)] if usual else "SUP"
            if not draws["usual"][one] and origin in place:
                # A wrong guess names a neighbour, so that some 400 pairs of station and type are used, not all 1,500.
                origin = origins[(place[origin] + draws["astray"][one]) % len(origins)]
            if uneven and day >= UNEVEN_FROM and one % 2 and place.get(origin, 1) % 3 == 0:
                origin = "SUP"
            id_ = f"{chassis}-{one}"
            defect_rows.append((
                id_, chassis, model, f"{chassis}-{point}", point, 1, "front.panel", type_, severities[severity], ms,
                iso, shift, "I1", "P1", "closed", None if told == "none" else origin,
                origin if told == "confirmed" else None, told, number, ms,
            ))  # fmt: skip
            out.write(
                f"{id_},{chassis},{iso},{week},{model},{shift},{point},{type_},{severities[severity]},{origin},{told}\n"
            )
        at += count
        unit_rows.append((chassis, f"S{number}", number, model, iso, "released", number))
        look_rows += [
            (f"{chassis}-{point}", chassis, point, "presentation", 1, f"I{number % 4 + 1}", "P1", "bright", ms,
             ms + place + 1, iso, shift, int(worst[point] >= 2), int(worst[point] == 3), number)
            for place, point in enumerate(points)
        ]  # fmt: skip
    many = record.connection.executemany
    many("INSERT INTO unit (chassis, shop_number, sequence, model, planned_day, state, last_number)"
         " VALUES (?, ?, ?, ?, ?, ?, ?)", unit_rows)  # fmt: skip
    many("INSERT INTO inspection (id, unit, point, purpose, presentation, inspector, device, light, begun_ms, ended_ms,"
         " production_day, shift, clean_major, clean_all, number)"
         " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", look_rows)  # fmt: skip
    many("INSERT INTO defect (id, unit, model, inspection, point, first_presentation, zone, type, severity, found_ms,"
         " production_day, shift, finder, device, state, suspected, confirmed, origin_state, number, received_ms)"
         " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", defect_rows)  # fmt: skip


def review(counts: Counts) -> bytes:
    """Return the review of 104 weeks as JSON."""
    import orjson

    from qc.stats.causes.pareto import pareto
    from qc.stats.charts.baselines import Baseline, share_baseline
    from qc.stats.charts.control_charts import p_chart

    whole = Slice(FIRST, END)
    answer: dict[str, object] = {}
    for what in ("type", "origin"):
        table = counts.category_counts(whole, what)
        answer[what] = pareto(counts_of(table.counts, table.labels), table.counts, "defects", other="others", most=15)
    charts = {}
    for station, weeks in counts.all_station_weeks(whole, "found", NOW).items():
        frozen = share_baseline(
            "first 25", END, shares_of(weeks.defectives[:25], weeks.exposed[:25], weeks.weeks[:25]), {}
        )
        if isinstance(frozen, Baseline):
            chart = p_chart(shares_of(weeks.defectives, weeks.exposed, weeks.weeks), frozen, partial_last=weeks.partial)
            charts[station] = [(p.label, p.value, p.lower, p.upper, p.state) for p in chart.points]
    answer["charts"] = charts
    answer["origin_detection"] = counts.origin_detection(whole)
    return orjson.dumps(answer)


def pandas_review(csv: Path) -> bytes:
    """Return the same tables from the CSV file, by pandas."""
    import pandas as pd

    rows = pd.read_csv(csv)
    by_type = rows.groupby("type").size().sort_values(ascending=False)
    by_origin = rows.groupby("origin").size().sort_values(ascending=False)
    defectives = rows.groupby(["origin", "week"])["unit"].nunique().unstack(fill_value=0)
    defects = rows.groupby(["origin", "week"]).size().unstack(fill_value=0)
    table = rows.groupby(["origin", "point", "origin_state"]).size().unstack(fill_value=0)
    return "".join(part.to_json() for part in (by_type, by_origin, defectives, defects, table)).encode()


def seconds(work: Callable[[], object], times: int = 1) -> float:
    """Return the median seconds of some runs."""
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return median(taken)


def measure(defects: int) -> None:
    with tempfile.TemporaryDirectory() as folder:
        record, csv = RowRecord(Path(folder)), Path(folder) / "defects.csv"
        print(f"\n{defects:.0e} defects on {WEEKS} weeks", flush=True)
        print(f"  rows written            {seconds(lambda: fill(record, defects, csv)):8.1f} s", flush=True)
        keeper = SummaryKeeper(record.plant)
        print(f"  counted from nothing    {seconds(lambda: record.write(keeper.rebuild)):8.1f} s", flush=True)
        record.connection.execute("PRAGMA synchronous = FULL")
        record.connection.execute("PRAGMA optimize")
        counts = Counts(record)
        print(f"  first review            {1e3 * seconds(lambda: review(counts)):8.1f} ms")
        ours = seconds(lambda: review(counts), 30)
        print(f"  review, warm            {1e3 * ours:8.1f} ms, {len(review(counts)) / 1e3:.0f} kB of JSON")
        _whole_report(counts, record)
        day = (END - timedelta(days=3)).isoformat()

        def one_dirty_day() -> None:
            record.mark(day)
            counts.first_week()

        print(f"  refresh of a dirty day  {1e3 * seconds(one_dirty_day, 5):8.1f} ms")
        pandas_review(csv)  # imports and file cache are not what is compared
        theirs = seconds(lambda: pandas_review(csv), 3)
        print(f"  pandas, warm            {1e3 * theirs:8.1f} ms")
        print(f"  ratio pandas / ours     {theirs / ours:8.1f}", flush=True)
        record.close()


def _whole_report(counts: Counts, record: RowRecord) -> None:
    from qc.reports.week.review import weekly_review

    def report() -> object:
        return weekly_review(counts, record.plant, END - timedelta(days=3), NOW, history_weeks=WEEKS)

    print(f"  whole report, first     {1e3 * seconds(report):8.1f} ms")
    print(f"  whole report, warm      {1e3 * seconds(report, 5):8.1f} ms")


if __name__ == "__main__":
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--long", action="store_true", help="1e7 defects too: minutes, and 6 GB on disk")
    options.add_argument("--defects", type=float, nargs="*", default=[1e5, 1e6])
    asked = options.parse_args()
    for size in [*asked.defects, *([1e7] if asked.long else [])]:
        measure(int(size))
