"""The checks that count tables answer, each on one drawn seed: batch, jig, drift, mix, inspector, placebo, weeks."""

from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from qc.demo.making import Making
from qc.domain.counted.counts import CellWeeks
from qc.domain.plant.calendar import iso_week
from qc.reports.watch.causes import in_causes
from qc.reports.watch.watch_rules import Budget, Rule, drifting
from qc.reports.watch.watching import Watch, watch
from qc.reports.watch.work_stretch import work_stretch
from qc.stats.by_command.change.before_after import FixedWindows, exact_before_after
from qc.stats.change.mix_exposure import dispersion_within
from qc.stats.change.stratified_ratio import RateRatio, exact_rate_ratio, mantel_haenszel_ratio, strata
from qc.stats.looks.relooks import InspectorShares, shares_found
from qc.stats.series import rates_of
from tests.truth.drawn import PLANT, STORY, Drawn, drawn
from tests.truth.ideal import ideal_chance

LEVEL = 0.95
BASELINE = (0, 8)
LONG_BEFORE = 26  # undisturbed weeks before the story, for the drift on a long baseline
GROUPS = {type_.code: type_.group for type_ in PLANT.types.values()}
ORIGINS = tuple(station for station in PLANT.stations if station not in ("UNK", "DSN"))
BATCH = {"FUR-01", "FUR-02"}
JIG = ("PAN-05", "PAN-06")
PLACEBO = ("EXT-01", "EXT-02", "EXT-03", "EXT-04")
CHANGED = {event.station for event in STORY.events if any(times != 1 for times in event.types.values())}
QUIET = replace(STORY, events=())


@dataclass(frozen=True, slots=True)
class Batch:
    """Check 2: the weeks of work found for the runner batch, and whether its sequences lie in the true ones."""

    named: bool
    first: int
    last: int
    sequences_right: bool


@dataclass(frozen=True, slots=True)
class Seed:
    """What one seed answers. first_named, long_named: the week in which S08 was first named, 99 for not by week 18.

    long_early: S08 named before week 7 on the long baseline. s08_stated: chance of naming S08 up by week 18 if nothing
    changed, as the watch states it; s08_early, s10_stated: the same of S08 in six weeks and of S10 in weeks 9 to 26.
    ideal: chance of the counts at S08 as a test sees them that knows all but the rate. share_i4: of the second looker's
    finds. late_per_unit: the daylight bay's defects per unit of lates over earlies, the naive reading.
    """

    batch: Batch
    jig: RateRatio
    jig_station: RateRatio
    other_pan: RateRatio
    first_named: int
    long_named: int
    long_early: bool
    s08_early: float
    s08_stated: float
    ideal: float
    mix: RateRatio
    mix_plain: RateRatio
    mix_story: RateRatio
    i4_flagged: bool
    other_flagged: bool
    share_i4: float
    late_per_unit: float
    placebo_claimed: bool
    placebo_watch: bool
    s10_stated: float
    short_week_alarm: bool
    current_week_alarm: bool


def seed_checked(seed: int) -> Seed:
    """Return a seed's answers."""
    record, quiet = drawn(seed), drawn(seed + 50_000, QUIET)
    watches = {week: _watched(record.table(week)) for week in range(9, 27)}
    tables = _by_work(record)
    looked = _relooked(record, seed)
    current = replace(record.table(26), partial=True)
    return Seed(
        _batch(record, watches[14]),
        _ratio(tables["S07"], "S07", JIG, (1, 14), (15, 26)),
        _ratio(tables["S07"], "S07", tuple(GROUPS), (1, 14), (15, 26)),
        _ratio(tables["RP2"], "RP2", ("PAN-05",), (1, 14), (15, 26)),
        next((week for week in range(9, 19) if _named(watches[week], "S08")), 99),
        *_long_baseline(record, seed),
        _stated(watches[18], "S08", 10),
        ideal_chance(record, 18),
        _mix(quiet.table(26), by_model=True),
        _mix(quiet.table(26), by_model=False),
        _mix(record.table(26), by_model=True),
        "I4" in _flagged(looked),
        bool(_flagged(looked) - {"I4"}),
        next((one.found.share for one in looked.inspectors if one.label == "I4"), 0.0),
        _late_per_unit(record),
        _placebo(tables["S10"]),
        any(_named(watches[week], "S10") for week in range(12, 27)),
        _stated(watches[26], "S10", 18),
        any(_alarms_in(watch_, 21) for watch_ in watches.values()),
        _alarms_in(_watched(current), 25),
    )


