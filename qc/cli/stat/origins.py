"""Where defects were made: escapes of stations, shares of origins, chances for one defect and for all open ones."""

from collections.abc import Mapping
from typing import Any

import click

from qc.cli.stat.asking import COUNT, DRAWS, LEVEL, NUMBER, SEED, Column, Plain, Statistic
from qc.cli.stat.cells import count, name, positive, text
from qc.stats.answers import TooLittle
from qc.stats.by_command.intervals.origin_shares import dirichlet_shares, origins_of_cell
from qc.stats.origins.attribution import SettledCount, SettledOrigins, origin_posterior, settled_origins
from qc.stats.origins.borrowing import learned_borrowing
from qc.stats.origins.escapes import Found, downstream_in_line, escape_matrix, follow_up
from qc.stats.origins.exact_origins import exact_expected_origins
from qc.stats.origins.expected_origins import OpenCount, SuspectRecord, chances_with_suspicion, expected_origins
from qc.stats.series import counts_of

ORIGIN = Column("origin", name, "where the defect was made.")
COUNT_COLUMN = Column("count", count, "how many such defects.")
PATH = Column("path", name, "one step of a defect's kind, coarse to fine: group, type, zone.", many=True)
LINE = Plain(
    argument="line",
    type=click.STRING,
    help="Stations in the order of the line, the first one first. Once for each.",
    many=True,
)
NO_STATION = Plain(
    argument="no_station", type=click.STRING, help="An origin that is no station (supplier, not known). Repeatable.",
    may_lack=True, many=True,
)  # fmt: skip
AT = Plain(
    argument="at", type=click.STRING, help="The defect's own step, coarse to fine. Once for each step.", many=True
)
POSSIBLE = Plain(
    argument="possible", type=click.STRING, help="An origin that is possible for it. Once for each.", many=True
)
BORROW = Plain(
    argument="borrow",
    type=NUMBER,
    help="Defects' worth that each coarser step lends; without it learned from the file.",
    may_lack=True,
    many=True,
)
RECORD = tuple(
    Plain(argument=f"guesses_{how}", type=COUNT, help=f"Settled defects whose first guess {what}.", may_lack=True)
    for how, what in (("right", "was right"), ("wrong", "named another origin"), ("unnamed", "named none"))
)


def _escapes(
    origin: list[str], found_at: list[str], count: list[int], line: list[str], no_station: list[str], level: float
) -> object:
    records = [Found(*row) for row in zip(origin, found_at, count, strict=True)]
    return escape_matrix(records, downstream_in_line(line), no_station=no_station, level=level)


def _follow_up(labels: list[str], units: list[int], followed: list[int], enough: float) -> object:
    return {"periods": follow_up(units, followed, labels, enough), "enough": enough}


def _shares(labels: list[str], counts: list[int], level: float, prior: list[float] | None = None) -> object:
    return dirichlet_shares(counts_of(counts, labels), [0.5] * len(counts) if prior is None else prior, level)


def _cell(labels: list[str], cells: Mapping[str, list[int]], prior: float, cell: str) -> object:
    table = list(zip(*cells.values(), strict=True))
    return origins_of_cell(table, labels, list(cells), prior, cell)


def _settled(path: Mapping[str, list[str]], origin: list[str], count: list[int]) -> SettledOrigins:
    kinds = list(zip(*path.values(), strict=True))
    return settled_origins([SettledCount(*row) for row in zip(kinds, origin, count, strict=True)])


def _weights(settled: SettledOrigins, possible: list[str], borrow: list[float]) -> Any:
    """Return the weights that were given, or those learned from the settled defects."""
    if borrow:
        return borrow
    learned = learned_borrowing(settled, possible)
    return learned if isinstance(learned, TooLittle) else learned.weights


def _borrowing(path: Mapping[str, list[str]], origin: list[str], count: list[int]) -> object:
    return learned_borrowing(_settled(path, origin, count), list(dict.fromkeys(origin)))


