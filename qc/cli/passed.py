"""The command for lists of passed stations: look a file through, and take it in."""

from pathlib import Path

import click


@click.command(short_help="Look a list of passed stations through, and take it in.")
@click.argument("folder", type=click.Path(path_type=Path, exists=True, file_okay=False))
@click.argument("file", type=click.Path(path_type=Path, exists=True, dir_okay=False))
@click.option(
    "--take", "author", metavar="CODE", help="Take it into the record, in the name of the person of this code."
)
@click.option("--leave-wrong", is_flag=True, help="Leave wrong rows out instead of taking nothing.")
def passed(folder: Path, file: Path, author: str | None, leave_wrong: bool) -> None:
    """Look FILE through, units that passed stations as CSV or XLSX, and tell what taking it into FOLDER would do.

    Its columns: unit (chassis or shop number), station, passed at (YYYY-MM-DD HH:MM in the plant's time; or day and
    time). With --take it asks for that person's PIN or passphrase and takes the file whole, in one act; the server
    must be stopped for that. What was told before is not told again. Ends with 1 where a row is wrong or nothing
    could be taken.
    """
    from qc.cli.handed_in import Table, hand_in
    from qc.domain.acts.kinds import PASSERS
    from qc.domain.handed.passed_list import UnusableList
    from qc.reports.units.passed_list import ORDER, passed_report
    from qc.store.passed_intake import ListOvertaken, take_passed

    table = Table(
        what="such a list",
        whose="somebody who may tell a passing",
        roles=PASSERS,
        order=ORDER,
        beside="stop it first, or hand it in on the page /passed",
        unusable=UnusableList,
        overtaken=ListOvertaken,
        report=passed_report,
        take=lambda house, report, who, session: take_passed(house.journal, report.lines, who, session, house.clock),
    )
    hand_in(table, folder, file, author, leave_wrong=leave_wrong)
