"""The quality manager's week: safety first, then whether the data is fit, level, first-pass, Pareto, escapes."""

from collections.abc import Callable
from dataclasses import dataclass

import orjson
from flask import Response, render_template, request

from qc.charts.drawing.picture import Picture
from qc.charts.pages.glance import glance_sparks
from qc.charts.pages.review import ReviewPictures, review_pictures
from qc.charts.pages.review_tables import first_pass_table, mix_table, orders_table, quality_table, under_way_table
from qc.domain.words.speaking import marked, say
from qc.reports.asking import Asking
from qc.reports.units.open_criticals import open_criticals, open_words
from qc.reports.watch.signals import Signals
from qc.reports.week.after_repair import clocked_line, clocked_words
from qc.reports.week.criteria import criteria_days
from qc.reports.week.glance import data_words, glance, signals_words
from qc.reports.week.level import ANY
from qc.reports.week.review import Review, weekly_review
from qc.reports.week.week_parts import week_parts
from qc.web.house import House, the_house
from qc.web.page_session import require_role
from qc.web.pages.backlog import waiting
from qc.web.pages.changes import criteria_notes
from qc.web.pages.filters import SEVERITY_CHOICES, WEEK_CHOICES, ReviewFilter, last_whole_week, review_filter
from qc.web.pages.page_counts import counts_of, today, usual
from qc.web.pages.review_origins import counted_as_asked, followed_up, review_origins
from qc.web.pages.review_signals import week_signals

ORDER_CHOICES = (("count", marked("number")), ("minutes", marked("rework minutes")), ("severity", marked("severity")))


BY_MODEL, BY_POINT, FIGURES = "/by-model", "/by-point", "/figures"  # beside the week's own address


@require_role("quality_manager")
def show() -> tuple[str, int]:
    """Return the review that the address asks for; values that cannot be used are named on it."""
    house = the_house()
    asked = _asked(house)
    review, filters, signals = asked.review, asked.filters, asked.signals
    escapes = followed_up(house, review)
    parts = week_parts(counted_as_asked(house, review), review)
    page = render_template(
        "review/review.html",
        **_common(house, asked),
        signals=signals,
        signals_say=signals_words(signals),
        new_signals=[one for one in signals.shown if one.is_new],
        glance=glance(review, signals, escapes),
        sparks=glance_sparks(review, signals, escapes, parts),
        waits=waiting(house).sentence,
        fit=data_words(review.data_quality),
        alarms=house.reads.units_with_alarm(),
        later=_later(house, filters),
        figures_address=filters.address(page=FIGURES),
        by_model=filters.address(page=BY_MODEL),
        by_point=filters.address(page=BY_POINT),
        **prepared(review, asked.pictures(house), filters),
        clocked=clocked_words(clocked_line(counted_as_asked(house, review), review.week)),
        **review_origins(house, review, escapes),
    )
    return page, 400 if asked.problems else 200


@require_role("quality_manager")
def figures() -> Response:
    """Return the figures of the review's charts by the picture's id, for the script of a wide screen."""
    house = the_house()
    asked = _asked(house)
    review, pictures = asked.review, asked.pictures(house)
    level = level_shown(review, pictures, asked.filters)["level_first"]
    origins = review_origins(house, review, followed_up(house, review))
    shown = (
        *((pictures.gaps,) if pictures.gaps else ()),
        *((*level, pictures.per_unit) if review.has_rates else ()),
        *((pictures.first_pass[0], pictures.rework) if review.has_rates else ()),
        *((pictures.types[0], pictures.origins[0]) if review.has_rates else ()),
        pictures.matrix,
        pictures.passed,
        *(one for one in (origins["escape_picture"], origins["funnel"]) if isinstance(one, Picture)),
    )
    return Response(orjson.dumps({one.id: one.figure for one in shown}), mimetype="application/json")


@require_role("quality_manager")
def by_model() -> tuple[str, int]:
    """Return the charts of units with a defect that do not stand on the week: any defect, and each model."""
    return _more(say("Units with a defect, by model"), _every_level)


