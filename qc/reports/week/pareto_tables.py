"""Pareto tables: types or origins by count, by minutes and by severity, the longer window beside the week.

Criticals are never summed in: they stand in a column of their own and in the safety list.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

from qc.domain.counted.counts import CategoryCounts
from qc.domain.plant.naming import with_name
from qc.domain.plant.plant import UNKNOWN
from qc.domain.words.speaking import marked, say, say_many
from qc.reports.asking import Asking, judged_week
from qc.reports.periods import WEEK, Period
from qc.reports.watch.usual import UsualCategories, UsualRange, usual_categories, usual_on
from qc.reports.week.pareto_swaps import swaps_by_count, swaps_by_weight
from qc.reports.wording import listed, percent, severities_words
from qc.stats.answers import TooLittle
from qc.stats.causes.pareto import Pareto, ParetoBar, VitalFew, pareto, vital_few
from qc.stats.series import counts_of

What = Literal["type", "origin"]
Order = Literal["count", "minutes", "severity"]
ORDERS: tuple[Order, ...] = ("count", "minutes", "severity")

NOTHING = TooLittle("vital few", marked("nothing was found in this period"), 0, 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class ParetoRow:
    """One type or origin. count: majors and minors of the week, or those of them that are asked for; critical apart;
    minutes: usual rework of count.

    code "others" is everything beyond the rows shown, what was found only in the weeks before among it, so that each
    column sums to its whole. share and cumulative are shares (0-1) of the week's total in the order's weight.
    window_count, window_share: the same for the weeks before. usual_low, usual_high: the defects that are usual on this
    week's units (95 % of weeks like those that the range rests on: usual_weeks, in words), None where there is too
    little to say; beyond_usual: count is outside them. signal: the word of a signal that stands on it, "more", "fewer"
    or "".
    could_swap: this row and the next could stand the other way round by chance (False for origins by minutes).
    """

    code: str
    name: str
    count: int
    critical: int
    major: int
    minor: int
    minutes: int
    share: float
    cumulative: float
    window_count: int
    window_share: float
    usual_low: int | None
    usual_high: int | None
    usual_weeks: str
    beyond_usual: bool
    signal: str
    could_swap: bool


@dataclass(frozen=True, slots=True)
class ParetoTable:
    """One order of one Pareto: rows largest first, others last; weight in words ("defects", "minutes").

    week, window: the chart's numbers as the statistics gave them, TooLittle where nothing was found. vital: the fewest
    that make four fifths of the weight, among all that were found.
    """

    order: Order
    weight: str
    rows: tuple[ParetoRow, ...]
    week: Pareto | TooLittle
    window: Pareto | TooLittle
    vital: VitalFew | TooLittle = NOTHING


@dataclass(frozen=True, slots=True, kw_only=True)
class ParetoTables:
    """The three orders of one Pareto. inspected: units presented in the week, window_inspected in the weeks before.

    unknown: majors and minors of the week whose origin nobody has named (origin only, else 0), shown apart from
    the rows. criticals: left out of the rows, counted here. usual: what the ranges rest on. denominator, sentence,
    moved, signals: in words; moved says which rows are beyond their usual range, signals on which one stands.
    """

    what: What
    tables: tuple[ParetoTable, ...]
    total: int
    criticals: int
    unknown: int
    inspected: int
    window_inspected: int
    usual: str
    denominator: str
    sentence: str
    moved: str
    signals: str

    def by(self, order: Order) -> ParetoTable:
        """Return the table in one order."""
        return next(table for table in self.tables if table.order == order)


OTHERS = "others"
MOST_ROWS = 15
WEIGHTS: dict[Order, str] = {
    "count": marked("defects"),
    "minutes": marked("minutes of usual rework"),
    "severity": marked("majors"),
}
UNKNOWN_LIMIT = 0.10  # above it the unknown origins are the first finding (common practice, no source)


@dataclass(frozen=True, slots=True)
class _Counts:
    """A week's or window's majors and minors by label, and its criticals apart."""

    counted: CategoryCounts
    criticals: dict[str, int]


@dataclass(frozen=True, slots=True)
class _Usual:
    """What the rows' usual ranges rest on.

    exposed: units of the week by station; elsewhere: defects put down to it on units that are none of these; signals:
    the word of each label's.
    """

    base: UsualCategories | TooLittle
    exposed: dict[str, int]
    elsewhere: dict[str, int]
    signals: dict[str, str]

    def of(self, labels: Sequence[str], units: int) -> UsualRange | TooLittle:
        """Return what is usual of these labels together; a station has the units that went through it."""
        if isinstance(self.base, TooLittle):
            return self.base
        return usual_on(self.base.base(labels), self.exposed.get(labels[0], units) if len(labels) == 1 else units)

    @property
    def words(self) -> str:
        """Return the weeks in words."""
        return self.base.reason if isinstance(self.base, TooLittle) else self.base.words


def pareto_tables(ask: Asking, what: What, week: Period, window: Period) -> ParetoTables:
    """Return the three orders of the week's Pareto with the window before it beside."""
    own, before = _counts(ask, what, week), _counts(ask, what, window)
    name: Callable[[str], str] = ask.type_name if what == "type" else ask.place_name
    usual = _usual(ask, what, week)
    tables = tuple(_table(what, order, own, before, usual, name, ask.plant.vital_few) for order in ORDERS)
    unknown = _of(own.counted, UNKNOWN) if what == "origin" else 0
    total = sum(own.counted.counts)
    return ParetoTables(
        what=what,
        tables=tables,
        total=total,
        criticals=sum(own.criticals.values()),
        unknown=unknown,
        inspected=own.counted.inspected,
        window_inspected=before.counted.inspected,
        usual=usual.words,
        denominator=say(
            "{severities} found at first presentation on {units}.",
            severities=_first_letter(severities_words(ask.counted)),
            units=own.counted.denominator,
        ),
        sentence=_sentence(what, tables[0], total, unknown, week, severities_words(ask.counted)),
        moved=_moved(what, tables[0].rows, usual),
        signals=_signals(tables[0].rows),
    )


