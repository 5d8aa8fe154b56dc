"""Reports made up to exercise the drawing; what is computed in them comes from the statistics themselves."""

from dataclasses import replace
from datetime import date, timedelta

from qc.domain.counted.counts import FirstPassWeeks, OriginDetection, StationWeeks, WeekCounts
from qc.reports.periods import Period, weeks_before, weeks_up_to
from qc.reports.stations.station import (
    ChangeNote,
    PhotoOfDefect,
    StationReport,
    StationTrend,
    StationTypeLine,
    UsualRange,
    WaitingDefect,
    WeekDot,
)
from qc.reports.week.critical_gaps import CriticalGaps
from qc.reports.week.data_quality import DataQuality, InspectorMix, QualityLine
from qc.reports.week.escape_follow_up import BuildWeek, EscapeFollowUp
from qc.reports.week.first_pass import FirstPassBoth, FirstPassLine
from qc.reports.week.level import DefectsPerUnitWeeks, Level, MixAdjustedWeek, UnitsWithDefect
from qc.reports.week.origin_table import OriginRow, OriginTable, PointLine
from qc.reports.week.pareto_tables import ORDERS, ParetoRow, ParetoTable, ParetoTables
from qc.reports.week.review import Review
from qc.reports.week.rework import ReworkMinutes, ReworkWeek
from qc.reports.week.safety import CriticalLine, Safety
from qc.reports.week.under_way import UnderWay
from qc.stats.answers import TooLittle
from qc.stats.causes.pareto import pareto
from qc.stats.change.adjustment import fay_feuer_rate
from qc.stats.charts.baselines import gap_baseline, rate_baseline, share_baseline
from qc.stats.charts.control_charts import p_chart, u_chart
from qc.stats.charts.rare_events import exact_g_chart
from qc.stats.intervals.one_sample import wilson_interval
from qc.stats.looks.yields import first_pass
from qc.stats.origins import escapes
from qc.stats.series import counts_of, rates_of, shares_of
from qc.store.reading.reads import Unsettled

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
    base = share_baseline("weeks 10 to 20", MONDAY, shares_of(defectives[:11], inspected[:11], WEEKS[:11]), {})
    chart = p_chart(shares_of(defectives, inspected, WEEKS), base, partial_last=True)
    return UnitsWithDefect(
        model=model,
        model_name=name,
        what=what,
        counts=counts(defectives, inspected),
        chart=chart,
        sentence="40 % in the last whole week.",
    )


