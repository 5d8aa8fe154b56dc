"""How often ranges of shares of defects hold where one cause makes several on a unit, by the scatter they are given.

Draws tables of seven origins on units of three defects and holds Wilson's interval against the true shares with four
design effects: none, the row's own, that of the rows together, and the larger of the two, which is what
``qc/stats/intervals/by_unit.py`` takes. Prints the mean of the rows, the worst row, and the width over the first.

    python -m tests.bench.shares_by_unit [--runs 2000] [--seed 4]
"""

import argparse

import numpy as np
from statsmodels.stats.proportion import proportion_confint

SHARES = np.array([0.5, 0.2, 0.1, 0.08, 0.06, 0.04, 0.02])
A_UNIT = 3  # defects
LEVEL = 0.95


def alone(place: int, mean: float) -> np.ndarray:
    """Return the mean defects a cause of each row, one for all but one row."""
    sizes = np.ones(len(SHARES))
    sizes[place] = mean
    return sizes


CASES = (
    ("one by one", np.ones(len(SHARES)), "geometric"),
    ("two of a cause", np.full(len(SHARES), 2.0), "geometric"),
    ("two, Poisson", np.full(len(SHARES), 2.0), "poisson"),
    ("four of a cause", np.full(len(SHARES), 4.0), "geometric"),
    ("four, Poisson", np.full(len(SHARES), 4.0), "poisson"),
    ("four, the row of .5 alone", alone(0, 4.0), "geometric"),
    ("four, the row of .1 alone", alone(2, 4.0), "geometric"),
    ("four, the row of .04 alone", alone(5, 4.0), "geometric"),
)


def drawn(rng: np.random.Generator, runs: int, defects: int, sizes: np.ndarray, law: str) -> np.ndarray:
    """Return defects by run, unit and row; a Poisson number of causes falls on the units at random."""
    causes = SHARES / sizes
    numbers = rng.poisson(defects * causes.sum(), runs)
    units = max(2, round(defects / A_UNIT))
    table = np.zeros((runs, units, len(SHARES)), dtype=np.int32)
    kinds = rng.choice(len(SHARES), numbers.sum(), p=causes / causes.sum())
    made = rng.geometric(1 / sizes[kinds]) if law == "geometric" else 1 + rng.poisson(sizes[kinds] - 1)
    run = np.repeat(np.arange(runs), numbers)
    np.add.at(table, (run, rng.integers(0, units, len(kinds)), kinds), made)
    return table[table.sum(axis=(1, 2)) > 0]


def effects(table: np.ndarray) -> tuple[np.ndarray, ...]:
    """Return the four design effects, by run and row."""
    on_unit = table.sum(axis=2)
    whole = on_unit.sum(axis=1)[:, None].astype(float)
    share = table.sum(axis=1) / whole
    spread = ((table - share[:, None, :] * on_unit[:, :, None]) ** 2).sum(axis=1)
    chance = share * (1 - share) * whole
    alike = (on_unit**2).sum(axis=1)[:, None] / whole
    weight = (on_unit > 0).sum(axis=1)[:, None].astype(float) ** -1.5
    seen = chance.sum(axis=1)[:, None] > 0
    together = np.where(seen, spread.sum(axis=1)[:, None] / np.maximum(chance.sum(axis=1)[:, None], 1e-12), alike)
    own = np.where(chance > 0, spread / np.maximum(chance, 1e-12), together)
    told = (own, together * np.ones_like(own), np.maximum(own, together))
    few = [np.maximum(1, one) + np.maximum(0, alike - np.maximum(1, one)) * weight for one in told]
    return (np.ones_like(own), *few)


def held(table: np.ndarray, effect: np.ndarray) -> tuple[np.ndarray, float]:
    """Return the share of runs that hold, by row, and the mean width."""
    whole = table.sum(axis=(1, 2))[:, None]
    size = whole / effect
    part = table.sum(axis=1) / whole * size
    low, high = proportion_confint(part, size, 1 - LEVEL, method="wilson")
    slack = 1e-12  # the ends of none and of all are 0 and 1 but for rounding
    return ((low - slack <= SHARES) & (high + slack >= SHARES)).mean(axis=0), float((high - low).mean())


def main(runs: int, seed: int) -> None:
    """Print the table."""
    rng = np.random.default_rng(seed)
    print("| Defects; how they come | Each by itself | Row's own | Rows together | The larger | Width |")
    for name, sizes, law in CASES:
        for defects in (30, 100, 400):
            table = drawn(rng, runs, defects, sizes, law)
            told = [held(table, effect) for effect in effects(table)]
            cells = [f"{rows.mean():.3f}; {rows.min():.3f}" for rows, _ in told]
            print(f"| {defects}; {name} | {' | '.join(cells)} | {told[-1][1] / told[0][1]:.2f} |")


if __name__ == "__main__":
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("--runs", type=int, default=2000, help="tables drawn for each line")
    asked.add_argument("--seed", type=int, default=4, help="of the drawing")
    given = asked.parse_args()
    main(given.runs, given.seed)