def _first_letter(words: str) -> str:
    """Return words that begin a sentence; German has capitals within, too."""
    return words[:1].upper() + words[1:]


def _usual(ask: Asking, what: What, week: Period) -> _Usual:
    exposed, elsewhere = {}, {}
    if what == "origin":
        every = ask.counts.all_station_weeks(ask.slice(week, ask.counted), "found", ask.now_ms)
        exposed = {station: sum(weeks.exposed) for station, weeks in every.items()}
        elsewhere = {station: sum(weeks.elsewhere) for station, weeks in every.items()}
    last = judged_week(week).last_day
    signals = {
        label: "more" if one.is_rise else "fewer"
        for one in ask.signals
        if one.last + WEEK > last
        for label in (one.types if what == "type" else (one.station,))
    }
    return _Usual(usual_categories(ask, what, week), exposed, elsewhere, signals)


def _counts(ask: Asking, what: What, period: Period) -> _Counts:
    serious = ask.counts.category_counts(ask.slice(period, ("critical",)), what)
    return _Counts(
        ask.counts.category_counts(ask.slice(period, ask.counted), what),
        dict(zip(serious.labels, serious.counts, strict=True)),
    )


def _of(counts: CategoryCounts, label: str) -> int:
    return dict(zip(counts.labels, counts.counts, strict=True)).get(label, 0)


def _amounts(counts: CategoryCounts, order: Order) -> tuple[int, ...]:
    if order == "severity":
        return tuple(major for _, major, _ in counts.by_severity)
    return counts.minutes if order == "minutes" else counts.counts


def _ranked(counts: CategoryCounts, order: Order, most: int | None = MOST_ROWS) -> Pareto | TooLittle:
    """Return the Pareto of one order, labels that have nothing left out; the unknown stands last, in the whole."""
    rows = zip(counts.labels, counts.counts, _amounts(counts, order), strict=True)
    # Equal amounts fall back on the count, then on the code: the order must not jump between equal rows.
    used = sorted((row for row in rows if row[1]), key=lambda row: (-row[1], row[0]))
    if not used:
        return TooLittle("Pareto", say("nothing of the counted severities was found in this period"), 0, 1)
    labels, found, amounts = zip(*used, strict=True)
    last = (UNKNOWN,) if UNKNOWN in labels else ()
    return pareto(counts_of(found, labels), amounts, WEIGHTS[order], other=OTHERS, last=last, most=most)


