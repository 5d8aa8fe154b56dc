"""Reports made up to exercise the drawing; what is computed in them comes from the statistics themselves."""

from dataclasses import replace
from datetime import date, timedelta

from qc.domain.counts import FirstPassWeeks, OriginDetection, StationWeeks, WeekCounts
from qc.reports.critical_gaps import CriticalGaps
from qc.reports.data_quality import DataQuality, InspectorMix, QualityLine
from qc.reports.first_pass import FirstPassBoth, FirstPassLine
from qc.reports.level import DefectsPerUnitWeeks, Level, MixAdjustedWeek, UnitsWithDefect
from qc.reports.origin_table import OriginRow, OriginTable, PointLine
from qc.reports.pareto_tables import ORDERS, ParetoRow, ParetoTable, ParetoTables
from qc.reports.periods import Period, weeks_before, weeks_up_to
from qc.reports.review import Review
from qc.reports.rework import ReworkMinutes, ReworkWeek
from qc.reports.safety import CriticalLine, Safety
from qc.reports.station import (
    ChangeNote,
    PhotoOfDefect,
    StationReport,
    StationTrend,
    StationTypeLine,
    UsualRange,
    WaitingDefect,
    WeekDot,
)
from qc.reports.under_way import UnderWay
from qc.stats.adjustment import fay_feuer_rate
from qc.stats.answers import TooLittle
from qc.stats.baselines import gap_baseline, rate_baseline, share_baseline
from qc.stats.control_charts import p_chart, u_chart
from qc.stats.intervals import wilson_interval
from qc.stats.pareto import pareto
from qc.stats.rare_events import exact_g_chart
from qc.stats.yields import first_pass
from qc.store.reads import Unsettled

MONDAY = date(2026, 6, 8)
USUAL = "the 8 weeks 2026-W10 to 2026-W17"
WEEK = Period(MONDAY, MONDAY + timedelta(days=7), "2026-W24", False)
WEEKS = tuple(f"2026-W{number}" for number in range(10, 25))
INSPECTED = (54, 54, 52, 54, 50, 44, 54, 54, 54, 40, 54, 54, 40, 54, 18)
MAJOR = (20, 22, 19, 24, 18, 17, 23, 22, 36, 15, 20, 22, 17, 21, 9)
ANY = (50, 51, 48, 50, 47, 40, 50, 49, 52, 37, 50, 51, 37, 50, 17)
DENOMINATOR = "Units first presented at the daylight bay"


def counts(defectives, inspected=INSPECTED, partial=True):
    return WeekCounts("D01", WEEKS, inspected, defectives, tuple(2 * d for d in defectives), partial, DENOMINATOR)


def p_part(model, name, what, defectives, inspected=INSPECTED):
    base = share_baseline("weeks 10 to 20", MONDAY, defectives[:11], inspected[:11], WEEKS[:11], {})
    chart = p_chart(defectives, inspected, WEEKS, base, partial_last=True)
    return UnitsWithDefect(model, name, what, counts(defectives, inspected), chart, "40 % in the last whole week.")


