"""The best that any watch could do about the drift at S08: a test that is told what nobody at a plant would know.

It is told the two types, the shape and the weeks of the drift and the models' true factors; only the rate itself is
unknown, as for everybody. Conditional on the defects in all it is the most powerful test that keeps its false alarms
whatever the rate (Lehmann & Romano, Testing Statistical Hypotheses, ch. 4, from memory), and it looks once, when all
weeks are in, with all the false alarms that a watch may spend up to then.
"""

from collections.abc import Sequence

import numpy as np

from tests.truth.drawn import STORY, Drawn

FACTORS = {"T36": 0.8, "M50": 1.0, "H62": 1.2}  # of SEA-01 and SEA-02 in demo_data/story/rates.csv
STEP = 0.005  # to which the scores are rounded


def ideal_chance(record: Drawn, weeks: int) -> float:
    """Return the chance of such counts, or of ones that speak more for the drift, had the rate stayed as it was."""
    event = next(one for one in STORY.events if one.station == "S08")
    table = record.table(weeks)
    size = np.array(table.units) @ np.array([FACTORS[model] for model in table.models])
    counts = np.zeros(weeks, dtype=int)
    for (origin, type_), rows in zip(table.cells, table.defects, strict=True):
        if origin == "S08" and type_ in event.types:
            counts += np.array(rows).sum(axis=1)
    return _late(counts, size, np.log(_multipliers(record, weeks)))


def _multipliers(record: Drawn, weeks: int) -> np.ndarray:
    """Return by how much the drift multiplies the rate of the units found in each week."""
    event = next(one for one in STORY.events if one.station == "S08")
    (most,) = set(event.types.values())
    begin, whole = STORY.monday(event.from_week), STORY.monday(event.full_week + 1)
    sums, units = np.zeros(weeks), np.zeros(weeks)
    for unit in record.units:
        if unit.week <= weeks:
            done = (record.calendar.work_day(unit.day, "S08") - begin).days / (whole - begin).days
            sums[unit.week - 1] += 1 + (most - 1) * min(1.0, max(0.0, done))
            units[unit.week - 1] += 1
    return sums / units


def _late(counts: Sequence[int], size: np.ndarray, scores: np.ndarray) -> float:
    """Return the exact chance of a sum of scores so high, each defect's week drawn by size."""
    steps = np.rint((scores - scores.min()) / STEP).astype(int)
    total, seen = int(np.sum(counts)), int(np.sum(counts * steps))
    length = 1 << int(steps.max() * total + 1).bit_length()
    law = np.fft.irfft(np.fft.rfft(np.bincount(steps, size / size.sum(), length)) ** total, length)
    return float(min(1.0, max(0.0, law[seen:].sum())))
