"""Every range that a page prints is of a kind that somebody judges: where it stands, and the line that judges it.

The lines are those of ``tests/truth/coverage.py``, which counts how often each holds the truth.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass

from tests.recount.printed import Page

_END = r"\d[\d.]*(?: %)?(?: fewer| more)?"
RANGE = re.compile(rf"(?<![\w.-]){_END} (?:to|–) (?:no upper limit|{_END})(?!-W)|(?<!add )\bup to {_END}(?![\d.]*-)")


@dataclass(frozen=True, slots=True)
class Kind:
    """Ranges in sentences or pictures whose words match ``says``, or in table columns whose caption and head do.

    line: of the table that judges them, or why there is none.
    """

    line: str
    says: str = ""
    caption: str = ""
    head: str = ""


OBSERVED = "no interval: the least and the most of the weeks counted"
SETTING = "no interval: a setting, as the plant or the method has it"
PLACES = "no interval: first and last of what was counted"
KINDS = (
    Kind("review, change against the baseline", says=r"(plain|same models in both) \S+"),
    Kind("review, limits of defects per unit", says=r"a unit\), \w+ the limits of "),
    Kind("review, limits of units with a defect", says=r"of \d+ units in \S+ \([\d.]+ %\), \w+ the limits of "),
    Kind("review, limits of first-pass", says=r"no critical or major \([\d.]+ %\), \w+ the limits of "),
    Kind("review, units between criticals", says=r"By chance alone 95 of 100 gaps are of "),
    Kind("what waits, units with a finding after dispatch", says=r"after dispatch.* on \d+ of \d+ unit"),
    Kind("what waits, units with a finding after dispatch", says=r"days of release.* on \d+ of \d+ unit"),
    Kind("what waits, repairs that came back", says=r"came back at the re-check"),
    Kind("station, units with a defect from upstream", says=r"found later: on \d+ of \d+ unit"),
    Kind("station's week, usual range", says=r"is usual, by "),
    Kind("station, expected of the open ones", says=r"probably made here \(|of \d+ not settled in the pla"),
    Kind("station, expected of the open ones", says=r"^expected: |^Expected of \d+ not settled: "),
    Kind("signals, ratio since it began", says=r"\([\d.]+ times, "),
    Kind("inspectors, share found", says=r"[Ss]hare found [\d.]+ % \("),
    Kind("inspectors, share found", says=r"^\w+: [\d.]+ % \("),
    Kind("inspectors, found by neither", says=r"Found by neither look: about "),
    Kind("escapes, passed by a point", says=r"passed, [\d.]+ % \("),
    Kind("review, defects per unit in one mix", says=r"95 % interval: "),
    Kind(OBSERVED, says=r"week by week \d"),
    Kind(SETTING, says=r"the last 5 to 6 figures|beyond the limit \(up to |The baseline has \d+ periods; 20 to 25"),
    Kind(PLACES, says=r"sequence \d+ to \d"),
    Kind("review, zones not looked at", caption="Fitness of the data", head="Share"),
    Kind(SETTING, caption="Fitness of the data", head="Reading"),
    Kind(SETTING, caption="Tests this model needs", head="Limits and conditions"),
    Kind("Pareto row, usual range", head="Usual$", caption=r"beside it"),
    Kind("station's type, usual range", head="Usual in a week", caption="Types made at "),
    Kind("station's week, usual range", head="Usual$", caption="Units whose build contains|Units that every end point"),
    Kind("review, limits of defects per unit", head="Usual range", caption=r"^\S.* per unit, of units"),
    Kind("review, limits of units with a defect", head="Usual range", caption="Units that every end point"),
    Kind("review, limits of first-pass", head="Usual range", caption="Units whose first presentation"),
    Kind("review, defects per unit in one mix", head=r"adjusted \(95 % interval"),
    Kind("review, first-pass of a week", head="no critical or major, |nothing at all, ", caption="First-pass, "),
    Kind("funnel, ratio drawn towards all", head="Drawn towards all"),
    Kind("funnel, usual", head="Made over expected; usual"),
    Kind("review, share of an origin", head="Share of known"),
    Kind("escapes, passed by a point", head="Share passed"),
    Kind("station, expected of the open ones", head="Range, 95 %"),
    Kind("what waits, repairs that came back", head="Share; of all types with its interval"),
    Kind("inspectors, share found", head="Share found"),
    Kind("inspectors, share of false calls", head="Share", caption="False calls"),
    Kind("inspectors, found by neither, a pair", head="Found by neither"),
)


def kind_of(words: str, caption: str, head: str, at: int) -> Kind | None:
    """Return the kind of a range; words up to it decide, or the column that it stands in."""
    for kind in KINDS:
        if kind.says and not head and re.search(kind.says, words[: at + 40]):
            return kind
        if kind.head and head and re.search(kind.head, head) and re.search(kind.caption, caption):
            return kind
    return next((kind for kind in KINDS if head and kind.says and re.search(kind.says, words)), None)


def unjudged(page: Page) -> Iterator[tuple[str, str]]:
    """Yield (place, words) of each printed range that is of no kind."""
    said = [(one.place, one.text) for one in page.sentences]
    said += [(f"picture {one.name}", words) for one in page.drawings for words in (one.says, *one.marks)]
    for place, words in said:
        for found in RANGE.finditer(words):
            if kind_of(words, "", "", found.start()) is None:
                yield place, words[max(0, found.start() - 40) : found.end()]
    for table in page.tables:
        for row in table.rows:
            for head, cell in zip(table.heads, row, strict=False):
                for found in RANGE.finditer(cell):
                    if kind_of(cell, table.caption, head, found.start()) is None:
                        yield f"table “{table.caption[:40]}” > {head}", cell
