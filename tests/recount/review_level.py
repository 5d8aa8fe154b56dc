"""Section 3 of the review: defects per unit, plain and adjusted, and units with a defect, week by week."""

import re
from collections import Counter
from dataclasses import replace

from tests.recount.attributed import Expected, Rows, Sheet, Table, Value, Words
from tests.recount.everywhere import ESTIMATE, LIMITS, counted, given, literal
from tests.recount.plant import monday_of
from tests.recount.presented import Narrowed
from tests.recount.shares import percent, share
from tests.recount.view import View, each


def level_sheet(view: View) -> Sheet:
    sheet = Sheet(words=[*_sentences(view)], rows=_per_unit(view))
    for heading, own in _kinds(view):
        sheet.rows.append(Rows(_UNITS, lambda _, table, own=own: _with_one(own, table), heading))
        sheet.words += _with_words(own, heading)
    return sheet


_UNITS = "Units that every end point {words:words}."


def _kinds(view: View) -> list[tuple[str, tuple[View, bool]]]:
    """Return the charts of units with a defect: heading, view, whether any defect counts."""
    models = view.narrowed.models or tuple(view.plant.models)
    told: list[tuple[str, tuple[View, bool]]] = []
    for any_, words in ((False, "units with a critical or major"), (True, "units with any defect")):
        told.append((f"All models: {words}|models asked for: {words}", (view, any_)))
        for model in models:
            only = replace(view, narrowed=Narrowed((model,), view.narrowed.shifts))
            told.append((f"{model} [^:]*: {words}", (only, any_)))
    return told


def _sentences(view: View) -> list[Words]:
    def week(groups: dict[str, str]) -> dict[str, Value]:
        defects, units = len(view.defects(groups["w"])), len(view.units(groups["w"]))
        return {"d": defects, "u": units, "r": defects / units if units else 0.0}

    def basis(groups: dict[str, str]) -> dict[str, Value]:
        weeks = [one for one in view.record_weeks if groups["a"] <= one <= groups["b"]]
        mix = Counter(one.unit.model for one in view.units(*weeks))
        return {"n": len(weeks), **{model: mix[model] for model in view.plant.models}}

    models = view.narrowed.models or tuple(view.plant.models)
    mix = ", ".join(f"{model} {{{model}}}" for model in models)
    return [
        Words("{d} defects on {u} units in {w:week} ({r} a unit)", week),
        Words("{r} a unit", lambda _: week({"w": view.week}), "few lines > Level"),
        *(given(f"{way} the limits of {{a}} to {{b}}", LIMITS, "a", "b") for way in ("inside", "above", "below")),
        given("above the limit of {a}", LIMITS, "a"),
        given("below the limit of {a}", LIMITS, "a"),
        Words(f"Mix: {mix} units (first {{n}} weeks of the record, {{a:week}} to {{b:week}})", basis),
        Words(f"Mix: {mix} units (", lambda _: set_mix(view)),
        *(
            given(
                f"{name} {{p}} % {way} ({{l}} % {low} to {{h}} % {high})",
                ESTIMATE,
                "p",
                "l",
                "h",
                place="Level|few lines",
            )
            for name in ("plain", "the same models in both")
            for way in ("fewer", "more")
            for low in ("fewer", "more")
            for high in ("fewer", "more")
        ),
        *(
            given(f"no change ({{l}} % {low} to {{h}} % {high})", ESTIMATE, "l", "h", place="Level|few lines")
            for low in ("fewer", "more")
            for high in ("fewer", "more")
        ),
        Words("baseline “first {n} weeks of the record, {a:week} to {b:week}”", lambda g: {"n": basis(g)["n"]}),
        Words("{k} of {n} weeks {a:week} to {b:week}, chosen", lambda g: _chosen(view, g)),
        Words("{n} weeks {a:week} to {b:week}, chosen", lambda g: _chosen(view, g)),
        *literal("a false alarm on each side at most 0.00135"),
        *_rests(view),
    ]


