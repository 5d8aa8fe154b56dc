"""The command that prints what keeps a folder's server running: a unit for systemd."""

import os
import sys
from collections.abc import Sequence
from pathlib import Path

import click

from qc.cli.serve import served

PRIVILEGED = 1024  # ports below it need a right of their own
_HOMES = ("/home", "/root", "/run/user")
_ROOMS = ("/tmp", "/var/tmp")


@click.command(short_help="Print a systemd unit that keeps a folder served.")
@served
@click.option("--user", "account", help="The account that serves it; the folder's owner where none is given.")
def service(
    folder: Path,
    host: str,
    port: int,
    cert: Path | None,
    key: Path | None,
    names: tuple[str, ...],
    collectors: tuple[str, ...],
    account: str | None,
) -> None:
    """Print a systemd unit that serves FOLDER with these options, at each start of the machine and after a failure.

    It may write to FOLDER and to its folders of backups and dropped plans alone. Nothing is installed: the first lines
    of what is printed say how.
    """
    from qc.domain.tables.plant_tables import PlantFaults, read_plant
    from qc.store.folder.plant_folder import tables_folder
    from qc.web.server import CannotServe, hosts_for

    try:
        plant = read_plant(tables_folder(folder))
        hosts_for(host, cert, key, names)
    except PlantFaults as why:
        raise click.ClickException(f"the plant's tables have faults; check them with: qc check-plant {folder}") from why
    except CannotServe as why:
        raise click.ClickException(f"{why}. Nothing was printed") from why
    options = ["--host", host, "--port", str(port)]
    for option, path in (("--cert", cert), ("--key", key)):
        options += [option, str(path.absolute())] if path else []
    for name in names:
        options += ["--name", name]
    for address in collectors:
        options += ["--metrics-from", address]
    folders = [Path(one.folder) for one in (plant.backup, plant.drop) if one]
    mailed = (plant.mail.password_file, plant.mail.root) if plant.mail else ()
    certificates = [path.absolute() for path in (cert, key, *map(Path, filter(None, mailed))) if path]
    owner = account or _owner(folder)
    words = [str(_program()), "serve", str(folder.absolute()), *options]
    secret = [path.absolute() for path in (key, *map(Path, filter(None, mailed[:1]))) if path]
    try:
        first = _to_be_done([folder.absolute(), *secret], owner) if account else []
        click.echo(_unit(words, folder.absolute(), folders, certificates, owner, port, first), nl=False)
    except ValueError as why:
        raise click.ClickException(f"{why}. Nothing was printed") from why


def _owner(folder: Path) -> str:
    if sys.platform == "win32":
        raise click.ClickException("give the account that serves the folder: --user NAME. Nothing was printed")
    try:
        return folder.owner()
    except KeyError as why:
        words = f"{folder} belongs to an account without a name; give the one that serves it: --user NAME"
        raise click.ClickException(f"{words}. Nothing was printed") from why


def _to_be_done(paths: list[Path], account: str) -> list[str]:
    """Return as comments what an account still lacks to serve: to be there at all, and to own what it must read."""
    if sys.platform == "win32":
        return []
    import pwd

    try:
        number = pwd.getpwnam(_account(account)).pw_uid
    except KeyError:
        told = [f"# This machine has no account {account} yet; make it first."]
        strange = paths
    else:
        told = []
        strange = [
            path
            for path in paths
            if path.exists() and any(one.lstat().st_uid != number for one in (path, *path.rglob("*")))
        ]
    if strange:
        told.append(f"# Give it what it must read, as root: chown -R {account} {' '.join(map(_in_a_shell, strange))}")
    return told


def _in_a_shell(path: Path) -> str:
    from shlex import quote

    return quote(str(path)) if str(path).isprintable() else quote(ascii(path))


def _program() -> Path:
    """Return this command's own file, as it was called or beside the interpreter; links are left as they are."""
    beside = Path(sys.executable).with_name("qc")
    return beside if beside.is_file() else Path(os.path.abspath(sys.argv[0]))


