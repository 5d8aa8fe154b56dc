"""What the page of what waits states of repairs and of what got out, from plants drawn as the demo plays them."""

from collections import defaultdict
from collections.abc import Iterator
from datetime import timedelta
from types import SimpleNamespace

import numpy as np

from qc.demo.making import Making
from qc.domain.counted.backlogs import Escaped, EscapedCell, RepairedType
from qc.domain.counted.by_unit import part_by_unit
from qc.domain.counted.counts import FOLLOW_DAYS
from qc.reports.asking import Asking
from qc.reports.week.after_repair import came_back
from qc.reports.week.escaped import escaped_report
from qc.stats.intervals.one_sample import ShareInterval
from tests.truth.drawn import PLANT, STORY, Drawn
from tests.truth.stated import Stated

WEEKS, WINDOW = 26, 13


def repairs(record: Drawn, seed: int) -> Iterator[Stated]:
    """Yield the share of all repairs that came back."""
    rng = np.random.default_rng([seed, 94])
    done: dict[str, list[int]] = defaultdict(lambda: [0, 0])
    units: dict[int, list[int]] = defaultdict(lambda: [0, 0])
    for row in record.rows:
        if row.unit.week >= WEEKS - WINDOW:
            back = int(rng.geometric(1 - STORY.noise["recheck_fails"])) - 1
            for own in (done[row.type], units[row.unit.sequence]):
                own[0] += back + 1
                own[1] += back
    by_unit = part_by_unit((back, repairs) for repairs, back in units.values())
    lines = came_back(_ask(), [RepairedType(type_, *counts) for type_, counts in done.items()], by_unit)
    for line in lines:
        if isinstance(line.share, ShareInterval):
            yield _of_share("what waits, repairs that came back", line.type, line.share)


def escapes(record: Drawn, seed: int) -> Iterator[Stated]:
    """Yield the share of units with a finding within the days of release."""
    making, rng = Making(STORY, PLANT, seed), np.random.default_rng([seed, 95])
    units = [unit for unit in record.units if unit.week > WEEKS - WINDOW]
    cells: dict[tuple[str, str], list[int]] = defaultdict(list)
    for unit in units:
        for made in making.of(unit):
            if made.found == "" and rng.random() < STORY.detection["dealer"]:
                days = rng.exponential(STORY.detection["dealer_days"]) + 1
                if days <= FOLLOW_DAYS:
                    cells[made.origin, made.type].append(unit.sequence)
    every = len({sequence for found in cells.values() for sequence in found})
    told = tuple(EscapedCell(*cell, len(found), len(set(found))) for cell, found in cells.items())
    report = escaped_report(_ask(escaped=lambda *_: Escaped(len(units), every, told)))
    assert isinstance(report.share, ShareInterval)
    yield _of_share("what waits, units with a finding after dispatch", "all", report.share)


def _of_share(page: str, key: str, told: ShareInterval) -> Stated:
    return Stated(page, key, told.low, told.high, told.share, told.inspected)


def _ask(**counts: object) -> Asking:
    today = STORY.monday(WEEKS + 1) + timedelta(days=FOLLOW_DAYS)
    counted = SimpleNamespace(today=lambda _: today, first_week=lambda: STORY.monday(1), **counts)
    return Asking(counts=counted, plant=PLANT, now_ms=0)  # type: ignore[arg-type]