def _chosen(view: View, groups: dict[str, str]) -> dict[str, Value]:
    """Return how many weeks a baseline that was set rests on, of how many between its ends."""
    days = monday_of(groups["b"]) - monday_of(groups["a"])
    return {"k": len(view.chosen), "n": days.days // 7 + 1}


def set_mix(view: View) -> dict[str, Value]:
    """Return the units of each model in the weeks of a baseline that was set."""
    mix = Counter(one.unit.model for one in view.units(*baseline(view)))
    return {model: mix[model] for model in view.plant.models}


def _rests(view: View) -> list[Words]:
    def rate(groups: dict[str, str]) -> dict[str, Value]:
        weeks = baseline(view)
        return {"n": len(weeks), "d": len(view.defects(*weeks)), "u": len(view.units(*weeks))}

    place = "Defects per unit"
    return [
        Words("it has {n} weeks with {d} defects", rate, place),
        Words("a baseline of {d} defects on {u},", rate, place),
        Words("a baseline of {d} defects on {u} and", rate, place),
        *literal("from 20 weeks and 30 on"),
    ]


def baseline(view: View) -> list[str]:
    """Return the weeks set, or the record's first: 20 of them, fewer while there are fewer before the view's week."""
    if view.chosen:
        return list(view.chosen)
    return list(view.record_weeks[:-1][:20])


def _per_unit(view: View) -> list[Rows]:
    def rows(_: dict[str, str], table: Table) -> Expected:
        mix = Counter(one.unit.model for one in view.units(*baseline(view)))
        told = []
        for week in reversed(view.charted):
            units, defects = view.units(week), view.defects(week)
            adjusted = _adjusted(view, week, mix)
            shown = limits_in(table, week, 5)
            cells = [each(len(defects), len(units)), limits_in(table, week), (), (len(defects), len(units))]
            told.append((week, (*cells, (adjusted, *shown[1:]) if shown else ())))
        return Expected(told)

    return [Rows(f"{kind} per unit, {{more:words}}", rows) for kind in ("Majors and minors", "Majors", "Criticals")]


def _adjusted(view: View, week: str, mix: Counter[str]) -> Value:
    """Return the week's rate had it had the baseline's models: each model's own rate, weighed by the baseline."""
    units = Counter(one.unit.model for one in view.units(week))
    defects = Counter(view.record.units[one.unit].model for one in view.defects(week))
    if any(not units[model] for model in mix):
        return ESTIMATE
    return sum(mix[model] * defects[model] / units[model] for model in mix) / mix.total()


def flawed(view: View, any_: bool, *weeks: str) -> tuple[int, int]:
    """Return units with a defect and units, in some weeks: with any, or with a critical or major."""
    counts = ("critical", "major", "minor") if any_ else ("critical", "major")
    units = view.units(*weeks)
    return sum(any(one.severity in counts for one in unit.defects) for unit in units), len(units)


def _with_one(own: tuple[View, bool], table: Table) -> Expected:
    view, any_ = own
    told = []
    for week in reversed(view.charted):
        with_one, units = flawed(view, any_, week)
        limits = limits_in(table, week)
        told.append((week, (share(with_one, units), limits, (), (with_one, units))))
    return Expected(told)


def limits_in(table: Table, label: str, column: int = 2) -> tuple[Value, ...]:
    """Return as many of a statistic's answers as a row's range holds: one where an end is open."""
    row = next((row for row in table.rows if re.sub(r", [A-Z]\Z", "", row[0]) == label), [""] * (column + 1))
    return (LIMITS,) * len(re.findall(r"\d+(?:\.\d+)?", row[column] if column < len(row) else ""))


def _with_words(own: tuple[View, bool], heading: str) -> list[Words]:
    view, any_ = own

    def week(groups: dict[str, str]) -> dict[str, Value]:
        with_one, units = flawed(view, any_, groups["w"])
        return {"d": with_one, "u": units, "p": percent(with_one, units)}

    with_one, units = flawed(view, any_, *baseline(view))
    return [
        Words("{d} of {u} units in {w:week} ({p} %)", week, heading),
        given("limits of {a} % to {b} %", LIMITS, "a", "b", place=heading),
        counted("it has {n} weeks with {d} units without one", heading, n=len(baseline(view)), d=units - with_one),
        counted("it has {n} weeks with {d} units with one", heading, n=len(baseline(view)), d=with_one),
        counted("a baseline of {d} of {u} units", heading, d=with_one, u=units),
    ]
