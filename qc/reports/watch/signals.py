"""What moved beyond chance, station by type: one list, new first, with the rate of false alarms that it keeps to."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from math import inf
from typing import Literal

from qc.domain.counted.counts import Slice
from qc.domain.plant.plant import Plant
from qc.domain.words.speaking import marked, say
from qc.reports.asking import COUNTED, Asking, judged_week
from qc.reports.periods import WEEK, Period, week_name, week_of
from qc.reports.signal_weeks import SignalWeeks
from qc.reports.watch.signal_mutes import Mute, mute_of, muted_words, standing_mutes
from qc.reports.watch.signal_words import signal_sentence
from qc.reports.watch.usual import watch_baseline
from qc.reports.watch.watch_rules import FALSE_ALARMS_A_WEEK, WATCHED_WEEKS, Rule
from qc.reports.watch.watched_scatter import scatter_words
from qc.reports.watch.watched_series import NotWatched
from qc.reports.watch.watched_weeks import watched_as_of, weeks_before_renewal, weeks_of
from qc.reports.watch.watching import Moved, Watch
from qc.reports.watch.work_stretch import WorkStretch, work_stretch
from qc.stats.answers import TooLittle
from qc.store.counts import Counts
from qc.store.counts.cells import CellPhoto
from qc.store.reading.reads import Reads

NOTES_BEFORE = timedelta(weeks=4)  # a change noted so long before the earliest week may explain a signal
CAUTIONS = (
    marked(
        "A signal says that the counts moved, not why: go and look, with the photos, before anybody is told to change."
    ),
    marked(
        "The size is taken where the counts say it began, so it looks larger than it is; its range allows for that."
    ),
    marked("Nothing here says that a unit is safe. Local codes, the makers' sheets and licensed practice govern."),
)


@dataclass(frozen=True, slots=True)
class NotedChange:
    """What was noted as changed at the station round the time at which the signal began."""

    change: str
    what: str
    from_day: date
    noted_by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Signal:
    """One cause: a watched sum at a station that moved, and the other sums there that moved with it.

    type: label of the sum (a type, a type group, "rest"); types: (code, name) that it sums; other_names: the other
    sums of the cause. since: weeks between which it began (95 %), likeliest begun; over: the week it ended, "" while it
    lasts. observed, expected: defects since it began; ratio with low, high (math.inf: no upper limit), None where too
    few. by_chance: signals as strong that the whole watch would have raised since the baseline if nothing had changed.
    work: the same by the date of the work, for a rise; mute: why it is not shown among the others.
    """

    station: str
    station_name: str
    type: str
    type_name: str
    types: tuple[tuple[str, str], ...]
    direction: Literal["up", "down"]
    rule: Rule
    is_new: bool
    raised: str
    since: tuple[str, str]
    begun: str
    over: str
    observed: int
    expected: float
    ratio: float | None
    low: float
    high: float
    by_chance: float
    work: WorkStretch | None
    notes: tuple[NotedChange, ...]
    photos: tuple[CellPhoto, ...]
    other_names: tuple[str, ...]
    sentence: str
    mute: Mute | None
    weeks: tuple[str, ...]
    defects: tuple[int, ...]
    usual: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Signals:
    """The list. judged: the last whole week; baseline: the frozen weeks; serves_to: the last week that it serves.

    rate: false alarms a week that the whole watch is held to; designed: that its limits add up to; scatter: variance of
    the counts over Poisson's, 0 for no more; watched: sums; slow: how many of them for a slow rise too. shown: new
    first; muted: not shown, with their reason and end; idle: mutes that stand and keep back no signal. left_out: what
    is not watched, and why; weeks: those in which a signal stood, muted or not, which no usual range rests on.
    """

    week: Period
    judged: Period
    baseline: Period | TooLittle
    serves_to: str
    rate: float
    designed: float
    scatter: float
    watched: int
    slow: int
    shown: tuple[Signal, ...]
    muted: tuple[Signal, ...]
    idle: tuple[Mute, ...]
    left_out: tuple[NotWatched, ...]
    weeks: tuple[SignalWeeks, ...]
    sentence: str
    cautions: tuple[str, ...]

    @property
    def scatter_told(self) -> str:
        """Return what to know of the counts' scatter, "" where there is nothing to."""
        return scatter_words(self.scatter)

    def at(self, station: str) -> tuple[Signal, ...]:
        """Return the signals that stand at a station, the muted ones last."""
        return tuple(one for one in (*self.shown, *self.muted) if one.station == station)


