"""Section 4 of the review: first-pass at each end point and along the line, and rework minutes a unit."""

from tests.recount.attributed import Expected, Rows, Sheet, Table, Value, Words
from tests.recount.everywhere import LIMITS, counted, given
from tests.recount.presented import Presented
from tests.recount.record import Look
from tests.recount.review_level import baseline, limits_in
from tests.recount.shares import percent, share, share_cell
from tests.recount.view import View, each

LINE = "The line, every end point"
CLEAN, NOTHING = ("critical", "major"), ("critical", "major", "minor")


def first_pass_sheet(view: View) -> Sheet:
    points = {view.plant.stations[one]["name"]: one for one in view.plant.end_points}
    names = {LINE: "", **points}
    sheet = Sheet(rows=[Rows("First-pass, {w:week} and before.{more:words}", lambda g, _: _both(view, names, g["w"]))])
    for name, point in names.items():
        heading = f"First-pass at {_escaped(name)}"
        sheet.rows.append(Rows("Units {words:words}", lambda _, table, at=point: _weeks(view, at, table), heading))
        sheet.words += _sentences(view, point, f"{heading}|few lines" if not point else heading)
    sheet.words += _rework(view)
    sheet.rows.append(Rows("Minutes that each type usually takes {words:words}", lambda *_: _minutes(view), "Rework"))
    return sheet


def _escaped(name: str) -> str:
    return name.replace("(", r"\(").replace(")", r"\)")


def _is_clean(view: View, look: Look, severities: tuple[str, ...]) -> bool:
    found = view.counted.found_in.get(look.id, ())
    return look.id not in view.counted.failed_in and not any(one.severity in severities for one in found)


def clean(view: View, point: str, severities: tuple[str, ...], *weeks: str) -> tuple[int, int]:
    """Return first-pass and presented units in some weeks, at a point, or along the line where it is ""."""
    if not point:
        units = view.units(*weeks)
        return sum(_line_clean(view, unit, severities) for unit in units), len(units)
    looks = [
        look
        for week in weeks
        for look in view.counted.looks_by_week.get((point, week), ())
        if view.narrowed.takes(view.record.units[look.unit].model, look.shift)
    ]
    return sum(_is_clean(view, look, severities) for look in looks), len(looks)


def _line_clean(view: View, unit: Presented, severities: tuple[str, ...]) -> bool:
    return all(_is_clean(view, look, severities) for look in unit.looks.values())


def _both(view: View, names: dict[str, str], week: str) -> Expected:
    def cell(point: str, severities: tuple[str, ...], *weeks: str) -> tuple[Value, ...]:
        part, whole = clean(view, point, severities, *weeks)
        shown, *interval = share_cell(part, whole) or (None,)
        return (shown, part, whole, *interval) if shown is not None else ()

    return Expected([
        (name, [cell(point, which, *weeks) for which in (CLEAN, NOTHING) for weeks in ((week,), view.before)])
        for name, point in names.items()
    ])  # fmt: skip


def _weeks(view: View, point: str, table: Table) -> Expected:
    told = []
    for week in reversed(view.charted):
        part, whole = clean(view, point, CLEAN, week)
        every, _ = clean(view, point, NOTHING, week)
        limits = limits_in(table, week)
        told.append((week, (share(part, whole), limits, (), (part, whole), share(every, whole), (every, whole))))
    return Expected(told)


def _sentences(view: View, point: str, place: str) -> list[Words]:
    def week(groups: dict[str, str]) -> dict[str, Value]:
        part, whole = clean(view, point, CLEAN, groups["w"])
        return {"d": part, "u": whole, "p": percent(part, whole)}

    def nothing(_: dict[str, str]) -> dict[str, Value]:
        part, whole = clean(view, point, NOTHING, view.week)
        return {"d": part, "p": percent(part, whole)}

    basis = baseline(view)
    part, whole = clean(view, point, CLEAN, *basis)
    return [
        Words("{d} of {u} units in {w:week} first-pass with no critical or major ({p} %)", week, place),
        Words(", {d} with nothing at all ({p} %)", nothing, place),
        given("limits of {a} % to {b} %", LIMITS, "a", "b", place=place),
        counted("it has {n} weeks with {d} units not first-pass", place, n=len(basis), d=whole - part),
        counted("it has {n} weeks with {d} units first-pass", place, n=len(basis), d=part),
        counted("a baseline of {d} of {u} units", place, d=part, u=whole),
        Words("{p} % clean", lambda _: week({"w": view.week}), "few lines > First-pass"),
    ]


def _minutes(view: View) -> Expected:
    told = []
    for week in reversed(view.charted[-13:]):
        minutes, units = view.minutes(view.defects(week)), len(view.units(week))
        told.append((week, (each(minutes, units), (minutes, units))))
    return Expected(told)


def _rework(view: View) -> list[Words]:
    def week(groups: dict[str, str]) -> dict[str, Value]:
        minutes, units = view.minutes(view.defects(groups["w"])), len(view.units(groups["w"]))
        return {"r": minutes / max(1, units), "m": minutes, "u": units}

    def before(_: dict[str, str]) -> dict[str, Value]:
        minutes, units = view.minutes(view.defects(*view.before)), len(view.units(*view.before))
        weekly = [view.minutes(view.defects(one)) / len(view.units(one)) for one in view.before if view.units(one)]
        return {
            "r": minutes / units,
            "n": len(view.before),
            "m": minutes,
            "u": units,
            "a": min(weekly),
            "b": max(weekly),
        }

    return [
        *clocked_words(view),
        Words("{r} usual minutes a unit in {w:week} ({m} on {u} units)", week),
        Words("{r} in the {n} weeks {a_:week} to {b_:week} ({m} on {u}), week by week {a} to {b}", before),
    ]


def minutes_clocked(view: View, *weeks: str) -> tuple[int, int, int, int]:
    """Return minutes clocked, usual for the same defects, defects repaired and all, of the view's severities."""
    defects = view.defects(*weeks)
    done = [one for one in defects if one.repairs]
    took = sum(repair.minutes for one in done for repair in one.repairs)
    return took, view.minutes(done), len(done), len(defects)


def clocked_words(view: View) -> list[Words]:
    """Return the words on repairs of the view's severities, clocked beside usual."""

    def clocked(groups: dict[str, str]) -> dict[str, Value]:
        took, usual, done, found = minutes_clocked(view, groups["w"])
        units = len(view.units(groups["w"]))
        return {
            "r": took / max(1, units), "s": usual / max(1, units), "m": took, "n": usual, "u": units,
            "a": done, "b": found,
        }  # fmt: skip

    what = " and ".join(f"{one}s" for one in view.severities)
    return [
        Words(
            f"{{r}} minutes a unit clocked on {what} in {{w:week}}, {{s}} usual for the same defects "
            "({m} against {n} on {u} units; {a} of {b} repaired)",
            clocked,
        )
    ]
