"""What this machine refused a command, in words: a file that is another account's, a full disk, a path that is none."""

import errno
import os
import sqlite3
from pathlib import Path

KEPT = "What is recorded stays as it was."


def words_of(error: Exception) -> str:
    """Return the words of what the machine refused, and what would do; "" for what is no refusal of the machine's."""
    from qc.store.intake.writer import StorageFailed, StorageFull
    from qc.store.record.connection import is_read_only, no_room_beside

    if isinstance(error, OSError) and error.filename is not None:
        return _of_a_file(error, Path(os.fsdecode(error.filename)))
    if isinstance(error, OSError) and error.errno in (errno.ENOSPC, errno.EDQUOT):
        return f"the disk is full. Make room and run the command again. {KEPT}"
    if why := no_room_beside(error):
        return f"{why}. {KEPT}"
    if isinstance(error, sqlite3.OperationalError) and is_read_only(error):
        return f"the record may not be written by {_account()} ({error}). {_SERVERS} {KEPT}"
    if isinstance(error, StorageFailed | StorageFull):
        return f"{error}"
    return ""


_SERVERS = "Run the command as the account that the server runs under, and give that one what another has made there."


def _of_a_file(error: OSError, path: Path) -> str:
    if isinstance(error, PermissionError):
        return f"{path} may not be read or written by {_account()}{_owned(path)}. {_SERVERS} {KEPT}"
    if error.errno == errno.ENOSPC:
        return f"{path} cannot be written: the disk is full. Make room and run the command again. {KEPT}"
    if isinstance(error, NotADirectoryError | FileExistsError):
        return f"{path} lies below what is a file and no folder, or is one itself; name another place. {KEPT}"
    return f"{path}: {error.strerror}. {KEPT}"


def _account() -> str:
    from getpass import getuser

    try:
        return f"the account {getuser()}"
    except (OSError, KeyError):
        return "this account"


def _owned(path: Path) -> str:
    """Return whose a file is, or the nearest folder above it that is there; "" where that has no name."""
    for place in (path, *path.absolute().parents):
        try:
            return f"; {'it' if place == path else place} is {place.owner()}'s"
        except FileNotFoundError:
            continue
        except (OSError, KeyError, NotImplementedError):
            return ""
    return ""
