"""A table that is handed in on the command line: looked through row by row, and taken in whole in a person's name."""

import sys
from collections.abc import Callable, Collection, Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

import click

if TYPE_CHECKING:
    from qc.domain.plant.plant import Plant
    from qc.store.reading.reads import Reads
    from qc.web.house import House

SHOWN = 20  # rows of one outcome; the wrong ones are shown all


class Report(Protocol):
    """What taking a file would do: lines with row, unit, outcome, words and kind, by outcome."""

    @property
    def lines(self) -> Sequence[Any]: ...

    @property
    def notes(self) -> Sequence[str]: ...

    @property
    def summary(self) -> str: ...

    def of(self, outcome: Any) -> Sequence[Any]: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A kind of table. what: "a plan"; whose: "a planner"; roles: who may take it in; order: the outcomes as shown.

    beside: what to do where a server has the folder open; unusable, overtaken: what reading and taking it raise.
    """

    what: str
    whose: str
    roles: Collection[str]
    order: Sequence[str]
    beside: str
    unusable: type[Exception]
    overtaken: type[Exception]
    report: "Callable[[bytes, Reads, Plant, int], Report]"
    take: "Callable[[House, Report, str, str], Sequence[Any]]"


def hand_in(table: Table, folder: Path, file: Path, author: str | None, *, leave_wrong: bool) -> None:
    """Look a file through and tell it; with an author take it in. Ends with 1 where a row is wrong."""
    from qc.domain.tables.plant_tables import PlantFaults
    from qc.store.folder.sheets import UnreadableSheet

    try:
        report = _looked_through(table, folder, file, author, leave_wrong)
    except PlantFaults as why:
        raise click.ClickException(f"the plant's tables have faults; check them with: qc check-plant {folder}") from why
    except (UnreadableSheet, table.unusable) as why:
        raise click.ClickException(f"{file.name}: {why}. Nothing was taken") from why
    if author is None:
        click.echo(f"Nothing was taken. Take it with: --take CODE, the code of {table.whose}.")
    sys.exit(1 if report.of("wrong") else 0)


def _looked_through(table: Table, folder: Path, file: Path, author: str | None, leave_wrong: bool) -> Report:
    """Look the file through, beside a server too, tell it and take it where that is asked."""
    from qc.store.record.connection import RecordInUse
    from qc.web.house import open_house

    try:
        with closing(open_house(folder)) as house:
            report = table.report(_bytes_of(file), house.reads, house.plant, house.clock())
            _tell(table, report)
            if author is not None:
                _demand_right(report, leave_wrong)
                _take(table, house, report, author)
    except RecordInUse as why:
        if author is not None:
            raise click.ClickException(f"a server has this folder open: {table.beside}. Nothing was taken") from why
        report = _beside_a_server(table, folder, file)
        _tell(table, report)
    return report


def _beside_a_server(table: Table, folder: Path, file: Path) -> Report:
    from qc.domain.tables.plant_tables import read_plant
    from qc.store.folder.plant_folder import folder_clock, tables_folder
    from qc.store.intake.journal import wall_ms
    from qc.store.reading.reads import Reads

    plant = read_plant(tables_folder(folder))
    clock = folder_clock(folder) if plant.demo else wall_ms
    with closing(Reads(folder, plant)) as reads:
        return table.report(_bytes_of(file), reads, plant, clock())


def _bytes_of(file: Path) -> bytes:
    from qc.store.folder.sheets import MOST_BYTES

    with file.open("rb") as opened:
        return opened.read(MOST_BYTES + 1)  # a larger one is refused; it need not be read for that


def _demand_right(report: Report, leave_wrong: bool) -> None:
    if report.of("wrong") and not leave_wrong:
        raise click.ClickException("rows are wrong, nothing was taken; mend them, or leave them out with --leave-wrong")


def _take(table: Table, house: "House", report: Report, author: str) -> None:
    from qc.store.intake.writer import StorageFailed, StorageFull
    from qc.store.people.persons import DESK
    from qc.store.people.sign_ins import WrongSignIn
    from qc.store.people.tries import TooManyTries

    if not any(line.kind for line in report.lines):
        click.echo("There is nothing to take.")
        return
    secret = click.prompt(f"PIN or passphrase of {author}", hide_input=True)
    try:
        signed_in, token = house.sign_ins.open(author, secret, DESK, "page")
        try:
            if not signed_in.person.has(*table.roles):
                words = f"{author} is {signed_in.person.role_words}; {table.what} is taken in by {table.whose}"
                raise click.ClickException(f"{words}. Nothing was taken")
            taken = table.take(house, report, author, signed_in.session)
        finally:
            house.sign_ins.end(token)
    except (WrongSignIn, TooManyTries, table.overtaken, StorageFull, StorageFailed) as why:
        raise click.ClickException(f"nothing was taken: {why}") from why
    click.echo(f"Taken as {author}: {len(taken)} {'row' if len(taken) == 1 else 'rows'}.")


def _tell(table: Table, report: Report) -> None:
    for note in report.notes:
        click.echo(f"note: {note}")
    for outcome in table.order:
        lines = report.of(outcome)
        shown = lines if outcome == "wrong" else lines[:SHOWN]
        for line in shown:
            click.echo(f"{outcome}: row {line.row}, {line.unit or 'no number'}: {line.words}")
        if len(shown) < len(lines):
            click.echo(f"{outcome}: and {len(lines) - len(shown)} more")
    click.echo(report.summary)
