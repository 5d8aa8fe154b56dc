"""The console of a plant whose tables are revised: how a command is run, and with what its people sign in."""

from click.testing import CliRunner, Result

from qc.cli import main

PHRASE = "seven blue tyres"


def run(*words: object, typed: str | None = None) -> Result:
    """Run a command of `qc`; typed: what is entered where it asks."""
    return CliRunner().invoke(main, [str(word) for word in words], input=typed)
