"""The watch over station × type: a cusum up and down and an exact limit for each series, false alarms bounded.

A pure function of count tables: the same numbers, whether the store or a simulation counted them.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import ceil
from typing import Literal

from qc.domain.counts import CellWeeks
from qc.reports.watched_series import NotWatched, Series, series_of
from qc.stats.answers import TooLittle
from qc.stats.point_tails import at_least, at_most
from qc.stats.several_changes import SeveralChanges, poisson_changes
from qc.stats.stratified_ratio import RateRatio, exact_rate_ratio, strata
from qc.stats.watch_design import WatchDesign, chance_of_height, watch_design, watched_sums

FALSE_ALARMS_A_WEEK = 1 / 13  # one a quarter, over everything watched
SHARES = {("cusum", "up"): 0.65, ("limit", "up"): 0.15, ("cusum", "down"): 0.15, ("limit", "down"): 0.05}
# A type and its group at a station alarm together and are one cause, and counts are whole: a design that adds all rules
# up holds about half of what it says. Measured on 200 plants without events, tests/bench/false_alarms.py.
COUNTED_TWICE = 1.5
WATCHED_WEEKS = 26  # that a baseline serves; then a new one is due
STILL = 6  # weeks after an alarm in which another of the same series is the same episode
LEVEL = 0.95
RUNS = 199
SEED = 20_260

Direction = Literal["up", "down"]
Rule = Literal["cusum", "limit"]
WAYS: tuple[Direction, ...] = ("up", "down")


@dataclass(frozen=True, slots=True)
class Alarm:
    """One rule's alarm in one week. place: the week's place in the table; height: the cusum's sum, or the count.

    since: place of the first week of the sum's climb from 0, the week itself for a limit; tail: expected alarms so
    high of this rule on this series, over the weeks watched so far.
    """

    place: int
    rule: Rule
    height: float
    tail: float
    since: int


@dataclass(frozen=True, slots=True)
class Moved:
    """A series that moved beyond chance: the episode of alarms that ends nearest to the last whole week.

    first, last: places of the weeks of its first and last alarm; rule: which raised it first. since: places of the
    earliest and the latest week in which it may have begun. begun: the likeliest one; over: place of the likeliest
    week in which it ended, None while it lasts. ratio: defects since it began over those expected, with its interval
    (taken where the data themselves say it began, so that it looks further from 1 than it is). by_chance: how many
    signals as strong the whole watch would have raised since the baseline if nothing had changed.
    """

    series: Series
    direction: Direction
    rule: Rule
    first: int
    last: int
    since: tuple[int, int]
    begun: int
    over: int | None
    observed: int
    expected: float
    ratio: RateRatio | TooLittle
    by_chance: float


@dataclass(frozen=True, slots=True)
class Watch:
    """What is watched, how, and what moved. rate: expected false alarms a week over everything, as designed.

    judged: place of the last whole week; baseline: places [first, end). moved: one for each cause (the alarms of one
    station in one direction at overlapping times), the others of the cause beside it, new first.
    """

    series: tuple[Series, ...]
    left_out: tuple[NotWatched, ...]
    baseline: tuple[int, int]
    judged: int
    rate: float
    designed: float
    moved: tuple[tuple[Moved, tuple[Moved, ...]], ...]


def watch(
    table: CellWeeks,
    groups: Mapping[str, str],
    baseline: tuple[int, int],
    criteria: Mapping[str, int],
    origins: Sequence[str],
) -> Watch:
    """Return what moved beyond chance up to the last whole week of the table; arguments as in series_of."""
    series, left = series_of(table, groups, baseline, criteria, origins)
    judged = len(table.weeks) - 1 - int(table.partial)
    moved = [m for one in series for m in _moved_of(one, table.weeks, judged, len(series))]
    causes = _by_cause(moved)
    causes.sort(key=lambda cause: (-max(one.first for one in cause), cause[0].by_chance, cause[0].series.station))
    designed = sum(_designed(one, len(series)) for one in series)
    found = tuple((cause[0], tuple(cause[1:])) for cause in causes)
    return Watch(series, left, baseline, judged, FALSE_ALARMS_A_WEEK, designed, found)


def _ratio_for(series: Series, direction: Direction) -> float:
    """Return the shift that a series is watched for: small series can show large shifts only."""
    if direction == "down":
        return 0.5
    return 1.7 if series.usual >= 4 else 2.0 if series.usual >= 1.5 else 3.0


def _share(rule: Rule, direction: Direction, watched: int) -> float:
    """Return the false alarms a week that a rule may raise on one of so many series."""
    return COUNTED_TWICE * FALSE_ALARMS_A_WEEK * SHARES[rule, direction] / watched


def _design(series: Series, direction: Direction, watched: int) -> WatchDesign:
    # How many are watched is rounded up, so that few designs serve all weeks.
    share = _share("cusum", direction, 5 * ceil(watched / 5))
    return watch_design(series.baseline, series.end - series.first, _ratio_for(series, direction), share, WATCHED_WEEKS)


def _designed(series: Series, watched: int) -> float:
    """Return the false alarms a week that a series' rules are designed for."""
    cusums = sum(_design(series, way, watched).alarms / WATCHED_WEEKS for way in WAYS)
    return (cusums + sum(_share("limit", way, watched) for way in WAYS)) / COUNTED_TWICE


