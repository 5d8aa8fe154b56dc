"""A station's confirmed, suspected and expected defects apart: how many of the open ones were probably made there.

Confirmed is what leads agreed to, suspected is somebody's guess, expected is arithmetic on all open defects of the
plant. The suspected ones are among the open ones, so the three are never added up.

What is settled is no random sample of what is found: plain cases are settled first, and some leads answer later than
others. So an open defect is held against settled ones of its own kind of word: of the same type *and* with the same
first guess of the finder, those that a lead has denied against those that were denied. Whether a lead answers may then
depend on the type and on whom the finder named. Open defects with a first guess that hardly any settled one had are
left out, and said to be.
"""

from collections import Counter
from dataclasses import dataclass
from functools import lru_cache

from qc.domain.counted.origin_learning import OpenCell, OriginLearning, SettledCell
from qc.domain.plant.graph import BuildGraph
from qc.domain.plant.plant import UNKNOWN, Plant
from qc.domain.words.speaking import marked, say, say_many, tongue
from qc.reports.asking import LEVEL, Asking
from qc.reports.how_many import units
from qc.reports.periods import Period
from qc.stats.answers import TooLittle
from qc.stats.origins.attribution import Path, SettledCount, settled_origins
from qc.stats.origins.borrowing import learned_borrowing
from qc.stats.origins.exact_origins import ExactOrigins, exact_expected_origins
from qc.stats.origins.expected_origins import OpenCount, OriginExpectation

LEAST_SETTLED = 20  # settled defects before anything is expected (common practice, no source)
LEAST_OF_A_GUESS = 5  # settled defects with a first guess before open ones with it are judged (likewise)
MEANING = marked(
    "Expected is an estimate and blames nobody: it says where to look first. It stands in no rate, chart or funnel. "
    "The suspected ones are among the open ones, so the three numbers are never added up."
)
SELECTION = marked(
    "Settled defects are no random sample: plain ones are settled first, and some leads answer later than others. Each "
    "open defect is therefore held against settled ones of its type with the same first guess. Where a lead leaves "
    "the doubtful ones open, or a settled origin is wrong, the truth can lie outside the range."
)

Possible = tuple[tuple[tuple[str, str, str], tuple[str, ...]], ...]


@dataclass(frozen=True, slots=True)
class GuessRecord:
    """Settled defects that finders first guessed to be from here: here after all, or elsewhere.

    came: those from here whose finder had first named another place; unnamed: from here and named by no finder.
    """

    here: int
    elsewhere: int
    came: int
    unnamed: int


@dataclass(frozen=True, slots=True, kw_only=True)
class StationExpected:
    """One station's three counts on the units seen in one period.

    confirmed, suspected: defects; expected: of the open ones, with a range at a level; TooLittle where it cannot be
    said. open_count: open defects of the plant, judged or left out (guess without a record, or a group without one).
    settled_count: what was learned from; closed_unknown: closed as not known, in none of them. units: of the period.
    sentence, guess_sentence, cautions, denominator in words; selection: why settled ones may mislead, and what is done.
    """

    station: str
    period: Period
    units: int
    confirmed: int
    suspected: int
    expected: OriginExpectation | TooLittle
    level: float
    open_count: int
    left_out: int
    settled_count: int
    closed_unknown: int
    guesses: GuessRecord
    sentence: str
    guess_sentence: str
    cautions: tuple[str, ...]
    selection: str
    denominator: str


@dataclass(frozen=True, slots=True)
class _Told:
    """What is told of all origins at once: the same for every station's page."""

    answer: ExactOrigins | TooLittle
    left_out: int


