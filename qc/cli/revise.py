"""The command that changes the plant's tables: hold new ones against those in force, and put them in force."""

import sys
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import click

if TYPE_CHECKING:
    from qc.reports.table_revisions import TablesReport
    from qc.store.intake.journal import Journal
    from qc.store.people.telling import Beside
    from qc.store.record.own_word import By

CONSOLE = "console"


@click.command(short_help="Hold new tables of the plant against those in force, and put them in force.")
@click.argument("folder", type=click.Path(path_type=Path, exists=True, file_okay=False))
@click.argument("tables", type=click.Path(path_type=Path, exists=True), nargs=-1, required=True)
@click.option("--reason", metavar="TEXT", default="", help="Why the tables change; it stands in the record.")
@click.option("--from", "from_day", metavar="DAY", default="", help="The day since which they hold, YYYY-MM-DD.")
@click.option(
    "--take", "author", metavar="CODE", help="Put them in force, as the administrator of this code or console."
)
def revise(folder: Path, tables: tuple[Path, ...], reason: str, from_day: str, author: str | None) -> None:
    """Hold TABLES against those in force in FOLDER's record and tell what would change; nothing is changed.

    TABLES: a folder of tables, single ones (CSV, plant.toml), or an XLSX with a sheet for each; what is left out stays
    as it is. With --take it asks for that administrator's passphrase and puts them in force in one act, with the reason
    and the day; --take console does it as the server's own console. A server may go on meanwhile and goes by the new
    tables at once. Ends with 1 where the tables have faults or may not follow.
    """
    from qc.reports.table_revisions import tables_report
    from qc.store.folder.handed_tables import files_in
    from qc.store.folder.sheets import UnreadableSheet

    in_force = tables_of_record(folder)
    try:
        report = tables_report([file for path in tables for file in files_in(path)], in_force)
    except UnreadableSheet as why:
        raise click.ClickException(f"{why}. Nothing was changed") from why
    tell_and_take(folder, report, author, reason, from_day)


def tables_of_record(folder: Path) -> dict[str, str]:
    """Return the tables in force. Raises ClickException where there is no record yet."""
    from qc.store.people.telling import latest_tables

    in_force = latest_tables(folder)
    if in_force is None:
        words = (
            f"{folder} has no record yet: change the tables in {folder / 'plant'} and check them with qc check-plant"
        )
        raise click.ClickException(words)
    return in_force


def tell_and_take(
    folder: Path,
    report: "TablesReport",
    author: str | None,
    reason: str,
    from_day: str,
    first: Callable[["Journal | Beside"], None] = lambda record: None,
) -> NoReturn:
    """Tell what new tables would change, put them in force where there is an author, and end.

    first: what is done with the record, open for writing, before they are.
    """
    _tell(report)
    if author is not None:
        _take(folder, report, author, reason, from_day, first)
    elif report.may_be_taken:
        click.echo("Nothing was changed. Put them in force with: --reason TEXT --from DAY --take CODE")
    sys.exit(0 if report.changes is not None and not report.changes.refused else 1)


def _tell(report: "TablesReport") -> None:
    for note in report.notes:
        click.echo(f"note: {note}")
    for fault in report.faults:
        click.echo(str(fault))
    if report.changes is None:
        count = len(report.faults)
        click.echo(f"{count} fault{'s' if count > 1 else ''}.")
        return
    for table, changes in report.changes.by_table().items():
        click.echo(f"{table}:")
        for one in changes:
            click.echo(f"  {one.words}")
    for words in report.changes.refused:
        click.echo(f"not allowed: {words}")
    for words in report.changes.criteria:
        click.echo(f"counts before and after are not of the same thing: {words}")
    if waiting := report.changes.waiting():
        click.echo(waiting)
    if not report.changes.changes:
        click.echo("The tables say what those in force say.")


def _take(
    folder: Path,
    report: "TablesReport",
    author: str,
    reason: str,
    from_day: str,
    first: Callable[["Journal | Beside"], None],
) -> None:
    from qc.domain.facts.operations import day as day_shape
    from qc.store.intake.revising import FilesNotLaid, put_in_force
    from qc.store.intake.writer import StorageFailed, StorageFull
    from qc.store.record.own_word import NotTold

    if report.changes is not None and not report.changes.changes:
        click.echo("There is nothing to put in force.")
        return
    if not report.may_be_taken:
        raise click.ClickException("nothing was changed; mend the tables, then hand them in again")
    if len(reason.strip()) < 3:
        raise click.ClickException(
            "say in three characters or more why the tables change, with --reason. Nothing was changed"
        )
    if fault := day_shape(from_day):
        raise click.ClickException(f"--from {from_day!r} {fault}. Nothing was changed")
    with _record(folder) as record, _by(folder, record, author) as by:
        try:
            first(record)
            put_in_force(record, folder, report.tables, report.previous, reason.strip(), from_day, by)
        except (NotTold, StorageFull, StorageFailed) as why:
            raise click.ClickException(f"nothing was changed: {why}") from why
        except FilesNotLaid as why:
            raise click.ClickException(str(why)) from why
    click.echo(f"In force from {from_day}: revision {report.revision}")
    click.echo("The files that stood in the plant's folder are in plant-before.")


@contextmanager
def _record(folder: Path) -> Iterator["Journal | Beside"]:
    from qc.cli.people import record_of
    from qc.store.record.connection import RecordInUse
    from qc.store.record.signing import KeyLost

    try:
        with record_of(folder) as record:
            yield record
    except (RecordInUse, KeyLost) as why:
        raise click.ClickException(f"{why}. Nothing was changed") from why


@contextmanager
def _by(folder: Path, record: "Journal | Beside", author: str) -> Iterator["By"]:
    from qc.cli.people import console
    from qc.store.people.persons import DESK, People
    from qc.store.people.pins import PepperMissing
    from qc.store.people.sign_ins import SignIns, WrongSignIn
    from qc.store.people.tries import TooManyTries
    from qc.store.record.connection import RECORD, open_reader
    from qc.store.record.own_word import By

    if author == CONSOLE:
        yield console()
        return
    secret = click.prompt(f"Passphrase of {author}", hide_input=True)
    with closing(open_reader(folder / RECORD)) as reader:
        try:
            people = People(folder / "keys", record, lambda: reader)
            sign_ins = SignIns(people, record, lambda: reader, record.clock, record.certificates)
            signed_in, token = sign_ins.open(author, secret, DESK, "page")
        except (WrongSignIn, TooManyTries, PepperMissing) as why:
            raise click.ClickException(f"nothing was changed: {why}") from why
        try:
            if not signed_in.person.has("administrator"):
                roles = signed_in.person.role_words
                words = f"{author} is {roles}; tables are put in force by an administrator. Nothing was changed"
                raise click.ClickException(words)
            yield By(signed_in.person.code, signed_in.session)
        finally:
            sign_ins.end(token)