def _attribution(
    path: Mapping[str, list[str]], origin: list[str], count: list[int], at: list[str], possible: list[str],
    borrow: list[float], level: float, suspected: str | None = None,
    guesses_right: int | None = None, guesses_wrong: int = 0, guesses_unnamed: int = 0,
) -> object:  # fmt: skip
    settled = _settled(path, origin, count)
    weights = _weights(settled, possible, borrow)
    if isinstance(weights, TooLittle):
        return weights
    posterior = origin_posterior(settled, tuple(at), possible, weights, level)
    if isinstance(posterior, TooLittle) or guesses_right is None:
        return posterior
    trust = SuspectRecord(guesses_right, guesses_wrong, guesses_unnamed)
    guessed = chances_with_suspicion(posterior, suspected, trust)
    rows = [{"origin": one, "chance": chance} for one, chance in zip(posterior.origins, guessed, strict=True)]
    return {"posterior": posterior, "suspected": suspected, "trust": trust, "with_the_first_guess": rows}


def _expected(
    path: Mapping[str, list[str]], origin: list[str], count: list[int], state: list[str], suspected: list[str] | None,
    possible: list[str], borrow: list[float], level: float, draws: int, seed: int,
    guesses_right: int | None = None, guesses_wrong: int = 0, guesses_unnamed: int = 0,
) -> object:  # fmt: skip
    kinds = list(zip(*path.values(), strict=True))
    rows = list(zip(kinds, origin, count, state, suspected or [""] * len(count), strict=True))
    for _, _, _, said, _ in rows:
        if said not in ("open", "settled"):
            raise ValueError(f"state must be open or settled, got {said!r}")
    known = [SettledCount(kind, made, n) for kind, made, n, said, _ in rows if said == "settled" and made in possible]
    unknown = sum(n for _, made, n, said, _ in rows if said == "settled" and made not in possible)
    opened = [OpenCount(kind, tuple(possible), guess or None, n) for kind, _, n, said, guess in rows if said == "open"]
    confirmed: dict[str, int] = {}
    for one in known:
        confirmed[one.origin] = confirmed.get(one.origin, 0) + one.count
    settled = settled_origins(known)
    weights = _weights(settled, possible, borrow)
    if isinstance(weights, TooLittle):
        return weights
    if guesses_right is None:  # nothing to weigh in, so nothing to draw
        return exact_expected_origins(settled, opened, confirmed, unknown, weights, level)
    trust = SuspectRecord(guesses_right, guesses_wrong, guesses_unnamed)
    return expected_origins(settled, opened, confirmed, unknown, trust, weights, level, draws, seed)


STATISTICS: dict[str, Statistic] = {
    "escapes": Statistic(
        _escapes,
        (ORIGIN, Column("found_at", name, "where it was found."), COUNT_COLUMN),
        (LINE, NO_STATION, LEVEL),
        labels=False,
    ),
    "follow-up": Statistic(
        _follow_up,
        (
            Column("units", count, "units that passed the station in the period."),
            Column("followed", count, "those of them that have passed the last point since."),
        ),
        (Plain(argument="enough", type=NUMBER, help="Share from which a period counts as complete.", default=0.95),),
    ),
    "origin-shares": Statistic(
        _shares,
        (
            Column("counts", count, "defects of the origin."),
            Column("prior", positive, "counts added beforehand; without it 0.5.", required=False),
        ),
        (LEVEL,),
    ),
    "cell-origins": Statistic(
        _cell,
        (Column("cells", count, "settled defects of one cell (zone and type), rows being stations.", many=True),),
        (
            Plain(argument="prior", type=NUMBER, help="Counts added to each station and cell.", default=0.5),
            Plain(argument="cell", type=click.STRING, help="The column of the defect that is asked about."),
        ),
    ),
    "attribution": Statistic(
        _attribution,
        (PATH, ORIGIN, COUNT_COLUMN),
        (
            AT,
            POSSIBLE,
            BORROW,
            Plain(argument="suspected", type=click.STRING, help="The first guess.", may_lack=True),
            *RECORD,
            LEVEL,
        ),
        labels=False,
    ),
    "borrowing": Statistic(_borrowing, (PATH, ORIGIN, COUNT_COLUMN), labels=False),
    "expected-origins": Statistic(
        _expected,
        (
            PATH,
            Column("origin", text, "where a settled defect was made; empty where it is open or not known."),
            COUNT_COLUMN,
            Column("state", name, "open or settled."),
            Column("suspected", text, "first guess of an open defect, empty for none.", required=False),
        ),
        (POSSIBLE, BORROW, *RECORD, LEVEL, DRAWS, SEED),
        labels=False,
    ),
}
