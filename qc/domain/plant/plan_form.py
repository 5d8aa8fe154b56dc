"""How a plant writes its build plans: the names of the columns in its own files, and the form of a day."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

COLUMNS = ("chassis", "shop_number", "model", "sequence", "planned_day", "options", "build_sheet", "line")
CHANGING = ("planned_day", "options", "build_sheet", "line")  # what a later plan may change of a unit
_PARTS = {"YYYY": r"(?P<year>\d{4})", "MM": r"(?P<month>\d{1,2})", "DD": r"(?P<day>\d{1,2})"}


@dataclass(frozen=True, slots=True)
class PlanForm:
    """names: the plant's own heading by column; day_format: such as "DD.MM.YYYY", "" for ISO days alone."""

    names: Mapping[str, str] = field(default_factory=dict)
    day_format: str = ""

    def day_of(self, text: str) -> date:
        """Return the day that a cell tells, ISO or in the plant's form. Raises ValueError."""
        if re.fullmatch(r"\d{4}-\d{2}-\d{2}", text):
            return date.fromisoformat(text)
        found = re.fullmatch(_pattern(self.day_format), text) if self.day_format else None
        if found is None:
            raise ValueError(text)
        return date(*(int(found[part]) for part in ("year", "month", "day")))


def is_other_form(text: str) -> bool:
    """Return whether a cell that tells no day looks like one in a form that the plant could name."""
    return re.fullmatch(r"\d{1,2}([ ./-])\d{1,2}\1\d{4}|\d{4}([ ./])\d{1,2}\2\d{1,2}", text) is not None


def is_day_format(told: str) -> bool:
    """Return whether a form of day names year, month and day once each, with signs between them."""
    divided = re.fullmatch(r"([YMD]+)([ ./-])([YMD]+)\2([YMD]+)", told)
    return divided is not None and sorted(divided.group(1, 3, 4)) == sorted(_PARTS)


def _pattern(told: str) -> str:
    return "".join(_PARTS.get(part, re.escape(part)) for part in re.split(r"([YMD]+)", told))