def _by_work(record: Drawn) -> dict[str, CellWeeks]:
    """Return the cells by week of the work, with the units of the station's own weeks of work, as the store has them.

    With the units as they were presented the last week would lack what was worked on and not presented yet: 2 % fewer
    defects on as many units.
    """
    table = record.table(26, "work")
    return {
        place: replace(table, units=tuple(map(tuple, record.worked_units(26, place).tolist())))
        for place in ("S07", "RP2", "S10")
    }


def _watched(table: CellWeeks, baseline: tuple[int, int] = BASELINE) -> Watch:
    return watch(table, GROUPS, baseline, {}, ORIGINS)


def _named(answer: Watch, station: str, direction: str = "up") -> bool:
    return any((lead.series.station, lead.direction) == (station, direction) for lead, _ in answer.moved)


def _stated(answer: Watch, station: str, weeks: int) -> float:
    """Return the chance of naming a station as up in so many weeks if nothing changed, by its rules' shares."""
    series = [in_causes(one, answer.scatter) for one in answer.series]
    slow = drifting(series)
    budget = Budget(len(series), len(slow))
    own = [one for one in series if one.station == station]
    rules: list[tuple[Rule, int]] = [("cusum", len(own)), ("limit", len(own)), ("drift", len(slow & set(own)))]
    return 1 - (1 - sum(series * budget.share(rule, "up") for rule, series in rules)) ** weeks


def _alarms_in(answer: Watch, place: int) -> bool:
    """Tell whether a station where nothing is planted first alarms in a week."""
    moved = [one for lead, others in answer.moved for one in (lead, *others)]
    return any(one.first == place and one.series.station not in CHANGED for one in moved)


def _batch(record: Drawn, answer: Watch) -> Batch:
    """Take the signal at FU1 in week 14's report and date it by the work, as the report does."""
    lead = next((one for one, _ in answer.moved if one.series.station == "FU1" and one.direction == "up"), None)
    if lead is None:
        return Batch(False, 0, 0, False)
    on = STORY.monday(15)
    rows = [
        row for row in record.rows if row.origin(on) == "FU1" and row.type in lead.series.types and row.unit.week <= 14
    ]
    worked = [record.calendar.work_day(unit.day, "FU1") for unit in record.units if unit.week <= 14]
    weeks = sorted({iso_week(day) for day in worked})
    made = [(iso_week(row.work_day), row.unit.sequence) for row in rows]
    stretch = work_stretch(
        weeks,
        [sum(week == name for week, _ in made) for name in weeks],
        [float(sum(iso_week(day) == name for day in worked)) for name in weeks],
        made,
        answer.scatter,
    )
    if stretch is None or stretch.sequences is None or stretch.last is None:
        return Batch(True, 0, 0, False)
    number = {iso_week(STORY.monday(week)): week for week in range(-3, 27)}
    first, last = number[stretch.first], number[stretch.last]
    during = [
        unit.sequence for unit in record.units if 9 <= STORY.week_of(record.calendar.work_day(unit.day, "FU1")) <= 11
    ]
    low, high = stretch.sequences
    return Batch(True, first, last, min(during) <= low and high <= max(during) and stretch.units > 0)


def _counts(table: CellWeeks, station: str, types: tuple[str, ...]) -> np.ndarray:
    total = np.zeros((len(table.weeks), len(table.models)), dtype=int)
    for (origin, type_), rows in zip(table.cells, table.defects, strict=True):
        if (station in ("", origin)) and type_ in types:
            total += np.array(rows)
    return total


def _ratio(
    table: CellWeeks, station: str, types: tuple[str, ...], before: tuple[int, int], after: tuple[int, int]
) -> RateRatio:
    counts, units = _counts(table, station, types), np.array(table.units)
    one, two = slice(before[0] - 1, before[1]), slice(after[0] - 1, after[1])
    answer = exact_rate_ratio(
        strata(
            rates_of(counts[one].sum(axis=0).tolist(), units[one].sum(axis=0).tolist(), table.models),
            rates_of(counts[two].sum(axis=0).tolist(), units[two].sum(axis=0).tolist(), table.models),
        ),
        LEVEL,
    )
    assert isinstance(answer, RateRatio), answer
    return answer


