"""Numbers in the review's own words that count nothing: headings, steps, choices of the form."""

from tests.recount.attributed import Sheet, Value, Words
from tests.recount.everywhere import counted, literal
from tests.recount.plant import monday_of
from tests.recount.presented import weeks_to
from tests.recount.view import View

SECTIONS = (
    "1 Safety", "2 Is the data fit to read?", "3 Level", "4 First-pass", "5 Signals", "6 The few that make most",
    "7 Where made", "2 Data", "6 Pareto", "7 Origin and escapes",
)  # fmt: skip


def words_sheet(view: View) -> Sheet:
    words: list[Words] = literal(*SECTIONS, "See section 1", "see section 1", "in section 1", "the limits of section 3")
    words += literal("13", "26", "52", "104", place="<option>$")
    words.append(counted("{n} weeks on the charts", n=view.weeks))
    words.append(Words("the {n} weeks to {w:week}", lambda groups: _charted(view, groups), "few lines"))
    return Sheet(words)


def _charted(view: View, groups: dict[str, str]) -> dict[str, Value]:
    """Return how many weeks the charts show, from the record's first or as many as were asked for."""
    begun = max(view.record_weeks[0], weeks_to(view.week, view.weeks)[0])
    return {"n": (monday_of(groups["w"]) - monday_of(begun)).days // 7 + 1}
