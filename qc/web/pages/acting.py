"""Acting from a page: one operation through the desk's door, and the verdict in words for the person who acted."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from qc.domain.people import Person
from qc.web.desk import author
from qc.web.house import House
from qc.web.pages.page_counts import count_anew


@dataclass(frozen=True, slots=True)
class Act:
    """What came of an act. done: it is in effect; words: why not, "" where it is; status: of the answer."""

    done: bool
    words: str
    status: int


def act(house: House, person: Person, kind: str, unit: str | None, body: Mapping[str, Any]) -> Act:
    """Record an operation of a person and return what came of it; only "applied" counts as done."""
    verdict = author(house, person, kind, unit, body)
    count_anew()
    if verdict.verdict == "applied":
        return Act(True, "", 303)
    if verdict.verdict == "refused":
        return Act(False, f"Not done: {sentence(verdict.reason)} Nothing was changed.", _status(verdict.code))
    return Act(False, f"Kept, not in effect ({verdict.verdict}): {sentence(verdict.reason)}", 409)


_STATUS = {
    "malformed": 400,
    "not_set_aside": 404,
    "reason_needed": 400,
    "until_out_of_range": 400,
    "not_your_role": 403,
}


def _status(code: str) -> int:
    return _STATUS.get(code, 409)


# How the page calls what the record calls by its field's name.
FIELDS = {
    "body.reason": "The reason",
    "body.what": "What changed",
    "body.from_day": "The day",
    "body.change": "The kind of change",
    "body.station": "The station",
    "body.defect": "The defect",
    "body.type": "The type",
    "body.direction": "The direction",
    "body.until": "The last day",
    "body.mute": "The mute",
    "body.person": "The code",
    "body.name": "The name",
    "body.role": "The role",
    "body.stations": "The stations",
    "unit": "The unit",
}


def sentence(words: str) -> str:
    """Return why the record does not allow something as a sentence, with fields called as on the pages."""
    text = words.strip() or "the record does not allow it"
    field, _, rest = text.partition(" ")
    text = f"{FIELDS.get(field.rstrip(':'), field)} {rest}".strip()
    return text if text.endswith(".") else f"{text}."
