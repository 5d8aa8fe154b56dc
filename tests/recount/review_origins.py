"""Section 7 of the review: where defects were made and found, what each point let through, the funnel."""

from collections import Counter

from tests.recount.attributed import Expected, Marks, Rows, Sheet, Value, Words
from tests.recount.everywhere import counted
from tests.recount.presented import Presented, weeks_to
from tests.recount.record import FIELD, Defect
from tests.recount.shares import cells_by_units, of_units, percent
from tests.recount.view import View, spoken

WINDOW = 13  # weeks


def origins_sheet(view: View) -> Sheet:
    matrix = Matrix(view)
    return Sheet(
        words=[
            counted("{d} defects of known origin, {u} not known", d=matrix.known, u=matrix.unknown),
            counted("{d} defect of known origin, {u} not known", d=matrix.known, u=matrix.unknown),
            counted("{d} defects of unknown or disputed origin ({u} of {w}, {p} %)", "Where defects were made",
                    d=matrix.unknown, u=matrix.unknown, w=len(matrix.defects),
                    p=percent(matrix.unknown, len(matrix.defects))),
            counted("{d} defects of unknown or disputed origin (no unit", "Where defects were made", d=matrix.unknown),
            *(
                Words(f"{spoken(code, view.plant.stations)}: {{d}} ({{p}} %), {{c}} confirmed, {{s}} suspected",
                      lambda _, code=code: matrix.most(code))
                for code in matrix.origins
            ),
        ],
        rows=[
            Rows(f"Units presented in {{n}} weeks {{a:week}} to {{b:week}}. {kind}{{words:words}}",
                 lambda *_: matrix.rows())
            for kind in ("Defects, ", "Only ")
        ],
        marks=[Marks("origin-matrix", lambda _: matrix.sums())],
    )  # fmt: skip


class Matrix:
    """Defects on the units of the last weeks, by where they were made and where they were found."""

    def __init__(self, view: View) -> None:
        self.view = view
        self.units = view.units(*weeks_to(view.week, WINDOW))
        self.defects = [defect for unit in self.units for defect in on_unit(view, unit)]
        self.points = (*view.plant.end_points, FIELD)
        self.cells = Counter((one.stands_against, one.point, one.is_confirmed) for one in self.defects)
        made = {one.stands_against for one in self.defects}
        self.origins = [code for code in view.plant.stations if code in made]
        self.unknown = sum(not one.stands_against for one in self.defects)
        self.known = len(self.defects) - self.unknown

    def together(self, origin: str) -> int:
        return sum(count for (made, _, _), count in self.cells.items() if made == origin)

    def most(self, origin: str) -> dict[str, Value]:
        confirmed = sum(count for (made, _, sure), count in self.cells.items() if made == origin and sure)
        whole = self.together(origin)
        return {"d": whole, "p": percent(whole, self.known), "c": confirmed, "s": whole - confirmed}

    def sums(self) -> list[Value]:
        """Return the pictures' numbers: confirmed and suspected of each cell together."""
        return [
            self.cells[origin, point, True] + self.cells[origin, point, False]
            for origin in self.origins
            for point in self.points
        ]

    def shares(self) -> dict[str, tuple[float, ...]]:
        """Return each origin's share of what is of known origin, with its range."""
        known = [one for one in self.defects if one.stands_against]
        origins = sorted({one.stands_against for one in known})
        whole = [one.unit for one in known]
        own = [of_units((one.unit for one in known if one.stands_against == origin), whole) for origin in origins]
        return dict(zip(origins, cells_by_units(own), strict=True))

    def rows(self) -> Expected:
        shares = self.shares()
        told: list[tuple[str, list[tuple[Value, ...]]]] = []
        for origin in self.origins:
            cells = [(self.cells[origin, point, True], self.cells[origin, point, False]) for point in self.points]
            whole = self.together(origin)
            told.append((
                spoken(origin, self.view.plant.stations),
                [*((cell if any(cell) else (0,)) for cell in cells), (whole,), shares[origin]],
            ))  # fmt: skip
        unknown = [sum(self.cells["", point, sure] for sure in (True, False)) for point in self.points]
        told.append(("Not known or disputed", [*((one,) for one in unknown), (self.unknown,), ()]))
        return Expected(told)


def on_unit(view: View, unit: Presented) -> list[Defect]:
    """Return what stands of what was found on a unit, at its first presentations and after dispatch, as asked for."""
    found = [one for one in unit.unit.defects if one.point == FIELD and one.state != "withdrawn"]
    return [one for one in (*unit.defects, *found) if one.severity in view.asked]