def _moved_of(series: Series, weeks: Sequence[str], judged: int, watched: int) -> list[Moved]:
    moved = []
    for direction in WAYS:
        # The last week's origins are still being settled: a station has fewer confirmed than it will have.
        last = judged if direction == "up" else judged - 1
        alarms = _cusum_alarms(series, direction, last, watched)
        alarms += _limit_alarms(series, direction, last, watched)
        episode = _last_episode(sorted(alarms, key=lambda one: (one.place, one.rule)))
        if episode and judged - episode[-1].place < STILL:
            moved.append(_described(series, weeks, direction, episode, judged, watched))
    return moved


def _cusum_alarms(series: Series, direction: Direction, last: int, watched: int) -> list[Alarm]:
    design = _design(series, direction, watched)
    span = slice(series.end, max(series.end, last + 1))
    found, since = [], 1
    for weeks, (height, alarms) in enumerate(watched_sums(series.defects[span], series.expected[span], design), 1):
        if alarms:
            tail = chance_of_height(design.defects, design.periods, design.ratio, height, weeks)
            found.append(Alarm(series.end + weeks - 1, "cusum", height, tail, series.end + since - 1))
        if alarms or height == 0:
            since = weeks + 1
    return found


def _limit_alarms(series: Series, direction: Direction, last: int, watched: int) -> list[Alarm]:
    """Return the weeks whose count the baseline hardly leads one to expect, its own doubt allowed for."""
    share = _share("limit", direction, watched)
    whole = sum(series.expected[series.first : series.end])
    found = []
    for place in range(series.end, last + 1):
        count, size = series.defects[place], series.expected[place] / whole
        if size > 0:
            tail = (at_least if direction == "up" else at_most)(count, series.baseline, size)
            if tail <= share:
                found.append(Alarm(place, "limit", count, tail * (place + 1 - series.end), place))
    return found


def _last_episode(alarms: Sequence[Alarm]) -> list[Alarm]:
    episode: list[Alarm] = []
    for alarm in alarms:
        if episode and alarm.place - episode[-1].place > STILL:
            episode = []
        episode.append(alarm)
    return episode


def _described(
    series: Series, weeks: Sequence[str], direction: Direction, episode: Sequence[Alarm], judged: int, watched: int
) -> Moved:
    begun, since, over = _dates(series, weeks, direction, episode, judged)
    stop = judged + 1 if over is None else over + 1
    observed, expected = sum(series.defects[begun:stop]), sum(series.expected[begun:stop])
    before = sum(series.expected[series.first : series.end])
    ratio = exact_rate_ratio(strata([series.baseline], [before], [observed], [expected], (series.label,)), LEVEL)
    # Each rule has its share of the false alarms: what it raises weighs the more against chance, the less its share.
    tail = min(alarm.tail / SHARES[alarm.rule, direction] for alarm in episode)
    by_chance = tail * watched / COUNTED_TWICE
    return Moved(
        series, direction, episode[0].rule, episode[0].place, episode[-1].place, since, begun, over, observed,
        expected, ratio, by_chance,
    )  # fmt: skip


def _dates(
    series: Series, weeks: Sequence[str], direction: Direction, episode: Sequence[Alarm], judged: int
) -> tuple[int, tuple[int, int], int | None]:
    """Return when the move began (likeliest, range), and when it ended, from the changes in the weeks so far."""
    span = slice(series.first, judged + 1)
    changes = changes_of(series.defects[span], series.expected[span], weeks[span])
    place = {name: at for at, name in enumerate(weeks)}
    if isinstance(changes, SeveralChanges):
        for at, change in reversed(list(enumerate(changes.changes))):
            old, new = changes.stretches[at].value, changes.stretches[at + 1].value
            if (new > old) == (direction == "up") and place[change.last_before] < episode[-1].place:
                end = place[changes.stretches[at + 1].last]
                over = end if at + 1 < len(changes.changes) else None
                return place[change.last_before] + 1, (place[change.earliest] + 1, place[change.latest] + 1), over
    first = episode[0]
    over = episode[-1].place if first.rule == "limit" and episode[-1].place < judged else None
    return first.since, (first.since, first.place), over


def changes_of(defects: Sequence[int], expected: Sequence[float], weeks: Sequence[str]) -> SeveralChanges | TooLittle:
    """Return at most two lasting changes in a series' rate, a batch that came and went among them."""
    return poisson_changes(defects, expected, weeks, LEVEL, 2, 1, RUNS, SEED)


def _by_cause(moved: Sequence[Moved]) -> list[list[Moved]]:
    """Return the moves grouped by station, direction and overlapping times, the least likely by chance first."""
    causes: list[list[Moved]] = []
    for one in sorted(moved, key=lambda m: (m.series.station, m.direction, m.since[0])):
        last = causes[-1] if causes else None
        if last and _overlap(last, one):
            last.append(one)
        else:
            causes.append([one])
    return [sorted(cause, key=lambda m: (m.by_chance, len(m.series.types), m.series.label)) for cause in causes]


def _overlap(cause: Sequence[Moved], one: Moved) -> bool:
    lead = cause[0]
    same = lead.series.station == one.series.station and lead.direction == one.direction
    return same and one.since[0] <= max(m.last if m.over is None else max(m.over, m.last) for m in cause)
