"""Pareto by type or origin in one of three orders, the weeks before beside the week."""

from qc.charts.drawing import words
from qc.charts.drawing.picture import Picture
from qc.charts.drawing.table import Column, Row, RowState, Table
from qc.charts.kinds.ordered_bars import Amount, bars_scene
from qc.domain.plant.naming import with_name
from qc.domain.words.speaking import marked, say, say_many
from qc.reports.week.pareto_tables import SIGNALS, Order, ParetoRow, ParetoTable, ParetoTables, What
from qc.stats.answers import TooLittle
from qc.stats.causes.pareto import Pareto

ORDER_WORDS: dict[Order, str] = {
    "count": marked("by number of defects"),
    "minutes": marked("by usual rework minutes"),
    "severity": marked("by severity"),
}
NOBODY = marked("not named by anybody")
SHOWN = 10
NAMED_FEW = 8  # more are no few, and no line to read
CHOSEN = (
    marked(
        "Rows are chosen by the counts that are judged: by chance alone more than one in forty lie above their range."
    ),
    marked(
        "They are the week's largest. Where nothing has changed, about one row in twenty-five lies above its usual "
        "range, and in about every other week some row lies beyond it: a row beyond is a question. What stands among "
        "the signals allows for all that is watched."
    ),
)
SWAP = marked("Could swap: this row and the next could stand the other way round by chance.")
TYPES: dict[Order, str] = {
    "count": marked("Types by number of defects"),
    "minutes": marked("Types by usual rework minutes"),
    "severity": marked("Types by severity"),
}
ORIGINS: dict[Order, str] = {
    "count": marked("Origins by number of defects"),
    "minutes": marked("Origins by usual rework minutes"),
    "severity": marked("Origins by severity"),
}


def pareto_picture(tables: ParetoTables, order: Order, week: str, window: str) -> Picture:
    """Return one order of one Pareto; week and window name the two periods in words."""
    table = tables.by(order)
    titles = TYPES if tables.what == "type" else ORIGINS
    title = say(titles[order])
    says = words.sentence(tables.sentence) if order == "count" else pareto_says(table)
    basis = say(
        "{week}, {units} units; beside it {window}, {window_units} units.",
        week=week,
        units=words.whole(tables.inspected),
        window=window,
        window_units=words.whole(tables.window_inspected),
    )
    basis = f"{basis} {words.sentence(tables.denominator)}"
    slug = f"pareto-{tables.what}-{order}"
    value_words = say("{weight} in {week}", weight=say(table.weight), week=week)
    expected_words = say("as many as {window} would lead one to expect", window=window)
    return Picture(
        id=slug,
        title=title,
        says=says,
        basis=basis,
        table=pareto_table(tables, table, basis),
        scene=bars_scene(pareto_bars(tables, table), value_words, expected_words),
        cautions=(*_cautions(tables), vital_words(table, tables.what)),
        method=tuple(map(say, CHOSEN)) if any(row.usual_high is not None for row in table.rows) else (),
    )


def vital_words(table: ParetoTable, what: What) -> str:
    """Return which few make the plant's share of the weight, with what ties with the last, or that no few do."""
    vital = table.vital
    if isinstance(vital, TooLittle):
        return words.sentence(say("No vital few: {reason}", reason=say(vital.reason)))
    few = (
        say("{number} of {all} types", number=len(vital.labels), all=vital.causes)
        if what == "type"
        else say("{number} of {all} origins", number=len(vital.labels), all=vital.causes)
    )
    whole = say("{share} of the {weight}", share=words.percent(vital.reached), weight=say(table.weight))
    if len(vital.labels) > NAMED_FEW:
        return say("No vital few: it takes {few} to make {whole}.", few=few, whole=whole)
    values = {"named": words.listed(vital.labels), "whole": whole, "few": few}
    if not vital.ties:
        return say("The vital few: {named} make {whole} ({few}).", **values)
    return say(
        "The vital few: {named} make {whole} ({few}; {tied} as much as the last of them).",
        tied=words.listed(vital.ties),
        **values,
    )


