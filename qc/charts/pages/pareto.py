"""Pareto by type or origin in one of three orders, the weeks before beside the week."""

from qc.charts.drawing import words
from qc.charts.drawing.picture import Picture
from qc.charts.drawing.table import Column, Row, RowState, Table
from qc.charts.kinds.ordered_bars import Amount, bars_scene
from qc.domain.naming import with_name
from qc.reports.week.pareto_tables import Order, ParetoRow, ParetoTable, ParetoTables, What
from qc.stats.answers import TooLittle
from qc.stats.causes.pareto import Pareto

ORDER_WORDS: dict[Order, str] = {
    "count": "by number of defects",
    "minutes": "by usual rework minutes",
    "severity": "by severity",
}
NOBODY = "not named by anybody"
SHOWN = 10
NAMED_FEW = 8  # more are no few, and no line to read
CHOSEN = (
    "Rows are chosen by the counts that are judged: by chance alone more than one in forty lie above their range.",
    (
        "They are the week's largest. Where nothing has changed, about one row in twenty-five lies above its usual "
        "range, and in about every other week some row lies beyond it: a row beyond is a question. What stands among "
        "the signals allows for all that is watched."
    ),
)
SWAP = "Could swap: this row and the next could stand the other way round by chance."


def pareto_picture(tables: ParetoTables, order: Order, week: str, window: str) -> Picture:
    """Return one order of one Pareto; week and window name the two periods in words."""
    table = tables.by(order)
    title = f"{'Types' if tables.what == 'type' else 'Origins'} {ORDER_WORDS[order]}"
    says = words.sentence(tables.sentence) if order == "count" else pareto_says(table)
    basis = f"{week}, {words.whole(tables.inspected)} units; beside it {window}, "
    basis += f"{words.whole(tables.window_inspected)} units. {words.sentence(tables.denominator)}"
    slug = f"pareto-{tables.what}-{order}"
    value_words, expected_words = f"{table.weight} in {week}", f"as many as {window} would lead one to expect"
    return Picture(
        id=slug,
        title=title,
        says=says,
        basis=basis,
        table=pareto_table(tables, table, basis),
        scene=bars_scene(pareto_bars(tables, table), value_words, expected_words),
        cautions=(*_cautions(tables), vital_words(table, tables.what)),
        method=CHOSEN if any(row.usual_high is not None for row in table.rows) else (),
    )


def vital_words(table: ParetoTable, what: What) -> str:
    """Return which few make the plant's share of the weight, with what ties with the last, or that no few do."""
    vital, noun = table.vital, "types" if what == "type" else "origins"
    if isinstance(vital, TooLittle):
        return words.sentence(f"No vital few: {vital.reason}")
    whole = f"{words.percent(vital.reached)} of the {table.weight}"
    if len(vital.labels) > NAMED_FEW:
        return f"No vital few: it takes {len(vital.labels)} of {vital.causes} {noun} to make {whole}."
    tied = f"; {words.listed(vital.ties)} as much as the last of them" if vital.ties else ""
    few = f"{len(vital.labels)} of {vital.causes} {noun}"
    return f"The vital few: {words.listed(vital.labels)} make {whole} ({few}{tied})."


def _cautions(tables: ParetoTables) -> tuple[str, ...]:
    said = []
    if tables.criticals:
        said.append(f"{words.counted(tables.criticals, 'critical')} left out here: the safety list has each by number.")
    if tables.unknown:
        said.append(f"{words.counted(tables.unknown, 'defect')} have no named origin and stand in no row.")
    usual = f"Usual: what is to be expected on this week's units by {tables.usual}."
    return (*said, *filter(None, (tables.moved, tables.signals)), usual, SWAP) if tables.moved else (*said, SWAP)


def pareto_says(table: ParetoTable) -> str:
    """Return the plain sentence of an order by weight: the first few and what share they are."""
    named = [row for row in table.rows if row.code != "others"][:3]
    if not named or isinstance(table.week, TooLittle):
        return "Nothing was found in this period to put in order."
    first = words.listed([name_of(row) for row in named])
    share = words.percent(named[-1].cumulative)
    return f"{first} make {share} of the {table.weight}."


def name_of(row: ParetoRow) -> str:
    """Return a row's name with its code, in words where there is no code."""
    if row.code == "":
        return NOBODY
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
    return f"{name_of(row)}: {words.decimal(value)} {weight}; {_reading(row)}"


def _reading(row: ParetoRow) -> str:
    if row.usual_low is None or row.usual_high is None:
        said = "too little to say"
    elif row.beyond_usual:
        said = "above usual" if row.count > row.usual_high else "below usual"
    else:
        said = "usual"
    standing = f"; a signal stands: {row.signal}" if row.signal else ""
    return f"{said}{standing}; could swap" if row.could_swap else f"{said}{standing}"


def _state(row: ParetoRow) -> RowState:
    if not row.beyond_usual or row.usual_high is None:
        return ""
    return "signal" if row.count > row.usual_high else "low"


def pareto_table(tables: ParetoTables, table: ParetoTable, caption: str) -> Table:
    """Return every row of the order, with its count, severities, minutes and the window beside."""
    heads = ("Defects", "Major", "Minor", "Rework min", "Share", "Running share", "Usual", "Weeks before", "Critical")
    columns = (
        Column("Type" if tables.what == "type" else "Origin", numeric=False),
        *(Column(head) for head in heads),
        Column("Reading", numeric=False),
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
