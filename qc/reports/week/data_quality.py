"""Is the data fit to be read? What is missing, late, not looked at, of unknown origin, and who looked."""

from dataclasses import dataclass

from qc.domain.counted.backlogs import CONFIRM_DAYS
from qc.domain.counted.counts import DataQualityCounts
from qc.domain.words.said_weeks import day_figures
from qc.domain.words.speaking import say, say_many
from qc.reports.asking import LEVEL, Asking
from qc.reports.periods import Period
from qc.reports.wording import listed, percent
from qc.stats.answers import TooLittle
from qc.stats.intervals.by_unit import shares_by_unit
from qc.stats.intervals.one_sample import ShareInterval, wilson_interval


@dataclass(frozen=True, slots=True, kw_only=True)
class QualityLine:
    """One question of fitness. have of whole in words; share with interval where it is a share, else TooLittle.

    code: "no_record", "not_looked_at", "marked_together", "unknown_origin", "unconfirmed", "late_synced", "duplicates",
    "field_without_record", "unfinished", "without_day". concern: have is above what the plant lives with
    (limit in words, "" none).
    """

    code: str
    title: str
    have: int
    whole: int
    share: ShareInterval | TooLittle
    concern: bool
    limit: str
    sentence: str

    @property
    def has_range(self) -> bool:
        """Return whether chance works on the items one by one, so that an interval says what it says.

        Records come late by the phone, a shift's at once: limits for single records hold the share in 92 of 100 weeks.
        What is open, without a record or on an unknown unit now is counted whole, and grows and shrinks by the lead,
        the hour and the dealer: limits for single origins hold in 92 of 100 plants whose leads answer once a week.
        """
        return self.code in BY_CHANCE and not isinstance(self.share, TooLittle)

    @property
    def is_judged(self) -> bool:
        """Return whether there was anything that the limit could judge."""
        return bool(self.limit) and self.whole > 0


@dataclass(frozen=True, slots=True)
class InspectorMix:
    """First presentations by inspector at one point: this week and the weeks before, in code order.

    moved: somebody's share of the looks has changed by more than a fifth; sentence: says whose.
    """

    point: str
    point_name: str  # with its code
    inspectors: tuple[str, ...]
    week: tuple[int, ...]
    before: tuple[int, ...]
    sentence: str
    moved: bool = False


@dataclass(frozen=True, slots=True)
class DataQuality:
    """The answers for one period; partial_sentence is "" when the week is over."""

    lines: tuple[QualityLine, ...]
    inspector_mix: tuple[InspectorMix, ...]
    partial_sentence: str


# What the plant lives with; above it the line is a concern (common practice, no source; plant settings).
LIMITS: dict[str, float] = {
    "no_record": 0.0,
    "not_looked_at": 0.02,
    "unknown_origin": 0.10,
    "unconfirmed": 0.10,
    "late_synced": 0.10,
    "duplicates": 0.05,
    "field_without_record": 0.0,
}
BY_CHANCE = ("not_looked_at", "unknown_origin", "duplicates")  # what befalls the items one by one: these have a range
MIX_MOVED = 0.20  # an inspector's share of the looks that moved by more is said (common practice, no source)


def data_quality(ask: Asking, week: Period, window: Period) -> DataQuality:
    """Return how fit the week's data are; the window before it for who looked."""
    counts = ask.counts.data_quality(ask.slice(week), ask.now_ms)
    by_unit = ask.counts.defects_by_unit(ask.slice(week), at_points=True)
    unknown = shares_by_unit([by_unit.unknown], LEVEL, by_unit.made)[0]
    before = ask.counts.inspectors(ask.slice(window))
    partial = (
        say("{week} is not over: its counts still grow, and no rule judges it.", week=week.name) if week.partial else ""
    )
    return DataQuality(_lines(counts, unknown, bool(ask.shifts)), _mix(ask, counts.inspectors, before), partial)


