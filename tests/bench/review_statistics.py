"""How long the review's statistics take without any store: 104 weeks, 24 stations and more, 69 types.

    python tests/bench/review_statistics.py [--defects 1e5] [--profile PART] [--compare FILE] [--keep FILE]

It fills a record with simulated rows, lets the reports ask it once and keeps every count table that they were given.
Then the same reports are made from the kept tables alone: what is timed is charts, dispersion, mix adjusting, Pareto,
intervals, funnel and escapes, and nothing of SQLite. The aim is 150 ms for the whole review. Beside it stands the
plainest numpy for the same sums (counts, rates, limits, orders, shares: no interval, no test, no sentence), as a ratio.
The certainty of ranks and the watch over station × type are not on the review's page and stand apart.

--keep writes the answers to a file, --compare holds them against one: a quicker way must give the same numbers.
"""

import argparse
import cProfile
import pickle
import pstats
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import fields, is_dataclass
from datetime import timedelta
from pathlib import Path
from statistics import median
from typing import Any

import numpy as np

sys.path[:0] = [str(Path(__file__).parent), str(Path(__file__).parents[1] / "rows"), str(Path(__file__).parents[2])]
from record_rows import RowRecord  # noqa: E402
from review import END, FIRST, NOW, WEEKS, fill  # noqa: E402

from qc.reports.asking import COUNTED, Asking  # noqa: E402
from qc.reports.periods import Period, week_of, weeks_up_to  # noqa: E402
from qc.reports.stations import funnel  # noqa: E402
from qc.reports.watch import watching  # noqa: E402
from qc.reports.week.escape_follow_up import escape_follow_up  # noqa: E402
from qc.reports.week.review import weekly_review  # noqa: E402
from qc.stats.by_command.causes.rank_certainty import rank_certainty  # noqa: E402
from qc.stats.series import counts_of  # noqa: E402
from qc.store.counts import Counts  # noqa: E402
from qc.store.tables.summaries import SummaryKeeper  # noqa: E402

AIM = 150  # ms, the whole review's statistics
ROUNDS = 15
DAY = END - timedelta(days=3)
STATIONS = 24


class Kept:
    """Counts that answer a question the second time from what they answered the first time."""

    def __init__(self, counts: Counts | None, answers: dict[Any, Any]) -> None:
        self._counts, self.answers = counts, answers

    def __getattr__(self, name: str) -> Callable[..., Any]:
        def asked(*question: Any) -> Any:
            if (name, question) not in self.answers:
                if self._counts is None:
                    raise LookupError(f"nothing kept for {name}{question}")
                self.answers[name, question] = getattr(self._counts, name)(*question)
            return self.answers[name, question]

        return asked


def parts(counts: Any, plant: Any) -> dict[str, Callable[[], Any]]:
    """Return the pieces of the page, each as a call; the first is the report, the others stand beside it."""
    ask = Asking(counts=counts, plant=plant, now_ms=NOW)
    week = week_of(DAY, ask.today)
    return {
        "the report": lambda: weekly_review(counts, plant, DAY, NOW, history_weeks=WEEKS),
        "funnel of stations": lambda: funnel_anew(ask, week),
        "follow-up of escapes": lambda: escape_follow_up(ask, weeks_up_to(week, 26)),
    }


def apart(counts: Any, plant: Any) -> dict[str, Callable[[], Any]]:
    """Return what is not on the review's page: certainty of ranks, and the watch with its signals."""
    ask = Asking(counts=counts, plant=plant, now_ms=NOW)
    types = counts.category_counts(ask.slice(Period(FIRST, END, "", False), COUNTED), "type")
    span = Period(END - timedelta(weeks=34), END, "", False)
    table = counts.cell_weeks(ask.slice(span, COUNTED), NOW)
    groups = {type_.code: type_.group for type_ in plant.types.values()}
    origins = [one for one in plant.stations if one not in ("UNK", "DES")]
    return {
        "certainty of 69 ranks": lambda: rank_certainty(
            counts_of(types.counts, types.labels), [1.0] * len(types.labels), 0.5, 0.95, 20_000, 1
        ),
        "watch, 26 weeks": lambda: watched_anew(table, groups, origins),
    }


