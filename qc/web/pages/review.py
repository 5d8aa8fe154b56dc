"""The quality manager's week: safety first, then whether the data is fit, level, first-pass, Pareto, escapes."""

from flask import render_template, request

from qc.charts.drawing.picture import Picture
from qc.charts.pages.review import ReviewPictures, review_pictures
from qc.charts.pages.review_tables import first_pass_table, mix_table, orders_table, quality_table, under_way_table
from qc.reports.asking import Asking
from qc.reports.units.open_criticals import open_criticals, open_words
from qc.reports.watch.signals import Signals
from qc.reports.week.after_repair import clocked_line, clocked_words
from qc.reports.week.glance import glance, signals_words
from qc.reports.week.review import Review, weekly_review
from qc.web.house import House, the_house
from qc.web.page_session import require_role
from qc.web.pages.backlog import waiting
from qc.web.pages.changes import criteria_days, criteria_notes
from qc.web.pages.filters import SEVERITY_CHOICES, WEEK_CHOICES, ReviewFilter, last_whole_week, review_filter
from qc.web.pages.review_apart import apart, counted_as_asked, followed_up
from qc.web.pages.review_signals import week_signals
from qc.web.pages.rooms import counts_of, today

ORDER_CHOICES = (("count", "number"), ("minutes", "rework minutes"), ("severity", "severity"))


@require_role("quality_manager")
def show() -> tuple[str, int]:
    """Return the review that the address asks for; values that cannot be used are named on it."""
    house = the_house()
    filters, problems = review_filter(request.args, house.plant, today(house))
    signals, waits = week_signals(house, filters.week), waiting(house)
    open_ones = open_criticals(Asking(counts=counts_of(house), plant=house.plant, now_ms=house.clock()))
    review = reviewed(house, filters, signals)
    escapes = followed_up(house, review)
    page = render_template(
        "review/review.html",
        review=review,
        signals=signals,
        signals_say=signals_words(signals),
        new_signals=[one for one in signals.shown if one.is_new],
        glance=glance(review, signals, escapes.sentence, waits.sentence, bool(waits.criticals)),
        filters=filters,
        problems=problems,
        open_criticals=open_ones,
        open_words=open_words(open_ones),
        alarms=house.reads.units_with_alarm(),
        later=_later(house, filters),
        **prepared(review, review_pictures(review, criteria_notes(house), (filters.order,)), filters),
        clocked=clocked_words(clocked_line(counted_as_asked(house, review), review.week)),
        **apart(house, review, escapes),
    )
    return page, 400 if problems else 200


def reviewed(house: House, filters: ReviewFilter, signals: Signals) -> Review:
    """Return the report for a filter; signals: of its week."""
    return weekly_review(
        counts_of(house),
        house.plant,
        filters.week,
        house.clock(),
        models=filters.models,
        shifts=filters.shifts,
        severities=filters.severities,
        chosen=filters.chosen,
        criteria=criteria_days(house),
        signals=signals.weeks,
        history_weeks=filters.weeks,
    )


def prepared(review: Review, pictures: ReviewPictures, filters: ReviewFilter) -> dict[str, object]:
    """Return what the page prints beside the report itself."""
    return {
        "pictures": pictures,
        **level_shown(review, pictures, filters),
        "type_picture": pictures.types[0],
        "origin_picture": pictures.origins[0],
        "narrowed": filters.narrowed(),
        "quality_table": quality_table(review.data_quality, review.week.name),
        "under_way_table": under_way_table(review.under_way),
        "mix_tables": [mix_table(mix, review.week.name) for mix in review.data_quality.inspector_mix],
        "first_pass_table": first_pass_table(review.first_pass, review.week.name, review.window.name),
        "orders_table": orders_table(review.pareto_by_type, review.week.name),
        "week_choices": WEEK_CHOICES,
        "severity_choices": SEVERITY_CHOICES,
        "order_choices": ORDER_CHOICES,
        "earlier": filters.address(-1),
    }


def level_shown(review: Review, pictures: ReviewPictures, filters: ReviewFilter) -> dict[str, tuple[Picture, ...]]:
    """Return the chart that stands and those that a reader opens; without minors none that counts them."""
    pairs = list(zip(review.level.units_with_defect, pictures.level, strict=True))
    kept = tuple(picture for part, picture in pairs if not (filters.severity and "any" in part.what))
    return {"level_first": kept[:1], "level_more": kept[1:]}


def _later(house: House, filters: ReviewFilter) -> str:
    """Return the address of the week after, "" where that has not begun."""
    return filters.address(1) if filters.week <= last_whole_week(today(house)) else ""
