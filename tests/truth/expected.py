"""Whether the range of what is expected of each origin holds the true number, on drawn records whose truth is known.

Three ways of answering: as the story has it; two leads who leave six of ten guesses at their stations open; one who
never answers at all. The last two are what makes settled defects no random sample.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from types import SimpleNamespace

import numpy as np

from qc.domain.counted.origin_learning import OpenCell, OriginLearning, SettledCell
from qc.domain.plant.plant import UNKNOWN
from qc.reports.asking import Asking
from qc.reports.periods import Period
from qc.reports.stations.station_expected import LEAST_OF_A_GUESS, station_expected
from qc.stats.answers import TooLittle
from tests.truth.drawn import PLANT, STORY, Drawn, Row, drawn
from tests.truth.measured import Measured

WEEKS = 26
EVERY = tuple(place for place in PLANT.stations if place != UNKNOWN)
STORY_ANSWERS: Mapping[str, float] = {}
SLOW_LEADS = {"S07": 0.6, "S10": 0.6}  # share of the guesses at a station that its lead leaves open
SILENT_LEAD = {"S10": 1.0}


@dataclass(frozen=True, slots=True)
class Coverage:
    """Of one seed and one way of answering: origins with an open defect, or expected to have one; and of them held.

    as_settled: held by the plain reading, that open defects are shared out as settled ones of their type are.
    """

    origins: int
    held: int
    opened: int
    left_out: int
    settled: int
    as_settled: int


def covered(
    seed: int, slow: Mapping[str, float] = STORY_ANSWERS, weeks: int = WEEKS, record: Drawn | None = None
) -> Coverage:
    """Return how many of the origins' ranges hold the truth at the end of the weeks; record: of the seed, if drawn."""
    rows = _rows(drawn(seed) if record is None else record, seed, slow, weeks)
    learning = _learning(rows, on=STORY.monday(weeks + 1))
    ask = Asking(counts=SimpleNamespace(origin_learning=lambda _: learning), plant=PLANT, now_ms=0)  # type: ignore[arg-type]
    period = Period(STORY.monday(1), STORY.monday(weeks + 1), f"{weeks} weeks", False)
    truth = _truth(rows, STORY.monday(weeks + 1), _known(learning))
    naive = _as_settled(rows, STORY.monday(weeks + 1))
    origins = held = plain = 0
    for place in EVERY:
        report = station_expected(ask, period, place)
        assert not isinstance(report.expected, TooLittle), report.expected
        if truth[place] or report.expected.high:
            origins += 1
            held += report.expected.low <= truth[place] <= report.expected.high
            plain += abs(naive[place] - truth[place]) <= 1.96 * naive[place] ** 0.5
    return Coverage(origins, held, report.open_count, report.left_out, report.settled_count, plain)


def _rows(record: Drawn, seed: int, slow: Mapping[str, float], weeks: int) -> list[Row]:
    rng = np.random.default_rng([seed, 61])
    return [
        replace(row, said=None) if rng.random() < slow.get(row.suspected, 0.0) else row
        for row in record.rows
        if row.unit.week <= weeks
    ]


def _word(row: Row, on: date) -> tuple[bool, str, bool]:
    """Return whether it is settled by the day, the finder's guess, and whether a lead has denied it."""
    answered = row.said is not None and row.said <= on
    settled = answered and row.settled != UNKNOWN  # a dispute that nobody has settled stays open
    guess = row.suspected if row.suspected != UNKNOWN else ""
    return settled, guess, answered and bool(guess) and row.settled != guess


def _learning(rows: Sequence[Row], on: date) -> OriginLearning:
    settled: Counter[tuple[str, str, str, bool, str]] = Counter()
    opened: Counter[tuple[str, str, str, bool, str, str, str]] = Counter()
    for row in rows:
        is_settled, guess, denied = _word(row, on)
        said = PLANT.types[row.type].group, row.type, guess, denied
        if is_settled:
            settled[(*said, row.settled)] += 1
        else:
            opened[(*said, row.point, row.unit.model, "" if denied else guess)] += 1
    return OriginLearning(
        tuple(SettledCell(*cell, count) for cell, count in sorted(settled.items())),
        tuple(
            OpenCell(
                group=group,
                type=type_,
                guess=guess,
                denied=denied,
                point=point,
                model=model,
                suspected=suspected,
                count=count,
            )
            for (group, type_, guess, denied, point, model, suspected), count in sorted(opened.items())
        ),
        len({row.unit.sequence for row in rows}),
    )


def _known(learning: OriginLearning) -> Counter[tuple[bool, str]]:
    known: Counter[tuple[bool, str]] = Counter()
    for cell in learning.settled:
        known[False, cell.guess] += cell.count
        known[True, cell.guess] += cell.count * cell.denied
    return known


def _truth(rows: Sequence[Row], on: date, known: Mapping[tuple[bool, str], int]) -> Counter[str]:
    """Return the true origins of the open defects that are judged: those whose guess has a record."""
    truth: Counter[str] = Counter()
    for row in rows:
        settled, guess, denied = _word(row, on)
        truth[row.true_origin] += not settled and known[denied, guess] >= LEAST_OF_A_GUESS
    return truth


def _as_settled(rows: Sequence[Row], on: date) -> Counter[str]:
    """Share the open defects out as the settled ones of their type are, whatever was guessed."""
    by_type: dict[str, Counter[str]] = {}
    opened: Counter[str] = Counter()
    for row in rows:
        if _word(row, on)[0]:
            by_type.setdefault(row.type, Counter())[row.settled] += 1
        else:
            opened[row.type] += 1
    shared: Counter[str] = Counter()
    for type_, count in opened.items():
        for origin, n in by_type.get(type_, Counter()).items():
            shared[origin] += count * n / by_type[type_].total()
    return shared


ASKED = (
    ("answers as in the story", STORY_ANSWERS, WEEKS, 0.93),
    ("answers as in the story, after 8 weeks", STORY_ANSWERS, 8, 0.93),
    ("two leads leave 6 of 10 open", SLOW_LEADS, WEEKS, 0.90),
    ("one lead never answers", SILENT_LEAD, WEEKS, 0.90),
)


def ways_covered(seed: int) -> tuple[Coverage, ...]:
    """Return a seed's coverage under each of ``ASKED``."""
    return tuple(covered(seed, slow, weeks) for _, slow, weeks, _ in ASKED)


def lines(seeds: Sequence[tuple[Coverage, ...]]) -> list[Measured]:
    """Return the lines of check 13: pairs of origin and seed whose range holds the truth, at 95 %.

    seeds: of each what `ways_covered` says. Asked are 0.93, two sampling errors of 400 pairs below the level, and 0.90
    where leads answer as they like: a confirmed origin is wrong in 1 of 20 here, always towards whom the finder named,
    and no range can know that.
    """
    ways = zip(ASKED, zip(*seeds, strict=True), strict=True)
    return [_line(what, coverages, need) for (what, _, _, need), coverages in ways]


def _line(what: str, seeds: Sequence[Coverage], need: float) -> Measured:
    opened, left = (round(sum(getattr(one, name) for one in seeds) / len(seeds)) for name in ("opened", "left_out"))
    pairs, plain = sum(one.origins for one in seeds), sum(one.as_settled for one in seeds)
    naive = f"shared out as settled ones of the type, ± 2 √n: {plain / pairs:.2f}"
    told = f"true number in the 95 % range ({naive}); {left} left out"
    return Measured(f"13 expected, {what}", f"{opened} open", told, sum(one.held for one in seeds), pairs, need)