def _unit(
    words: list[str],
    folder: Path,
    folders: list[Path],
    certificates: list[Path],
    account: str,
    port: int,
    first: Sequence[str] = (),
) -> str:
    """Return the unit's text; first: comments on what is still to be done.

    Raises ValueError for a path or an account that no unit can hold.
    """
    paths = [folder, *folders, *certificates, Path(words[0]), Path(sys.prefix), Path(sys.base_prefix)]
    in_rooms = _below(paths, _ROOMS)  # a room of its own would hide them, and it passes files on through one
    written = [_quoted(folder), *(_quoted(f"-{path}") for path in [*folders, *(_ROOMS if in_rooms else ())])]
    program, *rest = words
    right = "CAP_NET_BIND_SERVICE" if port < PRIVILEGED else ""
    lines = [
        "# Keeps a quality record served. To install it, as root:",
        "#   qc service FOLDER … > /etc/systemd/system/quality-record.service",
        "#   systemctl daemon-reload && systemctl enable --now quality-record",
        "# What it says: journalctl -u quality-record. Print it anew when folder, options, [backup] or [drop] change.",
        *(["# The server runs as root: give an account of its own with --user."] if account == "root" else []),
        *first,
        *(["# The folders of [backup] and [drop] must be there before the service starts."] if folders else []),
        "[Unit]",
        f"Description=Quality record in {_escaped(folder)}",
        "Wants=network-online.target",
        "After=network-online.target time-sync.target",
        "",
        "[Service]",
        "Type=exec",
        f"User={_account(account)}",
        f"ExecStart={_quoted(program)} {' '.join(_quoted(word).replace('$', '$$') for word in rest)}",
        "WorkingDirectory=/",
        # the parent alone is told to stop: it lets its worker answer what is in flight
        "KillMode=mixed",
        "TimeoutStopSec=30",
        "Restart=on-failure",
        "RestartSec=5",
        "UMask=0077",
        "NoNewPrivileges=yes",
        "ProtectSystem=strict",
        f"ReadWritePaths={' '.join(written)}",
        f"ProtectHome={'read-only' if _below(paths, _HOMES) else 'yes'}",
        *([] if in_rooms else ["PrivateTmp=yes"]),
        "PrivateDevices=yes",
        "ProtectClock=yes",
        "ProtectControlGroups=yes",
        "ProtectHostname=yes",
        "ProtectKernelLogs=yes",
        "ProtectKernelModules=yes",
        "ProtectKernelTunables=yes",
        "RestrictAddressFamilies=AF_INET AF_INET6 AF_UNIX",
        "RestrictNamespaces=yes",
        "RestrictRealtime=yes",
        "RestrictSUIDSGID=yes",
        "LockPersonality=yes",
        "SystemCallArchitectures=native",
        "SystemCallFilter=@system-service",
        f"CapabilityBoundingSet={right}",
        f"AmbientCapabilities={right}",
        "",
        "[Install]",
        "WantedBy=multi-user.target",
    ]
    return "\n".join(lines) + "\n"


def _below(paths: list[Path], rooms: tuple[str, ...]) -> bool:
    return any(path.is_relative_to(room) for path in paths for room in rooms)


def _account(name: str) -> str:
    if not name.replace("-", "").replace("_", "").isalnum() or not name.isascii():
        raise ValueError(f"{name!r} is no name of an account; it has letters, figures, - and _")
    return name


def _escaped(value: object) -> str:
    """Return a value in which systemd expands nothing: a percent sign begins one of its specifiers (systemd.unit)."""
    text = str(value)
    if not text.isprintable():
        raise ValueError(f"{text!r} holds a sign that no unit can hold; rename it")
    return text.replace("%", "%%")


def _quoted(value: object) -> str:
    """Return a value as one word, whatever blanks and quotes are in it (systemd.syntax, quoting)."""
    escaped = _escaped(value).replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'
