"""Settled and open origins by type and by what was said first: what an expected origin is learned from.

A guess is the finder's own, made before anybody else spoke. The `suspected` that a defect has now is no guess any
more: passing on writes the new station over it, and only the suspected station can confirm, so that what is confirmed
always agrees with it. Held against that, guesses would seem right nearly always.
"""

import sqlite3
from collections import Counter
from collections.abc import Iterable

from qc.domain.counted.origin_learning import OpenCell, OriginLearning, SettledCell, first_of_source
from qc.domain.plant.plant import FIELD, UNKNOWN, Plant
from qc.store.counts.seen_flaws import SeenFlaw

_WORD = """
SELECT json_extract(CAST(j.bytes AS TEXT), '$.body.defect'), j.kind, j.author,
       json_extract(CAST(j.bytes AS TEXT), '$.body.station')"""
_KINDS = "'origin_suspected', 'origin_passed_on', 'origin_disputed', 'origin_confirmed', 'origin_settled'"
# By the journal's own numbers: that is several times faster than unit by unit, and everything said comes after them.
WORDS = f"""{_WORD}
  FROM journal AS j
 CROSS JOIN verdict AS v ON v.number = j.number
 WHERE j.number >= :begun
   AND j.kind IN ({_KINDS})
   AND v.verdict = 'applied'
 ORDER BY v.place
"""
# As a list of numbers: joined to the verdicts, SQLite would read the whole journal for a filter on these few.
NEW_WORDS = f"""{_WORD}
  FROM journal AS j
 WHERE j.number IN (SELECT number FROM verdict WHERE place > :place AND verdict = 'applied')
   AND j.kind IN ({_KINDS})
 ORDER BY (SELECT v.place FROM verdict AS v WHERE v.number = j.number)
"""
PLACE = "SELECT coalesce(max(place), 0) FROM verdict"
DENIED = ("origin_passed_on", "origin_disputed")


class Words:
    """What was said of origins since an operation's number: whom the first word named, and what a lead has denied.

    Operations come into effect in an order that only grows (a parked one gets its place when it does), so that later
    words are read from where the last reading ended. A word that is read twice changes nothing.
    """

    def __init__(self, connection: sqlite3.Connection, begun: int | None) -> None:
        """Read all words; begun: number of the first operation on any of the units, None where there is none."""
        self._first: dict[str, tuple[str, str]] = {}
        self._denied: set[str] = set()
        (self._place,) = connection.execute(PLACE).fetchone()
        self._take(connection.execute(WORDS, {"begun": begun}))

    def follow(self, connection: sqlite3.Connection) -> None:
        """Read what has come into effect since."""
        (place,) = connection.execute(PLACE).fetchone()
        self._take(connection.execute(NEW_WORDS, {"place": self._place}))
        self._place = place

    def _take(self, words: Iterable[tuple[str, str, str, str]]) -> None:
        for defect, kind, author, station in words:
            named = station if kind == "origin_suspected" and station != UNKNOWN else ""
            self._first.setdefault(defect, (author, named))
            if kind in DENIED:
                self._denied.add(defect)

    def guess(self, flaw: SeenFlaw) -> str:
        """Return whom the finder named before anybody else spoke, "" for nobody."""
        author, named = self._first.get(flaw.id, ("", ""))
        return named if author == flaw.finder else ""

    def denied(self, flaw: SeenFlaw) -> bool:
        """Return whether a lead passed it on or disputed it."""
        return flaw.id in self._denied


def _sources(flaws: Iterable[SeenFlaw]) -> Iterable[list[SeenFlaw]]:
    """Return the flaws of each source, the first recorded first; what was found after dispatch only joins others."""
    recorded = sorted(flaws, key=lambda flaw: flaw.number)
    first = first_of_source([(flaw.id, flaw.linked_to) for flaw in recorded])
    sources: dict[str, list[SeenFlaw]] = {}
    for flaw in recorded:
        if flaw.point != FIELD:
            sources.setdefault(first[flaw.id], []).append(flaw)
    return sources.values()


def _origin(source: list[SeenFlaw]) -> str:
    """Return where a source was settled, "UNK" where it was only closed as not known, "" while all of it is open."""
    settled = [flaw.origin for flaw in source if flaw.origin]
    return next((origin for origin in settled if origin != UNKNOWN), settled[0] if settled else "")


def origin_learning(flaws: Iterable[SeenFlaw], words: Words, plant: Plant, units: int) -> OriginLearning:
    """Return the flaws of a slice settled and open, with what was said of them first; units: how many were seen.

    Flaws that were linked have one source, which counts once: as the first of them was recorded, and settled as soon as
    one of them is, where the first settled one with a known origin was made.
    """
    settled: Counter[tuple[str, str, str, bool, str]] = Counter()
    opened: Counter[tuple[str, str, str, bool, str, str, str, str]] = Counter()
    for source in _sources(flaws):
        flaw, origin = source[0], _origin(source)
        group = plant.types[flaw.type].group if flaw.type in plant.types else ""
        said = group, flaw.type, words.guess(flaw), words.denied(flaw)
        if origin:
            settled[*said, origin] += 1
        else:
            opened[*said, flaw.point, flaw.model, flaw.line, flaw.suspected] += 1
    return OriginLearning(
        tuple(SettledCell(*cell, settled[cell]) for cell in sorted(settled)),
        tuple(
            OpenCell(
                group=group,
                type=type_,
                guess=guess,
                denied=denied,
                point=point,
                model=model,
                line=line,
                suspected=suspected,
                count=count,
            )
            for (group, type_, guess, denied, point, model, line, suspected), count in sorted(opened.items())
        ),
        units,
    )
