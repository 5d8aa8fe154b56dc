"""Where the files beside the code stand: the served pages, the inspector's app and the invented plant."""

from pathlib import Path

_PACKAGE = Path(__file__).parent


def folder(name: str) -> Path:
    """Return the folder ``static``, ``pwa`` or ``demo_data``, in an installed wheel or in a checkout.

    Raises FileNotFoundError naming both places where it was looked for.
    """
    bundled = _PACKAGE / "_bundled" / name
    if bundled.is_dir():
        return bundled
    beside = _PACKAGE.parent / name
    if (_PACKAGE.parent / "pyproject.toml").is_file() and beside.is_dir():
        return beside
    raise FileNotFoundError(f"folder {name!r} is neither in {bundled} nor in {beside}; install daybay again")
