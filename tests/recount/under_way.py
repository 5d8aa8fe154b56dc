"""Units under way: presented by some end points of their build and not yet by all, as of the end of a week."""

from datetime import date, timedelta

from tests.recount.attributed import Expected, Rows, Sheet, Table, Value, Words
from tests.recount.plant import monday_of
from tests.recount.record import Look, Unit
from tests.recount.view import View, spoken


def under_way(view: View, end: date) -> list[tuple[Unit, list[Look], list[str]]]:
    """Return units with the first presentations that ended by a day and the points that had none by then."""
    told = []
    for unit in view.record.units.values():
        points = view.plant.points_of(unit.model)
        looks = [view.counted.first_looks.get((unit.chassis, point)) for point in points]
        done = [look for look in looks if look is not None and look.day is not None and look.day <= end]
        waits = [point for point in points if point not in {look.point for look in done}]
        if done and waits and not unit.cancelled and unit.model in (view.narrowed.models or view.plant.models):
            told.append((unit, done, waits))
    return told


def found_on(view: View, looks: list[Look]) -> int:
    """Return the standing defects of some presentations."""
    return sum(len(view.counted.found_in.get(look.id, ())) for look in looks)


def under_way_sheet(view: View) -> Sheet:
    end = monday_of(view.week) + timedelta(days=6)
    units = under_way(view, end)
    on_them = sum(found_on(view, looks) for _, looks, _ in units)

    def rows(_: dict[str, str], __: Table) -> Expected:
        told: list[tuple[str, list[tuple[Value, ...]]]] = [
            (f"{unit.shop} {unit.model}", [(), (), (), (found_on(view, looks),)]) for unit, looks, _ in units
        ]
        return Expected(told, ordered=False)

    words = []
    for noun in ("units", "unit"):
        words.append(Words(f"{{n}} {noun} under way at the end of", lambda _: {"n": len(units)}))
    for verb in ("wait", "waits"):
        for point in view.plant.end_points:
            count = sum(point in waits for _, _, waits in units)
            words.append(
                Words(f"{{n}} {verb} for {spoken(point, view.plant.stations)}", lambda _, count=count: {"n": count})
            )
    for found in ("defects found on them", "defect found on them", "defects found on it", "defect found on it"):
        words.append(Words(f"{{n}} {found} so far", lambda _: {"n": on_them}))
    return Sheet(words=words, rows=[Rows("Units under way on {d:day}: {words:words}", rows)])