def level():
    third = tuple(n // 3 for n in INSPECTED)
    bare = UnitsWithDefect(
        model="H62",
        model_name="Hagg 62",
        what="critical or major",
        counts=counts(tuple(n // 4 for n in INSPECTED), third),
        chart=TooLittle("baseline", "too few whole weeks", 3, 20),
        sentence="No usual range yet.",
    )
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
        answer = fay_feuer_rate(rates_of(found, split, ("T36", "M50")), (50, 50), 0.95)
        weeks.append(MixAdjustedWeek(week, units, sum(found), place == len(WEEKS) - 1, answer))
    return DefectsPerUnitWeeks(
        models=("T36", "M50"),
        standard=(50, 50),
        standard_name="weeks 10 to 17",
        weeks=tuple(weeks),
        disagree=False,
        sentence="As usual.",
        chart=u_part(),
        why="In each week 5 or more defects are expected.",
        level_sentence="3.5 a unit.",
    )


def u_part(left_out=None):
    found = tuple(2 * int(3.5 * (n // 2)) for n in INSPECTED)
    base = rate_baseline("weeks 10 to 20", MONDAY, rates_of(found[:11], INSPECTED[:11], WEEKS[:11]), left_out or {})
    return u_chart(rates_of(found, INSPECTED, WEEKS), base, partial_last=True)


def first_pass_both():
    lines = []
    for point, name in (("line", "the line"), ("T01", "T01 Services test bay"), ("D01", "D01 Daylight bay")):
        clean = tuple(n - d for n, d in zip(INSPECTED, MAJOR, strict=True))
        nothing = tuple(n - d for n, d in zip(INSPECTED, ANY, strict=True))
        lines.append(
            FirstPassLine(
                point=point,
                name=name,
                weeks=FirstPassWeeks(point, WEEKS, INSPECTED, clean, nothing, True),
                week_major=first_pass(21, 54, "critical or major", 0.95),
                before_major=first_pass(170, 430, "critical or major", 0.95),
                week_all=first_pass(50, 54, "any", 0.95),
                before_all=first_pass(0, 0, "any", 0.95),
                sentence="61 % with no critical or major, 7 % with nothing at all.",
                chart=replace(p_part("", "", "", clean).chart, high_is="better"),
                why="In each week 5 or more units not first-pass are expected.",
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
        what=what,
        tables=tables,
        total=65,
        criticals=1,
        unknown=4 if what == "origin" else 0,
        inspected=54,
        window_inspected=430,
        usual=USUAL,
        denominator=DENOMINATOR,
        sentence="Four make all of the week's defects.",
        moved=f"{what.capitalize()}s above usual: SEA-01, by {USUAL}.",
        signals="A signal stands on SEA-01 (more), whatever the week says.",
    )


def pareto_order(order, names, now, before):
    weight = {"count": "defects", "minutes": "minutes", "severity": "severity weight"}[order]
    times = {"count": (1, 1, 1, 1), "minutes": (20, 45, 10, 5), "severity": (1, 3, 1, 1)}[order]
    codes = list(names)
    week = pareto(counts_of(now, codes), [n * t for n, t in zip(now, times, strict=True)], weight, other="others")
    window = pareto(
        counts_of(before, codes), [n * t for n, t in zip(before, times, strict=True)], weight, other="others"
    )
    place = {code: index for index, code in enumerate(codes)}
    rows = []
    for bar in week.bars:
        at = place[bar.label]
        rows.append(
            ParetoRow(
                code=bar.label,
                name=names[bar.label],
                count=bar.count,
                critical=1 if at == 0 else 0,
                major=bar.count // 3,
                minor=bar.count - bar.count // 3,
                minutes=bar.count * 20,
                share=bar.share,
                cumulative=bar.cumulative,
                window_count=before[at],
                window_share=before[at] / 460,
                usual_low=12 if at < 3 else None,
                usual_high=28 if at < 3 else None,
                usual_weeks=USUAL if at < 3 else "",
                beyond_usual=at == 0,
                signal="more" if at == 0 else "",
                could_swap=order == "count" and at == 1,
            )
        )
    return ParetoTable(order, weight, tuple(rows), week, window)


def critical(defect="d1", state="open", alike=()):
    return CriticalLine(
        defect=defect,
        unit="0PC7T3600TW030001",
        shop_number="PC7130001",
        model="T36",
        type="GAS-01",
        type_name="Gas joint leaks",
        what="GAS-01 Gas joint leaks",
        zone="front.gas",
        zone_name="Gas locker",
        point="T01",
        found_day=MONDAY + timedelta(days=1),
        found_ms=1_781_000_000_000,
        finder="TB1",
        origin="S06",
        origin_name="Gas and heating fit",
        origin_state="suspected",
        state=state,
        units_since_last=63,
        alike=alike,
    )


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
        PointLine(
            point="T01",
            name="Services test bay",
            found=4,
            passed=55,
            share_passed=wilson_interval(55, 59, 0.95),
            unknown_found=0,
            unknown_passed=2,
            left_out=0,
        ),
        PointLine(
            point="T02",
            name="Water-spray booth",
            found=0,
            passed=0,
            share_passed=TooLittle("escapes", "nothing reached it", 0, 1),
            unknown_found=0,
            unknown_passed=0,
            left_out=6,
        ),
        PointLine(
            point="D01",
            name="Daylight bay",
            found=47,
            passed=3,
            share_passed=wilson_interval(3, 50, 0.95),
            unknown_found=5,
            unknown_passed=0,
            left_out=5,
        ),
    )
    return OriginTable(
        counts=detection,
        points=points,
        point_names=points,
        rows=rows,
        detection=lines,
        matrix=TooLittle("matrix", "made up", 0, 1),
        known_total=59,
        unknown_total=6,
        unknown_share=wilson_interval(6, 65, 0.95),
        follow_up="Units have been out 0 to 13 weeks: later finds are still to come.",
        denominator=DENOMINATOR,
        sentence="S07 made most of them.",
    )


def quality():
    lines = (
        QualityLine(
            code="no_record",
            title="Units with no record",
            have=0,
            whole=54,
            share=wilson_interval(0, 54, 0.95),
            concern=False,
            limit="",
            sentence="None.",
        ),
        QualityLine(
            code="unknown_origin",
            title="Unknown origin",
            have=9,
            whole=65,
            share=wilson_interval(9, 65, 0.95),
            concern=True,
            limit="10 %",
            sentence="Too many.",
        ),
        QualityLine(
            code="unfinished",
            title="Begun, not ended",
            have=2,
            whole=0,
            share=TooLittle("share", "no whole", 0, 1),
            concern=False,
            limit="",
            sentence="Two.",
        ),
    )
    mix = InspectorMix(
        "D01", "D01 Daylight bay", ("I1", "I2", "I3"), (20, 18, 16), (150, 160, 120), "As in the weeks before."
    )
    return DataQuality(lines, (mix,), "")


def rework():
    weeks = tuple(
        ReworkWeek(week, 80 * units, units, place == len(WEEKS) - 1)
        for place, (week, units) in enumerate(zip(WEEKS, INSPECTED, strict=True))
    )
    return ReworkMinutes(weeks, 34_400, 430, "Usual minutes", "80 usual minutes a unit.")


def review(criticals=(), before=()):
    return Review(
        week=WEEK,
        window=weeks_before(WEEK, 8),
        history=weeks_up_to(WEEK, 15),
        escape_window=weeks_before(WEEK, 13),
        models=(),
        lines=(),
        shifts=(),
        severities=(),
        made_ms=1_781_500_000_000,
        safety=Safety(
            tuple(criticals),
            tuple(before),
            "2 criticals on record" if before else "",
            41,
            ("GAS-01 twice within 14 days.",) if len(criticals) > 1 else (),
            gaps() if criticals else TooLittle("units between criticals", "the record has 2 gaps", 2, 8),
            f"{len(criticals)} criticals this week.",
        ),
        data_quality=quality(),
        under_way=UnderWay(WEEK.last_day, (), 0, ""),
        own_severities="",
        level=level(),
        first_pass=first_pass_both(),
        rework=rework(),
        pareto_by_type=pareto_tables("type"),
        pareto_by_origin=pareto_tables("origin"),
        origin_table=origin_table(),
        has_rates=True,
        cautions=("Figures describe what was recorded.",),
    )


def usual():
    return UsualRange(
        low=1, high=6, expected=3.2, weeks=12, units=640, level=0.95, method="exact Poisson", rests_on=USUAL
    )


def trend(basis):
    made = ((2, 1), (3, 0), (9, 1), (1, 1), (0, 2))
    states = ("usual", "usual", "more", "usual", "partial")
    weeks = WEEKS[-5:]
    dots = tuple(
        WeekDot(week=week, confirmed=pair[0], suspected=pair[1], defects=sum(pair), defectives=sum(pair), exposed=54,
                usual=usual() if at else TooLittle("usual", "too few weeks", 2, 8), state=state if at else "too little")
        for at, (week, pair, state) in enumerate(zip(weeks, made, states, strict=True))
    )  # fmt: skip
    table = StationWeeks(
        station="S07",
        basis=basis,
        weeks=weeks,
        exposed=(54,) * 5,
        confirmed=tuple(a for a, _ in made),
        suspected=tuple(b for _, b in made),
        defectives=tuple(sum(pair) for pair in made),
        elsewhere=(0,) * 5,
        partial=True,
        denominator="Units whose build contains S07",
    )
    return StationTrend(basis, table, dots, "2 last week; 1 to 6 is usual.")


def waiting(defect="0198a000-0000-7000-8000-000000000001", severity="major", state="suspected"):
    return WaitingDefect(
        defect=defect,
        unit="0PC7T3600TW030001",
        shop_number="PC7130001",
        model="T36",
        type="PAN-05",
        type_name="Panel gap out of range",
        severity=severity,
        zone="nearside.upper.mid",
        zone_name="Upper wall, middle",
        point="D01",
        note="gap 7 mm at the top",
        found_ms=1_781_000_000_000,
        found_day=MONDAY + timedelta(days=1),
        finder="I1",
        origin_state=state,
        mark=None,
        photos={"a" * 64: None},
        age_days=4,
        overdue=True,
        possible_origins=("RP2", "S07", "SUP", "UNK"),
    )


def station(waits=()):
    return StationReport(
        station="S07",
        name="Wall panels bond",
        kind="main",
        crew="C-3",
        week=WEEK,
        history=weeks_up_to(WEEK, 5),
        signals=(),
        scatter="",
        by_work=trend("work"),
        by_found=trend("found"),
        dated="",
        types=(
            StationTypeLine("PAN-05", "Panel gap", 7, 1, 20, 4, usual()),
            StationTypeLine("PAN-06", "Panel step", 1, 0, 9, 1, TooLittle("usual", "too few", 1, 8)),
        ),
        criticals=(),
        waiting=tuple(waits),
        disputed=(),
        unsettled=Unsettled("S07", len(waits), 0, 0),
        photos=(PhotoOfDefect("b" * 64, "d", "Panel gap", "PC7130001", MONDAY),),
        change_notes=(ChangeNote("c", "tool", "New jig", MONDAY, "L-S07"),),
        sentence="2 last week; 1 to 6 is usual.",
        denominator="Units whose build contains S07",
    )


def follow_up():
    """Two weeks followed up and one that still grows: 3 findings after dispatch on 2 of 40 units."""
    weeks = tuple(
        BuildWeek(week, 20, 20, at_points, after, 0, follow)
        for week, at_points, after, follow in zip(
            ("2026-W10", "2026-W11", "2026-W24"),
            (60, 57, 65),
            (2, 1, 1),
            escapes.follow_up((20, 20, 20), (20, 20, 0), ("2026-W10", "2026-W11", "2026-W24"), 0.95),
            strict=True,
        )
    )
    return EscapeFollowUp(
        period=weeks_before(WEEK, 8),
        weeks=weeks,
        complete=2,
        points=(),
        followed_days=60,
        units=40,
        units_with=wilson_interval(2, 40, 0.95),
        found=3,
        share=wilson_interval(3, 120, 0.95),
        later=0,
        sentence="2 weeks of 3 followed up for 60 days after release.",
    )