def _lines(counts: DataQualityCounts, unknown: ShareInterval | TooLittle, one_shift: bool) -> tuple[QualityLine, ...]:
    told, own = counts.zones_told, counts.open_origins
    closed = counts.unknown_origin[0] - own.unnamed - own.not_known - own.disputed
    field = (
        say("findings after dispatch (of every shift, they are found in none)")
        if one_shift
        else say("findings after dispatch")
    )
    return (
        _line(
            "no_record",
            say("Units without a record"),
            counts.no_record,
            say("units planned for these days so far"),
            say("some end point has no ended first presentation"),
        ),
        _line(
            "not_looked_at",
            say("Zones not looked at"),
            counts.not_looked_at,
            say("zones at first presentation"),
            say(
                "{told} of them marked so with a reason, {untold} not marked at all",
                told=told,
                untold=counts.not_looked_at[0] - told,
            ),
        ),
        _together(counts.zones_together),
        _line(
            "unknown_origin",
            say("Origin not known"),
            counts.unknown_origin,
            say("defects"),
            say(
                "{unnamed} named by nobody, {not_known} said to be not known, {disputed} disputed, {closed} settled as "
                "not known",
                unnamed=own.unnamed,
                not_known=own.not_known,
                disputed=own.disputed,
                closed=closed,
            ),
            unknown,
        ),
        _unconfirmed(counts),
        _line(
            "late_synced",
            say("Records that came late"),
            counts.late_synced,
            say("defects recorded"),
            say(
                "more than {hours} hours from finding to the server; they come late by the phone, many at once, so no "
                "range is stated",
                hours=counts.late_hours,
            ),
        ),
        _line(
            "duplicates",
            say("Withdrawn as duplicates"),
            counts.duplicates,
            say("defects recorded, blind second looks apart"),
            say("recorded twice and taken out; they are in no count"),
        ),
        _line(
            "field_without_record",
            say("After-dispatch findings on unknown units"),
            counts.field_without_record,
            field,
            say("some end point has never presented the unit, so it is in no table"),
        ),
        _unfinished(counts.unfinished),
        *_without_day(counts.without_day),
    )


def _unfinished(number: int) -> QualityLine:
    """Return the line of inspections that nobody ended: a count, no share."""
    told = say_many(
        "{number} first presentation begun and not ended, now; counted when ended.",
        "{number} first presentations begun and not ended, now; counted when ended.",
        number,
    )
    return QualityLine(
        code="unfinished",
        title=say("Inspections begun and not ended"),
        have=number,
        whole=number,
        share=TooLittle("share", say("a count, not a share"), 0, 0),
        concern=False,
        limit="",
        sentence=told if number else say("Every first presentation that was begun has ended."),
    )


def _together(pair: tuple[int, int]) -> QualityLine:
    """Return the line of marks made many at once; no limit, for an act's zones stand or fall together.

    A sweeping mark hides what nobody looked at: common practice, no source.
    """
    have, whole = pair
    if not whole:
        told = say("No zone is marked.")
    elif not have:
        told = say("{have} of {whole} zones looked at were marked with others in one act.", have=have, whole=whole)
    else:
        told = say(
            "{have} of {whole} zones looked at were marked with others in one act, as “the rest is clean” does: the "
            "record cannot say which of them somebody looked at by itself.",
            have=have,
            whole=whole,
        )
    return QualityLine(
        code="marked_together",
        title=say("Zones marked many at once"),
        have=have,
        whole=whole,
        share=wilson_interval(have, whole, LEVEL),
        concern=False,
        limit="",
        sentence=told,
    )


def _unconfirmed(counts: DataQualityCounts) -> QualityLine:
    """Return the line of the origins that are open for long: all that waits for somebody, the field's too."""
    plant, field = counts.waiting, counts.waiting_field
    total = plant.total + field.total
    day = day_figures(counts.confirm_before.day)
    before = (
        say("found before {day}, or that day by the days that the suspected station works.", day=day)
        if counts.confirm_before.own
        else say("found before {day}.", day=day)
    )
    of_all = say(
        "Of all {total}, {waiting} wait for a lead's word, {disputed} are disputed, {not_known} said to be not known, "
        "{unnamed} named by nobody; {field} were found after dispatch, in no shift and left out of none",
        total=total,
        waiting=plant.suspected + field.suspected,
        disputed=plant.disputed + field.disputed,
        not_known=plant.not_known + field.not_known,
        unnamed=plant.unnamed + field.unnamed,
        field=field.total,
    )
    return _line(
        "unconfirmed",
        say("Origins open for more than {days} working days", days=CONFIRM_DAYS),
        (plant.overdue + field.overdue, total),
        say("defects with an open origin, whenever and wherever found"),
        f"{before} {of_all}",
    )


