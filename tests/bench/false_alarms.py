"""How often the watch over station × type alarms when nothing changes, against the rate that it states.

Draws the invented plant with its events taken out (the model mix and the short weeks stay) for many seeds, asks for
the signals week by week as a manager would, and counts each cause once, in the week that first lists it. The shares
of the rules and COUNTED_TWICE were chosen on seeds 4001 to 4120; these are others.

    python -m tests.bench.false_alarms [seeds, 200 unless told]
"""

import sys
from dataclasses import replace
from multiprocessing import Pool

from qc.reports.watch.watching import FALSE_ALARMS_A_WEEK, watch
from tests.truth.drawn import PLANT, STORY, drawn

BASELINE = (0, 8)
LAST_WEEK = 26
FIRST_SEED = 10_001  # no setting was chosen on these
GROUPS = {type_.code: type_.group for type_ in PLANT.types.values()}
ORIGINS = tuple(station for station in PLANT.stations if station not in ("UNK", "DSN"))
QUIET = replace(STORY, events=())


def new_signals(seed: int) -> tuple[int, float]:
    """Return how many causes were listed as new over the watched weeks, and the false alarms designed for them."""
    record = drawn(seed, QUIET)
    seen: set[tuple[str, str, int]] = set()
    designed = 0.0
    for week in range(BASELINE[1] + 1, LAST_WEEK + 1):
        answer = watch(record.table(week), GROUPS, BASELINE, {}, ORIGINS)
        designed += answer.designed
        for lead, others in answer.moved:
            if all(one.listed == answer.judged for one in (lead, *others)):
                seen.add((lead.series.station, lead.direction, answer.judged))
    return len(seen), designed


def main(seeds: int) -> int:
    """Print the measured rate with its error beside the stated one; return 1 where it is above."""
    with Pool(2) as pool:
        answers = pool.map(new_signals, range(FIRST_SEED, FIRST_SEED + seeds), chunksize=5)
    weeks = seeds * (LAST_WEEK - BASELINE[1])
    counts = [count for count, _ in answers]
    mean = sum(counts) / seeds
    error = (sum((count - mean) ** 2 for count in counts) / max(1, seeds - 1)) ** 0.5 / seeds**0.5
    per_week = weeks / seeds
    print(f"{seeds} null plants, {weeks} watched weeks, {sum(counts)} false signals")
    print(f"measured: {mean / per_week:.4f} a week (standard error {error / per_week:.4f})")
    print(f"designed: {sum(d for _, d in answers) / weeks:.4f} a week; stated: {FALSE_ALARMS_A_WEEK:.4f} a week")
    return int(mean / per_week > FALSE_ALARMS_A_WEEK)


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 200))
