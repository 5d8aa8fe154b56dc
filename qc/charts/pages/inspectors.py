"""Inspectors on the same units: shares found with intervals in code order, the pairs, the shifts, the false calls."""

from qc.charts.drawing import words
from qc.charts.drawing.picture import Picture
from qc.charts.drawing.table import Column, Row, Table
from qc.charts.kinds.interval_dots import Dot, dots_scene, interval_words
from qc.domain.plant.naming import with_name
from qc.domain.words.speaking import figure, marked, say
from qc.reports.looks.inspector_share import PersonShare
from qc.reports.looks.inspectors import Inspectors
from qc.stats.answers import TooLittle
from qc.stats.intervals.one_sample import ShareInterval
from qc.stats.looks.recapture import Chapman

TITLE = marked("Share found, on the same units, in code order")
BASIS = marked(
    "Of the defects that the other look of the pair found, in zones that both looked at and of types that a look is "
    "meant to find, how many the person had found too. Exact intervals, 95 %. Never a ranking."
)


def shares_picture(report: Inspectors) -> Picture:
    """Return everybody's share found with its interval; too little data keeps its line and says so."""
    dots = [_dot(person) for person in report.people]
    basis = f"{report.period.name}. {say(BASIS)}"
    return Picture(
        id="share-found",
        title=say(TITLE),
        says=report.sentence,
        basis=basis,
        table=shares_table(report.people, basis),
        scene=dots_scene(dots, say("share found"), words.percent),
        cautions=(
            say("Defects per unit compare the units that somebody was given; only these pairs compare people."),
            *report.notes,
        ),
    )


def _dot(person: PersonShare) -> Dot:
    if isinstance(person.share, TooLittle):
        return Dot(person.code, None, None, None, f"{person.code}: {person.share.reason}")
    share = person.share
    return Dot(person.code, share.share, share.low, share.high, f"{person.code}: {share_words(share)}")


def share_words(share: ShareInterval | TooLittle) -> str:
    """Return a share with its interval, "too little to say" where there is none."""
    if isinstance(share, TooLittle):
        return say("too little to say")
    return f"{words.percent(share.share)} ({interval_words(share.low, share.high, words.percent)})"


def shares_table(people: tuple[PersonShare, ...], caption: str) -> Table:
    """Return one row a person: found, of how many, share with interval, units of the pairs; nobody is coloured."""
    columns = (
        Column(say("Inspector"), numeric=False),
        Column(say("Found by the other look")),
        Column(say("Found by this one too")),
        Column(say("Share found (interval)")),
        Column(say("Units, first and second look")),
    )
    rows = [
        Row(
            person.code,
            (
                words.whole(person.whole),
                words.whole(person.found),
                share_words(person.share),
                f"{words.whole(person.first_units)} + {words.whole(person.second_units)}",
            ),
            mark="" if isinstance(person.share, TooLittle) else person.code,
        )
        for person in people
    ]
    return Table(caption, columns, tuple(rows), has_ranges=True)


def pairs_table(report: Inspectors) -> Table:
    """Return the pairs: units, who found what, and the estimate of what neither found."""
    columns = (
        Column(say("Pair"), numeric=False),
        Column(say("Units")),
        Column(say("Found by both")),
        Column(say("Only by the one named first")),
        Column(say("Only by the one named second")),
        Column(say("Found by neither (estimate, interval)")),
    )
    estimates = {} if isinstance(report.missed, TooLittle) else _by_label(report)
    rows = [
        Row(
            say("{one} and {other}", one=line.a, other=line.b),
            (
                words.whole(line.units),
                words.whole(line.both),
                words.whole(line.only_a),
                words.whole(line.only_b),
                _left(estimates.get(say("{one} and {other}", one=line.a, other=line.b))),
            ),
        )
        for line in report.pairs
    ]
    caption = say("Who looked at the same units, whoever was first, {period}", period=report.period.name)
    return Table(caption, columns, tuple(rows), has_ranges=True)


def _by_label(report: Inspectors) -> dict[str, Chapman]:
    assert not isinstance(report.missed, TooLittle)  # the caller asks for pairs that found something
    return dict(zip(report.missed.labels, report.missed.by_pair, strict=True))


def _left(answer: Chapman | None) -> str:
    if answer is None:
        return say("too little to say")
    low, high = answer.low_exact - answer.found, answer.high_exact - answer.found
    return f"{figure(answer.left, '.1f')} ({words.whole(low)} {words.DASH} {words.whole(high)})"


def missed_words(report: Inspectors) -> str:
    """Return in a sentence how many defects neither look found, and what that rests on."""
    missed = report.missed
    if isinstance(missed, TooLittle):
        return words.sentence(say("What both looks missed cannot be estimated: {reason}", reason=missed.reason))
    told = say(
        "Found by neither look: about {left:.0f} ({low:.0f} to {high:.0f}) beside the {found} found, {method}. Read it "
        "as “at least”: what hides from one pair of eyes often hides from the other too.",
        left=missed.left,
        low=missed.low,
        high=missed.high,
        found=words.whole(missed.found),
        method=missed.method,
    )
    return f"{told}{_too_few(missed.too_few)}"


def _too_few(pairs: tuple[str, ...]) -> str:
    if not pairs:
        return ""
    told = say("Not in it, as no defect was found by both: {pairs}.", pairs=", ".join(pairs))
    return f" {told}"


def shifts_table(report: Inspectors) -> Table:
    """Return each person's looks by shift beside the share found there, so that the shift is seen with the person."""
    columns = (
        Column(say("Inspector and shift"), numeric=False),
        Column(say("First looks, all units")),
        Column(say("Found by the other look")),
        Column(say("Found by this one too")),
    )
    rows = [
        Row(f"{person.code}, {line.shift}", tuple(map(words.whole, (line.looks, line.whole, line.found))))
        for person in report.people
        for line in person.shifts
    ]
    return Table(say("By shift of the first look, {period}", period=report.period.name), columns, tuple(rows))


def false_calls_table(people: tuple[PersonShare, ...], period: str) -> Table:
    """Return the false calls: of what somebody recorded at inspection points, what was withdrawn as no defect."""
    columns = (
        Column(say("Inspector"), numeric=False),
        Column(say("Recorded")),
        Column(say("Withdrawn as not a defect")),
        Column(say("Share (interval)")),
    )
    rows = [
        Row(
            person.code,
            (words.whole(person.recorded), words.whole(person.false_calls), share_words(person.false_share)),
        )
        for person in people
    ]
    return Table(say("False calls, all units, {period}. Duplicates are none.", period=period), columns, tuple(rows))


def missed_table(person: PersonShare, period: str) -> Table:
    """Return the types that the other look found and this person had not."""
    columns = (
        Column(say("Type"), numeric=False),
        Column(say("Found by the other look only")),
        Column(say("Found by the other look")),
    )
    rows = [
        Row(with_name(line.type, line.name), (words.whole(line.missed), words.whole(line.whole)))
        for line in person.missed
    ]
    return Table(
        say("Found by the other look and not by {code}, {period}", code=person.code, period=period),
        columns,
        tuple(rows),
    )
