"""Files of the keys folder: each there whole or not at all, readable by its owner alone, never written over."""

import os
import sys
from contextlib import suppress
from pathlib import Path


def write_key(path: Path, secret: bytes) -> None:
    """Write a secret to a file that is not there yet, so that a full disk or a power cut leaves all of it or nothing.

    Raises FileExistsError, with what is there left as it is; OSError.
    """
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    making = path.with_name(f".{path.name}.{os.getpid()}.making")
    making.unlink(missing_ok=True)
    try:
        with open(os.open(making, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
            file.write(secret)
            file.flush()
            os.fsync(file.fileno())
        _place(making, path)
    finally:
        with suppress(OSError):
            making.unlink(missing_ok=True)
    sync_folder(path.parent)


def sync_folder(folder: Path) -> None:
    """Have the names of a folder's files on the disk; on Windows the file system itself sees to it."""
    if sys.platform == "win32":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _place(making: Path, path: Path) -> None:
    try:
        os.link(making, path)  # refuses where something is, as a renaming does not
    except FileExistsError:
        raise
    except OSError:  # a file system without second names
        if path.exists():
            raise FileExistsError(f"{path} is there already") from None
        os.replace(making, path)
