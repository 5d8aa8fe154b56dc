"""Where the week's defects were made: the funnel of stations, and how complete the follow-up of escapes is."""

from dataclasses import replace

from qc.charts.pages.escape_follow_up import build_weeks_table, escape_picture
from qc.charts.pages.funnel import funnel_picture
from qc.reports.asking import Asking, known_weeks
from qc.reports.stations.funnel import station_funnel
from qc.reports.week.escape_follow_up import FOLLOWED_WEEKS, EscapeFollowUp, escape_follow_up
from qc.reports.week.review import Review
from qc.stats.answers import TooLittle
from qc.web.house import House
from qc.web.pages.page_counts import counts_of


def followed_up(house: House, review: Review) -> EscapeFollowUp:
    """Return how complete the follow-up of the review's weeks is, for its own narrowing."""
    ask = asking(house, review)
    return escape_follow_up(ask, known_weeks(ask, review.week, FOLLOWED_WEEKS))


def asking(house: House, review: Review) -> Asking:
    """Return the asking of the review's own narrowing."""
    return Asking(
        counts=counts_of(house),
        plant=house.shown,
        now_ms=review.made_ms,
        models=review.models,
        lines=review.lines,
        shifts=review.shifts,
    )


def counted_as_asked(house: House, review: Review) -> Asking:
    """Return the same, counting the severities alone that the review was asked for."""
    return replace(asking(house, review), severities=review.severities)


def review_origins(house: House, review: Review, escapes: EscapeFollowUp) -> dict[str, object]:
    """Return what the template prints of it, for the review's own weeks and narrowing."""
    funnel = station_funnel(asking(house, review), review.escape_window)
    return {
        "funnel": None if isinstance(funnel, TooLittle) else funnel_picture(funnel),
        "no_funnel": funnel.reason if isinstance(funnel, TooLittle) else "",
        "escapes": escapes,
        "escape_picture": escape_picture(escapes),
        "build_weeks": build_weeks_table(escapes),
    }
