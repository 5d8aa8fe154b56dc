"""The truth table: what is planted in the invented plant, what the analysis finds, in how many of the seeds.

    python -m tests.truth [--seeds 20] [--plays 2]

Checks 2 to 7 and 10 are drawn without the journal, by the demo's own drawing functions; checks 1, 8, 9, 11 and 12
concern the record and are played through the journal, all 26 weeks, on few seeds. Check 13, on the same drawn seeds,
holds the ranges of expected origins against the true ones. Ends with 1 where a check is missed.
"""

import argparse
import sys
from multiprocessing import Pool

from tests.truth import expected, played, table
from tests.truth.counted import seed_checked
from tests.truth.measured import HEAD

FIRST_SEED = 1


def main(seeds: int, plays: int) -> int:
    """Print the table; return 1 where a check is not reached."""
    with Pool(2) as pool:
        records = pool.map_async(played.checked, range(FIRST_SEED, FIRST_SEED + plays), chunksize=1)
        drawn = pool.map(seed_checked, range(FIRST_SEED, FIRST_SEED + seeds), chunksize=1)
        lines = [
            *table.lines(drawn),
            *expected.lines(range(FIRST_SEED, FIRST_SEED + seeds)),
            *played.lines(records.get()),
        ]
    lines.sort(key=lambda line: int(line.check.split()[0]))
    print(HEAD)
    print("\n".join(line.line() for line in lines))
    return int(not all(line.is_reached for line in lines))


if __name__ == "__main__":
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("--seeds", type=int, default=20, help="drawn seeds of the count checks")
    asked.add_argument(
        "--plays", type=int, default=2, help="plays of 26 weeks through the journal, about two minutes each"
    )
    given = asked.parse_args()
    sys.exit(main(given.seeds, given.plays))