def _table(
    what: What,
    order: Order,
    own: _Counts,
    before: _Counts,
    usual: _Usual,
    name: Callable[[str], str],
    share: float,
) -> ParetoTable:
    week, window = _ranked(own.counted, order), _ranked(before.counted, order)
    if isinstance(week, TooLittle):
        return ParetoTable(order, WEIGHTS[order], (), week, window)
    swaps = _swaps(week.bars, order, what)
    rows = tuple(
        _row(bar, own, before, usual, order, name, place < len(swaps) and swaps[place])
        for place, bar in enumerate(_with_rest(week.bars, own, before, usual))
    )
    return ParetoTable(order, WEIGHTS[order], rows, week, window, _vital(own.counted, order, share))


def _vital(counts: CategoryCounts, order: Order, share: float) -> VitalFew | TooLittle:
    """Return the fewest labels that make the plant's share, among all that were found, not only the rows shown."""
    every = _ranked(counts, order, most=None)
    return every if isinstance(every, TooLittle) else vital_few(every, share)


def _with_rest(bars: Sequence[ParetoBar], own: _Counts, before: _Counts, usual: _Usual) -> tuple[ParetoBar, ...]:
    """Return the bars with all others gathered in the last: also what had a critical only, or something only before, in
    the weeks beside or in those that usual ranges rest on.

    Left out, their defects would be missing from the weeks before, and the others' usual range would be too low.
    """
    named = tuple(bar for bar in bars if bar.label != OTHERS)
    shown = {bar.label for bar in named}
    found = {label for label, count in own.criticals.items() if count}
    baseline = () if isinstance(usual.base, TooLittle) else (usual.base.whole,)
    for period in (own.counted, before.counted, *baseline):
        found |= {label for label, count in zip(period.labels, period.counts, strict=True) if count}
    rest = tuple(sorted(found - shown))
    if not rest:
        return named
    gathered = next((bar for bar in bars if bar.label == OTHERS), ParetoBar(OTHERS, 0, 0.0, 0.0, 1.0, ()))
    return (*named, replace(gathered, members=rest))


def _swaps(bars: Sequence[ParetoBar], order: Order, what: What) -> tuple[bool, ...]:
    """Return which rows could swap with the next; an origin's minutes are of unlike types, so nothing is said there."""
    if order == "minutes" and what != "type":
        return ()
    swaps = swaps_by_weight(bars) if order == "minutes" else swaps_by_count(bars)
    # Others and the unknown stand last whatever their size: they have no place to swap.
    placed = (not {one.label, two.label} & {OTHERS, UNKNOWN} for one, two in pairwise(bars))
    return tuple(swap and is_placed for swap, is_placed in zip(swaps, placed, strict=True))


def _row(
    bar: ParetoBar,
    own: _Counts,
    before: _Counts,
    usual: _Usual,
    order: Order,
    name: Callable[[str], str],
    swaps: bool,
) -> ParetoRow:
    place = {label: n for n, label in enumerate(own.counted.labels)}
    held = [place[label] for label in bar.members if label in place]
    triples = [own.counted.by_severity[n] for n in held]
    window_count = sum(_of(before.counted, label) for label in bar.members)
    window_total = sum(_amounts(before.counted, order))
    window_amounts = dict(zip(before.counted.labels, _amounts(before.counted, order), strict=True))
    answer = usual.of(bar.members, own.counted.inspected)
    known = None if isinstance(answer, TooLittle) else answer
    # What is usual is of the station's own units, and so is what is held against it.
    own_count = bar.count - usual.elsewhere.get(bar.members[0], 0) if len(bar.members) == 1 else bar.count
    return ParetoRow(
        code=UNKNOWN if bar.members == (UNKNOWN,) else bar.label,
        name=_name(bar, name),
        count=bar.count,
        critical=sum(own.criticals.get(label, 0) for label in bar.members),
        major=sum(triple[1] for triple in triples),
        minor=sum(triple[2] for triple in triples),
        minutes=sum(own.counted.minutes[n] for n in held),
        share=bar.share,
        cumulative=bar.cumulative,
        window_count=window_count,
        window_share=sum(window_amounts.get(label, 0) for label in bar.members) / window_total if window_total else 0.0,
        usual_low=known.low if known else None,
        usual_high=known.high if known else None,
        usual_weeks=known.rests_on if known else "",
        beyond_usual=known is not None and not known.holds(own_count),
        signal=usual.signals.get(bar.members[0], "") if len(bar.members) == 1 else "",
        could_swap=swaps,
    )


