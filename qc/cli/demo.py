"""The command that plays the invented plant and serves it."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from qc.demo.folder import SignIn

VARIANTS = ("criteria", "trailers", "coding")  # as in qc.demo.variants, which is imported only when it is played
SIGN_IN_ROLES = ("inspector", "tester", "repairer", "quality_manager", "dispatch", "planner", "administrator")


@click.command(short_help="Play the invented plant's 26 weeks and serve them on this machine.")
@click.option(
    "--folder", type=click.Path(path_type=Path, file_okay=False), default=Path("demo-plant"), show_default=True
)
@click.option("--seed", type=click.IntRange(0), default=20260302, show_default=True, help="Another seed, other chance.")
@click.option("--weeks", type=click.IntRange(1, 26), default=26, show_default=True, help="How many weeks to play.")
@click.option("--port", type=click.IntRange(1, 65535), default=8443, show_default=True)
@click.option("--variant", "variants", multiple=True, type=click.Choice(VARIANTS), help="A harder turn; repeatable.")
@click.option("--no-serve", is_flag=True, help="Only make the folder.")
def demo(folder: Path, seed: int, weeks: int, port: int, variants: tuple[str, ...], no_serve: bool) -> None:
    """Play the invented plant into FOLDER and serve it on this machine; run again, it serves what is there.

    Everything in it is invented. The story begins on 2 March 2026, and the demo's clock stands on the Monday after
    its last week, so that some units are in work for today.
    """
    from qc.demo.folder import NotADemo, is_played, make_demo

    click.echo("Demo data, limits not for use.")
    try:
        if is_played(folder):
            click.echo(f"{folder} is used as it is. PINs were shown when it was made; for another one:")
            click.echo(f"  qc user secret {folder} CODE")
        else:
            click.echo(f"Playing {weeks} weeks into {folder}; 26 weeks take about a minute.")
            _show(make_demo(folder, seed, weeks, click.echo, variants))
    except NotADemo as why:
        raise click.ClickException(str(why)) from why
    if not no_serve:
        _serve(folder, port)


def _show(sign_ins: "list[SignIn]") -> None:
    click.echo("\nSign in with a code and its PIN or passphrase. They are shown this once:")
    for one in sorted(sign_ins, key=lambda one: not one.person.has(*SIGN_IN_ROLES)):
        click.echo(f"  {one.person.code:<7} {one.secret:<20} {one.person.name}")
    click.echo("")


def _serve(folder: Path, port: int) -> None:
    from qc.web.server import CannotServe, serve

    def tell(address: str) -> None:
        click.echo(f"Pages:           {address}/          (QM1, or a lead: L-S07)")
        click.echo(f"Inspectors' app: {address}/app/      (I1 to I4, TB1, RW1)")
        click.echo("It takes records from enrolled phones alone. This enrols one browser, once, within ten minutes:")
        click.echo(f"  {_enrolment(folder, address)}")
        click.echo(f"For another one: qc device enrol {folder} --address {address}")
        click.echo("Ctrl-C stops it; run the command again to go on.")

    try:
        serve(folder, "127.0.0.1", port, ready=tell)
    except CannotServe as why:
        raise click.ClickException(str(why)) from why


def _enrolment(folder: Path, address: str) -> str:
    """Return a link that enrols a phone of the demo: openly, since everything in it is invented."""
    from qc.cli.people import enrolment_link
    from qc.store.folder.plant_folder import folder_clock
    from qc.store.people.enrolment import Enrolment
    from qc.store.people.telling import Beside

    with Beside(folder, folder_clock(folder)) as record:
        return enrolment_link(address, Enrolment(record, record.certificates).offer().letters)
