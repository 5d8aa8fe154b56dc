"""All pictures of the manager's week, by the section of the page that they stand in."""

from collections.abc import Sequence
from dataclasses import dataclass

from qc.charts.drawing.picture import Picture
from qc.charts.kinds.week_axis import on_one_axis
from qc.charts.kinds.week_notes import WeekNote, with_notes
from qc.charts.pages.critical_gaps import gaps_picture
from qc.charts.pages.first_pass import first_pass_pictures
from qc.charts.pages.level import level_pictures, per_unit_picture
from qc.charts.pages.origin_table import matrix_picture, passed_picture
from qc.charts.pages.pareto import pareto_picture
from qc.charts.pages.rework import rework_picture
from qc.reports.week.pareto_tables import ORDERS, Order
from qc.reports.week.review import Review
from qc.stats.answers import TooLittle


@dataclass(frozen=True, slots=True, kw_only=True)
class ReviewPictures:
    """The pictures of a review. types, origins: the orders asked for of each Pareto.

    gaps: units between criticals, None where there are too few.
    """

    gaps: Picture | None
    level: tuple[Picture, ...]
    per_unit: Picture
    first_pass: tuple[Picture, ...]
    rework: Picture
    types: tuple[Picture, ...]
    origins: tuple[Picture, ...]
    matrix: Picture
    passed: Picture

    @property
    def all(self) -> tuple[Picture, ...]:
        """Return every picture of the page, in the page's order."""
        return (
            *((self.gaps,) if self.gaps else ()),
            *self.level,
            self.per_unit,
            *self.first_pass,
            self.rework,
            *self.types,
            *self.origins,
            self.matrix,
            self.passed,
        )


def review_pictures(review: Review, notes: Sequence[WeekNote] = (), orders: Sequence[Order] = ORDERS) -> ReviewPictures:
    """Return the pictures of one week's review; notes (changed criteria) are drawn on every picture of time.

    orders: of the Paretos to draw; a page that shows one need not pay for three.
    """

    def ordered(by_type: bool, order: Order) -> Picture:
        tables = review.pareto_by_type if by_type else review.pareto_by_origin
        return pareto_picture(tables, order, review.week.name, review.window.name)

    gaps = review.safety.gaps
    level, first_pass = level_pictures(review.level), first_pass_pictures(review.first_pass)
    per_unit, rework = per_unit_picture(review.level.defects_per_unit), rework_picture(review.rework)
    weekly = on_one_axis((per_unit, rework, *level, *first_pass))
    per_unit, rework, *apart = (with_notes(one, notes) for one in weekly)
    return ReviewPictures(
        gaps=None if isinstance(gaps, TooLittle) else with_notes(gaps_picture(gaps), notes),
        level=tuple(apart[: len(level)]),
        per_unit=per_unit,
        first_pass=tuple(apart[len(level) :]),
        rework=rework,
        types=tuple(ordered(True, order) for order in orders),
        origins=tuple(ordered(False, order) for order in orders),
        matrix=matrix_picture(review.origin_table, review.escape_window.name),
        passed=passed_picture(review.origin_table, review.escape_window.name),
    )