def _long_baseline(record: Drawn, seed: int) -> tuple[int, bool, float]:
    """Return when S08 is named after 26 quiet weeks, whether before week 7, and that one's stated chance."""
    before = drawn(seed + 90_000, QUIET).table(LONG_BEFORE)
    named = 99
    for week in range(18, 0, -1):
        answer = _watched(_joined(before, record.table(week)), (0, LONG_BEFORE))
        if _named(answer, "S08"):
            named = week
    return named, named < 7, _stated(answer, "S08", 6)


def _joined(before: CellWeeks, after: CellWeeks) -> CellWeeks:
    cells = tuple(sorted({*before.cells, *after.cells}))

    def rows(table: CellWeeks, cell: tuple[str, str]) -> tuple[tuple[int, ...], ...]:
        none = ((0,) * len(table.models),) * len(table.weeks)
        return dict(zip(table.cells, table.defects, strict=True)).get(cell, none)

    return CellWeeks(
        (*(f"before-{week}" for week in before.weeks), *after.weeks),
        after.models,
        before.units + after.units,
        cells,
        tuple(rows(before, cell) + rows(after, cell) for cell in cells),
        False,
    )


def _mix(table: CellWeeks, *, by_model: bool) -> RateRatio:
    """Return weeks 18-26 over 1-17 of the whole plant, widened for the scatter of the weeks before."""
    counts, units = _counts(table, "", tuple(GROUPS)), np.array(table.units)
    scatter = dispersion_within(counts[:17].tolist(), units[:17].tolist(), table.weeks[:17], table.models)
    spans = [(counts[:17], units[:17]), (counts[17:], units[17:])]
    sums = [array.sum(axis=0) if by_model else array.sum(keepdims=True)[0] for pair in spans for array in pair]
    labels = table.models if by_model else ("all models",)
    answer = mantel_haenszel_ratio(
        strata(*(rates_of(*(one.tolist() for one in pair), labels) for pair in (sums[:2], sums[2:]))),
        LEVEL,
        max(1.0, scatter.index),
        scatter.degrees,
    )
    assert isinstance(answer, RateRatio), answer
    return answer


def _relooked(record: Drawn, seed: int) -> InspectorShares:
    """Look again at four units a week, blind, by another inspector of the shift, as the demo does."""
    rng, making = np.random.default_rng([seed, 8]), Making(STORY, PLANT, seed)
    both, second = dict.fromkeys(_inspectors(), 0), dict.fromkeys(_inspectors(), 0)
    for week in range(1, 27):
        here = [unit for unit in record.units if unit.week == week]
        count = min(STORY.relook["units_a_week"], len(here))
        for place in rng.choice(len(here), count, replace=False):
            unit = here[int(place)]
            others = [one for one in STORY.inspectors if one.code != unit.inspector and one.share(unit.shift) > 0]
            shares = np.array([one.share(unit.shift) for one in others])
            who = others[int(rng.choice(len(others), p=shares / shares.sum()))]
            for made in making.of(unit):
                seen = made.found in ("", "D01") and PLANT.types[made.type].first_detect_point == "D01"
                if seen and rng.random() < who.finds(made.severity):
                    second[unit.inspector] += 1
                    both[unit.inspector] += made.found == "D01"
    answer = shares_found(list(both.values()), list(second.values()), list(both), LEVEL)
    assert isinstance(answer, InspectorShares), answer
    return answer


def _inspectors() -> tuple[str, ...]:
    return tuple(one.code for one in STORY.inspectors)


def _flagged(looked: InspectorShares) -> set[str]:
    return {one.label for one in looked.inspectors if one.stands_out and one.finds_fewer}


def _late_per_unit(record: Drawn) -> float:
    units = {shift: sum(unit.shift == shift for unit in record.units) for shift in ("early", "late")}
    found = {shift: sum(r.unit.shift == shift and r.point == "D01" for r in record.rows) for shift in units}
    return found["late"] / units["late"] / (found["early"] / units["early"])


def _placebo(table: CellWeeks) -> bool:
    """Judge the new lead at S10 as one of all changes noted: claimed better, or worse."""
    windows = FixedWindows(STORY.monday(1), STORY.monday(12), STORY.monday(12), STORY.monday(27), date(2026, 5, 15))
    ratio = _ratio(table, "S10", PLACEBO, (1, 11), (12, 26))
    two = strata(
        rates_of(ratio.before_defects, ratio.before_units, ratio.labels),
        rates_of(ratio.after_defects, ratio.after_units, ratio.labels),
    )
    answer = exact_before_after(two, windows, STORY.monday(27), 0.8, len(STORY.changes), LEVEL)
    return answer.answer == "better" or answer.is_worse
