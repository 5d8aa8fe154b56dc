"""Acting from a page: one operation through the desk's door, and the verdict in words for the person who acted."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from qc.domain.facts.people import Person
from qc.domain.words.speaking import marked, say
from qc.reports.units.operation_words import VERDICTS
from qc.web.desk import author
from qc.web.house import House
from qc.web.pages.page_counts import count_anew
from qc.web.pages.template_filters import as_told


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
        return Act(
            False, say("Not done: {why} Nothing was changed.", why=sentence(verdict.reason)), _status(verdict.code)
        )
    told_verdict = say(VERDICTS.get(verdict.verdict, verdict.verdict))
    words = say("Kept, not in effect ({verdict}): {why}", verdict=told_verdict, why=sentence(verdict.reason))
    return Act(False, words, 409)


def typed_words(words: str, reason: str) -> str:
    """Return why something was not done with the reason that was typed: its form may be gone from the page."""
    back = say("You typed “{reason}”; nothing of it is lost.", reason=reason) if reason else ""
    return f"{words} {back}".rstrip()


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
    "body.reason": marked("The reason"),
    "body.what": marked("What changed"),
    "body.from_day": marked("The day"),
    "body.change": marked("The kind of change"),
    "body.station": marked("The station"),
    "body.defect": marked("The defect"),
    "body.type": marked("The type"),
    "body.direction": marked("The direction"),
    "body.until": marked("The last day"),
    "body.mute": marked("The mute"),
    "body.person": marked("The code"),
    "body.name": marked("The name"),
    "body.role": marked("The role"),
    "body.also": marked("The further roles"),
    "body.stations": marked("The stations"),
    "unit": marked("The unit"),
}


def sentence(words: str) -> str:
    """Return why the record does not allow something as a sentence, with fields called as on the pages."""
    text = words.strip() or say("the record does not allow it")
    field, _, rest = text.partition(" ")
    named = FIELDS.get(field.rstrip(":"))
    if named is not None:
        # "each" begins a sentence of its own, since in German what follows does not agree with many.
        text = f"{say(named)}{':' if rest.startswith('each ') else ''} {as_told(rest)}".strip()
    else:
        text = as_told(text)
    return text if text.endswith(".") else f"{text}."
