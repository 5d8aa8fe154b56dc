"""How the pages write things: days and instants in the plant's own time, codes with their names, figures as JSON."""

import re
from collections.abc import Callable
from datetime import UTC, date, datetime
from typing import Any
from zoneinfo import ZoneInfo

import orjson
from babel.dates import format_date
from flask import Blueprint
from markupsafe import Markup, escape

from qc.charts.drawing import words
from qc.charts.kinds.flaw_circle import flaw_circle
from qc.domain.facts.people import SERVER
from qc.domain.plant.naming import SaidNames, with_name
from qc.domain.tables.plant_words import with_shown_names
from qc.domain.unit.unit_record import Circle
from qc.domain.words.code_words import code_words
from qc.domain.words.said_weeks import week_words
from qc.domain.words.speaking import marked, say, told, tongue
from qc.web.house import House, the_house
from qc.web.pages.navigation import pages_of

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_DAYS = {"de": "EEE d. MMM y"}  # by language, in the patterns of Unicode's LDML; English is written here
CHANGES = {
    "person": marked("New person"),
    "tool": marked("Tool or jig changed"),
    "part_batch": marked("New batch of parts or material"),
    "method": marked("Way of working changed"),
    "criteria": marked("Criteria changed"),
    "other": marked("Something else"),
}


def day_words(day: date) -> str:
    """Return a day in the language spoken: "Thu 5 Mar 2026", "Do. 5. März 2026"."""
    if (pattern := _DAYS.get(tongue().tag)) is not None:
        return format_date(day, pattern, locale=tongue().tag)
    return f"{DAYS[day.weekday()]} {day.day} {MONTHS[day.month - 1]} {day.year}"


def clock_in(zone: ZoneInfo) -> Callable[[int], Markup]:
    """Return the filter that writes an instant (ms) in the plant's time, machine-readable beside it."""

    def clock(ms: int) -> Markup:
        utc = datetime.fromtimestamp(ms / 1000, UTC)
        local = utc.astimezone(zone)
        return Markup('<time datetime="{}">{} {:%H:%M}</time>').format(
            utc.isoformat(timespec="seconds"), day_words(local.date()), local
        )

    return clock


def figure_json(figure: dict[str, Any]) -> Markup:
    """Return a figure as JSON that cannot end its script element: "<", ">" and "&" as escapes."""
    text = orjson.dumps(figure).decode()
    for sign in "<>&":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return Markup(text)


_PERCENT = re.compile(r"(?<=\d) %")
_RANGE = re.compile(r"% – (?=\d)")


def unbroken(text: str) -> str:
    """Return a text whose percentages, and ranges of two, keep to one line: "39 %" never ends in a lone sign."""
    return _RANGE.sub("%\u00a0–\u00a0", _PERCENT.sub("\u00a0%", text))


def has_arrived(sha256: str) -> bool:
    """Whether a photo that a defect names has come from its phone in full."""
    return the_house().photos.photo(sha256) is not None


def circle_over(circle: Circle | None, sha256: str) -> Markup:
    """Return the flaw's circle to be laid over a photo that has arrived, nothing where none is drawn."""
    photo = the_house().photos.photo(sha256) if circle else None
    return Markup(flaw_circle(circle, photo.width, photo.height)) if circle and photo else Markup("")


def as_told(text: str) -> str:
    """Return what the record or a refusal says in English in the reader's language, with names as pages show them."""
    return told(shown_names(text))


def shown_names(text: str) -> str:
    """Return a text in which the record may have named a test or a type, with the names that pages show."""
    house = the_house()
    return with_shown_names(house.plant, house.shown, text)


def begun(text: str) -> str:
    """Return words as a sentence begins with them."""
    return text[:1].upper() + text[1:]


def setter(by: str) -> str:
    """Return who gave a PIN or passphrase, by code or as the server's console; "nobody" for ""."""
    return say("the server's console") if by == SERVER else by or say("nobody")


def register(pages: Blueprint, house: House) -> None:
    """Give every template of the application the plant and these ways of writing."""
    pages.add_app_template_filter(day_words, "day")
    pages.add_app_template_filter(clock_in(ZoneInfo(house.plant.time_zone)), "clock")
    pages.add_app_template_filter(week_words, "week")
    pages.add_app_template_filter(words.decimal, "figure")
    pages.add_app_template_filter(figure_json, "figure_json")
    pages.add_app_template_filter(unbroken, "unbroken")
    # Of the tables in force at each call; macros that are imported have them too.
    pages.add_app_template_filter(lambda code: SaidNames(house.shown).place(code), "place_name")
    pages.add_app_template_filter(lambda code: SaidNames(house.shown).option(code), "option_name")
    pages.add_app_template_global(lambda code: SaidNames(house.shown).place(code), "origin_name")
    pages.add_app_template_global(lambda code: SaidNames(house.shown).found_at(code), "found_at")
    pages.add_app_template_global(lambda one: SaidNames(house.shown).critical(one.type, one.grade), "critical_words")
    pages.add_app_template_global(with_name, "with_name")
    pages.add_app_template_filter(setter, "setter")
    pages.add_app_template_filter(code_words, "code_words")
    pages.add_app_template_filter(as_told, "told")
    pages.add_app_template_filter(shown_names, "shown_names")
    pages.add_app_template_filter(begun, "begun")
    pages.add_app_template_filter(has_arrived, "has_arrived")
    pages.add_app_template_filter(circle_over, "circle_over")
    pages.app_context_processor(
        lambda: {
            "plant": house.shown,
            "pages_of": pages_of,
            "change_words": lambda change: say(CHANGES[change]) if change in CHANGES else escape(change),
        }
    )
