"""The command for build plans: look a file through, and take it in."""

import sys
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from qc.reports.units.build_plan import PlanReport
    from qc.web.house import House

SHOWN = 20  # rows of one outcome; the wrong ones are shown all


@click.command(short_help="Look a build plan through, and take it in.")
@click.argument("folder", type=click.Path(path_type=Path, exists=True, file_okay=False))
@click.argument("file", type=click.Path(path_type=Path, exists=True, dir_okay=False))
@click.option("--take", "author", metavar="CODE", help="Take it into the record, as the planner of this code.")
@click.option("--leave-wrong", is_flag=True, help="Leave wrong rows out instead of taking nothing.")
def plan(folder: Path, file: Path, author: str | None, leave_wrong: bool) -> None:
    """Look FILE through, a build plan as CSV or XLSX, and tell what taking it into FOLDER's record would do.

    With --take it asks for that person's PIN or passphrase and takes the file whole, in one act; the server must be
    stopped for that, or use its page "Build plan". Ends with 1 where a row is wrong or nothing could be taken.
    """
    from qc.domain.build_plan import UnusablePlan
    from qc.domain.plant_tables import PlantFaults
    from qc.reports.units.build_plan import build_plan_report
    from qc.store.folder.sheets import UnreadableSheet
    from qc.store.record.connection import RecordInUse
    from qc.web.house import open_house

    try:
        with closing(open_house(folder)) as house:
            report = build_plan_report(_bytes_of(file), house.reads, house.plant, house.clock())
            _tell(report)
            if author is not None:
                _demand_right(report, leave_wrong)
                _take(house, report, author)
    except RecordInUse as why:
        if author is not None:
            words = 'a server has this folder open: hand the file in on its page "Build plan", or stop it first'
            raise click.ClickException(f"{words}. Nothing was taken") from why
        report = _beside_a_server(folder, file)
        _tell(report)
    except PlantFaults as why:
        raise click.ClickException(f"the plant's tables have faults; check them with: qc check-plant {folder}") from why
    except (UnreadableSheet, UnusablePlan) as why:
        raise click.ClickException(f"{file.name}: {why}. Nothing was taken") from why
    if author is None:
        click.echo("Nothing was taken. Take it with: --take CODE, the code of a planner.")
    sys.exit(1 if report.of("wrong") else 0)


def _beside_a_server(folder: Path, file: Path) -> "PlanReport":
    from qc.domain.plant_tables import read_plant
    from qc.reports.units.build_plan import build_plan_report
    from qc.store.folder.plant_folder import folder_clock, tables_folder
    from qc.store.intake.journal import wall_ms
    from qc.store.reading.reads import Reads

    plant = read_plant(tables_folder(folder))
    clock = folder_clock(folder) if plant.demo else wall_ms
    with closing(Reads(folder, plant)) as reads:
        return build_plan_report(_bytes_of(file), reads, plant, clock())


def _bytes_of(file: Path) -> bytes:
    from qc.store.folder.sheets import MOST_BYTES

    with file.open("rb") as opened:
        return opened.read(MOST_BYTES + 1)  # a larger one is refused; it need not be read for that


def _demand_right(report: "PlanReport", leave_wrong: bool) -> None:
    if report.of("wrong") and not leave_wrong:
        raise click.ClickException("rows are wrong, nothing was taken; mend them, or leave them out with --leave-wrong")


def _take(house: "House", report: "PlanReport", author: str) -> None:
    from qc.domain.kinds import PLANNERS
    from qc.store.intake.writer import StorageFailed, StorageFull
    from qc.store.people.persons import DESK
    from qc.store.people.sign_ins import WrongSignIn
    from qc.store.people.tries import TooManyTries
    from qc.store.plan_intake import PlanOvertaken, take_plan

    if not report.doing:
        click.echo("There is nothing to take.")
        return
    secret = click.prompt(f"PIN or passphrase of {author}", hide_input=True)
    try:
        signed_in, token = house.sign_ins.open(author, secret, DESK, "page")
        try:
            if signed_in.person.role not in PLANNERS:
                role = signed_in.person.role.replace("_", " ")
                raise click.ClickException(f"{author} is {role}; a plan is taken in by a planner. Nothing was taken")
            taken = take_plan(house.journal, report.lines, author, signed_in.session, house.clock)
        finally:
            house.sign_ins.end(token)
    except (WrongSignIn, TooManyTries, PlanOvertaken, StorageFull, StorageFailed) as why:
        raise click.ClickException(f"nothing was taken: {why}") from why
    click.echo(f"Taken as {author}: {len(taken)} {'row' if len(taken) == 1 else 'rows'}.")


def _tell(report: "PlanReport") -> None:
    from qc.reports.units.build_plan import ORDER

    for note in report.notes:
        click.echo(f"note: {note}")
    for outcome in ORDER:
        lines = report.of(outcome)
        shown = lines if outcome == "wrong" else lines[:SHOWN]
        for line in shown:
            click.echo(f"{outcome}: row {line.row}, {line.unit or 'no number'}: {line.words}")
        if len(shown) < len(lines):
            click.echo(f"{outcome}: and {len(lines) - len(shown)} more")
    click.echo(report.summary)
