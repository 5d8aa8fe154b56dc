"""What pages and photos need of the program, loaded before the first request asks for it.

A library's first import and a template's first compiling each hold the interpreter in long pieces. After a restart all
phones come at once, and a page that was the first to ask for them made each push wait for seconds.
"""

import gc
from importlib import import_module

from flask import Flask

# Each is imported where it is used, so that a command pays for what it needs alone.
LIBRARIES = ("numpy", "scipy.special", "scipy.optimize", "scipy.sparse", "PIL.Image", "PIL.JpegImagePlugin")


def warm(app: Flask) -> None:
    """Import the libraries of the pages and compile their templates; half a second to a second of one core."""
    for name in LIBRARIES:
        import_module(name)
    for name in app.jinja_env.list_templates():
        app.jinja_env.get_template(name)


def leave_out_of_collections() -> None:
    """Leave all that is loaded by now out of the collections of garbage, for good.

    It is the program itself, which never becomes any; going over it again and again takes a push a twelfth of its time,
    and a full collection holds every thread for as long as it lasts.
    """
    gc.collect()
    gc.freeze()
