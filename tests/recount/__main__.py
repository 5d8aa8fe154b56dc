"""Counts every figure of every page again on three plays of 26 weeks and prints how many agree.

``python -m tests.recount [seed …]``; without seeds the demo's own and two on which nothing was chosen. Exits 1 where a
number differs or is known to nobody, with each of them below the table: page, place, printed, recounted; or where the
HTML of a review is too heavy.
"""

import sys
import tempfile
from pathlib import Path

from tests.recount.attributed import Ledger
from tests.recount.pages import MANAGER, held, known_of, others, own_views, reviews, too_heavy
from tests.recount.plant import NOT_KNOWN
from tests.recount.served import play, served
from tests.recount.view import View

SEEDS = (20260302, 41, 42)
WEEKS, LAST = 26, "2026-W35"
NARROWINGS = (
    "",
    "week=2026-W20",
    "model=M50&weeks=13",
    "shift=late",
    "severity=major&weeks=52",
    "severity=critical&model=H62&shift=early",
    "order=minutes&model=T36",
    "order=severity",
    "baseline=2026-W12..2026-W25&left_out=2026-W14&why=trial",
)
OWN = ("I1", "I2", "I3", "I4")
LEADS = {"L-FU1": ("FU1",), "L-S07": ("S07",), "L-S10": ("S10",)}
UNITS = 24  # so many of each play, from the first to the last


def recount(seed: int) -> tuple[list[tuple[str, Ledger]], list[str]]:
    """Play a seed and return each page's kind and ledger, and which reviews are too heavy."""
    with tempfile.TemporaryDirectory() as place:
        folder = play(Path(place) / "plant", seed, WEEKS)
        with served(folder, LAST) as server:
            view = View(server.recounted(), server.now_ms, LAST)
            known = known_of(view.counted)
            units = list(view.record.units)
            stations = tuple(code for code in view.plant.stations if code != NOT_KNOWN)
            some = tuple(units[k * (len(units) - 1) // (UNITS - 1)] for k in range(UNITS))
            every = [
                *reviews(server, view, NARROWINGS),
                *others(view, stations, some, server.page(MANAGER, "/signals")),
                *own_views(view, OWN, LEADS, server.page(MANAGER, "/signals")),
            ]
            heavy = too_heavy(server, view, ("", *NARROWINGS[2:]))  # of the last week
            return [(asked.kind, held(server, asked, known)) for asked in every], heavy


def table(seed: int, told: list[tuple[str, Ledger]]) -> None:
    """Print one seed's figures by kind of page."""
    for kind in dict.fromkeys(kind for kind, _ in told):
        own = [ledger for one, ledger in told if one == kind]
        sums = [
            sum(getattr(one, name) for one in own) for name in ("compared", "given", "known", "different", "left_over")
        ]
        print(f"{seed:>9}  {kind:<11}{len(own):>6}" + "".join(f"{one:>11}" for one in sums), flush=True)


def main(seeds: list[int]) -> int:
    """Print the table of some seeds and the findings; return how the command exits."""
    heads = ("compared", "statistic", "name, date", "different", "left over")
    print(f"{'seed':>9}  {'page':<11}{'pages':>6}" + "".join(f"{one:>11}" for one in heads))
    findings = []
    for seed in seeds:
        told, heavy = recount(seed)
        table(seed, told)
        findings += heavy
        findings += [f"{seed} | {one}" for _, ledger in told for one in ledger.findings]
    print("\n".join(findings))
    return 1 if findings else 0


if __name__ == "__main__":
    sys.exit(main([int(one) for one in sys.argv[1:]] or list(SEEDS)))