def _cautions(tables: ParetoTables) -> tuple[str, ...]:
    said = []
    if tables.criticals:
        said.append(
            say_many(
                "{count} critical left out here: the safety list has each by number.",
                "{count} criticals left out here: the safety list has each by number.",
                tables.criticals,
                count=words.whole(tables.criticals),
            )
        )
    if tables.unknown:
        said.append(
            say_many(
                "{count} defect have no named origin and stand in no row.",
                "{count} defects have no named origin and stand in no row.",
                tables.unknown,
                count=words.whole(tables.unknown),
            )
        )
    if not tables.moved:
        return (*said, say(SWAP))
    usual = say("Usual: what is to be expected on this week's units by {weeks}.", weeks=tables.usual)
    return (*said, *filter(None, (tables.moved, tables.signals)), usual, say(SWAP))


def pareto_says(table: ParetoTable) -> str:
    """Return the plain sentence of an order by weight: the first few and what share they are."""
    named = [row for row in table.rows if row.code != "others"][:3]
    if not named or isinstance(table.week, TooLittle):
        return say("Nothing was found in this period to put in order.")
    first = words.listed([name_of(row) for row in named])
    share = words.percent(named[-1].cumulative)
    return say("{named} make {share} of the {weight}.", named=first, share=share, weight=say(table.weight))


def name_of(row: ParetoRow) -> str:
    """Return a row's name with its code, in words where there is no code."""
    if row.code == "":
        return say(NOBODY)
    if row.code == "others" or row.code == row.name:
        return row.name
    return with_name(row.code, row.name)


def _amounts(answer: Pareto | TooLittle) -> dict[str, float]:
    return {} if isinstance(answer, TooLittle) else {bar.label: bar.amount for bar in answer.bars}


def pareto_bars(tables: ParetoTables, table: ParetoTable) -> tuple[Amount, ...]:
    """Return the bars shown: the first ten, each with what the weeks before would give on this week's units."""
    now = _amounts(table.week)
    before = None if isinstance(table.window, TooLittle) else table.window.total
    ratio = tables.inspected / tables.window_inspected if tables.window_inspected else None
    bars = []
    for row in [row for row in table.rows if row.code != "others"][:SHOWN]:
        expected = None if ratio is None or before is None else row.window_share * before * ratio
        value = now.get(row.code, float(row.count))
        bars.append(Amount(name_of(row), value, expected, _told(row, value, table.weight)))
    return tuple(bars)


def _told(row: ParetoRow, value: float, weight: str) -> str:
    return f"{name_of(row)}: {words.decimal(value)} {say(weight)}; {_reading(row)}"


def _reading(row: ParetoRow) -> str:
    if row.usual_low is None or row.usual_high is None:
        told = say("too little to say")
    elif row.beyond_usual:
        told = say("above usual") if row.count > row.usual_high else say("below usual")
    else:
        told = say("usual")
    standing = say("a signal stands: {way}", way=say(SIGNALS[row.signal])) if row.signal else ""
    return "; ".join(filter(None, (told, standing, say("could swap") if row.could_swap else "")))


def _state(row: ParetoRow) -> RowState:
    if not row.beyond_usual or row.usual_high is None:
        return ""
    return "signal" if row.count > row.usual_high else "low"


def pareto_table(tables: ParetoTables, table: ParetoTable, caption: str) -> Table:
    """Return every row of the order, with its count, severities, minutes and the window beside."""
    heads = (
        say("Defects"),
        say("Major"),
        say("Minor"),
        say("Rework min"),
        say("Share"),
        say("Running share"),
        say("Usual"),
        say("Weeks before"),
        say("Critical"),
    )
    columns = (
        Column(say("Type") if tables.what == "type" else say("Origin"), numeric=False),
        *(Column(head) for head in heads),
        Column(say("Reading"), numeric=False),
    )
    shown = [row for row in table.rows if row.code != "others"][:SHOWN]
    rows = [
        Row(
            name_of(row),
            (
                words.whole(row.count),
                words.whole(row.major),
                words.whole(row.minor),
                words.whole(row.minutes),
                words.percent(row.share),
                words.percent(row.cumulative),
                words.between(row.usual_low, row.usual_high) if row.usual_low is not None else "–",
                f"{words.whole(row.window_count)} ({words.percent(row.window_share)})",
                words.whole(row.critical) if row.critical else "–",
                _reading(row),
            ),
            _state(row),
            name_of(row) if row in shown else "",
        )
        for row in table.rows
    ]
    return Table(caption, columns, tuple(rows))