@require_role("quality_manager")
def by_point() -> tuple[str, int]:
    """Return first-pass of each end point, week by week."""
    return _more(say("First-pass, by end point"), lambda _, drawn: drawn[1].first_pass[1:])


def _every_level(asked: "_Asked", drawn: "_Drawn") -> tuple[Picture, ...]:
    shown = level_shown(*drawn, asked.filters)
    return (*shown["level_first"], *shown["level_more"])


@dataclass(frozen=True, slots=True)
class _Asked:
    """What an address asks for, and the review that answers it. problems: values that could not be used."""

    filters: ReviewFilter
    problems: tuple[str, ...]
    signals: Signals
    review: Review

    def pictures(self, house: House) -> ReviewPictures:
        return review_pictures(self.review, criteria_notes(house), (self.filters.order,))


def _asked(house: House) -> _Asked:
    filters, problems = review_filter(request.args, house.shown, today(house), usual(house))
    signals = week_signals(house, filters.week)
    return _Asked(filters, problems, signals, reviewed(house, filters, signals))


def _common(house: House, asked: _Asked) -> dict[str, object]:
    """Return what each page of the review prints."""
    open_ones = open_criticals(Asking(counts=counts_of(house), plant=house.shown, now_ms=house.clock()))
    return {
        "review": asked.review,
        "filters": asked.filters,
        "problems": asked.problems,
        "open_criticals": open_ones,
        "open_words": open_words(open_ones),
    }


_Drawn = tuple[Review, ReviewPictures]


def _more(title: str, chosen: Callable[[_Asked, _Drawn], tuple[Picture, ...]]) -> tuple[str, int]:
    house = the_house()
    asked = _asked(house)
    page = render_template(
        "review/more.html",
        title=title,
        shown=chosen(asked, (asked.review, asked.pictures(house))),
        narrowed=asked.filters.narrowed(house.shown),
        back=asked.filters.address(),
        **_common(house, asked),
    )
    return page, 400 if asked.problems else 200


def reviewed(house: House, filters: ReviewFilter, signals: Signals) -> Review:
    """Return the report for a filter; signals: of its week."""
    return weekly_review(
        counts_of(house),
        house.shown,
        filters.week,
        house.clock(),
        models=filters.models,
        lines=filters.lines,
        shifts=filters.shifts,
        severities=filters.severities,
        chosen=filters.chosen,
        criteria=criteria_days(house.reads, house.shown),
        signals=signals.weeks,
        scatter=signals.scatter,
        history_weeks=filters.weeks,
    )


def prepared(review: Review, pictures: ReviewPictures, filters: ReviewFilter) -> dict[str, object]:
    """Return what the page prints beside the report itself."""
    return {
        "pictures": pictures,
        **level_shown(review, pictures, filters),
        "type_picture": pictures.types[0],
        "origin_picture": pictures.origins[0],
        "narrowed": filters.narrowed(the_house().shown),
        "quality_table": quality_table(review.data_quality, review.week.name),
        "under_way_table": under_way_table(review.under_way),
        "mix_tables": [mix_table(mix, review.week.name) for mix in review.data_quality.inspector_mix],
        "first_pass_table": first_pass_table(review.first_pass, review.week.name, review.window.name),
        "orders_table": orders_table(review.pareto_by_type, review.week.name),
        "week_choices": WEEK_CHOICES,
        "severity_choices": [(choice, say(told)) for choice, told in SEVERITY_CHOICES],
        "order_choices": [(choice, say(told)) for choice, told in ORDER_CHOICES],
        "earlier": filters.address(-1),
    }


def level_shown(review: Review, pictures: ReviewPictures, filters: ReviewFilter) -> dict[str, tuple[Picture, ...]]:
    """Return the chart that stands and those that a reader opens; without minors none that counts them."""
    pairs = list(zip(review.level.units_with_defect, pictures.level, strict=True))
    kept = tuple(picture for part, picture in pairs if not (filters.severity and part.what == ANY))
    return {"level_first": kept[:1], "level_more": kept[1:]}


def _later(house: House, filters: ReviewFilter) -> str:
    """Return the address of the week after, "" where that has not begun."""
    return filters.address(1) if filters.week <= last_whole_week(today(house)) else ""
