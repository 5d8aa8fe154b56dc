"""Commands that put the record on the network: serve it, make a certificate for it."""

import ipaddress
from collections.abc import Callable
from pathlib import Path

import click


class _Address(click.ParamType[str]):
    """An IP address, written as the server sees who asks."""

    name = "address"

    def convert(self, value: str, param: click.Parameter | None, ctx: click.Context | None) -> str:
        """Return the address in its usual form."""
        try:
            return str(ipaddress.ip_address(value))
        except ValueError:
            self.fail(f"{value!r} is no IP address; write it as 192.0.2.7", param, ctx)


ADDRESS = _Address()
_SERVED = (
    click.argument("folder", type=click.Path(path_type=Path, exists=True, file_okay=False)),
    click.option(
        "--host", default="127.0.0.1", show_default=True, help="Address to listen on; 0.0.0.0 for the network."
    ),
    click.option("--port", default=8443, show_default=True, type=click.IntRange(1, 65535)),
    click.option(
        "--cert", type=click.Path(path_type=Path, dir_okay=False), help="Certificate (PEM, the server's first)."
    ),
    click.option("--key", type=click.Path(path_type=Path, dir_okay=False), help="Its key (PEM)."),
    click.option("--name", "names", multiple=True, help="A further host name under which it is asked for."),
    click.option(
        "--metrics-from",
        "collectors",
        multiple=True,
        type=ADDRESS,
        help="An address besides this machine's own that may ask for /metrics.",
    ),
)


def served(command: Callable[..., None]) -> Callable[..., None]:
    """Give a command the folder and the options of a server: folder, host, port, cert, key, names, collectors."""
    for each in reversed(_SERVED):
        command = each(command)
    return command


@click.command(short_help="Serve a data folder to phones and desks.")
@served
def serve(
    folder: Path,
    host: str,
    port: int,
    cert: Path | None,
    key: Path | None,
    names: tuple[str, ...],
    collectors: tuple[str, ...],
) -> None:
    """Serve the record in FOLDER until Ctrl-C or SIGTERM.

    Without --host only this machine is served, over plain HTTP. For phones give --host, --cert and --key.
    """
    from qc.domain.tables.plant_tables import PlantFaults, read_plant
    from qc.store.folder.plant_folder import tables_folder
    from qc.web.server import CannotServe
    from qc.web.server import serve as serve_folder

    try:
        plant = read_plant(tables_folder(folder))
        if plant.demo:
            click.echo("Demo data, limits not for use.")
        serve_folder(folder, host, port, cert, key, names, _tell, collectors)
    except PlantFaults as wrong:
        for fault in wrong.faults:
            click.echo(str(fault), err=True)
        raise click.ClickException(f"the plant's tables in {folder} have faults; nothing was served") from wrong
    except CannotServe as why:
        raise click.ClickException(str(why)) from why
    click.echo("Stopped. What was answered is kept; a request that was not answered is to be sent again.")


def _tell(address: str) -> None:
    click.echo(f"Pages for a desk: {address}/\nThe inspectors' app: {address}/app/\nCtrl-C stops it.")


@click.command(short_help="Make a certificate for the plant's own network.")
@click.argument("folder", type=click.Path(path_type=Path, file_okay=False))
@click.argument("names", nargs=-1, required=True)
def certificate(folder: Path, names: tuple[str, ...]) -> None:
    """Make in FOLDER a certificate for the server's NAMES on the plant's network, and the root that vouches for it.

    The root may vouch for these names only. Put root.crt onto the phones and keep root.key away from the server.
    """
    from qc.web.certificate import LEAF_DAYS, CertificateExists, NotAName, make

    try:
        files = make(folder, names)
    except (NotAName, CertificateExists) as why:
        raise click.ClickException(str(why)) from why
    click.echo(f"Made {files.leaf} for {', '.join(names)}, good for {LEAF_DAYS} days.")
    click.echo(f"1. Put {files.root} onto every phone as a trusted root; static/docs/https.md says how.")
    click.echo(f"2. Take {files.root_key} away from this machine and keep it locked up; it is needed for the next one.")
    click.echo(f"3. Serve: qc serve DATA --host 0.0.0.0 --cert {files.leaf} --key {files.leaf_key}")