def signals_report(counts: Counts, reads: Reads, plant: Plant, day: date, now_ms: int) -> Signals:
    """Return what moved, as of the last whole week up to the ISO week that holds the day."""
    ask = Asking(counts=counts, plant=plant, now_ms=now_ms)
    week = week_of(day, ask.today)
    judged = judged_week(week)
    baseline = watch_baseline(ask, judged)
    mutes = standing_mutes(reads, ask.today, lambda label: _name(ask, label))
    if isinstance(baseline, TooLittle):
        reason = say("Nothing is watched yet: {reason}.", reason=baseline.reason)
        return Signals(
            week=week,
            judged=judged,
            baseline=baseline,
            serves_to="",
            rate=FALSE_ALARMS_A_WEEK,
            designed=0.0,
            scatter=0.0,
            watched=0,
            slow=0,
            shown=(),
            muted=(),
            idle=mutes,
            left_out=(),
            weeks=(),
            sentence=reason,
            cautions=tuple(map(say, CAUTIONS)),
        )
    found, span = watched_as_of(ask, reads, judged, baseline)
    signals = [_signal(ask, reads, found, lead, others, span, mutes) for lead, others in found.moved]
    shown = tuple(one for one in signals if one.mute is None)
    muted = tuple(one for one in signals if one.mute is not None)
    idle = tuple(one for one in mutes if one not in [signal.mute for signal in muted])
    serves_to = week_name(baseline.end + (WATCHED_WEEKS - 1) * WEEK)
    return Signals(
        week=week,
        judged=judged,
        baseline=baseline,
        serves_to=serves_to,
        rate=found.rate,
        designed=found.designed,
        scatter=found.scatter,
        watched=len(found.series),
        slow=found.slow,
        shown=shown,
        muted=muted,
        idle=idle,
        left_out=found.left_out,
        weeks=(*weeks_of(found, span), *weeks_before_renewal(ask, reads, baseline)),
        sentence=_sentence(shown, [one.mute for one in muted if one.mute], judged),
        cautions=tuple(map(say, CAUTIONS)),
    )


def _signal(
    ask: Asking, reads: Reads, found: Watch, lead: Moved, others: Sequence[Moved], span: Period, mutes: Sequence[Mute]
) -> Signal:
    series, weeks = lead.series, _weeks(span)
    names = [_name(ask, one.series.label) for one in others]
    ratio = None if isinstance(lead.ratio, TooLittle) else lead.ratio
    began = span.first + lead.since[0] * WEEK
    seen = Slice(span.first + lead.begun * WEEK, span.end, (), (), COUNTED)
    return Signal(
        station=series.station,
        station_name=ask.place_name(series.station),
        type=series.label,
        type_name=_name(ask, series.label),
        types=tuple((type_, ask.type_name(type_)) for type_ in series.types),
        direction=lead.direction,
        rule=lead.rule,
        is_new=min(one.listed for one in (lead, *others)) == found.judged,
        raised=weeks[min(one.first for one in (lead, *others))],
        since=(weeks[lead.since[0]], weeks[lead.since[1]]),
        begun=weeks[lead.begun],
        over="" if lead.over is None else weeks[lead.over],
        observed=lead.observed,
        expected=lead.expected,
        ratio=ratio.ratio if ratio else None,
        low=ratio.low if ratio else 0.0,
        high=ratio.high if ratio else inf,
        by_chance=lead.by_chance,
        work=_work(ask, lead, span, found.scatter) if lead.direction == "up" else None,
        notes=_notes(reads, series.station, began),
        photos=ask.counts.cell_photos(seen, series.station, series.types),
        other_names=tuple(names),
        sentence=signal_sentence(lead, weeks, ask.place_name(series.station), _name(ask, series.label)),
        mute=mute_of((lead, *others), mutes, span.first, found.scatter),
        weeks=weeks,
        defects=series.defects,
        usual=series.expected,
    )


def _weeks(span: Period) -> tuple[str, ...]:
    return tuple(week_name(span.first + at * WEEK) for at in range(span.weeks))


def _name(ask: Asking, label: str) -> str:
    if label == "rest":
        return say("Other types")
    if label in ask.plant.types:
        return ask.type_name(label)
    names = {type_.group: type_.group_name for type_ in ask.plant.types.values()}
    return names.get(label, label)


def _notes(reads: Reads, station: str, began: date) -> tuple[NotedChange, ...]:
    notes = [
        NotedChange(note["change"], note["what"], date.fromisoformat(note["from_day"]), note["noted_by"])
        for note in reads.change_notes(station)
    ]
    return tuple(note for note in notes if note.from_day >= began - NOTES_BEFORE)


def _work(ask: Asking, lead: Moved, span: Period, scatter: float) -> WorkStretch | None:
    """Return the stretch by the date of the work, on units exposed in each week of work."""
    whole = ask.slice(span, COUNTED)
    worked = ask.counts.station_weeks(whole, lead.series.station, "work", ask.now_ms)
    made = [
        (week_name(one.work_day), one.sequence)
        for one in ask.counts.worked_defects(whole, lead.series.station, lead.series.types)
    ]
    defects = [sum(week == name for week, _ in made) for name in worked.weeks]
    kept = [at for at, units in enumerate(worked.exposed) if units]
    return work_stretch(
        [worked.weeks[at] for at in kept],
        [defects[at] for at in kept],
        [worked.exposed[at] for at in kept],
        made,
        scatter,
    )


def _sentence(shown: Sequence[Signal], mutes: Sequence[Mute], judged: Period) -> str:
    new = sum(one.is_new for one in shown)
    week, older = judged.name, len(shown) - new
    if shown:
        told = say(
            "{new} new in {week}, {older} known before and still within six weeks of the last alarm.",
            new=new, week=week, older=older,
        )  # fmt: skip
    elif mutes:
        told = say("Nothing else moved beyond chance up to {week}.", week=week)
    else:
        told = say("Nothing moved beyond chance up to {week}.", week=week)
    return f"{told} {muted_words(mutes)}" if mutes else told