def funnel_anew(ask: Asking, week: Period) -> Any:
    """Return the funnel worked out again: a page that is asked twice has its integral from its own memory."""
    funnel._shrunken.cache_clear()
    return funnel.station_funnel(ask, weeks_up_to(week, 13))


def watched_anew(table: Any, groups: Any, origins: Any) -> Any:
    """Return the watch worked out again: a page that is asked twice has it from its own memory."""
    watching._watched.cache_clear()
    return watching.watch(table, groups, (0, 8), {}, origins)


def plain(counts: Any, plant: Any) -> Callable[[], Any]:
    """Return the plainest numpy for the review's sums: limits, orders, shares, tables; counts come as arrays."""
    rng = np.random.default_rng(1)
    by_model = list(
        counts.week_counts_by_model(
            Asking(counts=counts, plant=plant, now_ms=NOW).slice(Period(FIRST, END, "", False)), "line", NOW
        ).values()
    )
    n = np.array([one.inspected for one in by_model])
    d, c = np.array([one.defectives for one in by_model]), np.array([one.defects for one in by_model])
    cube = rng.poisson(0.2, (WEEKS, STATIONS, len(plant.types)))
    minutes = rng.integers(2, 60, len(plant.types))

    def sums() -> Any:
        answer = []
        for hit in (d, c):
            for count, size in [(hit.sum(0), n.sum(0)), *zip(hit, n, strict=True)]:
                centre = count[:20].sum() / max(1, size[:20].sum())
                sigma = np.sqrt(max(centre * (1 - centre), centre / 10) / np.maximum(size, 1))
                value = count / np.maximum(size, 1)
                answer.append(
                    (value, centre + 3 * sigma, np.maximum(0, centre - 3 * sigma), value > centre + 3 * sigma)
                )
                answer.append((((value - centre) / sigma) ** 2).sum())
        mix = n.sum(1) / n.sum()
        answer.append((c / np.maximum(n, 1) * mix[:, None]).sum(0))
        for axis in (1, 2):
            for weights in (1, minutes.mean()):
                own, window = cube[-1].sum(2 - axis) * weights, cube[-9:-1].sum((0, 3 - axis)) * weights
                order = np.argsort(-own, kind="stable")
                answer.append((order, np.cumsum(own[order]) / own.sum(), window[order] / window.sum()))
        expected = cube[-39:-13].sum((0, 2)) / 2
        answer.append(cube[-13:].sum((0, 2)) / expected)
        answer.append(cube.sum((0, 2)) / cube.sum())
        return answer

    return sums


def seconds(work: Callable[[], Any], rounds: int = ROUNDS) -> float:
    """Return the median seconds of so many calls."""
    taken = []
    for _ in range(rounds):
        begun = time.perf_counter()
        work()
        taken.append(time.perf_counter() - begun)
    return median(taken)


def kept_tables(defects: int) -> dict[Any, Any]:
    """Return every count table that the pieces ask a record of so many defects for."""
    with tempfile.TemporaryDirectory() as folder:
        record = RowRecord(Path(folder))
        fill(
            record, defects, Path(folder) / "defects.csv", uneven=True
        )  # so that the funnel has stations to tell apart
        record.write(SummaryKeeper(record.plant).rebuild)
        kept = Kept(Counts(record), {})
        for call in [*parts(kept, record.plant).values(), *apart(kept, record.plant).values()]:
            call()
        plain(kept, record.plant)
        record.close()
        return kept.answers


def differences(ours: Any, theirs: Any, path: str = "", slack: float = 1e-9) -> list[str]:
    """Return where two answers differ; numbers may by a part in 1e9, which is how an order of sums shows."""
    if is_dataclass(ours) and type(ours) is type(theirs):
        pairs = [(f"{path}.{one.name}", getattr(ours, one.name), getattr(theirs, one.name)) for one in fields(ours)]
    elif isinstance(ours, (list, tuple)) and isinstance(theirs, (list, tuple)) and len(ours) == len(theirs):
        pairs = [(f"{path}[{place}]", one, other) for place, (one, other) in enumerate(zip(ours, theirs, strict=True))]
    elif isinstance(ours, dict) and isinstance(theirs, dict) and ours.keys() == theirs.keys():
        pairs = [(f"{path}[{key!r}]", ours[key], theirs[key]) for key in ours]
    elif isinstance(ours, float) and isinstance(theirs, float):
        return [] if np.isclose(ours, theirs, rtol=slack, atol=1e-12) else [f"{path}: {ours} is not {theirs}"]
    else:
        return [] if ours == theirs else [f"{path}: {ours!r} is not {theirs!r}"]
    return [one for pair_path, a, b in pairs for one in differences(a, b, pair_path, slack)]