def level():
    third = tuple(n // 3 for n in INSPECTED)
    bare = UnitsWithDefect(
        "H62", "Hagg 62", "critical or major", counts(tuple(n // 4 for n in INSPECTED), third),
        TooLittle("baseline", "too few whole weeks", 3, 20), "No usual range yet.",
    )  # fmt: skip
    return Level(
        (
            p_part("", "", "critical or major", MAJOR),
            p_part("T36", "Tarrow 36", "critical or major", tuple(n // 8 for n in INSPECTED), third),
            bare,
            p_part("", "", "any defect", ANY),
        ),
        per_unit(),
    )


def per_unit():
    weeks = []
    for place, week in enumerate(WEEKS):
        units = INSPECTED[place]
        split = (units // 2, units - units // 2)
        found = tuple(int(3.5 * n) for n in split)
        answer = fay_feuer_rate(found, split, (50, 50), ("T36", "M50"), 0.95)
        weeks.append(MixAdjustedWeek(week, units, sum(found), place == len(WEEKS) - 1, answer))
    return DefectsPerUnitWeeks(
        ("T36", "M50"),
        (50, 50),
        "weeks 10 to 17",
        tuple(weeks),
        False,
        "As usual.",
        u_part(),
        "In each week 5 or more defects are expected.",
        "3.5 a unit.",
    )


def u_part(left_out=None):
    found = tuple(2 * int(3.5 * (n // 2)) for n in INSPECTED)
    base = rate_baseline("weeks 10 to 20", MONDAY, found[:11], INSPECTED[:11], WEEKS[:11], left_out or {})
    return u_chart(found, INSPECTED, WEEKS, base, partial_last=True)


def first_pass_both():
    lines = []
    for point, name in (("line", "the line"), ("T01", "T01 Services test bay"), ("D01", "D01 Daylight bay")):
        clean = tuple(n - d for n, d in zip(INSPECTED, MAJOR, strict=True))
        nothing = tuple(n - d for n, d in zip(INSPECTED, ANY, strict=True))
        lines.append(
            FirstPassLine(
                point,
                name,
                FirstPassWeeks(point, WEEKS, INSPECTED, clean, nothing, True),
                first_pass(54, 21, "critical or major", 0.95),
                first_pass(430, 170, "critical or major", 0.95),
                first_pass(54, 50, "any", 0.95),
                first_pass(0, 0, "any", 0.95),
                "61 % with no critical or major, 7 % with nothing at all.",
                replace(p_part("", "", "", clean).chart, high_is="better"),
                "In each week 5 or more units not first-pass are expected.",
            )
        )
    return FirstPassBoth(tuple(lines), "Units whose first presentation ended in the week")


def pareto_tables(what):
    names = {"SEA-01": "Roof seam void", "PAN-05": "Panel gap", "FUR-01": "Runner stiff", "PAN-03": "Scratch"}
    if what == "origin":
        names = {"S08": "Roof fit and seal", "S07": "Wall panels bond", "FU1": "Furniture shop", "": ""}
    now, before = (31, 18, 12, 4), (150, 160, 90, 60)
    tables = tuple(pareto_order(order, names, now, before) for order in ORDERS)
    return ParetoTables(
        what,
        tables,
        65,
        1,
        4 if what == "origin" else 0,
        54,
        430,
        USUAL,
        DENOMINATOR,
        "Four make all of the week's defects.",
        f"{what.capitalize()}s above usual: SEA-01, by {USUAL}.",
        "A signal stands on SEA-01 (more), whatever the week says.",
    )


def pareto_order(order, names, now, before):
    weight = {"count": "defects", "minutes": "minutes", "severity": "severity weight"}[order]
    times = {"count": (1, 1, 1, 1), "minutes": (20, 45, 10, 5), "severity": (1, 3, 1, 1)}[order]
    codes = list(names)
    week = pareto(now, [n * t for n, t in zip(now, times, strict=True)], codes, weight, other="others")
    window = pareto(before, [n * t for n, t in zip(before, times, strict=True)], codes, weight, other="others")
    place = {code: index for index, code in enumerate(codes)}
    rows = []
    for bar in week.bars:
        at = place[bar.label]
        rows.append(
            ParetoRow(
                bar.label,
                names[bar.label],
                bar.count,
                1 if at == 0 else 0,
                bar.count // 3,
                bar.count - bar.count // 3,
                bar.count * 20,
                bar.share,
                bar.cumulative,
                before[at],
                before[at] / 460,
                12 if at < 3 else None,
                28 if at < 3 else None,
                USUAL if at < 3 else "",
                at == 0,
                "more" if at == 0 else "",
                order == "count" and at == 1,
            )
        )
    return ParetoTable(order, weight, tuple(rows), week, window)


def critical(defect="d1", state="open", alike=()):
    return CriticalLine(
        defect, "0PC7T3600TW030001", "PC7130001", "T36", "GAS-01", "Gas joint leaks", "front.gas", "Gas locker",
        "T01", MONDAY + timedelta(days=1), 1_781_000_000_000, "TB1", "S06", "Gas and heating fit", "suspected",
        state, 63, alike,
    )  # fmt: skip


def gaps():
    days = tuple(f"2026-0{month}-{day:02d}" for month in (4, 5, 6) for day in (6, 13, 20))
    units = (60, 71, 12, 130, 55, 44, 90, 1, 0)
    base = gap_baseline("first 8 gaps", MONDAY, units[:8], days[:8], {})
    chart = exact_g_chart((*units, 41), (*days, "so far"), base, "good units between", 0.025, partial_last=True)
    return CriticalGaps(chart, (*("PC7130001 GAS-01",) * 9, ""), "The last gap was no unit.")


def origin_table():
    points = ("T01", "T02", "D01", "FIELD")
    sure, guess = ((3, 0, 22, 2), (1, 4, 10, 1)), ((0, 0, 9, 0), (0, 1, 6, 0))
    detection = OriginDetection(("S07", "S08"), points, sure, guess, (0, 1, 5, 0))
    rows = tuple(
        OriginRow(code, name, True, sure[at], guess[at], sum(sure[at]) + sum(guess[at]), wilson_interval(30, 59, 0.95))
        for at, (code, name) in enumerate((("S07", "Wall panels bond"), ("S08", "Roof fit and seal")))
    )
    lines = (
        PointLine("T01", "Services test bay", 4, 55, wilson_interval(55, 59, 0.95), 0, 2, 0),
        PointLine("T02", "Water-spray booth", 0, 0, TooLittle("escapes", "nothing reached it", 0, 1), 0, 0, 6),
        PointLine("D01", "Daylight bay", 47, 3, wilson_interval(3, 50, 0.95), 5, 0, 5),
    )
    return OriginTable(
        detection, points, rows, lines, TooLittle("matrix", "made up", 0, 1), 59, 6, wilson_interval(6, 65, 0.95),
        "Units have been out 0 to 13 weeks: later finds are still to come.", DENOMINATOR, "S07 made most of them.",
    )  # fmt: skip


def quality():
    lines = (
        QualityLine("no_record", "Units with no record", 0, 54, wilson_interval(0, 54, 0.95), False, "", "None."),
        QualityLine("unknown_origin", "Unknown origin", 9, 65, wilson_interval(9, 65, 0.95), True, "10 %", "Too many."),
        QualityLine("unfinished", "Begun, not ended", 2, 0, TooLittle("share", "no whole", 0, 1), False, "", "Two."),
    )
    mix = InspectorMix("D01", ("I1", "I2", "I3"), (20, 18, 16), (150, 160, 120), "As in the weeks before.")
    return DataQuality(lines, (mix,), "")


def rework():
    weeks = tuple(
        ReworkWeek(week, 80 * units, units, place == len(WEEKS) - 1)
        for place, (week, units) in enumerate(zip(WEEKS, INSPECTED, strict=True))
    )
    return ReworkMinutes(weeks, 34_400, 430, "Usual minutes", "80 usual minutes a unit.")


def review(criticals=(), before=()):
    return Review(
        WEEK, weeks_before(WEEK, 8), weeks_up_to(WEEK, 15), weeks_before(WEEK, 13), (), (), (), 1_781_500_000_000,
        Safety(tuple(criticals), tuple(before), "2 criticals on record" if before else "", 41,
               ("GAS-01 twice within 14 days.",) if len(criticals) > 1 else (),
               gaps() if criticals else TooLittle("units between criticals", "the record has 2 gaps", 2, 8),
               f"{len(criticals)} criticals this week."),
        quality(), UnderWay(WEEK.last_day, (), 0, ""), level(),
        first_pass_both(), rework(), pareto_tables("type"), pareto_tables("origin"),
        origin_table(), True,
        ("Figures describe what was recorded.",),
    )  # fmt: skip


def usual():
    return UsualRange(1, 6, 3.2, 12, 640, 0.95, "exact Poisson", USUAL)


def trend(basis):
    made = ((2, 1), (3, 0), (9, 1), (1, 1), (0, 2))
    states = ("usual", "usual", "more", "usual", "partial")
    weeks = WEEKS[-5:]
    dots = tuple(
        WeekDot(week, *pair, sum(pair), sum(pair), 54, usual() if at else TooLittle("usual", "too few weeks", 2, 8),
                state if at else "too little")
        for at, (week, pair, state) in enumerate(zip(weeks, made, states, strict=True))
    )  # fmt: skip
    table = StationWeeks("S07", basis, weeks, (54,) * 5, tuple(a for a, _ in made), tuple(b for _, b in made),
                         tuple(sum(pair) for pair in made), True, "Units whose build contains S07")  # fmt: skip
    return StationTrend(basis, table, dots, "2 last week; 1 to 6 is usual.")


def waiting(defect="0198a000-0000-7000-8000-000000000001", severity="major", state="suspected"):
    return WaitingDefect(
        defect, "0PC7T3600TW030001", "PC7130001", "T36", "PAN-05", "Panel gap out of range", severity,
        "nearside.upper.mid", "Upper wall, middle", "D01", "gap 7 mm at the top", 1_781_000_000_000,
        MONDAY + timedelta(days=1), "I1", state, ("a" * 64,), 4, True, ("RP2", "S07", "SUP", "UNK"),
    )  # fmt: skip


def station(waits=()):
    return StationReport(
        "S07", "Wall panels bond", "main", "C-3", WEEK, weeks_up_to(WEEK, 5), (), trend("work"), trend("found"),
        (StationTypeLine("PAN-05", "Panel gap", 7, 1, 20, 4, usual()),
         StationTypeLine("PAN-06", "Panel step", 1, 0, 9, 1, TooLittle("usual", "too few", 1, 8))),
        (), tuple(waits), (), Unsettled("S07", len(waits), 0, 0),
        (PhotoOfDefect("b" * 64, "d", "Panel gap", "PC7130001", MONDAY),),
        (ChangeNote("c", "tool", "New jig", MONDAY, "L-S07"),), "2 last week; 1 to 6 is usual.",
        "Units whose build contains S07",
    )  # fmt: skip
