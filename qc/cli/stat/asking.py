"""How a statistic is asked for on the command line: its columns, its plain options, and the function that answers.

A family's module is a table of these; qc.cli.stat.command turns one into a command.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import click

from qc.cli.stat import cells
from qc.cli.stat.cells import Kind


@dataclass(frozen=True)
class Column:
    """A column of the file: which argument of the statistic it fills, what its cells hold, what it means.

    many: the option may be given several times, the argument is a list of columns in that order. A column that is
    not required and not named is left out of the call.
    """

    argument: str
    holds: Kind
    help: str
    required: bool = True
    many: bool = False
    option: str = ""

    @property
    def flag(self) -> str:
        """Return the option as it is typed."""
        return self.option or "--" + self.argument.replace("_", "-")


@dataclass(frozen=True, kw_only=True)
class Plain:
    """An option that is no column; unset and without a default it is required, unless may_lack."""

    argument: str
    type: Any
    help: str
    default: Any = None
    may_lack: bool = False
    many: bool = False
    is_flag: bool = False
    option: str = ""

    @property
    def flag(self) -> str:
        """Return the option as it is typed."""
        return self.option or "--" + self.argument.replace("_", "-")


@dataclass(frozen=True)
class Statistic:
    """One statistic: the function that answers, and what fills its arguments.

    each_row: the function is asked once for each row of the file, else once with whole columns. labels: whether the
    rows have names (the argument "labels", or the names of the answers of each row). No columns: no file. draws: the
    answer is a control chart, which --picture draws.
    """

    ask: Callable[..., object]
    columns: tuple[Column, ...] = ()
    options: tuple[Plain, ...] = ()
    each_row: bool = False
    labels: bool = True
    draws: bool = False


def number(value: Any) -> float:
    """Return an option's number; a text that is none is refused with what would do. The name is the metavar."""
    try:
        return cells.number(str(value))
    except cells.Unfit as why:
        raise click.BadParameter(f"{value!r}: {why}") from why


def column_weight(value: Any) -> tuple[str, float]:
    """Return (column, weight) of an option COLUMN=WEIGHT, the weight above 0."""
    title, equals, weight = str(value).rpartition("=")
    if not equals or not title.strip() or number(weight) <= 0:
        raise click.BadParameter(f"{value!r}: COLUMN=WEIGHT with a weight above 0 would do, say critical=50")
    return title.strip(), number(weight)


NUMBER = number
COUNT = click.IntRange(0, cells.MOST)
LEVEL = Plain(argument="level", type=NUMBER, help="Level of confidence, between 0 and 1.", default=0.95)
SEED = Plain(
    argument="seed", type=COUNT, help="Start of the random draws; the same one gives the same answer.", default=1
)
DRAWS = Plain(argument="draws", type=click.IntRange(0, 1_000_000), help="How many random draws.", default=20_000)
RUNS = Plain(
    argument="runs",
    type=click.IntRange(0, 100_000),
    help="How many simulated series the p-value rests on.",
    default=999,
)


def counts_in(columns: Mapping[str, str]) -> tuple[Column, ...]:
    """Return columns of whole numbers from argument and meaning."""
    return tuple(Column(argument, cells.count, help) for argument, help in columns.items())
