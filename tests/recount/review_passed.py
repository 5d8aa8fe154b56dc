"""Section 7 of the review: what each point found and what it let through, and how complete the follow-up is."""

from tests.recount.attributed import Expected, Marks, Rows, Sheet, Value
from tests.recount.everywhere import counted
from tests.recount.presented import weeks_to
from tests.recount.record import FIELD, Defect
from tests.recount.review_origins import WINDOW, on_unit
from tests.recount.shares import cells_by_units, of_units
from tests.recount.view import View, spoken

PASSED = "What each point let through"


def lies_before(view: View, one: Defect) -> bool:
    """Return whether a defect can have come to an end point: made at a station or bought in, or not known where.

    What is done to a unit inside the works outside of any station (no lead days in the table) has no place before it.
    """
    made = one.stands_against
    row = view.plant.stations.get(made)
    return not made or row is None or row["kind"] != "external" or int(row["lead_days"]) > 0


def found_and_passed(view: View, point: str, defects: list[Defect]) -> tuple[list[Defect], list[Defect]]:
    """Return what a point found and what it let through, of types it is meant to find and of what lies before it."""
    points = view.plant.end_points
    later = {*points[points.index(point) + 1 :], FIELD}
    meant = set(points[: points.index(point) + 1])
    before = [one for one in defects if lies_before(view, one)]
    asked = [one for one in before if view.plant.types[one.type]["first_detect_point"] in meant]
    return [one for one in asked if one.point == point], [one for one in asked if one.point in later]


def passed_shares(told: list[tuple[list[Defect], list[Defect]]]) -> list[tuple[float, ...]]:
    """Return for each point the share that it passed of what it found and passed, with its range."""
    return cells_by_units([
        of_units((one.unit for one in passed), (one.unit for one in (*found, *passed))) for found, passed in told
    ])  # fmt: skip


def not_named(defects: list[Defect]) -> int:
    return sum(not one.stands_against for one in defects)


def passed_sheet(view: View) -> Sheet:
    units = view.units(*weeks_to(view.week, WINDOW))
    defects = [one for unit in units for one in on_unit(view, unit)]
    told = {point: found_and_passed(view, point, defects) for point in view.plant.end_points}
    names = view.plant.stations
    rows: list[tuple[str, list[tuple[Value, ...]]]] = []
    for (point, (found, passed)), share in zip(told.items(), passed_shares([*told.values()]), strict=True):
        all_ = sum(one.point == point for one in defects)
        counts = (all_, all_ - len(found), len(found), not_named(found), len(passed), not_named(passed))
        rows.append((spoken(point, names), [*((count,) for count in counts), share]))
    return Sheet(
        words=[
            counted(f"{names[point]['name']} found {{a}} and let {{b}} through", a=len(found), b=len(passed))
            for point, (found, passed) in told.items()
        ],
        rows=[
            Rows("Units presented in {n} weeks {a:week} to {b:week}. Passed: {words:words}", lambda *_: Expected(rows))
        ],
        marks=[Marks("origin-passed", lambda words: _sums(told, words))],
    )


def _sums(told: dict[str, tuple[list[Defect], list[Defect]]], words: str) -> list[Value]:
    return [sum(map(len, told.get(words.split()[0], ())))]
