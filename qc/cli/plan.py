"""The command for build plans: look a file through, and take it in."""

from pathlib import Path

import click


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
    from qc.cli.handed_in import Table, hand_in
    from qc.domain.acts.kinds import PLANNERS
    from qc.domain.handed.build_plan import UnusablePlan
    from qc.reports.units.build_plan import ORDER, build_plan_report
    from qc.store.plan_intake import PlanOvertaken, take_plan

    table = Table(
        what="a plan",
        whose="a planner",
        roles=PLANNERS,
        order=ORDER,
        beside='hand the file in on its page "Build plan", or stop it first',
        unusable=UnusablePlan,
        overtaken=PlanOvertaken,
        report=build_plan_report,
        take=lambda house, report, who, session: take_plan(house.journal, report.lines, who, session, house.clock),
    )
    hand_in(table, folder, file, author, leave_wrong=leave_wrong)
