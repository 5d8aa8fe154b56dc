"""The commands. Each module is imported only when its command is called, so that ``qc --help`` answers at once."""

import errno
from importlib import import_module
from typing import Any

import click

# name → (module:function, what it does in one line). A new command is a function in qc/cli/ and a row here.
COMMANDS: dict[str, tuple[str, str]] = {
    "init": ("qc.cli.plant:init", "Make a data folder with a plant's tables to start from."),
    "check-plant": ("qc.cli.plant:check_plant", "Check a folder's plant tables and name every fault."),
    "demo": ("qc.cli.demo:demo", "Play the invented plant's 26 weeks and serve them on this machine."),
    "serve": ("qc.cli.serve:serve", "Serve a data folder to phones and desks."),
    "service": ("qc.cli.service:service", "Print a systemd unit that keeps a folder served."),
    "revise": ("qc.cli.revise:revise", "Hold new tables of the plant against those in force, and put them in force."),
    "picture": ("qc.cli.picture:picture", "Lay a picture under the zones of a view."),
    "plan": ("qc.cli.plan:plan", "Look a build plan through, and take it in."),
    "passed": ("qc.cli.passed:passed", "Look a list of passed stations through, and take it in."),
    "export": ("qc.cli.export:export", "Write the record's figures as CSV, Parquet, a workbook, or JSON lines."),
    "mail": ("qc.cli.mail:mail", "Show the mail that the server would write to a person, without sending it."),
    "import": ("qc.cli.record:import_", "Take in the file that a phone exported."),
    "stat": ("qc.cli.stat:stat", "Compute a statistic over a CSV file."),
    "verify": ("qc.cli.record:verify", "Check that the record is what it was."),
    "doctor": ("qc.cli.doctor:doctor", "Tell what the server needs of this machine and has."),
    "rebuild": ("qc.cli.record:rebuild", "Derive the record's tables anew from its journal."),
    "backup": ("qc.cli.copies:backup", "Copy a data folder while it is served, and verify the copy."),
    "restore": ("qc.cli.copies:restore", "Make a data folder from a backup."),
    "drill": ("qc.cli.copies:drill", "Try a backup and a restore, and throw both away."),
    "new-release-key": ("qc.cli.record:new_release_key", "Sign releases with a new key from now on."),
    "new-keys": ("qc.cli.record:new_keys", "Go on where the keys folder is lost for good."),
    "certificate": ("qc.cli.serve:certificate", "Make a certificate for the plant's own network."),
    "parts": ("qc.cli.parts:parts", "List the parts of this install, check and make the server's lock."),
    "user": ("qc.cli.people:user", "Add, change and list the people who may sign in."),
    "token": ("qc.cli.machines:token", "Make, list and end the tokens of machines."),
    "device": ("qc.cli.people:device", "List the phones, enrol one, take one out of use."),
}


class LazyGroup(click.Group):
    """A group that knows its commands' names and help lines from a table and imports a command when it is called."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names in table order."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Return the command, imported now; None for an unknown name."""
        if cmd_name not in COMMANDS:
            return None
        module, function = COMMANDS[cmd_name][0].split(":")
        command = getattr(import_module(module), function)
        assert isinstance(command, click.Command), f"{COMMANDS[cmd_name][0]} is no command"
        return command

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; what the machine refuses it (rights, room, a path) is told in words."""
        try:
            return super().invoke(ctx)
        except (click.ClickException, click.exceptions.Exit, click.Abort):
            raise
        except Exception as error:
            if isinstance(error, OSError) and error.errno == errno.EPIPE:
                raise  # who reads the output has gone: click ends it in silence
            from qc.cli.machine_says import words_of

            if not (words := words_of(error)):
                raise
            raise click.ClickException(words) from error

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the table's help lines; asking each command for its own would import them all."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, line) for name, (_, line) in COMMANDS.items()])


@click.group(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="daybay", message="%(prog)s %(version)s")
def main() -> None:
    """A plant's quality record: defects from the phone to the release and the weekly Pareto.

    Start with "qc demo" to see it, or "qc init FOLDER" to make your own plant.
    """