def _without_day(units: tuple[str, ...]) -> tuple[QualityLine, ...]:
    """Return the line that tells of defects whose day cannot be; none where there are none, as the door now refuses."""
    if not units:
        return ()
    named = listed(list(units[:5]))
    told = say(
        "{units}: the day kept cannot be, so the defect is in no count; withdraw it and record it again with its day.",
        units=say("{units} and more", units=named) if len(units) > 5 else named,
    )
    judged = TooLittle("share", say("a count, not a share"), 0, 0)
    title = say("Units with a defect of an impossible day")
    return (
        QualityLine(
            code="without_day",
            title=title,
            have=len(units),
            whole=len(units),
            share=judged,
            concern=True,
            limit=say("none"),
            sentence=told,
        ),
    )


def _line(
    code: str,
    title: str,
    pair: tuple[int, int],
    whole_words: str,
    why: str,
    by_unit: ShareInterval | TooLittle | None = None,
) -> QualityLine:
    """Return the line of a share; by_unit: its interval where the items of one unit go together."""
    have, whole = pair
    limit = LIMITS[code]
    share = wilson_interval(have, whole, LEVEL) if by_unit is None else by_unit
    concern = have > limit * whole
    words = say("none") if limit == 0 else say("up to {share}", share=percent(limit))
    if whole == 0:
        return QualityLine(
            code=code,
            title=title,
            have=have,
            whole=whole,
            share=share,
            concern=False,
            limit=words,
            sentence=say("No {what}.", what=whole_words),
        )
    told = (
        say("{have} of {whole} {what}: {why}.", have=have, whole=whole, what=whole_words, why=why)
        if have
        else say("{have} of {whole} {what}.", have=have, whole=whole, what=whole_words)
    )
    return QualityLine(
        code=code, title=title, have=have, whole=whole, share=share, concern=concern, limit=words, sentence=told
    )


Looks = tuple[tuple[str, str, int], ...]


def _mix(ask: Asking, week: Looks, before: Looks) -> tuple[InspectorMix, ...]:
    points = [point for point in ask.plant.end_points() if any(row[0] == point for row in (*week, *before))]
    return tuple(_point_mix(point, ask.names.place(point), week, before) for point in points)


def _point_mix(point: str, point_name: str, week: Looks, before: Looks) -> InspectorMix:
    own = {code: units for place, code, units in week if place == point}
    then = {code: units for place, code, units in before if place == point}
    codes = tuple(sorted({*own, *then}))
    moved = _moved(codes, own, then)
    return InspectorMix(
        point,
        point_name,
        codes,
        tuple(own.get(code, 0) for code in codes),
        tuple(then.get(code, 0) for code in codes),
        _mix_sentence(own, then, moved),
        bool(moved),
    )


def _moved(codes: tuple[str, ...], own: dict[str, int], then: dict[str, int]) -> list[str]:
    now, old = sum(own.values()), sum(then.values())
    if not now or not old:
        return []
    return [
        say(
            "{code} {before} before, {now} now",
            code=code,
            before=percent(then.get(code, 0) / old),
            now=percent(own.get(code, 0) / now),
        )
        for code in codes
        if abs(own.get(code, 0) / now - then.get(code, 0) / old) > MIX_MOVED
    ]


def _mix_sentence(own: dict[str, int], then: dict[str, int], moved: list[str]) -> str:
    if not sum(own.values()):
        return say("Nobody has ended a first presentation here this week.")
    if not sum(then.values()):
        return say("Nobody looked here in the weeks before, so the mix has nothing to stand beside.")
    if not moved:
        return say("The same people looked in about the same shares as before.")
    return say("Who looked has changed ({who}): a change in what was found may be theirs.", who=listed(moved))