def _name(bar: ParetoBar, name: Callable[[str], str]) -> str:
    if bar.label != OTHERS:
        return name(bar.label)
    if bar.members == (UNKNOWN,):
        return say("Origin not known or disputed")
    if UNKNOWN in bar.members:
        return say("{number} others, origin not known among them", number=len(bar.members))
    return say("{number} others", number=len(bar.members))


def _sentence(what: What, table: ParetoTable, total: int, unknown: int, week: Period, severities: str) -> str:
    if not table.rows:
        return say("No defect ({severities}) was found on units of {week}.", severities=severities, week=week.name)
    top = [row for row in table.rows if row.code not in (OTHERS, UNKNOWN)][:3]
    share = sum(row.count for row in top) / total
    named = listed([f"{with_name(row.code, row.name)} ({row.count})" for row in top])
    told = say("{named} make {share} of {total} defects.", named=named, share=percent(share), total=total)
    first = ""
    if what == "origin" and unknown > UNKNOWN_LIMIT * total:
        part = percent(unknown / total)
        first = say("The origin of {share} is not known: that is the first finding.", share=part)
    return " ".join(one for one in (first, told, _close(table.rows)) if one)


def _moved(what: What, rows: Sequence[ParetoRow], usual: _Usual) -> str:
    """Return which rows are beyond their usual range, and by which weeks."""
    if not rows:
        return ""
    if isinstance(usual.base, TooLittle):
        return say("What is usual cannot be said yet: {reason}.", reason=usual.base.reason)
    beyond = [(_spoken(row.code), row.count > (row.usual_high or 0)) for row in rows if row.beyond_usual]
    above, below = ([code for code, is_above in beyond if is_above is wanted] for wanted in (True, False))
    parts = [
        say("above usual: {named}", named=listed(above)) if above else "",
        say("below usual: {named}", named=listed(below)) if below else "",
    ]
    told = "; ".join(filter(None, parts))
    if not told:
        return (
            say("No type is beyond its usual range, by {weeks}.", weeks=usual.words)
            if what == "type"
            else say("No origin is beyond its usual range, by {weeks}.", weeks=usual.words)
        )
    if what == "type":
        return say("Types {beyond}, by {weeks}.", beyond=told, weeks=usual.words)
    return say("Origins {beyond}, by {weeks}.", beyond=told, weeks=usual.words)


def _spoken(code: str) -> str:
    return say(_SPOKEN[code]) if code in _SPOKEN else code


def _signals(rows: Sequence[ParetoRow]) -> str:
    standing = [f"{row.code} ({say(SIGNALS[row.signal])})" for row in rows if row.signal]
    return say("A signal stands on {named}, whatever the week says.", named=listed(standing)) if standing else ""


_SPOKEN = {UNKNOWN: marked("not known or disputed"), OTHERS: marked("the others together")}
SIGNALS = {"more": marked("more"), "fewer": marked("fewer"), "": ""}


def _close(rows: Sequence[ParetoRow]) -> str:
    swapping = sum(row.could_swap for row in rows)
    if not swapping:
        return ""
    return say_many(
        "{number} row could change places with the next by chance.",
        "{number} rows could change places with the next by chance.",
        swapping,
    )
