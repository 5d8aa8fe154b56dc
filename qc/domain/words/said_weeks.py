"""Weeks and days as sentences name them in the language spoken; the record and addresses keep those of ISO 8601."""

import re
from datetime import date

from qc.domain.words.speaking import say

_WEEK = re.compile(r"(\d{4})-W(\d\d)")
_DAY = re.compile(r"(\d{4})-(\d\d)-(\d\d)")
_ONE_OF_DAY = re.compile(rf"({_DAY.pattern})( \(\d+\))?")  # the second of a day says so behind it


def week_words(code: str) -> str:
    """Return an ISO week ("2026-W10") or a day ("2026-03-05") as a sentence names it; any other text as it is."""
    if found := _WEEK.fullmatch(code):
        return say("{year}-W{week}", year=found[1], week=found[2])
    if found := _ONE_OF_DAY.fullmatch(code):
        return say("{year}-{month}-{day}", year=found[2], month=found[3], day=found[4]) + (found[5] or "")
    return code


def period_tick(label: str) -> str:
    """Return an ISO week or day without its year for an axis, "W10" and "03-05"; any other text as it is."""
    if found := _WEEK.fullmatch(label):
        return say("W{week}", week=found[2])
    if found := _DAY.fullmatch(label):
        return say("{month}-{day}", month=found[2], day=found[3])
    return label


def day_figures(day: date) -> str:
    """Return a day in figures, "2026-03-05"."""
    return say("{year}-{month}-{day}", year=f"{day.year:04d}", month=f"{day.month:02d}", day=f"{day.day:02d}")