def station_expected(ask: Asking, period: Period, station: str) -> StationExpected:
    """Return a station's three counts on the units seen in the period. Raises KeyError without the station."""
    ask.plant.stations[station]
    learning = ask.counts.origin_learning(ask.slice(period))
    told = _told(learning, _possible(ask.plant, learning.open), tongue().tag)
    expected = _own(told.answer, station)
    confirmed = sum(cell.count for cell in learning.settled if cell.origin == station)
    suspected = sum(cell.count for cell in learning.open if cell.suspected == station)
    opened = sum(cell.count for cell in learning.open)
    closed = sum(cell.count for cell in learning.settled if cell.origin == UNKNOWN)
    unjudged = told.left_out + (told.answer.unknown if isinstance(told.answer, ExactOrigins) else 0)
    record = _guesses(learning.settled, station)
    return StationExpected(
        station=station,
        period=period,
        units=learning.units,
        confirmed=confirmed,
        suspected=suspected,
        expected=expected,
        level=LEVEL,
        open_count=opened,
        left_out=unjudged,
        settled_count=sum(cell.count for cell in learning.settled) - closed,
        closed_unknown=closed,
        guesses=record,
        sentence=_sentence(expected, confirmed, suspected, opened),
        guess_sentence=_guess_sentence(station, record),
        cautions=(say(MEANING), *_left_out(unjudged, opened, expected)),
        selection=say(SELECTION),
        denominator=say(
            "Defects of first presentations, criticals among them, on {units} seen in {weeks}; defects linked as of "
            "one source count once; what is found after dispatch is not among them",
            units=units(learning.units),
            weeks=period.name,
        ),
    )


def _own(answer: ExactOrigins | TooLittle, station: str) -> OriginExpectation | TooLittle:
    if isinstance(answer, TooLittle):
        return answer
    found = (one for one in answer.origins if one.origin == station)
    return next(found, OriginExpectation(station, 0, 0, 0.0, 0, 0))


def _possible(plant: Plant, opened: tuple[OpenCell, ...]) -> Possible:
    """Return what may be the origin of a defect found at each point on each model and line that has an open one."""
    graph = BuildGraph(plant)
    places = sorted({(cell.point, cell.model, cell.line) for cell in opened})
    return tuple((one, tuple(o for o in graph.possible_origins(*one) if o != UNKNOWN)) for one in places)


# The answer depends on nothing but its arguments, so it may be kept whatever is written to the record.
@lru_cache(maxsize=8)
def _told(learning: OriginLearning, possible: Possible, language: str) -> _Told:
    """Return what is expected of every origin, learned anew only where the counts themselves have changed.

    language: that of the words in which it cannot be said.
    """
    settled, opened = _settled(learning.settled), _open(learning.open, dict(possible))
    total = sum(cell.count for cell in learning.settled if cell.origin != UNKNOWN)
    if opened and total < LEAST_SETTLED:
        needed = LEAST_SETTLED
        reason = say(
            "{needed} settled defects are needed, {total} are settled in these weeks", needed=needed, total=total
        )
        return _Told(TooLittle("expected origins", reason, total, LEAST_SETTLED), 0)
    known = Counter[Path]()
    for one in settled:
        known[_word(one.path)] += one.count
    judged = [one for one in opened if known[_word(one.path)] >= LEAST_OF_A_GUESS]
    left = sum(one.count for one in opened) - sum(one.count for one in judged)
    learned = settled_origins(settled)
    # All that may be possible anywhere, met or not: weights judged on the met ones alone would lend far too much.
    origins = sorted({one.origin for one in settled}.union(*(places for _, places in possible)))
    weights = learned_borrowing(learned, origins) if settled else None
    borrow = (1.0, 1.0, 1.0) if weights is None or isinstance(weights, TooLittle) else weights.weights
    return _Told(exact_expected_origins(learned, judged, {}, 0, borrow, LEVEL), left)


def _word(path: Path) -> Path:
    """Return what was said of a defect, without its type: whether it was denied, and the first guess."""
    return path[0].partition(" ")[0], path[2]


def _path(group: str, type_: str, guess: str, denied: bool) -> Path:
    return f"{'denied' if denied else 'said'} {group}", type_, guess


