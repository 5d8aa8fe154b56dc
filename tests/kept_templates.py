"""The command `qc` in a process of its own, whose server loads the templates that an earlier one of these compiled.

Compiling them is a third of what a start of the server costs, and the same each time. Each server asks anew whether a
template is still what was compiled.
"""

import atexit
import shutil
import sys
import tempfile
from functools import cache

KEEPING = "import sys; from tests.kept_templates import keep; keep(sys.argv.pop(1)); "
COMMAND = "from qc.cli import main; main()"


@cache
def templates_folder() -> str:
    """Return where the servers of this process keep their compiled templates, until it ends."""
    folder = tempfile.mkdtemp(prefix="templates-")
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return folder


def keep(folder: str) -> None:
    """Let this process' applications take compiled templates from the folder, and leave there what they compile."""
    from flask import Flask
    from jinja2 import FileSystemBytecodeCache

    Flask.jinja_options = {**Flask.jinja_options, "bytecode_cache": FileSystemBytecodeCache(folder)}


def serving(before: str = "") -> list[str]:
    """Return the command `qc`, to which its arguments are to be added; before: statements that it begins with."""
    return [sys.executable, "-c", KEEPING + before + COMMAND, templates_folder()]