def first_time(tables: Path) -> list[str]:
    """Return the lines of a fresh interpreter that makes the pieces once: imports, and what is worked out once."""
    own = [sys.executable, __file__, "--fresh", str(tables)]
    return subprocess.run(own, check=True, capture_output=True, text=True).stdout.splitlines()


def fresh(tables: Path) -> None:
    """Print the time of each piece's first call."""
    from record_rows import DEMO_PLANT

    kept = Kept(None, pickle.loads(tables.read_bytes()))
    for name, call in parts(kept, DEMO_PLANT).items():
        print(f"{name}\t{1e3 * seconds(call, 1):.1f}")


def report(defects: int, options: argparse.Namespace) -> None:
    from record_rows import DEMO_PLANT

    answers = kept_tables(defects)
    kept = Kept(None, answers)
    pieces, others = parts(kept, DEMO_PLANT), apart(kept, DEMO_PLANT)
    found = {name: call() for name, call in {**pieces, **others}.items()}
    if options.keep:
        Path(options.keep).write_bytes(pickle.dumps((answers, found)))
    print(f"{defects:.0e} defects on {WEEKS} weeks, {len(DEMO_PLANT.stations)} places, {len(DEMO_PLANT.types)} types")
    with tempfile.NamedTemporaryFile() as file:
        Path(file.name).write_bytes(pickle.dumps(answers))
        once = dict(line.split("\t") for line in first_time(Path(file.name)))
    warm = {name: seconds(call) for name, call in pieces.items()}
    for name, taken in warm.items():
        print(f"  {name:28}{1e3 * taken:8.1f} ms warm{float(once[name]):9.1f} ms the first time")
    whole, first = sum(warm.values()), sum(map(float, once.values()))
    print(f"  {'the whole review':28}{1e3 * whole:8.1f} ms warm{first:9.1f} ms the first time; aim {AIM} ms")
    sums = seconds(plain(kept, DEMO_PLANT), 50)
    print(f"  {'numpy, the bare sums':28}{1e3 * sums:8.2f} ms; ratio {whole / sums:.0f}")
    for name, call in others.items():
        print(f"  apart: {name:21}{1e3 * seconds(call, 5):8.1f} ms warm")
    if options.profile:
        profiled({**pieces, **others}[options.profile])


def compared(file: Path) -> None:
    """Make every piece anew from kept tables and print what differs from the kept answers."""
    from record_rows import DEMO_PLANT

    answers, found = pickle.loads(file.read_bytes())
    kept = Kept(None, answers)
    now = {name: call() for name, call in {**parts(kept, DEMO_PLANT), **apart(kept, DEMO_PLANT)}.items()}
    told = differences(now, found)
    print("\n".join(told[:40]) if told else "every answer is the kept one")
    sys.exit(bool(told))


def profiled(call: Callable[[], Any]) -> None:
    profile = cProfile.Profile()
    profile.runcall(call)
    pstats.Stats(profile).sort_stats("cumulative").print_stats(45)


if __name__ == "__main__":
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--defects", type=float, nargs="*", default=[1e5])
    asked.add_argument("--profile", help="a piece by its name")
    asked.add_argument("--keep", help="write tables and answers here")
    asked.add_argument("--compare", help="hold the answers against these and do nothing else")
    asked.add_argument("--fresh", help=argparse.SUPPRESS)
    given = asked.parse_args()
    if given.fresh:
        fresh(Path(given.fresh))
    elif given.compare:
        compared(Path(given.compare))
    else:
        for size in given.defects:
            report(int(size), given)
