"""The weekly review: every section's sheet."""

from tests.recount.attributed import Sheet
from tests.recount.everywhere import together
from tests.recount.printed import Page
from tests.recount.review_first_pass import first_pass_sheet
from tests.recount.review_fitness import fitness_sheet
from tests.recount.review_follow_up import follow_up_sheet
from tests.recount.review_funnel import funnel_sheet
from tests.recount.review_level import level_sheet
from tests.recount.review_origins import origins_sheet
from tests.recount.review_pareto import pareto_sheet
from tests.recount.review_passed import passed_sheet
from tests.recount.review_safety import safety_sheet
from tests.recount.review_words import words_sheet
from tests.recount.signals_page import moved_sums, signals_words
from tests.recount.under_way import under_way_sheet
from tests.recount.view import View
from tests.recount.waiting import waiting_sheet


def review_sheet(view: View, signals: Page) -> Sheet:
    """Return what the recount knows of the review; signals: the week's page of them names each sum's types."""
    sections = (
        words_sheet, waiting_sheet, under_way_sheet, safety_sheet, fitness_sheet, level_sheet, first_pass_sheet,
        origins_sheet, passed_sheet, follow_up_sheet, funnel_sheet,
    )  # fmt: skip
    moved = moved_sums(view, signals)
    return together(*(section(view) for section in sections), pareto_sheet(view, moved), signals_words(view, signals))
