"""Settled and open origins by type and by what was said first: what an expected origin is learned from.

A guess is the finder's own, made before anybody else spoke. The `suspected` that a defect has now is no guess any
more: passing on writes the new station over it, and only the suspected station can confirm, so that what is confirmed
always agrees with it. Held against that, guesses would seem right nearly always.
"""

import sqlite3
from collections import Counter

from qc.domain.counts import Slice
from qc.domain.origin_learning import OpenCell, OriginLearning, SettledCell
from qc.domain.plant import UNKNOWN, Plant
from qc.store.counts.seen_units import SEEN, seen_parameters

FLAWS = f"""
WITH {SEEN}
SELECT d.id, d.type, d.point, d.model, d.finder,
       CASE WHEN d.origin_state IN ('confirmed', 'settled') THEN coalesce(d.confirmed, '{UNKNOWN}')
            ELSE '' END,
       CASE WHEN d.origin_state = 'suspected' THEN coalesce(nullif(d.suspected, '{UNKNOWN}'), '')
            ELSE '' END
  FROM seen AS s
 CROSS JOIN defect AS d ON d.unit = s.unit
  LEFT JOIN inspection AS i ON i.id = d.inspection
 WHERE d.state <> 'withdrawn'
   AND d.first_presentation = 1
   AND d.point <> 'FIELD'
   AND (d.inspection IS NULL OR i.ended_ms IS NOT NULL)
"""
# Nothing was said of these units' defects before the first operation on any of the units.
BEGUN = f"""
WITH {SEEN}
SELECT min((SELECT min(number) FROM journal AS j WHERE j.unit = s.unit))
  FROM seen AS s
"""
# By the journal's own numbers: that is several times faster than unit by unit, and everything said comes after them.
WORDS = """
SELECT json_extract(CAST(j.bytes AS TEXT), '$.body.defect'), j.kind, j.author,
       json_extract(CAST(j.bytes AS TEXT), '$.body.station')
  FROM journal AS j
 CROSS JOIN verdict AS v ON v.number = j.number
 WHERE j.number >= :begun
   AND j.kind IN ('origin_suspected', 'origin_passed_on', 'origin_disputed', 'origin_confirmed', 'origin_settled')
   AND v.verdict = 'applied'
 ORDER BY v.place
"""
DENIED = ("origin_passed_on", "origin_disputed")


def origin_learning(connection: sqlite3.Connection, slice_: Slice, plant: Plant, units: int) -> OriginLearning:
    """Return settled and open defects on the units seen in the slice; units: how many those are."""
    asked = seen_parameters(slice_, plant)
    guesses, denied = _said(connection, asked)
    settled: Counter[tuple[str, str, str, bool, str]] = Counter()
    opened: Counter[tuple[str, str, str, bool, str, str, str]] = Counter()
    for id_, type_, point, model, finder, origin, suspected in connection.execute(FLAWS, asked):
        group = plant.types[type_].group if type_ in plant.types else ""
        author, guess = guesses.get(id_, ("", ""))
        said = group, type_, guess if author == finder else "", id_ in denied
        if origin:
            settled[*said, origin] += 1
        else:
            opened[*said, point, model, suspected] += 1
    return OriginLearning(
        tuple(SettledCell(*cell, settled[cell]) for cell in sorted(settled)),
        tuple(OpenCell(*cell, opened[cell]) for cell in sorted(opened)),
        units,
    )


def _said(
    connection: sqlite3.Connection, asked: dict[str, str | int]
) -> tuple[dict[str, tuple[str, str]], frozenset[str]]:
    """Return who named whom first, by defect, and the defects that a lead passed on or disputed."""
    (begun,) = connection.execute(BEGUN, asked).fetchone()
    first: dict[str, tuple[str, str]] = {}
    denied: set[str] = set()
    for defect, kind, author, station in connection.execute(WORDS, {"begun": begun}):
        named = station if kind == "origin_suspected" and station != UNKNOWN else ""
        first.setdefault(defect, (author, named))
        if kind in DENIED:
            denied.add(defect)
    return first, frozenset(denied)