def _settled(cells: tuple[SettledCell, ...]) -> list[SettledCount]:
    """Return the settled defects by what was said; those that a lead had denied stand among the denied ones too.

    Before a lead answered they were open and not denied, and they are what such an open one can still become.
    """
    known = [cell for cell in cells if cell.origin != UNKNOWN]
    return [
        SettledCount(_path(cell.group, cell.type, cell.guess, denied), cell.origin, cell.count)
        for cell in known
        for denied in ((False, True) if cell.denied else (False,))
    ]


def _open(cells: tuple[OpenCell, ...], possible: dict[tuple[str, str, str], tuple[str, ...]]) -> list[OpenCount]:
    return [
        OpenCount(
            _path(cell.group, cell.type, cell.guess, cell.denied),
            possible[cell.point, cell.model, cell.line],
            cell.suspected or None,
            cell.count,
        )
        for cell in cells
    ]


def _guesses(cells: tuple[SettledCell, ...], station: str) -> GuessRecord:
    def total(here: bool, guessed: bool, named: bool = True) -> int:
        return sum(
            cell.count
            for cell in cells
            if (cell.origin == station) is here and (cell.guess == station) is guessed and bool(cell.guess) is named
        )

    return GuessRecord(total(True, True), total(False, True), total(True, False), total(True, False, named=False))


def _sentence(expected: OriginExpectation | TooLittle, confirmed: int, suspected: int, opened: int) -> str:
    told = say(
        "{confirmed} confirmed here, {suspected} suspected here and not answered.",
        confirmed=confirmed, suspected=suspected,
    )  # fmt: skip
    return f"{told} {_expected_words(expected, opened)}"


def _expected_words(expected: OriginExpectation | TooLittle, opened: int) -> str:
    if not opened:
        return say("Nothing waits to be settled in the whole plant, so nothing more is expected.")
    if isinstance(expected, TooLittle):
        return say(
            "How many of the {opened} not yet settled were made here cannot be said: {reason}.",
            opened=opened, reason=expected.reason,
        )  # fmt: skip
    if not expected.high:
        return say(
            "Of the {opened} not yet settled in the whole plant, none is expected to be from here.", opened=opened
        )
    return say(
        "Of the {opened} not yet settled in the whole plant, about {about:.0f} were probably made here ({low} to "
        "{high}).",
        opened=opened, about=expected.expected, low=expected.low, high=expected.high,
    )  # fmt: skip


def _guess_sentence(station: str, record: GuessRecord) -> str:
    guessed, came = record.here + record.elsewhere, record.came + record.unnamed
    if not guessed + came:
        return say("No settled defect was first guessed to be from {station}, or was from there.", station=station)
    more = say(
        "{came} more were from {station}: {elsewhere} first guessed elsewhere, {unnamed} not guessed.",
        came=came, station=station, elsewhere=record.came, unnamed=record.unnamed,
    )  # fmt: skip
    if not guessed:
        none = say(
            "Of no settled defect that the finder first guessed to be from {station}, 0 were, and 0 were from "
            "elsewhere.",
            station=station,
        )
        return f"{none} {more}"
    told = say_many(
        "Of {number} settled defect that the finder first guessed to be from {station}, {here} were, and {elsewhere} "
        "were from elsewhere.",
        "Of {number} settled defects that the finder first guessed to be from {station}, {here} were, and {elsewhere} "
        "were from elsewhere.",
        guessed, station=station, here=record.here, elsewhere=record.elsewhere,
    )  # fmt: skip
    return f"{told} {more}"


def _left_out(count: int, opened: int, expected: OriginExpectation | TooLittle) -> tuple[str, ...]:
    if not count or isinstance(expected, TooLittle):
        return ()
    told = say(
        "{count} of the {opened} are left out of the estimate: fewer than {least} defects with the same first guess, "
        "or none of the same group, are settled.",
        count=count, opened=opened, least=LEAST_OF_A_GUESS,
    )  # fmt: skip
    return (told,)
