"""Tables of the review that have no picture: fitness of the data, who looked, first-pass, three orders side by side."""

from collections.abc import Sequence

from qc.charts.drawing import words
from qc.charts.drawing.table import Column, Row, RowState, Table
from qc.charts.kinds.interval_dots import interval_words
from qc.charts.pages.pareto import ORDER_WORDS, SHOWN, name_of
from qc.domain.words.said_weeks import day_figures
from qc.domain.words.speaking import say
from qc.reports.week.data_quality import DataQuality, InspectorMix, QualityLine
from qc.reports.week.first_pass import NO_MAJOR, NOTHING, FirstPassBoth
from qc.reports.week.pareto_tables import ORDERS, ParetoRow, ParetoTables
from qc.reports.week.under_way import UnderWay
from qc.stats.answers import TooLittle
from qc.stats.looks.yields import FirstPass


def quality_table(quality: DataQuality, period: str) -> Table:
    """Return the questions of fitness, each with its count, share, limit and sentence; those beyond it first."""
    columns = (
        Column(say("Question"), numeric=False),
        Column(say("Count")),
        Column(say("Share (interval)")),
        Column(say("Reading"), numeric=False),
        Column(say("In words"), numeric=False),
    )
    lines = sorted(quality.lines, key=lambda line: not line.concern)
    return Table(say("Fitness of the data, {period}", period=period), columns, tuple(map(_quality_row, lines)))


def _quality_row(line: QualityLine) -> Row:
    state: RowState = "signal" if line.concern else ""
    share = "–" if isinstance(line.share, TooLittle) else words.percent(line.share.share)
    if line.has_range and not isinstance(line.share, TooLittle):
        share += f" ({interval_words(line.share.low, line.share.high, words.percent)})"
    count = words.of(line.have, line.whole) if line.whole else words.whole(line.have)
    beyond = line.concern and line.limit
    reading = say("beyond the limit ({limit})", limit=line.limit) if beyond else _plain_reading(line)
    return Row(line.title, (count, share, reading, words.sentence(line.sentence)), state)


def _plain_reading(line: QualityLine) -> str:
    if line.concern:
        return say("look into it")
    if not line.limit and not isinstance(line.share, TooLittle):
        return say("no limit is set")
    return say("as usual") if line.is_judged or not line.limit else say("nothing to judge yet")


def under_way_table(under_way: UnderWay) -> Table:
    """Return the units under way, longest first, with the points that have presented each and those that have not."""
    columns = (
        Column(say("Unit"), numeric=False),
        Column(say("Presented by"), numeric=False),
        Column(say("Not yet by"), numeric=False),
        Column(say("Since"), numeric=False),
        Column(say("Defects so far")),
    )
    rows = [
        Row(
            f"{one.shop_number} {one.model}",
            (words.listed(one.presented), words.listed(one.awaited), day_figures(one.since), words.whole(one.defects)),
            link=f"/units/{one.unit}",
        )
        for one in under_way.units
    ]
    caption = say(
        "Units under way on {day}: in no figure of the line until every end point has presented them",
        day=day_figures(under_way.day),
    )
    return Table(caption, columns, tuple(rows), has_ranges=True)  # as wide: blocks on a phone


def mix_table(mix: InspectorMix, period: str) -> Table:
    """Return first presentations by inspector, the week and the weeks before, in code order, never ranked."""
    columns = (
        Column(say("Inspector"), numeric=False),
        Column(say("Units, {period}", period=period)),
        Column(say("Units, weeks before")),
    )
    rows = [
        Row(code, (words.whole(now), words.whole(before)))
        for code, now, before in zip(mix.inspectors, mix.week, mix.before, strict=True)
    ]
    return Table(
        say("First presentations at {point} by inspector, in code order, by the day of the look", point=mix.point_name),
        columns,
        tuple(rows),
    )


def first_pass_table(both: FirstPassBoth, week: str, window: str) -> Table:
    """Return first-pass both ways for each point: the week and the weeks before, with intervals and counts."""
    columns = (
        Column(say("Point"), numeric=False),
        *(Column(f"{say(what)}, {when}", numeric=False) for what in (NO_MAJOR, NOTHING) for when in (week, window)),
    )
    rows = [
        Row(line.name, tuple(map(_pass, (line.week_major, line.before_major, line.week_all, line.before_all))))
        for line in both.lines
    ]
    caption = say("First-pass, {week} and before.", week=week)
    return Table(f"{caption} {words.sentence(both.denominator)}", columns, tuple(rows))


def _pass(answer: FirstPass | TooLittle) -> str:
    if isinstance(answer, TooLittle):
        return answer.reason
    interval = interval_words(answer.low, answer.high, words.percent)
    return f"{words.percent(answer.share)}, {words.of(answer.clean, answer.inspected)} ({interval})"


def orders_table(tables: ParetoTables, period: str) -> Table:
    """Return the first ten types in each of the three orders side by side; a place without a type is a dash."""
    columns = tuple(Column(words, numeric=False) for words in (say("Rank"), *(say(ORDER_WORDS[one]) for one in ORDERS)))
    ranked = [[row for row in tables.by(order).rows if row.code != "others"][:SHOWN] for order in ORDERS]
    rows = [Row(str(place + 1), tuple(_at(column, place) for column in ranked)) for place in range(_longest(ranked))]
    caption = say("The first types in three orders, {period}.", period=period)
    return Table(f"{caption} {words.sentence(tables.denominator)}", columns, tuple(rows))


def _longest(ranked: Sequence[Sequence[ParetoRow]]) -> int:
    return max((len(column) for column in ranked), default=0)


def _at(column: Sequence[ParetoRow], place: int) -> str:
    return name_of(column[place]) if place < len(column) else words.DASH
